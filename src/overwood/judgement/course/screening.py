"""Every stand of a region at once: from the columns of its tallies to the numbers its next step hangs on.

Only stands of plain design are looked at so; which are is decided where the columns are made (``desk.part_columns``).
The layers, the published equations and the gates are those that the advice of one stand uses, on columns. Tests hold
both equal.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from overwood.ground import tables
from overwood.ground.species import by_code
from overwood.judgement.course.standings import Cases, Limits, Spans, Standings, Tallies, standings_of
from overwood.judgement.evidence.acorns import GROUPS
from overwood.judgement.evidence.layers import midstory_by, overwood_beside, species_mask
from overwood.judgement.rules import Rules
from overwood.science import density, intervals, overstory, reproduction, survey, verdicts

Array = NDArray[np.float64]
Codes = NDArray[np.int64]
Mask = NDArray[np.bool_]


@dataclass(frozen=True, kw_only=True)
class Rings:
    """How the deciding cruise of each stand took its trees in; NaN where there is no such ring. The prism or the area
    is NaN too."""

    baf_ft2_ac: Array
    plot_ac: Array
    low_dbh_in: Array
    high_dbh_in: Array
    midstory_ac: Array
    midstory_low_in: Array
    midstory_high_in: Array

    def covers(self, low_in: float, high_in: float) -> Mask:
        """Where the rings looked at every size between two."""
        reached = np.full(len(self.low_dbh_in), low_in)
        for low, high in ((self.midstory_low_in, self.midstory_high_in), (self.low_dbh_in, self.high_dbh_in)):
            reached = np.where(low <= reached, np.maximum(reached, high), reached)
        return reached >= high_in

    def one_more(self, low_in: float, high_in: float, is_area: bool) -> Array:
        """The most that one stem between two sizes would add to its point: stems an acre, or basal area
        (``tally.one_more``)."""
        most = np.zeros(len(self.low_dbh_in))
        rings = (
            (self.midstory_low_in, self.midstory_high_in, self.midstory_ac, np.nan),
            (self.low_dbh_in, self.high_dbh_in, self.plot_ac, self.baf_ft2_ac),
        )
        for ring_low, ring_high, plot_ac, baf in rings:
            low, high = np.fmax(low_in, ring_low), np.fmin(high_in, ring_high)
            for size in (np.where(low == 0, 0.5, low), high):
                each = overstory.basal_area_ft2(size) if is_area else 1.0
                by_area, by_prism = each / plot_ac, each * survey.trees_per_acre_prism(baf, size)
                most = np.fmax(
                    most, np.where((low < high) & ~np.isnan(ring_low), np.where(np.isnan(baf), by_area, by_prism), 0.0)
                )
        return most


@dataclass(frozen=True, kw_only=True)
class Trees:
    """Live trees of the deciding cruises; ``point`` is the place among the points, ``lines`` the trees a line counts
    for."""

    point: Codes
    species: Codes
    dbh_in: Array
    lines: Array
    is_overtopped: Mask
    in_canopy: Mask
    dieback_pct: Array


@dataclass(frozen=True, kw_only=True)
class Floor:
    """Lines of the deciding counts: ``plot`` is the place among the plots, heights in feet, what was noted of their
    place."""

    plot: Codes
    species: Codes
    stems: Array
    low_ft: Array
    height_ft: Array
    is_free: Mask
    is_overtopped: Mask


@dataclass(frozen=True, kw_only=True)
class Region:
    """The columns of many stands. Arrays of stands where nothing else is said; ``bearing`` and ``looked`` are of
    (group, stand)."""

    rings: Rings
    point_stand: Codes
    trees: Trees
    plot_stand: Codes
    floor: Floor
    plot_ac: Array
    floor_low_ft: Array
    floor_high_ft: Array
    cruise_yr: Array
    count_yr: Array
    age_yr: Array
    site_index_ft: Array
    bearing: Array
    looked: Array
    crop_late: Mask
    crop_elsewhere: Mask
    stage: Codes
    injected: Mask
    injected_since: Mask

    @property
    def n(self) -> int:
        return len(self.stage)


@dataclass(frozen=True, kw_only=True)
class Screen:
    """What the look at every stand found: its standing, and the figures behind it by name (NaN where unmeasured)."""

    standings: Standings
    stage: Codes
    figures: dict[str, Array]


def screen(region: Region, rules: Rules) -> Screen:
    """The standing of every stand, with the figures that decide it."""
    with np.errstate(divide="ignore", invalid="ignore"):
        cases, figures = _cases(region, rules)
        return Screen(standings=standings_of(cases, Limits(rules)), stage=region.stage, figures=figures)


def _cases(region: Region, rules: Rules) -> tuple[Cases, dict[str, Array]]:
    standing = _Standing.of(region, rules)
    canopy, below = standing.canopy(), standing.midstory()
    crop, trees = _crop(region, standing, rules)
    tallies, is_judged, floor = _counts(region, rules, canopy["oak_sprouts_ac"])
    cases = Cases(
        stage=region.stage, cruise_yr=region.cruise_yr, midstory_yr=region.cruise_yr, count_yr=region.count_yr,
        age_yr=region.age_yr,
        overwood_ba_ft2_ac=canopy["overwood_ba_ft2_ac"], c_line_ba_ft2_ac=canopy["c_line_ba_ft2_ac"],
        stocking_pct=canopy["overwood_stocking_pct"], large_share=canopy["large_share"],
        middle_share=canopy["middle_share"],
        declining_share=canopy["declining_share"], midstory_stems_ac=below[0], midstory_ba_ft2_ac=below[1],
        injected=region.injected, injected_since=region.injected_since, crop=crop, crop_trees=trees,
        crop_doubted=region.crop_late,
        is_judged=is_judged, free_oaks_ac=floor["free_oaks_ac"], reaches=2, tallies=tallies, weights=standing.weights(),
    )  # fmt: skip
    figures = {
        **canopy, **floor, "site_index_ft": region.site_index_ft,
        "midstory_stems_ac": below[0].value, "midstory_ba_ft2_ac": below[1].value,
        "crop_bearing_share": crop.value,
        "age_yr": region.age_yr,
    }  # fmt: skip
    return cases, figures


@dataclass(frozen=True, kw_only=True)
class _Standing:
    """The trees of the cruises with what each stands for, and the layer it is of."""

    region: Region
    rules: Rules
    points: Array
    stand: Codes
    taken: Trees
    per_ac: Array
    overwood: Mask
    below: Mask
    oak: Mask

    @classmethod
    def of(cls, region: Region, rules: Rules) -> _Standing:
        trees, rings, stand = region.trees, region.rings, region.point_stand[region.trees.point]
        in_canopy_ring = (trees.dbh_in >= rings.low_dbh_in[stand]) & (trees.dbh_in < rings.high_dbh_in[stand])
        in_midstory_ring = (trees.dbh_in >= rings.midstory_low_in[stand]) & (
            trees.dbh_in < rings.midstory_high_in[stand]
        )
        baf, area = rings.baf_ft2_ac[stand], np.where(in_canopy_ring, rings.plot_ac[stand], rings.midstory_ac[stand])
        by_prism = survey.trees_per_acre_prism(baf, trees.dbh_in)
        per_ac = trees.lines * np.where(in_canopy_ring & ~np.isnan(baf), by_prism, 1 / area)
        kept = in_canopy_ring | in_midstory_ring
        # Mostly every tree is kept.
        taken = trees if kept.all() else Trees(**{name: column[kept] for name, column in vars(trees).items()})
        below = midstory_by(taken.species, taken.dbh_in, taken.is_overtopped, taken.in_canopy, rules)
        return cls(
            region=region, rules=rules, points=np.bincount(region.point_stand, minlength=region.n).astype(float),
            stand=stand[kept],
            taken=taken, per_ac=per_ac[kept], overwood=overwood_beside(below, taken.dbh_in, rules), below=below,
            oak=species_mask(taken.species, lambda code: by_code(code).is_oak),
        )  # fmt: skip

    def total(self, mask: Mask, amount: Array | float = 1.0) -> Array:
        """The sum over the trees of a mask of what each stands for, times an amount, by stand."""
        those = np.flatnonzero(mask)
        each = np.broadcast_to(amount, len(self.stand))[those] * self.per_ac[those]
        return np.bincount(self.stand[those], weights=each, minlength=self.region.n).astype(float)

    def share(self, mask: Mask, of: Array) -> Array:
        """Basal area of a part of the overwood as a share."""
        return np.where(
            of > 0, self.total(self.overwood & mask, overstory.basal_area_ft2(self.taken.dbh_in)) / of, np.nan
        )

    def canopy(self) -> dict[str, Array]:
        """Figures of the main canopy; NaN where the cruise did not look at it."""
        rules, trees, overwood = self.rules, self.taken, self.overwood
        looked_from = max(rules.number("overwood_low_dbh_in"), rules.number("canopy_looked_from_in"))
        seen = self.region.rings.covers(looked_from, math.inf) & (self.points > 0)
        area = self.total(overwood, overstory.basal_area_ft2(trees.dbh_in))
        ba, stems = area / self.points, self.total(overwood) / self.points
        thick, medium = rules.number("mature_large_dbh_in"), rules.number("mature_middle_dbh_in")
        b_line = overstory.stocking_levels(overstory.quadratic_mean_diameter_in(ba, stems)).b_ba_ft2_ac
        sick, judged = (
            trees.dieback_pct > rules.number("decline_dieback_pct"),
            overwood & self.oak & ~np.isnan(trees.dieback_pct),
        )
        noted = self.total(judged)
        columns = {
            "overwood_ba_ft2_ac": ba,
            "overwood_stocking_pct": self.total(overwood, density.tree_area_pct(trees.dbh_in)) / self.points,
            "c_line_ba_ft2_ac": np.where(ba > 0, b_line - rules.number("c_line_below_b_ft2_ac"), np.nan),
            "oak_share": self.share(self.oak, area),
            "large_share": self.share(trees.dbh_in >= thick, area),
            "middle_share": self.share((trees.dbh_in >= medium) & (trees.dbh_in < thick), area),
            "oak_sprouts_ac": self.total(overwood & self.oak, self._sprouts()) / self.points,
        }
        columns = {name: np.where(seen, value, np.nan) for name, value in columns.items()}
        return columns | {"declining_share": np.where(noted > 0, self.total(judged & sick) / noted, np.nan)}

    def no_bearers(self) -> Mask:
        """Whether the canopy was looked at and no oak large enough to bear was tallied."""
        looked_from = max(self.rules.number("overwood_low_dbh_in"), self.rules.number("canopy_looked_from_in"))
        seen = self.region.rings.covers(looked_from, math.inf) & (self.points > 0)
        able = self.overwood & self.oak & (self.taken.dbh_in >= self.rules.number("acorn_tree_dbh_in"))
        return seen & (self.total(able) == 0)

    def _sprouts(self) -> Array:
        """Chance that the stump of each oak sprouts."""
        shares = np.zeros(len(self.stand))
        for code in np.unique(self.taken.species[self.oak]):
            of = self.taken.species == code
            shares[of] = reproduction.stump_sprout_share(int(code), self.taken.dbh_in[of], shade_multiplier=1.0)
        return shares

    def midstory(self) -> tuple[Spans, Spans]:
        """Midstory stems and basal area an acre with their ends."""
        low, high = self.rules.number("midstory_low_dbh_in"), self.rules.number("midstory_high_dbh_in")
        seen = self.region.rings.covers(low, high) & (self.points > 0)
        each = overstory.basal_area_ft2(self.taken.dbh_in)
        return self._spans(np.ones(len(each)), seen, False), self._spans(each, seen, True)

    def _spans(self, amount: Array, seen: Mask, is_area: bool) -> Spans:
        low, high = self.rules.number("midstory_low_dbh_in"), self.rules.number("midstory_high_dbh_in")
        point_stand, below = self.region.point_stand, self.below
        each = amount[below] * self.per_ac[below]
        totals = np.bincount(self.taken.point[below], weights=each, minlength=len(point_stand))
        mean = np.bincount(point_stand, weights=totals, minlength=self.region.n) / self.points
        spread = np.bincount(point_stand, weights=(totals - mean[point_stand]) ** 2, minlength=self.region.n)
        heaviest = np.zeros(self.region.n)
        np.maximum.at(heaviest, self.stand[below], each)
        one = np.where(heaviest > 0, heaviest, self.region.rings.one_more(low, high, is_area))
        se = np.sqrt(spread / (self.points - 1) / self.points)
        ends = intervals.tally_ends(mean, se, self.points, one, level=self.rules.number("interval_level"))
        return Spans(*(np.where(seen, column, np.nan) for column in (mean, *ends)))

    def weights(self) -> dict[int, Array]:
        """Overwood of each stand by species, as ``maturity.overwood_by_species``."""
        those, n = np.flatnonzero(self.overwood), self.region.n
        if not len(those):
            return {}
        species = self.taken.species[those]
        codes = np.flatnonzero(np.bincount(species))
        row = np.zeros(codes[-1] + 1, dtype=np.int64)
        row[codes] = np.arange(len(codes))
        each = self.taken.dbh_in[those] ** 2 * self.per_ac[those]
        sums = np.bincount(row[species] * n + self.stand[those], weights=each, minlength=len(codes) * n).reshape(
            len(codes), n
        )
        return {int(code): sums[place] for place, code in enumerate(codes)}

    def group_shares(self) -> Array:
        """Share of each oak group in the basal area of the overwood's oaks; NaN without any."""
        square, oaks = self.taken.dbh_in**2, self.overwood & self.oak
        of = [
            species_mask(self.taken.species, lambda code, name=name: by_code(code).oak_group == name)  # type: ignore[misc]
            for name in GROUPS
        ]
        whole = self.total(oaks, square)
        return np.array([np.where(whole > 0, self.total(oaks & mask, square) / whole, np.nan) for mask in of])


def _crop(region: Region, standing: _Standing, rules: Rules) -> tuple[Spans, Array]:
    """The better crop of the oak groups that make up enough of each stand's oaks, and the trees it was seen on."""
    shares, looked = standing.group_shares(), region.looked
    able = (np.isnan(shares) | (shares >= rules.number("acorn_group_share"))) & (looked > 0)
    bearing = np.where(able, region.bearing / looked, -1.0)
    best = np.where(bearing[1] > bearing[0], 1, 0)
    value, trees = (np.take_along_axis(each, best[np.newaxis], axis=0)[0] for each in (bearing, looked))
    ends = verdicts.share_ends(
        value * trees, trees, survey.z_quantile(rules.number("interval_level")), intervals.share_step()
    )
    nothing = region.crop_elsewhere & standing.no_bearers()
    spans = (np.where(nothing, 0.0, np.where(value >= 0, column, np.nan)) for column in (value, *ends))
    return Spans(*spans), np.where(nothing, math.inf, trees)


def _counts(region: Region, rules: Rules, sprouts: Array) -> tuple[Tallies, Mask, dict[str, Array]]:
    """The tally of each count, whether its verdict can be told, and the figures of the floor."""
    floor, n = region.floor, region.n
    oak = species_mask(floor.species, lambda code: by_code(code).is_oak)
    waist, advance = rules.number("waist_high_ft"), tables.constants(reproduction.TABLE)["advance_height_ft"]
    plots = np.bincount(region.plot_stand, minlength=n).astype(float)

    def stocked(mask: Mask) -> Array:
        on = np.zeros(len(region.plot_stand), dtype=bool)
        on[floor.plot[mask]] = True
        return np.bincount(region.plot_stand[on], minlength=n).astype(float)

    tall = oak & (floor.low_ft >= waist)
    tallies = Tallies(
        plots=plots, plot_ac=region.plot_ac, stocked_tall=stocked(oak & (floor.low_ft >= advance)),
        stocked_waist=stocked(tall),
        stems_waist=np.bincount(region.plot_stand[floor.plot[tall]], weights=floor.stems[tall], minlength=n),
        places=plots,
        sprouts_ac=np.nan_to_num(sprouts),
        follows_rule=np.abs(region.plot_ac * tables.constants(reproduction.TABLE)["plots_per_acre"] - 1) < 0.05,
    )  # fmt: skip
    counted = (plots > 0) & ~np.isnan(region.plot_ac)
    is_judged = counted & (region.floor_low_ft <= 3.0) & (region.floor_high_ft > 4.5)
    keeps_up = _free(region.floor, oak, len(region.plot_stand))
    free, by_oak = stocked(keeps_up & (floor.low_ft >= 4.5)), stocked(keeps_up)
    # A plot with a tree of 1 ft and no free oak is led by a competitor.
    led = stocked(floor.low_ft >= 1.0) - by_oak
    # The figure is of 3 ft, whatever height an office takes for its waist.
    of_3ft = oak & (floor.low_ft >= 3.0)
    stems = np.bincount(region.plot_stand[floor.plot[of_3ft]], weights=floor.stems[of_3ft], minlength=n)
    return (
        tallies,
        is_judged,
        {
            "oak_stocked_1ft_share": np.where(
                counted & (region.floor_low_ft <= 1.0) & (region.floor_high_ft > 1.0),
                stocked(oak & (floor.low_ft >= 1.0)) / plots,
                np.nan,
            ),
            "oak_stocked_3ft_share": np.where(
                counted & (region.floor_low_ft <= 3.0) & (region.floor_high_ft > 3.0),
                stocked(of_3ft) / plots,
                np.nan,
            ),
            "competitor_led_share": np.where(led + by_oak > 0, led / (led + by_oak), np.nan),
            "free_oaks_ac": np.where(counted, free / plots / region.plot_ac, np.nan),
            "oak_stems_3ft_ac": np.where(is_judged, stems / plots / region.plot_ac, np.nan),
            "oak_stocked_4_5ft_share": np.where(is_judged, stocked(oak & (floor.low_ft >= 4.5)) / plots, np.nan),
        },
    )


def _free(floor: Floor, oak: Mask, plots: int) -> Mask:
    """Oaks of 1 ft that keep up with the tallest competitor of their plot, or were noted as free
    (``reproduction._leads``)."""
    rival, rule = np.zeros(plots), tables.constants(reproduction.TABLE)["competitive_height"]
    np.maximum.at(rival, floor.plot[~oak], floor.height_ft[~oak])
    keeps_up: Any = floor.is_free | (~floor.is_overtopped & (floor.height_ft >= rule * rival[floor.plot]))
    return oak & (floor.low_ft >= 1.0) & keeps_up
