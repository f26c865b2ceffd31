"""Timber and money as a person asks for them."""

from __future__ import annotations

import csv
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path

import numpy as np

from overwood.desk import kept, question
from overwood.desk.answers import Question, stand_file
from overwood.desk.kept import NamedAnswer
from overwood.ground import measures, plausible, typed
from overwood.ground import species as species_room
from overwood.ground.errors import BadRecords, Misuse, NotFound, Problem
from overwood.ground.figure import Figure
from overwood.ground.records import StandFile, Stem, StemMap, Tree
from overwood.ground.units import FT2_PER_ACRE
from overwood.ground.vocabulary import QUALITIES, TREE_GRADES
from overwood.judgement import walking
from overwood.judgement.crew_words import sentence
from overwood.judgement.evidence import all_figures
from overwood.judgement.evidence import timber as evidence
from overwood.judgement.gates import TOO_OLD, cruise_fresh
from overwood.judgement.money import choices, selling, settlement
from overwood.judgement.money import sale as sale_room
from overwood.judgement.money.sale import Sale, SoldTree
from overwood.judgement.money.settlement import Load, Settlement
from overwood.judgement.money.stem_value import tree_of
from overwood.judgement.net_ground import net_ground, protected
from overwood.judgement.prices import PriceList
from overwood.judgement.rules import Rules

_BID_COLUMNS = ("bidder", "amount_usd", "share_at_signing", "years_to_rest", "default_chance", "deductions_usd")


@dataclass(frozen=True)
class StandTimber:
    """The timber of a stand with the way to sell it; ``totals`` are boards and value on all its acres, none where the
    area is not known."""

    stand: str
    area_ac: float | None
    valued: evidence.Valued
    totals: tuple[Figure, ...]
    method: selling.Method | None
    price_list: PriceList | None = field(repr=False, metadata={"inner": True})


def price_list(path: Path | None) -> PriceList | None:
    """The user's price list; None where none is named."""
    return None if path is None else question.price_list(path)


def timber(name: str, ask: Question, listed: PriceList | None, log_rule: str) -> StandTimber:
    """Volume and value of a stand. Raises NotFound when the stand was never cruised."""
    file = stand_file(name).as_of(ask.on)
    rule = log_rule or (listed.log_rule if listed else "doyle")
    cut = evidence.timber_of(file, ask.rules, rule)
    if cut is None:
        raise NotFound(f"{name} was not cruised by {ask.on}.", remedy="Bring a cruise in with `overwood import`.")
    _same_rule(rule, listed)
    valued = evidence.value_of(cut, listed)
    method = selling.method_of(valued.sawtimber_bf_ac, ask.rules) if valued.sawtimber_bf_ac.number > 0 else None
    valued = replace(valued, notes=(*valued.notes, *_not_for_sale(file)))
    return StandTimber(name, file.stand.area_ac, valued, _totals(valued, file.stand.area_ac), method, listed)


def _totals(valued: evidence.Valued, area_ac: float | None) -> tuple[Figure, ...]:
    if not area_ac:
        return ()
    boards = evidence.on_all(valued.sawtimber_bf_ac, area_ac, "sawtimber_bf", "bd ft")
    worth = valued.value_usd_ac
    return (boards,) if worth is None else (boards, evidence.on_all(worth, area_ac, "timber_value_usd", "US$"))


def _not_for_sale(file: StandFile) -> tuple[str, ...]:
    """The acres whose trees must stay, which count in what stands there and not in what can be sold."""
    ground = net_ground(file)
    if not ground.protected_share or ground.area_ac is None:
        return ()
    acres = measures.with_us(ground.protected_share * ground.area_ac, "acres", ".1f")
    return (f"{acres} lie where no work goes (streams, sites): their trees count in what stands and are not for sale",)


def compare(name: str, ask: Question, listed: PriceList, extras: tuple[str, ...] = ()) -> choices.Choices:
    """What each choice pays. Raises NotFound when the stand was never cruised; Misuse when the list has no cost for an
    extra."""
    file = stand_file(name).as_of(ask.on)
    if file.latest("cruise") is None:
        raise NotFound(f"{name} was not cruised by {ask.on}.", remedy="Bring a cruise in with `overwood import`.")
    figures = all_figures(file, ask.rules, ask.on)
    comparison = choices.compare(file, figures, ask.rules, listed, extras)
    cruised = cruise_fresh(file, figures, ask.rules, ask.on)
    old = f"{cruised.why}, so what stands there now may be worth more or less" if cruised.answer == TOO_OLD else ""
    return replace(comparison, too_old=old)


def choices_answer(
    name: str, ask: Question, listed: PriceList, extras: tuple[str, ...] = ()
) -> NamedAnswer[choices.Choices]:
    """What each choice pays, as it lies in the book; raises as :func:`compare`."""
    settings = {"prices": kept.list_named(listed), "extras": extras}
    stand = stand_file(name).stand.stand
    return kept.lay(stand, "choices", ask, settings, lambda: compare(name, ask, listed, extras))


_SOLD, _UNSOLD = ("take", "cut"), ("leave", "inject", "let be", "midstory")


@dataclass(frozen=True)
class CutRow:
    """A marked tree with its place, where it stands on a stem map: the strip from which a crew comes to it, and feet
    from the map's corner."""

    strip: int | None
    east_ft: float | None
    north_ft: float | None
    tree: SoldTree


@dataclass(frozen=True)
class CutList:
    """The sale and its trees one by one, mapped trees in walking order."""

    stand: str
    sale: Sale
    rows: tuple[CutRow, ...]


def sale(name: str, ask: Question, listed: PriceList | None, log_rule: str = "", marking: Path | None = None) -> Sale:
    """The sale of the marked trees of a stand: those of a list, or those the stem map says to cut. Raises NotFound when
    nothing is marked; BadRecords naming row and column of every bad cell of the list."""
    return cut_list(name, ask, listed, log_rule, marking).sale


def cut_list(
    name: str, ask: Question, listed: PriceList | None, log_rule: str = "", marking: Path | None = None
) -> CutList:
    """The sale with its trees one by one; raises as :func:`sale`."""
    file = stand_file(name).as_of(ask.on)
    rule = log_rule or (listed.log_rule if listed else "doyle")
    _same_rule(rule, listed)
    if marking is not None:
        by = sentence("marked_listed", file=marking.name)
        return _cut_list(name, ask, listed, _listed_trees(marking, file), by, rule)
    called = [stem for stem in _mapped(file) if stem.must == "cut"]
    return _cut_list(name, ask, listed, called, sentence("marked_mapped"), rule)


def sale_answer(
    name: str, ask: Question, listed: PriceList | None, log_rule: str = "", marking: Path | None = None
) -> NamedAnswer[CutList]:
    """The sale with its trees, as it lies in the book; raises as :func:`sale`."""
    settings = {
        "prices": kept.list_named(listed), "log_rule": log_rule,
        "marking": {"file": marking.name, "digest": kept.digest_of(_csv_rows(marking))} if marking else {},
    }  # fmt: skip
    make = partial(cut_list, name, ask, listed, log_rule, marking)
    return kept.lay(stand_file(name).stand.stand, "sale", ask, settings, make, lambda cuts: cuts.sale)


def sale_of_stems(name: str, ask: Question, listed: PriceList | None, stems: set[str], marking: str) -> Sale:
    """The sale of some stems of the map, such as those a person put aside as a marking; raises as :func:`sale`."""
    return cut_list_of_stems(name, ask, listed, stems, marking).sale


def cut_list_of_stems(name: str, ask: Question, listed: PriceList | None, stems: set[str], marking: str) -> CutList:
    """The sale of some stems of the map with its trees one by one; raises as :func:`sale`."""
    file = stand_file(name).as_of(ask.on)
    marked = [stem for stem in _mapped(file) if stem.stem in stems]
    return _cut_list(name, ask, listed, marked, marking, listed.log_rule if listed else "doyle")


def _cut_list(
    name: str, ask: Question, listed: PriceList | None, marked: Sequence[Stem | Tree], marking: str, rule: str
) -> CutList:  # fmt: skip
    """Mapped stems in walking order, then trees that stand on no map."""
    file = stand_file(name).as_of(ask.on)
    stems = [one for one in marked if isinstance(one, Stem)]
    ground = next((row for row in file.stem_maps if stems and row.visit == stems[0].visit), None)
    if ground is not None:
        _none_protected(file, ground, stems)
    laid = walking.strips(ground.width_ft if ground else 1.0, ask.rules.number("marking_strip_ft"))
    east, north = (np.array([getattr(stem, side) for stem in stems], dtype=float) for side in ("east_ft", "north_ft"))
    walked = [stems[place] for place in walking.order(east, north, laid)]
    loose = [one for one in marked if isinstance(one, Tree)]
    sold = sale_room.sale_of(name, [*map(tree_of, walked), *loose], marking, ask.rules, listed, rule)
    if ground and not loose:
        sold = replace(sold, mapped_ac=ground.width_ft * ground.height_ft / FT2_PER_ACRE)
    strips = laid.of(np.array([stem.east_ft for stem in walked], dtype=float)).tolist()
    places = [
        *((strip, stem.east_ft, stem.north_ft) for strip, stem in zip(strips, walked, strict=True)),
        *([(None, None, None)] * len(loose)),
    ]
    return CutList(name, sold, tuple(CutRow(*place, tree) for place, tree in zip(places, sold.each_tree, strict=True)))


def _none_protected(file: StandFile, ground: StemMap, stems: Sequence[Stem]) -> None:
    kept = [stem.stem for stem, stays in zip(stems, protected(file, ground, stems), strict=True) if stays]
    if kept:
        raise Misuse(
            f"marked trees {', '.join(kept[:8])}{' and more' if len(kept) > 8 else ''} stand on ground kept out "
            "of work: "
            f"{'; '.join(zone.words for zone in net_ground(file).zones if zone.protects)}.",
            remedy="Take them off the marking, or correct the sheet ground_features.",
        )


def write_cut_list(made: CutList, target: Path) -> None:
    """The cut list as csv: one tree a row, board feet by the sale's log rule."""
    columns = (
        "strip",
        "tree",
        "species",
        "dbh_in",
        "east_ft",
        "north_ft",
        f"boards_bf_{made.sale.log_rule}",
        "others",
        "value_usd",
    )
    with target.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream)
        writer.writerow(columns)
        for row in made.rows:
            tree = row.tree
            value = "" if tree.value_usd is None else f"{tree.value_usd:.2f}"
            place = ["" if side is None else f"{side:.1f}" for side in (row.east_ft, row.north_ft)]
            writer.writerow(
                [
                    row.strip or "",
                    tree.tree,
                    tree.species,
                    tree.dbh_in,
                    *place,
                    f"{tree.boards_bf:.1f}",
                    "; ".join(tree.others),
                    value,
                ]
            )


def _same_rule(rule: str, listed: PriceList | None) -> None:
    if listed is not None and rule != listed.log_rule:
        raise NotFound(
            f"the price list is by {listed.log_rule}, not {rule}.",
            remedy="Prices of one rule do not value volumes of another.",
        )


def _mapped(file: StandFile) -> tuple[Stem, ...]:
    visit = file.latest("stem map")
    return () if visit is None else tuple(stem for stem in file.stems if stem.visit == visit.visit)


def _csv_rows(path: Path) -> list[dict[str, str]]:
    try:
        with path.open(encoding="utf-8-sig", newline="") as stream:
            return list(csv.DictReader(stream))
    except OSError as fault:
        raise NotFound(f"{path} cannot be read: {fault.strerror}.") from fault
    except (UnicodeDecodeError, csv.Error) as fault:
        raise BadRecords(
            f"{path.name} is no csv file in UTF-8: {fault}.", remedy="Save it as CSV UTF-8, one row a line."
        ) from fault


def _listed_trees(path: Path, file: StandFile) -> list[Stem | Tree]:
    """Trees of a marking's csv that are to be sold: stems of the map by number, or species and dbh as tallied."""
    rows = _csv_rows(path)
    problems: list[Problem] = []
    stems = {stem.stem: stem for stem in _mapped(file)}
    trees = [
        tree
        for number, row in enumerate(rows, start=2)
        if (tree := _listed_tree(row, number, path.name, stems, problems))
    ]
    if problems:
        raise BadRecords(
            f"{path.name} holds rows that cannot be taken.",
            tuple(problems),
            remedy=(
                "Columns: call, and stem of the map, or species, dbh_in and, where noted, logs, grade, "
                "quality, defect_pct."
            ),
        )
    return trees


def _listed_tree(
    row: dict[str, str], number: int, file: str, stems: dict[str, Stem], problems: list[Problem]
) -> Stem | Tree | None:
    """One marked tree, or None where it stays or cannot be taken."""
    text = {key: (value or "").strip().lstrip("'") for key, value in row.items() if key}

    def bad(column: str, expected: str) -> None:
        problems.append(Problem.of_value(file, number, column, text.get(column, ""), expected))

    call = text.get("call", _SOLD[0])
    if call not in (*_SOLD, *_UNSOLD):
        bad("call", f"one of {', '.join((*_SOLD, *_UNSOLD))}")
    if call not in _SOLD:
        return None
    if text.get("stem"):
        if text["stem"] not in stems:
            bad("stem", "a stem of the latest map")
            return None
        return stems[text["stem"]]
    return _tallied(text, number, bad)


def _tallied(text: dict[str, str], number: int, bad: Callable[[str, str], None]) -> Tree | None:
    """A tallied sale tree from its cells."""
    spcd = species_room.match(text.get("species", "")).spcd
    if spcd is None:
        bad("species", "a species")
    numbers: dict[str, float | None] = {}
    for column, (low, high) in {
        "dbh_in": (0.5, 100),
        "logs": (0, 4),
        "defect_pct": (0, 100),
        "height_ft": (4.5, 220),
    }.items():
        cell = text.get(column, "")
        try:
            numbers[column] = float(cell) if cell or column == "dbh_in" else None
            if numbers[column] is not None and not low <= float(cell) <= high:
                raise ValueError
        except ValueError:
            bad(column, f"a number from {low:g} to {high:g}")
    for column, known in {"grade": TREE_GRADES, "quality": QUALITIES}.items():
        if text.get(column, "") not in ("", *known):
            bad(column, f"one of {', '.join(known)}")
    if spcd is None or numbers.get("dbh_in") is None:
        return None
    words = {column: text.get(column, "") for column in ("grade", "quality")}
    return Tree(visit="marked trees", point="1", tree=text.get("tree") or str(number), species=spcd, **numbers, **words)  # type: ignore[arg-type]


@dataclass(frozen=True)
class SaleAnswer:
    """What a sale comes to: the marked trees, the bids by what they are worth now, the depletion as information
    only."""

    stand: str
    sale: Sale | None
    bids: tuple[selling.RankedBid, ...]
    depletion: selling.Depletion | None
    settlement: Settlement | None = None


def bids(path: Path, rules: Rules) -> list[selling.RankedBid]:
    """Bids of a csv file, ranked net of terms and default risk. Raises BadRecords naming row and column of every bad
    cell."""
    rows = _csv_rows(path)
    problems: list[Problem] = []
    offers = [_bid(row, number, path.name, problems) for number, row in enumerate(rows, start=2)]
    if problems or not rows:
        remedy = f"Columns: {', '.join(_BID_COLUMNS)}."
        raise BadRecords(f"{path.name} holds no bids that can be compared.", tuple(problems), remedy=remedy)
    return selling.rank_bids([bid for bid in offers if bid is not None], rules.number("real_rate"))


def _bid(row: dict[str, str], number: int, file: str, problems: list[Problem]) -> selling.Bid | None:
    limits = {
        "amount_usd": (0, 1_000_000_000),
        "share_at_signing": (0, 1),
        "years_to_rest": (0, 10),
        "default_chance": (0, 1),
        "deductions_usd": (0, 1_000_000_000),
    }
    values: dict[str, float] = {}
    for column, (low, high) in limits.items():
        text = (row.get(column) or "").strip()
        try:
            values[column] = float(text)
            if not low <= values[column] <= high:
                raise ValueError
        except ValueError:
            expected = f"a number from {low:g} to {high:g}"
            problems.append(Problem.of_value(file, number, column, text, expected))
    if len(values) == len(limits):
        return selling.Bid((row.get("bidder") or "").strip() or f"bid {number - 1}", **values)
    return None


_TICKET_COLUMNS = ("ticket", "species", "boards_bf", "log_rule")


def settle(sold: Sale, tickets: Path, rules: Rules) -> Settlement:
    """What the mill scaled against what was marked, by species; ``tickets`` is a csv with one species of one load a
    row. Raises BadRecords naming row and column of every bad cell, or a log rule other than the sale's."""
    rows = _csv_rows(tickets)
    problems: list[Problem] = []
    loads: dict[Load, int] = {}
    for number, row in enumerate(rows, start=2):
        load = _load(row, number, tickets.name, sold.log_rule, problems)
        if load in loads:
            said = f"row {loads[load]} again: the same ticket, species and board feet"
            expected = "each scaled volume once; loads that are truly alike by ticket numbers of their own"
            what, name = "A load counts twice.", tickets.name
            problems.append(Problem(what=what, file=name, row=number, column="ticket", found=said, expected=expected))
        elif load is not None:
            loads[load] = number
    if problems or not rows:
        remedy = (
            f"Columns: {', '.join(_TICKET_COLUMNS)}; one species of one load a row, all by the log rule of the sale."
        )
        raise BadRecords(f"{tickets.name} holds scale tickets that cannot be taken.", tuple(problems), remedy=remedy)
    return settlement.settle(sold, tuple(loads), rules)


def _load(row: dict[str, str], number: int, file: str, log_rule: str, problems: list[Problem]) -> Load | None:
    text = {key: (value or "").strip() for key, value in row.items() if key}
    before = len(problems)

    def bad(column: str, expected: str) -> None:
        problems.append(Problem.of_value(file, number, column, text.get(column, ""), expected))

    most = plausible.span("tickets", "boards_bf")[1]
    if not text.get("ticket"):
        bad("ticket", "the number of the scale ticket, without which a load sent twice cannot be told")
    known = species_room.match(text.get("species", ""))
    codes = (known.spcd,) if known.spcd is not None else known.choices
    if not codes or codes == (species_room.UNKNOWN,):
        bad("species", "a species, or a group of them such as red oak")
    if text.get("log_rule", "").lower() != log_rule:
        bad("log_rule", f"{log_rule}, the rule of the sale: scale by another rule is no volume to compare")
    try:
        boards = typed.number(text.get("boards_bf", ""))
        if not 0 <= boards <= most:
            raise ValueError
    except ValueError:
        bad("boards_bf", f"board feet of the load, 0 to {most:,.0f}")
    return Load(text.get("ticket", ""), text["species"], codes, boards) if len(problems) == before else None
