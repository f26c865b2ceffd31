"""Where futures start: the stand's own count, canopy, crop and sprouts, and the gates. What nobody knows is drawn in
``draws``."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overwood.ground import tables
from overwood.ground.errors import NotFound
from overwood.ground.figure import Figure
from overwood.ground.records import StandFile
from overwood.ground.species import by_code
from overwood.ground.vocabulary import CUT_KINDS
from overwood.judgement.evidence import acorns, stock
from overwood.judgement.evidence.counting import rule_plot_ac
from overwood.judgement.evidence.reproduction import Count, count_of
from overwood.judgement.futures import spaces
from overwood.judgement.gates import UNKNOWN, UNSURE, YES, last_good_crop, midstory_shades, years_since
from overwood.judgement.reason import Reason
from overwood.judgement.rules import Rules
from overwood.science import decisions, intervals, reproduction, survey
from overwood.science import regeneration as science
from overwood.science.regeneration import shapes

# White oak stands for the oaks of a stand in which none was named.
_ANY_WHITE, _CHESTNUT_OAK = 802, 832
_PRIOR_PLOTS, _FOLLOWED_FT = 0.5, 1.0


@dataclass(frozen=True)
class Start:
    """The stand as the simulation takes it; ``stand`` holds the numbers of STAND by name.

    ``counted`` are growing spaces made from the count, ``per_plot`` of them from each plot in turn;
    ``site_taken_ft`` is the site index that is assumed where none is noted.
    """

    visit: str
    counted: science.Counted
    plots: int
    per_plot: int
    species: tuple[int, ...]
    oaks: NDArray[np.void]
    stand: dict[str, float]
    oak_share: float
    notes: tuple[Reason, ...]
    site_taken_ft: float | None = None

    @property
    def ba_ft2_ac(self) -> float:
        """Basal area of the main canopy, its classes together [ft2/ac]."""
        return float(self.oaks["ba_ft2_ac"].sum()) + self.stand["other_ba_ft2_ac"]

    @property
    def row(self) -> NDArray[np.void]:
        """The stand as compiled code reads it, of shape (1,)."""
        return science.rows(np.array([self.stand[name] for name in science.STAND]), science.STAND)

    @property
    def spaces(self) -> int:
        """Growing spaces of a future: every plot so many times that there are enough."""
        return self.plots * -(-spaces.FEWEST // self.plots)


def start_of(file: StandFile, figures: dict[str, Figure], rules: Rules) -> Start:
    """The stand's own count, canopy and sprouts as the start. Raises NotFound when the stand has no reproduction count
    or no cruise."""
    visit = file.latest("reproduction")
    count = count_of(file, visit) if visit else None
    if count is None or visit is None:
        raise NotFound(
            f"{file.stand.stand} has no reproduction count.",
            remedy="Count 30 or more plots first; the tally sheet of a count says their size.",
        )
    ba = figures["overwood_ba_ft2_ac"]
    if not ba.measured or ba.number <= 0:
        raise NotFound(
            f"{file.stand.stand} has no overwood by its last cruise.",
            remedy="Cruise it first; a stand without overwood is past these courses.",
        )
    share = figures["oak_share"]
    species, oaks = _oaks(file, count, rules)
    stand = _stand(file, figures, rules, visit.visited_on, float(oaks["ba_ft2_ac"].sum()))
    counted, crops = (
        spaces.from_count(count, species, rules, stand["space_ac"]),
        crops_seen(file, rules, visit.visited_on),
    )
    return Start(
        visit=visit.visit, counted=counted.spaces._replace(crops=crops), plots=count.n, per_plot=counted.per_plot,
        species=species, oaks=oaks, stand=stand,
        oak_share=share.number if share.measured else 1.0, notes=_notes(file, figures, stand),
        site_taken_ft=None if figures["site_index_ft"].measured else stand["site_index_ft"],
    )  # fmt: skip


def _stand(
    file: StandFile, figures: dict[str, Figure], rules: Rules, on: dt.date, oak_ba_ft2_ac: float
) -> dict[str, float]:
    """The numbers of STAND."""
    ba, site, browse = figures["overwood_ba_ft2_ac"].number, figures["site_index_ft"], figures["browse_share"]
    opened, before = _opened(file, ba, on)
    midstory = float(_midstory(file, figures, rules, on))
    return {
        "space_ac": rule_plot_ac(),
        "other_ba_ft2_ac": max(0.0, ba - oak_ba_ft2_ac),
        "midstory": midstory,
        # Before the cut the midstory stood.
        "midstory_before": 1.0 if opened >= 0 else midstory,
        "site_index_ft": site.number if site.measured else rules.number("future_site_index_ft"),
        "opened_yr": opened,
        "ba_before_ft2_ac": before,
        "good_crop_ago_yr": _good_crop_ago(file, rules, on),
        "browse_share": browse.number if browse.measured else 0.0,
    }


def _notes(file: StandFile, figures: dict[str, Figure], stand: dict[str, float]) -> tuple[Reason, ...]:
    notes = []
    if not figures["browse_share"].measured:
        notes.append(Reason("no_deer"))
    elif stand["browse_share"] > 0:
        notes.append(Reason("deer", {"share": stand["browse_share"]}))
    if file.done(*CUT_KINDS):
        notes.append(Reason("opened_before"))
    return tuple(notes)


def _midstory(file: StandFile, figures: dict[str, Figure], rules: Rules, on: dt.date) -> bool:
    """Whether a midstory shades the floor, by the advice's own gate; by the tally alone where that is too old for
    it."""
    answer = midstory_shades(file, figures, rules, on).answer
    stems = figures["midstory_stems_ac"]
    if answer in UNKNOWN:
        return bool(not file.done("injection") and stems.measured and stems.number > rules.number("midstory_stems_ac"))
    return answer in (YES, UNSURE)


def _opened(file: StandFile, ba_ft2_ac: float, on: dt.date) -> tuple[float, float]:
    """Years since the canopy was last cut, -1 for never, and its basal area before."""
    cuts = [row for row in file.done(*CUT_KINDS) if row.started_on <= on]
    if not cuts:
        return -1.0, ba_ft2_ac
    before = cuts[-1].ba_before_ft2_ac
    return years_since(cuts[-1].started_on, on), max(ba_ft2_ac, before or ba_ft2_ac)


def _oaks(file: StandFile, count: Count, rules: Rules) -> tuple[tuple[int, ...], NDArray[np.void]]:
    """Oak species of the canopy and of the count, with their group, basal area and stumps that would sprout."""
    canopy = stock.oaks_by_species(file, rules)
    counted = {line.species for line in count.lines if by_code(line.species).is_oak}
    species = tuple(sorted({*canopy, *counted})) or (_ANY_WHITE,)
    rows = [
        (
            science.RED if by_code(code).oak_group == "red" else science.WHITE,
            *canopy.get(code, (0.0, 0.0)),
            float(code == _CHESTNUT_OAK),
        )
        for code in species
    ]
    return species, science.rows(np.array(rows, dtype=float), science.OAK)


def crops_seen(file: StandFile, rules: Rules, on: dt.date) -> NDArray[np.float64]:
    """What was seen of the crops from the autumn of a count on: trees bearing, trees looked at, and the side of the
    crop gate; zeros where nobody looked or no oak could bear. Of shape (autumns, 2 oak groups, 3)."""
    last = max((v.visited_on.year for v in (*file.visits, *file.neighbour_visits) if v.kind == "acorn"), default=0)
    seen = np.zeros((max(last + 1 - on.year, 0), 2, 3))
    for autumn, groups in enumerate(seen):
        check = acorns.check_of(file, on.year + autumn, rules)
        if check is None or check.out_of_season or acorns.bore_nothing(file, check, on.year + autumn, rules):
            continue
        for name, row in zip(acorns.GROUPS, groups, strict=True):
            share = acorns.bearing(check, name, on.year + autumn, rules)
            if share.measured and share.n:
                enough = share.n >= rules.number("crop_fewest_trees")
                side = decisions.side(*share.ends, rules.number("crop_bearing_share")) if enough else 0
                row[:] = share.number * share.n, share.n, side
    return seen


def _good_crop_ago(file: StandFile, rules: Rules, on: dt.date) -> float:
    year = last_good_crop(file, rules, on, int(rules.number("crop_look_back_yr")))
    return float(on.year - year) if year is not None else -1.0


def drawn_spaces(start: Start, futures: int, rng: np.random.Generator) -> NDArray[np.int64]:
    """Growing spaces of each future, of shape (futures, spaces): plots drawn with replacement, so that the count's
    error is in them, and half a plot of them where one of the oaks stands.

    A count misses the densest ground more often than it meets too much of it. Of a random scatter the half plot is
    what Jeffreys' prior adds to a Poisson count (from memory of Jeffreys 1946); of clumps it is half a clump.
    """
    oaks, n = _oaks_of_plots(start), start.plots
    prior = _PRIOR_PLOTS / n if oaks.sum() > 0 else 0.0
    shares = (1 - prior) / n + prior * oaks / max(float(oaks.sum()), 1.0)
    return _of_plots(start, rng.choice(n, size=(futures, n), p=shares / shares.sum()), rng)


def _oaks_of_plots(start: Start) -> NDArray[np.float64]:
    """Oaks of each plot that are followed one by one, from the height at which seedlings are established."""
    stems = start.counted.stems
    number = np.where(stems[:, :, shapes.OAK_FT] >= _FOLLOWED_FT, stems[:, :, shapes.NUMBER], 0.0)
    return np.asarray(number.sum(axis=1).reshape(start.plots, start.per_plot).sum(axis=1))


def same_spaces(start: Start, futures: int, rng: np.random.Generator) -> NDArray[np.int64]:
    """Growing spaces of each future where the very plots are counted again, of shape (futures, spaces)."""
    return _of_plots(start, np.tile(np.arange(start.plots), (futures, 1)), rng)


def _of_plots(start: Start, plots: NDArray[np.int64], rng: np.random.Generator) -> NDArray[np.int64]:
    many = np.tile(plots, (1, start.spaces // start.plots))
    return np.asarray(many * start.per_plot + rng.integers(0, start.per_plot, size=many.shape))


def gate_row(rules: Rules, *, seen_share: float | None = None) -> NDArray[np.void]:
    """What the simulated forester's gates need, from the rulebook that the advice uses; of shape (1,).

    ``seen_share`` is the part of the spaces that a count looks at; that of the assumptions if left out.
    """
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
        "same_plot_share": rule["same_plot_share"],
        "clumped_ratio": rules.number("clumped_ratio"),
        "clumping_k": rules.number("verdict_clumping_k"),
        "share_step": intervals.share_step(),
        "verdict_z": survey.z_quantile(_two_sided(rules)),
        "sampled_share": rules.number("future_sampled_share") if seen_share is None else seen_share,
        "group_share": rules.number("acorn_group_share"),
        "crop_trees": rules.number("crop_fewest_trees"),
        "crop_bearing_share": rules.number("crop_bearing_share"),
        "crop_z": survey.z_quantile(rules.number("interval_level")),
        "burn_wait_yr": rules.number("burn_youngest_seedling_yr"),
        "burn_collar_in": rules.number("burn_collar_in"),
        "burn_majority": rules.number("burn_collar_majority"),
        "age_yr": rules.number("future_stand_age_yr"),
    }
    return science.rows(np.array([values[name] for name in science.GATE]), science.GATE)


def _two_sided(rules: Rules) -> float:
    return 2 * rules.number("verdict_level") - 1
