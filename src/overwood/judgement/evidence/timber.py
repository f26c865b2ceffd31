"""Figures of the timber: volume by species, product and grade, and its value by the user's own price list."""

from __future__ import annotations

import functools
from collections import defaultdict
from dataclasses import dataclass, field, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from overwood.ground.figure import Figure
from overwood.ground.records import StandFile, Tree
from overwood.ground.species import by_code
from overwood.ground.units import BF_PER_MBF
from overwood.judgement.crew_words import Sentence, sentence
from overwood.judgement.evidence.tally import Array, Cruise, cruise_of, tallied_mean
from overwood.judgement.prices import Price, PriceList, unit_refused
from overwood.judgement.rules import Rules
from overwood.science import timber as science


@dataclass(frozen=True)
class Piece:
    """One product out of one tallied tree: which tree, what, how much; ``as_sold`` is pulpwood or firewood by weight
    and by stack."""

    tree: int
    product: str
    grade: str
    amount: float
    unit: str
    as_sold: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True)
class Timber:
    """The timber of one cruise."""

    cruise: Cruise
    pieces: tuple[Piece, ...]
    log_rule: str
    notes: tuple[Sentence, ...]
    rules: Rules = field(repr=False, metadata={"inner": True})

    def amounts(self, chosen: list[Piece]) -> Array:
        """Amount of each tallied tree in some pieces."""
        each = np.zeros(len(self.cruise.trees))
        for piece in chosen:
            each[piece.tree] += piece.amount
        return each


@dataclass(frozen=True)
class Line:
    """Volume and value of one species, product and grade, an acre."""

    species: str
    product: str
    grade: str
    volume: Figure
    value: Figure | None
    note: str = ""


@dataclass(frozen=True)
class SpeciesSum:
    """All trees of one species, an acre: its sawtimber, and the value of all its products that have a price."""

    species: str
    boards: Figure
    value: Figure | None


@dataclass(frozen=True)
class Valued:
    """All lines and the sums."""

    timber: Timber = field(repr=False, metadata={"inner": True})
    lines: tuple[Line, ...]
    species: tuple[SpeciesSum, ...]
    sawtimber_bf_ac: Figure
    by_rule: dict[str, Figure]
    value_usd_ac: Figure | None
    price_low_usd_ac: float = 0.0
    price_high_usd_ac: float = 0.0
    unpriced: tuple[str, ...] = ()
    notes: tuple[str, ...] = field(default=())


def timber_of(file: StandFile, rules: Rules, log_rule: str) -> Timber | None:
    """Cut every tallied tree of the latest cruise into products; None without a cruise."""
    visit = file.latest("cruise")
    return None if visit is None else cut_up(cruise_of(file, visit), rules, log_rule)


def cut_up(cruise: Cruise, rules: Rules, log_rule: str) -> Timber:
    """Products of every tree of a cruise, which may be one grown on."""
    dbh = cruise.dbh_in
    notes: list[Sentence] = []
    logs, assumed = _logs(cruise, rules, dbh)
    if assumed:
        notes.append(sentence("timber_logs", trees=assumed))
    ungraded = sum(1 for tree in cruise.trees if tree.dbh_in >= rules.number("sawlog_dbh_in") and not tree.grade)
    if ungraded:
        notes.append(sentence("timber_ungraded", trees=ungraded))
    smallest = {"1": rules.number("grade_1_dbh_in"), "2": rules.number("grade_2_dbh_in")}
    above = sum(1 for tree in cruise.trees if tree.dbh_in < smallest.get(tree.grade, 0.0))
    if above:
        notes.append(sentence("timber_overgraded", trees=above))
    heights, scale = heights_ft(cruise, dbh)
    measured = int(np.sum(~np.isnan(_measured(cruise))))
    scaled = sentence("timber_heights_scaled", scale=f"{scale:.2f}", trees=measured)
    notes.append(scaled if measured else sentence("timber_heights"))
    sizes = _sizes(cruise, logs, heights, rules, log_rule)
    pieces = [
        piece for tree, size in zip(cruise.trees, sizes, strict=True) for piece in _pieces(tree, size, rules, notes)
    ]
    return Timber(cruise, tuple(pieces), log_rule, tuple(dict.fromkeys(notes)), rules)


def _logs(cruise: Cruise, rules: Rules, dbh: Array) -> tuple[Array, int]:
    noted = np.array([tree.logs for tree in cruise.trees], dtype=float)
    guess = np.clip(
        np.floor(2 * (rules.number("logs_at_zero") + rules.number("logs_per_inch") * dbh) + 0.5) / 2,
        0.5,
        rules.number("logs_most_assumed"),
    )
    size = dbh >= rules.number("sawlog_dbh_in")
    missing = np.isnan(noted) & size
    return np.where(missing, guess, np.nan_to_num(noted)) if len(noted) else noted, int(missing.sum())


def _measured(cruise: Cruise) -> Array:
    return np.array([tree.height_ft for tree in cruise.trees], dtype=float)


def heights_ft(cruise: Cruise, dbh: Array) -> tuple[Array, float]:
    """Height of each tree, measured or by the curve, and the scale that brings the curve to the stand's own heights."""
    measured = _measured(cruise)
    known = ~np.isnan(measured)
    scale = science.height_scale(cruise.spcd[known], cruise.dbh_in[known], measured[known])
    curve = np.zeros(len(dbh))
    for code in np.unique(cruise.spcd):
        curve[cruise.spcd == code] = science.height_ft(int(code), dbh[cruise.spcd == code], scale=scale)
    return np.where(known, measured, curve), scale


class _Size(NamedTuple):
    """A tallied tree's place in the cruise, its dbh [in.] and logs of 16 ft, and what its stem gives without its
    defects: board feet of all its logs and of the butt log [bd ft], and cords."""

    place: int
    dbh: float
    logs: float
    whole_bf: float
    butt_bf: float
    cords: float


def _sizes(cruise: Cruise, logs: Array, heights: Array, rules: Rules, log_rule: str) -> list[_Size]:
    dbh, form = cruise.dbh_in, rules.number("form_class_pct")
    sawn = np.where(dbh >= rules.number("sawlog_dbh_in"), np.maximum(logs, 0.0), 0.0)
    whole = science.tree_bf(log_rule, dbh, sawn, form)
    butt = np.minimum(science.tree_bf(log_rule, dbh, np.minimum(sawn, 1.0), form), whole)
    tall = science.merchantable_height_ft(dbh, heights, top_in=rules.number("cubic_top_in"))
    cords = np.where(tall > 0, science.tree_cords(dbh, tall), 0.0)
    columns = (column.tolist() for column in (dbh, logs, whole, butt, cords))
    return [_Size(place, *size) for place, size in enumerate(zip(*columns, strict=True))]


def _pieces(tree: Tree, size: _Size, rules: Rules, notes: list[Sentence]) -> list[Piece]:
    quality, grade, sound = tree.quality, tree.grade or "not graded", 1 - (tree.defect_pct or 0.0) / 100
    if quality == "cull" or size.dbh < rules.number("pulpwood_dbh_in"):
        return []
    if quality in ("pulpwood", "firewood") or size.dbh < rules.number("sawlog_dbh_in") or size.logs <= 0:
        return [_pulpwood(tree, size.place, size.cords * sound)]
    whole, butt = size.whole_bf * sound, size.butt_bf * sound
    best = _best_use(quality, tree.species, size.dbh, rules, notes)
    if best == "sawlog":
        return [Piece(size.place, "sawlog", grade, whole, "bd ft")]
    pieces = [Piece(size.place, best, grade, butt, "bd ft")]
    return pieces + ([Piece(size.place, "sawlog", grade, whole - butt, "bd ft")] if whole > butt else [])


def _best_use(quality: str, spcd: int, dbh: float, rules: Rules, notes: list[Sentence]) -> str:
    """Veneer or stave where the cruiser says so and the tree is of that size; the butt log alone is."""
    if quality == "veneer" and dbh >= rules.number("veneer_dbh_in"):
        return "veneer"
    if quality == "stave" and dbh >= rules.number("stave_dbh_in") and by_code(spcd).oak_group == "white":
        return "stave"
    if quality in ("veneer", "stave"):
        notes.append(sentence(f"timber_not_{quality}"))
    return "sawlog"


def _pulpwood(tree: Tree, place: int, cords: float) -> Piece:
    """Pulpwood in tons as a mill weighs it, with its bark; firewood in cords; each tree has both."""
    tons = cords * science.green_tons_per_cord(tree.species)
    product, amount, unit = ("firewood", cords, "cords") if tree.quality == "firewood" else ("pulpwood", tons, "tons")
    return Piece(place, product, "", amount, unit, (("tons", tons), ("cords", cords)))


def value_of(standing: Timber, prices: PriceList | None) -> Valued:
    """Volume and value an acre by species, product and grade, with the sampling error and the price range."""
    groups: dict[tuple[str, str, str], list[Piece]] = defaultdict(list)
    for piece in standing.pieces:
        groups[by_code(int(standing.cruise.spcd[piece.tree])).common_name, piece.product, piece.grade].append(piece)
    lines, unpriced = [], []
    for (name, product, grade), pieces in sorted(groups.items(), key=lambda item: -sum(p.amount for p in item[1])):
        line = _line(standing, (name, product, grade), pieces, prices)
        lines.append(line)
        if prices is not None and line.value is None:
            unpriced.append(f"{name} {product}")
    boards = [piece for piece in standing.pieces if piece.unit == "bd ft"]
    by_rule = {rule: _boards_by_rule(standing, rule) for rule in ("doyle", "scribner", "international-1/4")}
    method = f"board feet of all logs, {standing.log_rule}"
    total = _mean(standing, "sawtimber_bf_ac", "bd ft/ac", standing.amounts(boards), method, standing.notes)
    value, low, high = _total_value(standing, prices) if prices else (None, 0.0, 0.0)
    return Valued(
        standing,
        tuple(lines),
        _species(standing, prices),
        total,
        by_rule,
        value,
        low,
        high,
        tuple(dict.fromkeys(unpriced)),
        standing.notes,
    )


def _species(standing: Timber, prices: PriceList | None) -> tuple[SpeciesSum, ...]:
    """The sums by species, the one with most boards first, then by value; only what has boards or a price."""
    boards = standing.amounts([piece for piece in standing.pieces if piece.unit == "bd ft"])
    sums = []
    for code in np.unique(standing.cruise.spcd):
        of_it, name = standing.cruise.spcd == code, by_code(int(code)).common_name
        volume = _mean(standing, f"{name}, all sawtimber", "bd ft/ac", boards * of_it, f"boards, {standing.log_rule}")
        value = None if prices is None else _total_value(standing, prices, of_it, f"{name}, all products")[0]
        # What has no price is worth nothing known, not nothing.
        sums.append(SpeciesSum(name, volume, value if value and value.number else None))
    worth = [(one.boards.number, one.value.number if one.value else 0.0) for one in sums]
    order = sorted(range(len(sums)), key=lambda place: worth[place], reverse=True)
    return tuple(sums[place] for place in order if any(worth[place]))


def _mean(standing: Timber, name: str, unit: str, amount: Array, method: str, notes: tuple[str, ...] = ()) -> Figure:
    about = {"sources": ("mesavage1946", "girard1933"), "status": "memory", "note": "; ".join(notes)}
    rules, used = standing.rules, amount > 0
    return tallied_mean(name, unit, standing.cruise, amount, used=used, rules=rules, method=method, **about)


def _line(standing: Timber, group: tuple[str, str, str], pieces: list[Piece], prices: PriceList | None) -> Line:
    name, product, grade = group
    label, unit = f"{name} {product} {grade}".strip(), f"{pieces[0].unit}/ac"
    volume = _mean(standing, label, unit, standing.amounts(pieces), "volume of the group")
    if prices is None:
        return Line(name, product, grade, volume, None)
    price, note = prices.find(product, int(standing.cruise.spcd[pieces[0].tree]), grade)
    if price is None:
        return Line(name, product, grade, volume, None, "no price: not in the value")
    worth = np.zeros(len(standing.cruise.trees))
    for piece in pieces:
        worth[piece.tree] += piece_usd(piece, price, prices)
    value = _mean(standing, f"value of {label}", "US$/ac", worth, f"volume x {price.mean:g} {price.unit}")
    notes = "; ".join(part for part in (note, _weighed(price, prices, pieces[0])) if part)
    return Line(name, product, grade, volume, value, notes)


def _weighed(price: Price, prices: PriceList, piece: Piece) -> str:
    """How boards came to be priced by weight; nothing where they were not."""
    if price.unit != "US$/ton" or piece.unit != "bd ft":
        return ""
    return f"weighed at {prices.tons_per_mbf:g} tons/MBF ({prices.weight_source})"


def piece_usd(piece: Piece, price: Price, prices: PriceList, end: str = "mean") -> float:
    """What one piece is worth; boards by the ton at the list's stated weight, pulpwood and firewood by the tree's own.
    Raises BadRule when the price's unit and the piece's cannot meet."""
    each, boards = float(getattr(price, end)), piece.unit == "bd ft"
    if price.unit == "US$/MBF" and boards:
        return each * piece.amount / BF_PER_MBF
    if price.unit == "US$/ton" and boards and prices.tons_per_mbf is not None:
        return each * piece.amount / BF_PER_MBF * prices.tons_per_mbf
    wanted = _SOLD_BY.get(price.unit, "")
    for unit, amount in piece.as_sold:
        if unit == wanted:
            return each * amount
    raise unit_refused(piece.product, price.unit)


_SOLD_BY = {"US$/ton": "tons", "US$/cord": "cords"}


def tree_values(standing: Timber, prices: PriceList, end: str = "mean") -> Array:
    """Value of each tallied tree, US$, at the low, mean or high price."""
    worth, find = np.zeros(len(standing.cruise.trees)), functools.cache(prices.find)
    for piece in standing.pieces:
        price, _ = find(piece.product, int(standing.cruise.spcd[piece.tree]), piece.grade)
        if price is not None:
            worth[piece.tree] += piece_usd(piece, price, prices, end)
    return worth


def _total_value(
    standing: Timber, prices: PriceList, trees: NDArray[np.bool_] | bool = True, name: str = "timber_value_usd_ac"
) -> tuple[Figure, float, float]:
    """Value of some trees with an interval that joins the sampling error and the price range as if they were
    independent."""
    values, method = tree_values(standing, prices) * trees, "value of every tree at the mean price"
    sampled = _mean(standing, name, "US$/ac", values, method)
    low, high = (
        float(standing.cruise.totals(tree_values(standing, prices, end) * trees).mean()) for end in ("low", "high")
    )
    below, above = (0.0 if end is None else abs(end - sampled.number) for end in (sampled.low, sampled.high))
    figure = Figure(
        name=name,
        value=sampled.number,
        unit="US$/ac",
        low=max(0.0, sampled.number - float(np.hypot(below, sampled.number - low))),
        high=sampled.number + float(np.hypot(above, high - sampled.number)),
        level=sampled.level,
        n=sampled.n,
        method=f"stumpage by the list of {prices.date}; sampling error and price range joined as independent",
        sources=("mesavage1946", "field"),
        inputs=sampled.inputs,
        note="not an appraisal; " + "; ".join(standing.notes),
        status="assumption",
    )
    return figure, low, high


def on_all(figure: Figure, area_ac: float, name: str, unit: str) -> Figure:
    """What a figure an acre comes to on an area, which is taken as known; on three digits, for more would say more than
    is known."""
    low, value, high = (
        None if one is None else float(f"{one * area_ac:.3g}") for one in (figure.low, figure.number, figure.high)
    )
    note = f"{figure.note}; {_AREA_KNOWN}" if figure.note else _AREA_KNOWN
    return replace(figure, name=name, value=value, unit=unit, low=low, high=high, note=note)


_AREA_KNOWN = "the area is taken as known"


def _boards_by_rule(standing: Timber, rule: str) -> Figure:
    other = standing if rule == standing.log_rule else cut_up(standing.cruise, standing.rules, rule)
    boards = [piece for piece in other.pieces if piece.unit == "bd ft"]
    return _mean(standing, f"sawtimber, {rule}", "bd ft/ac", other.amounts(boards), f"board feet by {rule}")


def trees_per_ac(cruise: Cruise) -> NDArray[np.float64]:
    """What each tallied tree stands for, as a mean over the points."""
    return cruise.per_ac / max(cruise.n, 1)
