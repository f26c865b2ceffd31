"""Light below crowns seen from above: the large crowns stand where they were seen, the cruise's other stems at random
below them.

The cruise's tallest trees, as many an acre as crowns were seen, are taken for those crowns and lend them species and
dbh in a draw; all others fill in, where the canopy above is at least as tall. Each draw takes the cruise's points with
replacement and moves crown radii within their error.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from overwood.ground.records import StandFile, Stem, StemMap, Visit
from overwood.ground.units import FT2_PER_ACRE, FT_PER_M
from overwood.judgement.canopy.answer import CanopyLight
from overwood.judgement.canopy.surface import Array, Surface
from overwood.judgement.evidence.layers import overwood_mask
from overwood.judgement.evidence.tally import Cruise
from overwood.judgement.evidence.timber import heights_ft
from overwood.judgement.rules import Rules
from overwood.judgement.stem_map import block_of, field_of
from overwood.science.canopy import Crowns

_VISIT, _SEED = "from above", 1
_ROUNDS = 40
_LOW, _HIGH = 5, 95


@dataclass(frozen=True)
class Window:
    """A square of the surface: its first row and column, and its side in cells."""

    row: int
    column: int
    cells: int


@dataclass(frozen=True)
class Ground:
    """What is known from above of a window: feet of a cell's side, height of the canopy [ft], which cells lie below a
    seen crown, and the share of a stem's height that the canopy over it must have."""

    window: Window
    per_cell: float
    canopy_ft: Array
    accounted_for: NDArray[np.bool_]
    share: float


@dataclass(frozen=True)
class Tally:
    """The cruise's trees from the tallest down, what each stands for an acre in one draw, and which are of the main
    canopy."""

    cruise: Cruise
    order: NDArray[np.int64]
    height_ft: Array
    per_ac: Array
    is_canopy: NDArray[np.bool_]


def light_from_above(
    file: StandFile, cruise: Cruise, surface: Surface, crowns: Crowns, own: NDArray[np.bool_], rules: Rules
) -> CanopyLight:
    """Light on the floor of a stand by its crowns from above and the small stems of its cruise."""
    rng, draws = np.random.default_rng(_SEED), int(rules.number("canopy_light_draws"))
    crowns_ac, error = float(own.sum()) / surface.acres, rules.number("crown_radius_error_share")
    squares, height, main = windows(surface, rules), heights_ft(cruise, cruise.dbh_in)[0], overwood_mask(cruise, rules)
    means, small = np.zeros(draws), np.zeros(draws)
    for draw in range(draws):
        tally, scale = _drawn_tally(cruise, height, main, rng), 1 + error * rng.uniform(-1, 1)
        small[draw] = max(float(tally.per_ac.sum()) - crowns_ac, 0.0)
        ground = _ground(surface, crowns, squares[draw % len(squares)], rules)
        stems = _stems(tally, crowns, crowns_ac, ground, rng)
        side_ft = ground.window.cells * surface.cell_m * FT_PER_M
        means[draw] = 100 * float(_light_below(file, stems, side_ft, scale, rules).mean())
    side, off = rules.number("canopy_light_window_ft"), rules.number("canopy_light_error_pct")
    return CanopyLight(
        mean_pct=float(means.mean()),
        low_pct=max(float(np.percentile(means, _LOW)) - off, 0.0),
        high_pct=min(float(np.percentile(means, _HIGH)) + off, 100.0),
        draws=draws,
        looked_at_share=min(1.0, len(squares) * side**2 / FT2_PER_ACRE / surface.acres),
        crowns_ac=crowns_ac,
        small_stems_ac=float(small.mean()),
        method=(
            f"{draws} draws of the stems of {cruise.visit.visit} below {int(own.sum())} crowns from above, "
            "each in one of "
            f"{len(squares)} squares of the stand: the square, the cruise's points, the places of stems and "
            "the radii of crowns vary; "
            f"{off:g} points of the model's own error are added to both ends; no light was read"
        ),
    )


def windows(surface: Surface, rules: Rules) -> list[Window]:
    """Squares of the stand spread over it; the one that holds most of it where none lies wholly inside."""
    side = round(rules.number("canopy_light_window_ft") / FT_PER_M / surface.cell_m)
    rows, columns = surface.inside.shape
    cells = min(side, rows, columns)
    step = max(1, cells // 3)
    places = [
        (row, column) for row in range(0, rows - cells + 1, step) for column in range(0, columns - cells + 1, step)
    ]
    shares = np.array([surface.inside[row : row + cells, column : column + cells].mean() for row, column in places])
    whole = np.flatnonzero(shares > 1 - 1 / cells)
    chosen = whole if len(whole) else np.array([int(shares.argmax())])
    spread = (
        np.linspace(0, len(chosen) - 1, min(int(rules.number("canopy_light_draws")), len(chosen))).round().astype(int)
    )
    return [Window(row, column, cells) for row, column in (places[int(place)] for place in chosen[spread])]


def _drawn_tally(cruise: Cruise, height_ft: Array, main: NDArray[np.bool_], rng: np.random.Generator) -> Tally:
    """The cruise with its points taken with replacement, from the tallest tree down."""
    times = np.bincount(rng.integers(0, cruise.n, size=cruise.n), minlength=cruise.n)
    order = np.argsort(-height_ft, kind="stable")
    return Tally(cruise, order, height_ft[order], (cruise.per_ac * times[cruise.point] / cruise.n)[order], main[order])


def _light_below(file: StandFile, stems: tuple[Stem, ...], side_ft: float, scale: float, rules: Rules) -> Array:
    """Light at each cell of a window that repeats for ever, as the stand goes on around it; share of full sun."""
    if not stems:
        return np.ones(1)
    ground = StemMap(visit=_VISIT, width_ft=side_ft, height_ft=side_ft, edge="torus")
    visit = Visit(visit=_VISIT, stand=file.stand.stand, kind="stem map", visited_on=dt.date.min)
    block = block_of(replace(file, visits=(visit,), stem_maps=(ground,), stems=stems), rules)
    return field_of(block, np.ones(len(stems), dtype=bool), rules, scale)


def _stems(
    tally: Tally, crowns: Crowns, crowns_ac: float, ground: Ground, rng: np.random.Generator
) -> tuple[Stem, ...]:
    """The crowns of a window, each with the species and dbh of a tall tree of the cruise, and the other stems below
    them."""
    acres = (ground.window.cells * ground.per_cell) ** 2 / FT2_PER_ACRE
    # The tallest trees, as many an acre as crowns were seen, are the crowns; one at the limit in part.
    as_crown = np.clip(crowns_ac - (np.cumsum(tally.per_ac) - tally.per_ac), 0.0, tally.per_ac)
    rest = tally.per_ac - as_crown
    small = _picked(rest, round(float(rest.sum()) * acres), rng)
    places = _places(tally.height_ft[small], tally.is_canopy[small], ground, rng)
    below = (
        _small(tally, int(tree), number, _feet(float(at[0]), float(at[1]), ground))
        for number, (tree, at) in enumerate(zip(small, places, strict=True), start=1)
    )
    return (*_seen_stems(tally, as_crown, crowns, ground, rng), *below)


def _seen_stems(tally: Tally, as_crown: Array, crowns: Crowns, ground: Ground, rng: np.random.Generator) -> list[Stem]:
    """The crowns of a window; the tallest has the species and dbh of the tallest of the trees that were picked."""
    window = ground.window
    row, column = crowns.row - window.row, crowns.column - window.column
    near = np.flatnonzero((row >= 0) & (row < window.cells) & (column >= 0) & (column < window.cells))
    tallest = near[np.argsort(-crowns.height_m[near], kind="stable")]
    lent = np.sort(_picked(as_crown if as_crown.any() else tally.per_ac, len(near), rng))
    return [
        _large(tally, int(tree), number, crowns, int(place), _feet(row[place], column[place], ground))
        for number, (tree, place) in enumerate(zip(lent, tallest, strict=True), start=1)
    ]


def _picked(weight: Array, count: int, rng: np.random.Generator) -> NDArray[np.int64]:
    if count and weight.any():
        return rng.choice(len(weight), size=count, p=weight / weight.sum())
    return np.zeros(0, dtype=np.int64)


def _places(height_ft: Array, is_canopy: NDArray[np.bool_], ground: Ground, rng: np.random.Generator) -> Array:
    """Rows and columns of stems in a window, at random where the canopy is tall enough above them.

    Main-canopy trees that were not seen as crowns first look for canopy that no seen crown accounts for: something
    stands there.
    """
    at = rng.random((len(height_ft), 2)) * ground.window.cells
    least = ground.share * height_ft
    for trial in range(_ROUNDS):
        rows, columns = np.floor(at).astype(int).T
        wrong = ground.canopy_ft[rows, columns] < least
        if trial < _ROUNDS // 2:
            wrong |= is_canopy & ground.accounted_for[rows, columns]
        if not wrong.any():
            break
        at[wrong] = rng.random((int(wrong.sum()), 2)) * ground.window.cells
    return at


def _ground(surface: Surface, crowns: Crowns, window: Window, rules: Rules) -> Ground:
    """What is known from above of a window's cells."""
    last_row, last_column = window.row + window.cells, window.column + window.cells
    canopy = surface.heights_m[window.row : last_row, window.column : last_column].astype(np.float64) * FT_PER_M
    below, share = _accounted_for(crowns, window, surface.cell_m), rules.number("canopy_crown_share")
    return Ground(window, surface.cell_m * FT_PER_M, canopy, below, share)


def _accounted_for(crowns: Crowns, window: Window, cell_m: float) -> NDArray[np.bool_]:
    """Cells below a circle of the area of a seen crown."""
    cells = np.zeros((window.cells, window.cells), dtype=bool)
    radius = np.sqrt(crowns.area_m2 / np.pi) / cell_m
    for row, column, reach in zip(crowns.row - window.row, crowns.column - window.column, radius, strict=True):
        if -reach < row < window.cells + reach and -reach < column < window.cells + reach:
            rows = np.arange(max(int(row - reach), 0), min(int(row + reach) + 2, window.cells))
            columns = np.arange(max(int(column - reach), 0), min(int(column + reach) + 2, window.cells))
            cells[np.ix_(rows, columns)] |= (rows[:, None] - row) ** 2 + (columns[None, :] - column) ** 2 <= reach**2
    return cells


def _large(tally: Tally, tree: int, number: int, crowns: Crowns, place: int, at: tuple[float, float]) -> Stem:
    of = tally.cruise.trees[tally.order[tree]]
    radius = float(np.sqrt(crowns.area_m2[place] / np.pi)) * FT_PER_M
    return Stem(
        visit=_VISIT, stem=f"c{number}", species=of.species, dbh_in=of.dbh_in, east_ft=at[0], north_ft=at[1],
        crown_class=of.crown_class, height_ft=float(crowns.height_m[place]) * FT_PER_M,
        radius_north_ft=radius, radius_east_ft=radius, radius_south_ft=radius, radius_west_ft=radius,
    )  # fmt: skip


def _small(tally: Tally, tree: int, number: int, at: tuple[float, float]) -> Stem:
    of = tally.cruise.trees[tally.order[tree]]
    return Stem(
        visit=_VISIT, stem=str(number), species=of.species, dbh_in=of.dbh_in, east_ft=at[0], north_ft=at[1],
        crown_class=of.crown_class, height_ft=of.height_ft,
    )  # fmt: skip


def _feet(row: float, column: float, ground: Ground) -> tuple[float, float]:
    """East and north of a place in a window's cells."""
    return float(column) * ground.per_cell, float(ground.window.cells - row) * ground.per_cell
