"""After the sale: what the mill scaled against what was marked, species by species, and what the difference teaches."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from overwood.ground import measures
from overwood.ground.species import by_code, match
from overwood.judgement.crew_words import Sentence, sentence
from overwood.judgement.money.sale import Sale
from overwood.judgement.rules import Rules


@dataclass(frozen=True)
class Load:
    """One species, or group of species, of one scale ticket."""

    ticket: str
    species: str
    codes: tuple[int, ...]
    boards_bf: float


@dataclass(frozen=True)
class SettledSpecies:
    """Marked against scaled; a mill that scales a group of species makes one row of it. ``gap_share`` is of the marked
    volume."""

    species: str
    trees: int
    marked_bf: float
    scaled_bf: float
    gap_share: float | None
    verdict: Sentence


@dataclass(frozen=True)
class Settlement:
    """The settlement of a sale by one log rule."""

    stand: str
    marking: str
    log_rule: str
    tickets: int
    rows: tuple[SettledSpecies, ...]
    trees: int
    marked_bf: float
    scaled_bf: float
    gap_share: float | None
    limit_share: float
    lessons: tuple[Sentence, ...]


def settle(sale: Sale, loads: Sequence[Load], rules: Rules) -> Settlement:
    """Compare a sale with its scale tickets; every board foot of both sides is in exactly one row."""
    limit = rules.number("settlement_gap_share")
    rows = tuple(_row(codes, sale, loads, limit) for codes in _groups(sale, loads))
    marked, scaled = sum(row.marked_bf for row in rows), sum(row.scaled_bf for row in rows)
    return Settlement(
        stand=sale.stand,
        marking=sale.marking,
        log_rule=measures.log_rule_words(sale.log_rule),
        tickets=len({load.ticket for load in loads}),
        rows=rows,
        trees=sale.trees,
        marked_bf=marked,
        scaled_bf=scaled,
        gap_share=_gap(marked, scaled),
        limit_share=limit,
        lessons=_lessons(sale, marked, scaled, rules),
    )


def _code(name: str) -> int:
    code = match(name).spcd
    assert code is not None
    return code


def _groups(sale: Sale, loads: Sequence[Load]) -> list[frozenset[int]]:
    """Species that cannot be told apart on the tickets, joined; every species of either side is in one group."""
    groups: list[frozenset[int]] = []
    for codes in [
        *(frozenset(load.codes) for load in loads),
        *(frozenset([_code(row.species)]) for row in sale.species),
    ]:
        touching = [group for group in groups if group & codes]
        groups = [group for group in groups if not group & codes] + [codes.union(*touching)]
    return sorted(groups, key=lambda codes: by_code(min(codes)).common_name)


def _row(codes: frozenset[int], sale: Sale, loads: Sequence[Load], limit: float) -> SettledSpecies:
    of_sale = [row for row in sale.species if _code(row.species) in codes]
    of_mill = [load for load in loads if codes & set(load.codes)]
    marked, scaled = sum(row.boards_bf for row in of_sale), sum(load.boards_bf for load in of_mill)
    names = [row.species for row in of_sale] or sorted({load.species for load in of_mill})
    return SettledSpecies(
        ", ".join(names),
        sum(row.trees for row in of_sale),
        marked,
        scaled,
        _gap(marked, scaled),
        _verdict(marked, scaled, limit),
    )


def _gap(marked_bf: float, scaled_bf: float) -> float | None:
    return None if marked_bf <= 0 else (scaled_bf - marked_bf) / marked_bf


def _verdict(marked_bf: float, scaled_bf: float, limit: float) -> Sentence:
    gap = _gap(marked_bf, scaled_bf)
    if gap is None:
        return sentence("settle_unmarked") if scaled_bf > 0 else sentence("settle_near")
    if scaled_bf == 0:
        return sentence("settle_unscaled")
    return sentence("settle_near") if abs(gap) <= limit else sentence("settle_over" if gap > 0 else "settle_under")


def _lessons(sale: Sale, marked_bf: float, scaled_bf: float, rules: Rules) -> tuple[Sentence, ...]:
    rule = sentence("settle_teach_rule", rule=measures.log_rule_words(sale.log_rule))
    ratio = [sentence("settle_teach_ratio", ratio=f"{scaled_bf / marked_bf:.0%}")] if marked_bf > 0 else []
    # Form is never measured; grades and heights do not bear on board feet.
    form = sentence("timber_form", pct=f"{rules.number('form_class_pct'):g}")
    logs = tuple(note for note in sale.notes if note.code == "timber_logs")
    assumed = sentence("settle_teach_assumed" if logs else "settle_teach_form", notes=(form, *logs))
    return (*ratio, assumed, rule)
