"""A sale: the trees marked to be sold, tree by tree, cut into products and valued. Nothing that is not marked is in
it."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from overwood.ground.errors import NotFound
from overwood.ground.records import Point, Ring, Stand, StandFile, Tree, Visit
from overwood.ground.species import by_code
from overwood.judgement.crew_words import Sentence
from overwood.judgement.evidence import timber
from overwood.judgement.evidence.timber import Piece
from overwood.judgement.prices import PriceList
from overwood.judgement.rules import Rules
from overwood.science.timber import BOARD_RULES

_NAME = "marked trees"
_ENDS = ("low", "mean", "high")


@dataclass(frozen=True)
class SaleLine:
    """What the marked trees of one species hold of one product and grade."""

    species: str
    product: str
    grade: str
    trees: int
    amount: float
    unit: str


@dataclass(frozen=True)
class SpeciesSum:
    """All marked trees of one species."""

    species: str
    trees: int
    boards_bf: float
    value_usd: float | None


@dataclass(frozen=True)
class SoldTree:
    """One marked tree: what it holds by the sale's log rule, and beside it what is no sawtimber."""

    tree: str
    species: str
    dbh_in: float
    boards_bf: float
    others: tuple[str, ...]
    value_usd: float | None


@dataclass(frozen=True)
class Sale:
    """Every marked tree of a stand, by a named log rule; values by the price list at its low, mean and high ends."""

    stand: str
    marking: str
    log_rule: str
    trees: int
    lines: tuple[SaleLine, ...]
    species: tuple[SpeciesSum, ...]
    boards_bf: float
    by_rule: dict[str, float]
    value_usd: tuple[float, float, float] | None
    unpriced: tuple[str, ...]
    notes: tuple[Sentence, ...]
    each_tree: tuple[SoldTree, ...] = ()
    # Ground of the stem map whose trees are sold; None where they stand on no map.
    mapped_ac: float | None = None


def sale_of(
    stand: str, marked: Sequence[Tree], marking: str, rules: Rules, prices: PriceList | None, log_rule: str
) -> Sale:
    """Products and value of marked trees; every tree counts once, so there is no sampling error. Raises NotFound when
    no tree is marked to be sold."""
    if not marked:
        raise NotFound(f"no tree of {stand} is marked to be sold.", remedy=REFUSED)
    file = as_tally(marked)
    standing = timber.timber_of(file, rules, log_rule)
    assert standing is not None
    boards = _boards(standing)
    values = None if prices is None else tuple(float(timber.tree_values(standing, prices, end).sum()) for end in _ENDS)
    return Sale(
        stand=stand,
        marking=marking,
        log_rule=log_rule,
        trees=len(marked),
        lines=_lines(standing),
        species=_species(standing, prices),
        boards_bf=boards,
        by_rule={
            rule: boards if rule == log_rule else _boards(timber.cut_up(standing.cruise, rules, rule))
            for rule in BOARD_RULES
        },
        value_usd=None if values is None else (values[0], values[1], values[2]),
        unpriced=() if prices is None else _unpriced(standing, prices),
        notes=standing.notes,
        each_tree=_each_tree(standing, prices),
    )


REFUSED = (
    "A sale lists marked trees only. Mark the stand, then give the list of trees with --marking FILE "
    "(`overwood mark STAND --trees FILE` writes one), or note on the stem map which trees are to be cut."
)


def as_tally(trees: Sequence[Tree], acres: float = 1.0) -> StandFile:
    """Trees tallied one by one on one plot; of one acre, what an acre holds is what they hold."""
    return StandFile(
        stand=Stand(stand=_NAME, property=_NAME),
        visits=(Visit(visit=_NAME, stand=_NAME, kind="cruise", visited_on=dt.date.min),),
        rings=(Ring(visit=_NAME, layer="overstory", design="fixed", plot_area_ac=acres),),
        points=(Point(visit=_NAME, point="1"),),
        trees=tuple(trees),
    )


def _boards(standing: timber.Timber) -> float:
    return float(sum(piece.amount for piece in standing.pieces if piece.unit == "bd ft"))


def _name(standing: timber.Timber, piece: Piece) -> str:
    return by_code(int(standing.cruise.spcd[piece.tree])).common_name


def _lines(standing: timber.Timber) -> tuple[SaleLine, ...]:
    groups: dict[tuple[str, str, str, str], list[Piece]] = defaultdict(list)
    for piece in standing.pieces:
        groups[_name(standing, piece), piece.product, piece.grade, piece.unit].append(piece)
    return tuple(
        SaleLine(
            species, product, grade, len({piece.tree for piece in pieces}), sum(piece.amount for piece in pieces), unit
        )
        for (species, product, grade, unit), pieces in sorted(groups.items())
    )


def _species(standing: timber.Timber, prices: PriceList | None) -> tuple[SpeciesSum, ...]:
    values = None if prices is None else timber.tree_values(standing, prices)
    boards = standing.amounts([piece for piece in standing.pieces if piece.unit == "bd ft"])
    groups: dict[str, list[int]] = defaultdict(list)
    for place, code in enumerate(standing.cruise.spcd):
        groups[by_code(int(code)).common_name].append(place)
    return tuple(
        SpeciesSum(
            name, len(places), float(boards[places].sum()), None if values is None else float(values[places].sum())
        )
        for name, places in sorted(groups.items())
    )


def _each_tree(standing: timber.Timber, prices: PriceList | None) -> tuple[SoldTree, ...]:
    """The marked trees one by one, in the order they were given."""
    values = None if prices is None else timber.tree_values(standing, prices)
    boards = standing.amounts([piece for piece in standing.pieces if piece.unit == "bd ft"])
    others: dict[int, list[str]] = defaultdict(list)
    for piece in standing.pieces:
        if piece.unit != "bd ft":
            others[piece.tree].append(f"{piece.amount:.2f} {piece.unit} {piece.product}")
    return tuple(
        SoldTree(
            tree=tree.tree,
            species=by_code(tree.species).common_name,
            dbh_in=tree.dbh_in,
            boards_bf=float(boards[place]),
            others=tuple(others[place]),
            value_usd=None if values is None else float(values[place]),
        )
        for place, tree in enumerate(standing.cruise.trees)
    )


def _unpriced(standing: timber.Timber, prices: PriceList) -> tuple[str, ...]:
    names = (
        f"{_name(standing, piece)} {piece.product}"
        for piece in standing.pieces
        if prices.find(piece.product, int(standing.cruise.spcd[piece.tree]), piece.grade)[0] is None
    )
    return tuple(dict.fromkeys(names))
