"""What a burn puts at risk: wounds, deaths and value of the standing timber, by firing technique, debris cleared or
not."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overwood.ground import measures, tables
from overwood.ground.records import StandFile
from overwood.ground.species import by_code
from overwood.ground.units import IN_PER_CM
from overwood.judgement.evidence import timber as evidence
from overwood.judgement.evidence.tally import Cruise, cruise_of
from overwood.judgement.prices import PriceList
from overwood.judgement.rules import Rules
from overwood.science import timber
from overwood.science.fire import trees as science
from overwood.science.fire.spread import TECHNIQUES

Array = NDArray[np.float64]
LOSS = "science/tables/fire_loss.csv"
ENDS = ("low", "likely", "high")
DEBRIS = ("cleared", "at the foot")


@dataclass(frozen=True)
class Loss:
    """Expected over an acre for one technique: sawtimber wounded and dead, smaller stems topkilled, value lost; low,
    likely, high."""

    technique: str
    debris: str
    wounded_share: tuple[float, float, float]
    dead_trees_ac: tuple[float, float, float]
    topkilled_ac: tuple[float, float, float]
    value_usd_ac: tuple[float, float, float] | None
    boards_bf_ac: tuple[float, float, float]


@dataclass(frozen=True)
class Stem:
    """How one size of a species stands the heat at its foot."""

    species: str
    dbh_in: float
    bark_in: float
    kill_min: float
    wound_cleared: float
    wound_debris: float
    dead_2yr: float | None


@dataclass(frozen=True)
class Harm:
    """All techniques, beside the published loss for a burn."""

    visit: str
    losses: tuple[Loss, ...]
    stems: tuple[Stem, ...]
    value_usd_ac: float | None
    boards_bf_ac: float
    published_usd_ac: tuple[float, float, float] | None
    published_bf_ac: float
    years_to_cut: float
    debris_trees_ac: float
    debris_hours_ac: tuple[float, float, float]
    escape_share: tuple[float, float, float]
    south: bool
    notes: tuple[str, ...]


@dataclass(frozen=True)
class _Trees:
    """Every tallied tree as the losses ask for it; arrays of one length, of bark at the foot one for each of
    ``ENDS``."""

    dbh_in: Array
    bark_in: list[Array]
    per_ac: Array
    boards: Array
    volume_share: Array
    value: Array | None


def harm(
    file: StandFile, rules: Rules, prices: PriceList | None, years_to_cut: float, flame_ft: float | None = None
) -> Harm | None:
    """Loss expected from one dormant burn; None where the stand was never cruised."""
    visit = file.latest("cruise")
    if visit is None:
        return None
    cruise = cruise_of(file, visit)
    cut = evidence.cut_up(cruise, rules, prices.log_rule if prices else "doyle")
    boards = cut.amounts([piece for piece in cut.pieces if piece.unit == "bd ft"])
    value = evidence.tree_values(cut, prices) if prices else None
    per_ac = evidence.trees_per_ac(cruise)
    # The least harm is that of the thickest bark of the range, the most that of the thinnest.
    bark = [
        np.array(
            [
                float(timber.foot_bark_in(int(code), dbh, end))
                for code, dbh in zip(cruise.spcd, cruise.dbh_in, strict=True)
            ]
        )
        for end in ("high", "ratio", "low")
    ]
    trees = _Trees(cruise.dbh_in, bark, per_ac, boards, _volume_share(boards), value)
    losses = tuple(
        _loss(technique, debris, trees, rules, years_to_cut) for technique in TECHNIQUES for debris in DEBRIS
    )
    worth, whole = (None if value is None else float((value * per_ac).sum())), float((boards * per_ac).sum())
    south = _south(file, rules)
    published = None if worth is None else _published(worth, south)
    leave = per_ac[boards > 0].sum()
    return Harm(
        visit=visit.visit,
        losses=losses,
        stems=_stems(cruise, rules, rules.number("burn_flame_guess_ft") if flame_ft is None else flame_ft),
        value_usd_ac=worth,
        boards_bf_ac=whole,
        published_usd_ac=published,
        published_bf_ac=whole * _percent("volume_loss_per_burn", "value"),
        years_to_cut=years_to_cut,
        debris_trees_ac=float(leave),
        debris_hours_ac=_ends(rules, "burn_debris_min_per_tree", lambda minutes: float(leave) * minutes / 60),
        escape_share=_ends(rules, "burn_escape_share", float),
        south=south,
        notes=_notes(losses, published, prices, rules, cut.notes),
    )


_SHOWN_DBH_IN = (4, 8, 12, 18)
_SHOWN_SPECIES = 4


def _stems(cruise: Cruise, rules: Rules, flame_ft: float) -> tuple[Stem, ...]:
    """Bark against heat for the species with most basal area, at a few diameters, and the published deaths by char
    where there are some."""
    weight: dict[int, float] = {}
    for code, dbh, each in zip(cruise.spcd, cruise.dbh_in, cruise.per_ac, strict=True):
        weight[int(code)] = weight.get(int(code), 0.0) + float(dbh) ** 2 * float(each)
    chosen = sorted(weight, key=lambda code: -weight[code])[:_SHOWN_SPECIES]
    rows, char = [], flame_ft * rules.number("burn_char_over_flame")
    for code in chosen:
        known = code in science.mortality_species()
        for dbh in _SHOWN_DBH_IN:
            bark = np.array([float(timber.foot_bark_in(code, dbh))])
            wounds = [float(chances(np.array([dbh]), bark, "head", debris, rules)[0][0]) for debris in DEBRIS]
            dead = float(science.mortality_by_char(code, dbh, char)) if known else None
            rows.append(
                Stem(
                    by_code(code).common_name,
                    dbh,
                    float(bark[0]),
                    float(science.bark_kill_min(bark)[0]),
                    wounds[0],
                    wounds[1],
                    dead,
                )
            )
    return tuple(rows)


def _percent(name: str, column: str) -> float:
    row = next(row for row in tables.rows(LOSS) if row["name"] == name)
    return float(row[column]) / 100


def _published(worth: float, south: bool) -> tuple[float, float, float]:
    """Value lost in one burn by the published share, a point and a half more on south aspects."""
    extra = _percent("south_aspect_extra", "value") if south else 0.0
    low, likely, high = (_percent("value_loss_per_burn", end) for end in ("low", "value", "high"))
    return worth * low, worth * (likely + extra), worth * (high + extra)


def _south(file: StandFile, rules: Rules) -> bool:
    aspect = file.stand.aspect_deg
    return aspect is not None and rules.number("burn_south_from_deg") <= aspect <= rules.number("burn_south_to_deg")


def _ends(rules: Rules, name: str, of: Callable[[float], float]) -> tuple[float, float, float]:
    low, likely, high = rules[name].span
    return of(low), of(likely), of(high)


def _loss(technique: str, debris: str, trees: _Trees, rules: Rules, years: float) -> Loss:
    per_ac, timber_trees = trees.per_ac, trees.boards > 0
    whole = per_ac[timber_trees].sum()
    wounded, dead, killed, worth, volume = [], [], [], [], []
    for end in range(len(ENDS)):
        wound, death = chances(trees.dbh_in, trees.bark_in[end], technique, debris, rules, end)
        wounded.append(float((wound * per_ac)[timber_trees].sum() / whole) if whole else 0.0)
        dead.append(float((death * per_ac)[timber_trees].sum()))
        killed.append(float((death * per_ac)[~timber_trees].sum()))
        volume.append(float(((death + wound * trees.volume_share) * trees.boards * per_ac).sum()))
        if trees.value is not None:
            part = _lost_share(wound, death, trees.volume_share, rules, end, years)
            worth.append(float((part * trees.value * per_ac).sum()))
    money = (worth[0], worth[1], worth[2]) if trees.value is not None else None
    return Loss(technique, debris, _triple(wounded), _triple(dead), _triple(killed), money, _triple(volume))


def _triple(values: list[float]) -> tuple[float, float, float]:
    return values[0], values[1], values[2]


def chances(
    dbh_in: Array, bark_in: Array, technique: str, debris: str, rules: Rules, end: int = 1
) -> tuple[Array, Array]:
    """Chance of a wound and of death of each tree in one burn; ``end`` is 0 low, 1 likely, 2 high."""
    name = "slash" if debris == "at the foot" else technique
    median = rules[f"burn_heating_{name}_min"].span[end]
    burned = rules["burn_share_burned"].span[end]
    wound = science.wound_share(bark_in, heating_median_min=median, heating_log_sd=rules.number("burn_heating_log_sd"))
    small, large = (
        dbh_in < rules.number("burn_small_cm") * IN_PER_CM,
        dbh_in >= rules.number("burn_large_cm") * IN_PER_CM,
    )
    wound = np.where(large, np.maximum(wound, rules["burn_wound_floor"].span[end]), wound) * burned
    given = [rules[f"burn_death_{size}"].span[end] for size in ("small", "middle", "large")]
    return wound, wound * np.where(small, given[0], np.where(large, given[2], given[1]))


def _volume_share(boards: Array) -> Array:
    """Share of a tree's boards lost in a wound: that of a catface, as often as wounds are catfaces."""
    rows = {row["name"]: float(row["value"]) for row in tables.rows(LOSS)}
    lost = rows["catface_bf"] * rows["catface_share"] / 100
    return np.minimum(np.divide(lost, boards, out=np.zeros_like(boards), where=boards > 0), 1.0)


def _lost_share(wound: Array, death: Array, volume_share: Array, rules: Rules, end: int, years: float) -> Array:
    """Share of each tree's value that is lost: all of a dead tree's, of a wounded one's a grade at times and some
    volume."""
    grade = _percent("grade_lost_of_wounded", "value") * rules["burn_grade_step_share"].span[end]
    return np.asarray(np.minimum(death + (wound - death) * (grade + volume_share) * decay(rules, end, years), 1.0))


def decay(rules: Rules, end: int, years: float) -> float:
    """Part of the loss by decay that has come by the year of the cut."""
    early, whole = rules["burn_decay_early"].span[end], rules.number("burn_decay_full_yr")
    return float(np.interp(years, [rules.number("burn_decay_early_yr"), whole], [early, 1.0]))


def _notes(
    losses: tuple[Loss, ...],
    published: tuple[float, float, float] | None,
    prices: PriceList | None,
    rules: Rules,
    timber_notes: tuple[str, ...],
) -> tuple[str, ...]:
    notes = ["trees die four to five years after a burn, and wounds show late: look again before the sale"]
    if prices is None:
        notes.append("no price list is named, so the loss is in boards")
    likely = next(loss for loss in losses if loss.technique == "head" and loss.debris == "cleared")
    if published and likely.value_usd_ac:
        ours, theirs = likely.value_usd_ac[1], published[1]
        times = max(ours, theirs) / max(min(ours, theirs), 1e-9)
        if times > rules.number("burn_ways_apart"):
            notes.append(
                f"tree by tree the loss is {measures.amount(ours, 'US$/ac', ',.0f')}, by the published "
                f"share of a burn {measures.digits(theirs, 'US$/ac', ',.0f')}: {times:.0f} times apart. "
                "Trust neither alone; the published stands differ ten times among themselves."
            )
    return (*notes, *timber_notes)
