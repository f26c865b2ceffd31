"""Where futures start: the stand's own count, canopy, crop and sprouts, the parameters drawn from their ranges, and the gates."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overwood.ground import tables
from overwood.ground.errors import NotFound
from overwood.ground.figure import Figure
from overwood.ground.records import CUT_KINDS, Seedling, StandFile
from overwood.ground.species import by_code
from overwood.judgement.evidence import overstory
from overwood.judgement.evidence.reproduction import Count, count_of, height_ft
from overwood.judgement.gates import last_good_crop, midstory_shades, years_since
from overwood.judgement.rules import Rules
from overwood.science import intervals, reproduction, survey
from overwood.science import regeneration as science

Array = NDArray[np.float64]
# White oak stands for the oaks of a stand in which none was named.
_ANY_WHITE = 802
_PIONEERS = (621, 372, 371, 741, 742, 743, 746)
# Autumns looked back for a good crop; longer ago is as good as never.
_LOOK_BACK_YR = 20
# Which entry of the assumptions each parameter is drawn from; a parameter that is not named here is ``future_`` and its name.
_ENTRIES = {
    "growth_established_ft_yr": "growth_established_ft_yr",
    "crop_mean_ac": "future_crop_ac",
    "good_crop_chance": "good_crop_chance",
    "insect_share": "insect_loss_share",
    "buried_share": "buried_share",
    "light_lasts_yr": "injection_light_lasts_yr",
    "midstory_multiplier": "light_midstory_multiplier",
    "logging_loss_share": "logging_loss_share",
    "dominance_b0": "dominance_b0",
    "dominance_ln_diameter": "dominance_ln_diameter",
    "dominance_site_10ft": "dominance_site_10ft",
    "dominance_overtopped": "dominance_overtopped",
    "sprout_shade": "sprout_shade_multiplier",
}
# Parameters that are constants of a table of the science floor and are not drawn.
_CONSTANTS = {
    "curve_b0": "science/tables/light.csv",
    "curve_b1": "science/tables/light.csv",
    "overwinter_buried": "science/tables/acorns.csv",
    "overwinter_unburied": "science/tables/acorns.csv",
}
SOURCES = {name: _ENTRIES.get(name, f"future_{name}") for name in science.PARAMETERS if name not in _CONSTANTS}


@dataclass(frozen=True)
class Start:
    """The stand as the simulation takes it; ``stand`` holds the numbers of STAND by name."""

    visit: str
    counted: science.Counted
    species: tuple[int, ...]
    oaks: NDArray[np.void]
    stand: dict[str, float]
    oak_share: float
    browsed: bool
    notes: tuple[str, ...]

    @property
    def plots(self) -> int:
        return len(self.counted.oak)

    @property
    def ba_ft2_ac(self) -> float:
        """Basal area of the main canopy, its classes together [ft2/ac]."""
        return float(self.oaks["ba_ft2_ac"].sum()) + self.stand["other_ba_ft2_ac"]

    @property
    def row(self) -> NDArray[np.void]:
        """The stand as compiled code reads it, of shape (1,)."""
        return science.rows(np.array([self.stand[name] for name in science.STAND]), science.STAND)


def start_of(file: StandFile, figures: dict[str, Figure], rules: Rules) -> Start:
    """The stand's own count, canopy and sprouts as the start.

    Raises
    ------
    NotFound
        when the stand has no reproduction count or no cruise.
    """
    visit = file.latest("reproduction")
    count = count_of(file, visit) if visit else None
    if count is None or visit is None:
        raise NotFound(f"{file.stand.stand} has no reproduction count.", remedy="Count 30 or more plots of 1/735 acre first.")
    ba = figures["overwood_ba_ft2_ac"]
    if not ba.measured or ba.number <= 0:
        raise NotFound(
            f"{file.stand.stand} has no overwood by its last cruise.",
            remedy="Cruise it first; a stand without overwood is past these courses.",
        )
    site, browse, share = figures["site_index_ft"], figures["browse_share"], figures["oak_share"]
    browsed = browse.measured and browse.number > rules.number("browse_share")
    opened, before = _opened(file, ba.number, visit.visited_on)
    species, oaks = _oaks(file, count, rules)
    stand = {
        "plot_ac": count.plot_ac,
        "other_ba_ft2_ac": max(0.0, ba.number - float(oaks["ba_ft2_ac"].sum())),
        "midstory": float(_midstory(file, figures, rules, visit.visited_on)),
        "site_index_ft": site.number if site.measured else rules.number("future_site_index_ft"),
        "opened_yr": opened,
        "ba_before_ft2_ac": before,
        "good_crop_ago_yr": _good_crop_ago(file, rules, visit.visited_on),
    }
    notes = [] if site.measured else [f"no site index is noted: {stand['site_index_ft']:g} ft is taken (future_site_index_ft)"]
    if browsed:
        notes.append(f"browse is {browse.number:.0%}: growth under 4.5 ft is slowed (future_browse_growth)")
    if file.done(*CUT_KINDS):
        notes.append("this stand was opened before: its light has been fading since, and a seed cut as deep as a course's counts as done")
    return Start(
        visit.visit, _plots(count, species, rules), species, oaks, stand, share.number if share.measured else 1.0, browsed, tuple(notes)
    )


def _midstory(file: StandFile, figures: dict[str, Figure], rules: Rules, on: dt.date) -> bool:
    """Whether a midstory shades the floor, by the advice's own gate; by the tally alone where that is too old for it."""
    state = midstory_shades(file, figures, rules, on).state
    stems = figures["midstory_stems_ac"]
    if state in ("unmeasured", "expired"):
        return bool(not file.done("injection") and stems.measured and stems.number > rules.number("midstory_stems_ac"))
    return state in ("open", "unsure")


def _opened(file: StandFile, ba_ft2_ac: float, on: dt.date) -> tuple[float, float]:
    """Years since the canopy was last cut, -1 for never, and its basal area before."""
    cuts = [row for row in file.done(*CUT_KINDS) if row.started_on <= on]
    if not cuts:
        return -1.0, ba_ft2_ac
    before = cuts[-1].ba_before_ft2_ac
    return years_since(cuts[-1].started_on, on), max(ba_ft2_ac, before or ba_ft2_ac)


def _oaks(file: StandFile, count: Count, rules: Rules) -> tuple[tuple[int, ...], NDArray[np.void]]:
    """Oak species of the canopy and of the count, with their group, basal area and stumps that would sprout."""
    canopy = overstory.oaks_by_species(file, rules)
    counted = {line.species for line in count.lines if by_code(line.species).is_oak}
    species = tuple(sorted({*canopy, *counted})) or (_ANY_WHITE,)
    rows = [(science.RED if by_code(code).oak_group == "red" else science.WHITE, *canopy.get(code, (0.0, 0.0))) for code in species]
    return species, science.rows(np.array(rows, dtype=float), science.OAK)


def _good_crop_ago(file: StandFile, rules: Rules, on: dt.date) -> float:
    year = last_good_crop(file, rules, on, _LOOK_BACK_YR)
    return float(on.year - year if year is not None else _LOOK_BACK_YR)


def _plots(count: Count, species: tuple[int, ...], rules: Rules) -> science.Counted:
    """Tallest oaks of each plot with what their roots have carried, and the tallest tolerant and pioneer rival; stems one by one."""
    place = {point.point: index for index, point in enumerate(count.points)}
    oaks: list[list[tuple[float, float, int]]] = [[] for _ in count.points]
    rivals = np.zeros((2, count.n))
    for line in count.lines:
        if line.stems <= 0:
            continue
        height, at = height_ft(line, rules), place[line.point]
        if by_code(line.species).is_oak:
            oaks[at].extend([(height, _root_ft(line, height, rules), species.index(line.species))] * min(line.stems, science.SLOTS))
        else:
            kind = int(line.species in _PIONEERS or "birch" in by_code(line.species).common_name)
            rivals[kind, at] = max(rivals[kind, at], height)
    heights, roots = np.zeros((2, count.n, science.SLOTS))
    group = np.zeros((count.n, science.SLOTS), dtype=np.int64)
    for at, stems in enumerate(oaks):
        for slot, stem in enumerate(sorted(stems, reverse=True)[: science.SLOTS]):
            heights[at, slot], roots[at, slot], group[at, slot] = stem
    return science.Counted(heights, roots, group, rivals[0], rivals[1])


def _root_ft(line: Seedling, height: float, rules: Rules) -> float:
    """Height that a stem's root could carry: what its collar says where that was measured, its own height else."""
    if line.basal_diameter_in is None:
        return height
    return max(height, 4.5 * line.basal_diameter_in / rules.number("future_collar_in_at_4_5ft"))


def draw_parameters(rules: Rules, start: Start, sets: int, rng: np.random.Generator) -> Array:
    """So many draws of every parameter from its range, most often near its value; of shape (sets, parameters)."""
    found = np.empty((sets, len(science.PARAMETERS)))
    for place, name in enumerate(science.PARAMETERS):
        if name in _CONSTANTS:
            found[:, place] = tables.constants(_CONSTANTS[name])[name]
            continue
        low, likely, high = rules[SOURCES[name]].span
        found[:, place] = rng.triangular(low, min(max(likely, low), high), high, sets) if low < high else likely
    at = science.PARAMETERS.index
    found[:, at("crop_mean_ac")] *= start.oak_share
    if not start.browsed:
        found[:, at("browse_growth")] = 1.0
    return found


def gate_row(rules: Rules) -> NDArray[np.void]:
    """What the simulated forester's gates need, from the rulebook that the advice uses; of shape (1,)."""
    rule = tables.constants(reproduction.TABLE)
    several = rules["several_hundred_ac"]
    values = {
        "needed_ac": several.number,
        "least_ac": several.span[0],
        "waist_ft": rules.number("waist_high_ft"),
        "tall_ft": rule["advance_height_ft"],
        "too_tall_ft": rules.number("latest_release_height_ft"),
        "advance_needed_ac": rule["advance_needed_ac"],
        "plots_per_acre": rule["plots_per_acre"],
        "clumped_ratio": rules.number("clumped_ratio"),
        "clumping_k": rules.number("verdict_clumping_k"),
        "share_step": intervals.share_step(),
        "verdict_z": survey.z_quantile(_two_sided(rules)),
        "sampled_share": rules.number("future_sampled_share"),
        "group_share": rules.number("acorn_group_share"),
        "crop_trees": rules.number("crop_fewest_trees"),
        "crop_bearing_share": rules.number("crop_bearing_share"),
        "crop_z": survey.z_quantile(rules.number("interval_level")),
        "burn_wait_yr": rules.number("burn_youngest_seedling_yr"),
        "age_yr": rules.number("future_stand_age_yr"),
    }
    return science.rows(np.array([values[name] for name in science.GATE]), science.GATE)


def _two_sided(rules: Rules) -> float:
    return 2 * rules.number("verdict_level") - 1
