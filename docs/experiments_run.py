"""Published experiments run through the simulation: each start, each outcome, what the program says with its span, and whether they agree.

``judgement/futures/experiments.csv`` holds every experiment with its source, its start and what was reported; where an abstract does not give the start,
what is taken stands in the table too. One set of parameters with its ranges serves all of them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import experiments_trees as trees
import numpy as np
from numpy.typing import NDArray

from overwood.ground import tables
from overwood.ground.species import by_code
from overwood.judgement.futures import draws
from overwood.judgement.futures.start import gate_row
from overwood.judgement.rules import Rules
from overwood.science import regeneration as science

Array = NDArray[np.float64]
TABLE = "judgement/futures/experiments.csv"
# Draws of the parameters, and growing spaces of each, that an experiment is run with.
DRAWS, SPACES = 300, 120
_ENDS = (5, 50, 95)
_CHESTNUT_OAK = 832
# How far the light named for a start may be off: 2 to 6% of full sun are told of floors where 4% is taken.
_LIGHT_ERROR = 0.25
# The year in which a height milestone is first asked, and what it is taken for: a part of the mean height of so many of the tallest.
_MILESTONE_YR, _MILESTONE, _TALLEST = 3, 0.8, 0.2


@dataclass(frozen=True)
class Experiment:
    """One published outcome beside what the program says of it."""

    number: int
    about: str
    source: str
    status: str
    start: str
    treatment: str
    years: str
    outcome: str
    reported: str
    used_to_set: bool
    kind: str
    measure: str
    low: float
    high: float
    program: tuple[float, float, float] | None
    agrees: bool | None
    left_wrong: str


def all_of(rules: Rules, seed: int = 1) -> tuple[Experiment, ...]:
    """Every experiment with the program's answer."""
    return tuple(_of(row, rules, seed) for row in tables.rows(TABLE))


def _of(row: dict[str, str], rules: Rules, seed: int) -> Experiment:
    low, high = (float(row[name] or "nan") for name in ("low", "high"))
    program = agrees = None
    if row["kind"] == "number":
        five, middle, most = (float(value) for value in np.percentile(_MEASURES[row["measure"]](row, rules, seed), _ENDS))
        program, agrees = (five, middle, most), bool(five <= high and most >= low)
    elif row["kind"] == "direction":
        agrees = bool(_DIRECTIONS[row["measure"]](row, rules, seed))
    return Experiment(
        int(row["id"]), row["about"], row["source"], row["status"], row["start"], row["treatment"], row["years"], row["outcome"], row["reported"],
        row["used_to_set"] == "yes", row["kind"], row["measure"], low, high, program, agrees, row["left_wrong"],
    )  # fmt: skip


@dataclass(frozen=True)
class Score:
    """How many of the published outcomes the program meets."""

    numbers: int
    numbers_met: int
    directions: int
    directions_met: int
    not_simulated: int


def score(experiments: tuple[Experiment, ...]) -> Score:
    """Numbers inside the program's span of nine in ten, and directions that are right."""
    numbers, directions = ([one for one in experiments if one.kind == kind] for kind in ("number", "direction"))
    return Score(
        len(numbers), sum(bool(one.agrees) for one in numbers), len(directions), sum(bool(one.agrees) for one in directions),
        sum(one.kind == "not simulated" for one in experiments),
    )  # fmt: skip


def miss(experiment: Experiment) -> float:
    """How far the program's middle lies outside what was reported."""
    assert experiment.program is not None
    middle = experiment.program[1]
    return max(experiment.low - middle, middle - experiment.high, 0.0)


def _number(row: dict[str, str], name: str, otherwise: float) -> float:
    return float(row[name]) if row[name] else otherwise


def _counted(row: dict[str, str], rules: Rules) -> science.Counted:
    """Every growing space with the same oaks and rivals."""
    shape = (SPACES, science.SLOTS)
    number, height, stout = np.zeros(shape), np.zeros(shape), np.ones(shape)
    height[:, 0], number[:, 0] = _number(row, "oak_ft", 0.0), _number(row, "oak_space", 1.0) if row["oak_ft"] else 0.0
    if row["collar_in"]:
        p = {"collar_in_at_1ft": rules.number("future_collar_in_at_1ft"), "collar_power": rules.number("future_collar_power")}
        stout[:, 0] = float(row["collar_in"]) / science.collar_in.py_func(float(row["oak_ft"]), 1.0, p)
    rivals = np.array([np.full(SPACES, _number(row, name, 0.0)) for name in ("tolerant_ft", "pioneer_ft")])
    return science.counted_of(number, height, stout, np.zeros(shape), rivals)


def _stand(row: dict[str, str]) -> NDArray[np.void]:
    ba = _number(row, "ba_ft2_ac", 0.0)
    midstory = 1.0 if row["light_pct"] else _number(row, "midstory", 0.0)
    values = {
        "space_ac": 1 / 735, "other_ba_ft2_ac": 0.2 * ba, "midstory": midstory, "midstory_before": midstory,
        "site_index_ft": _number(row, "site", 70.0), "opened_yr": -1.0, "ba_before_ft2_ac": ba, "good_crop_ago_yr": -1.0,
        "browse_share": _number(row, "browse", 0.0),
    }  # fmt: skip
    return science.rows(np.array([values[name] for name in science.STAND]), science.STAND)


def _parameters(row: dict[str, str], rules: Rules, rng: np.random.Generator) -> Array:
    """Draws of the parameters; where a start names its light, the midstory lets through as much as gives it."""
    sets = draws.draw_parameters(rules, 0.8 if row["acorns"] else 0.0, DRAWS, rng)
    if row["light_pct"]:
        at = science.PARAMETERS.index
        ba = _number(row, "ba_ft2_ac", 0.0)
        whole = sets[:, at("light_times")] * np.exp(sets[:, at("curve_b0")] + sets[:, at("curve_b1")] * ba)
        light = float(row["light_pct"]) / 100 * np.exp(rng.normal(0, _LIGHT_ERROR, DRAWS))
        sets[:, at("midstory_multiplier")] = np.clip(light / whole, 0.01, 1.0)
    return sets


def _history(work: str, years: int) -> Array:
    """Work of each year from text such as ``0 inject; 1 cut 57; 3 burn growing``."""
    history = np.zeros((years, len(science.HISTORY)))
    history[:, 0] = -1.0
    for part in filter(None, (piece.strip() for piece in work.split(";"))):
        year, what, *more = part.split()
        if int(year) >= years:
            continue
        place = {"cut": 0, "inject": 1, "burn": 2, "plant": 4}[what]
        history[int(year), place] = float(more[0]) if what in ("cut", "plant") else 2.0 if more == ["growing"] else 1.0
    return history


def _seen(row: dict[str, str], rules: Rules, seed: int, work: str | None = None, **changed: str) -> dict[str, Array]:
    """What is seen in the last year of the experiment, by name, of each draw."""
    row = row | changed | ({} if work is None else {"work": work})
    pools = _pools(row, rules, seed, _counted(row, rules), np.tile(np.arange(SPACES), (DRAWS, 1)))
    return {name: pools[:, -1, at] for at, name in enumerate(science.SEEN)}


def _pools(row: dict[str, str], rules: Rules, seed: int, counted: science.Counted, drawn: NDArray[np.int_]) -> Array:
    """What is seen year by year of each draw of the parameters, or of as many floors of each as there are rows drawn for it."""
    rng = np.random.default_rng(seed)
    species = int(row["species"] or 802)
    ba, group = _number(row, "ba_ft2_ac", 0.0), science.RED if by_code(species).oak_group == "red" else science.WHITE
    oaks = science.rows(np.array([[group, 0.8 * ba, 0.0, float(species == _CHESTNUT_OAK)]]), science.OAK)
    parameters = np.repeat(science.rows(_parameters(row, rules, rng), science.PARAMETERS), len(drawn) // DRAWS)
    history = _history(row["work"], int(_number(row, "years_run", 0.0)))
    return science.many_pools(
        counted, drawn, oaks, history, parameters, _stand(row), gate_row(rules), rng.integers(0, 2**31 - 1, len(drawn))
    )


def _drawn(row: dict[str, str], rules: Rules, seed: int) -> NDArray[np.void]:
    """The draws of the parameters alone, as records."""
    return science.rows(_parameters(row, rules, np.random.default_rng(seed)), science.PARAMETERS)


def _ratio(one: Array, other: Array) -> Array:
    return one / np.maximum(other, 1e-9)


def _against(row: dict[str, str], rules: Rules, seed: int, name: str) -> Array:
    """Treated over untreated with the same draws and the same luck."""
    return _ratio(_seen(row, rules, seed)[name], _seen(row, rules, seed, work=row["against_work"])[name])


def _oaks_ratio(row: dict[str, str], rules: Rules, seed: int) -> Array:
    freed = _seen(row, rules, seed, light_pct="", midstory="0")
    return _ratio(freed["oaks_ac"], _seen(row, rules, seed)["oaks_ac"])


def _per_success(row: dict[str, str], rules: Rules, seed: int) -> Array:
    leads = _seen(row, rules, seed)["oak_leads"]
    if row["weeded"]:
        gained = np.exp(_drawn(row, rules, seed)["dominance_weeded"])
        leads = leads * gained / (1 - leads + leads * gained)
    return 1 / np.maximum(leads, 1e-4)


def _burn_deaths(row: dict[str, str], rules: Rules, seed: int) -> Array:
    """Deaths of roots at leaf-out over those in winter."""
    p = _drawn(row, rules, seed)
    if row["parameter"] == "oak":
        return np.asarray(p["burn_growing_oak_times"])
    winter = 1 - p[f"burn_{row['parameter']}"]
    return np.asarray(np.minimum(winter * p["burn_growing_times"], 1.0) / winter)


def _open_gain(row: dict[str, str], rules: Rules, seed: int) -> Array:
    return np.array([science.open_gain_ft(float(row["oak_ft"]), float(row["site"]), p) for p in _drawn(row, rules, seed)])


def _climbed(row: dict[str, str], rules: Rules, seed: int) -> Array:
    """Share of live young oaks below the milestone in its year that meet that of the last year: oaks of even heights, each on a space of its own.

    The milestone of a year is a part of the mean height of the tallest oaks.
    """
    _, low, high = trees.listed(row)
    shape = (SPACES, science.SLOTS)
    number, height = np.zeros(shape), np.zeros(shape)
    number[:, 0], height[:, 0] = 1.0, np.linspace(low, high, SPACES)
    counted = science.counted_of(number, height, np.ones(shape), np.zeros(shape), np.zeros((2, SPACES)))
    pools = _pools(row, rules, seed, counted, np.tile(np.arange(SPACES), DRAWS)[:, None])
    feet = pools[:, (_MILESTONE_YR, -1), science.SEEN.index("first_ft")].reshape(DRAWS, SPACES, 2)
    tallest = np.sort(feet, axis=1)[:, -int(_TALLEST * SPACES) :].mean(axis=1, keepdims=True)
    below = (feet[:, :, 0] > 0) & (feet[:, :, 0] < _MILESTONE * tallest[:, :, 0])
    meets = feet[:, :, 1] >= _MILESTONE * tallest[:, :, 1]
    return _ratio((below & meets).sum(axis=1), below.sum(axis=1))


_Measure = Callable[[dict[str, str], Rules, int], Array]
_MEASURES: dict[str, _Measure] = {
    "alive": lambda row, rules, seed: _seen(row, rules, seed)["first_alive"],
    "dead": lambda row, rules, seed: 1 - _seen(row, rules, seed)["first_alive"],
    "alive_ratio": lambda row, rules, seed: _against(row, rules, seed, "first_alive"),
    "alive_ratio_browse": lambda row, rules, seed: _ratio(
        _seen(row, rules, seed)["first_alive"], _seen(row, rules, seed, browse="0")["first_alive"]
    ),
    "height": lambda row, rules, seed: _seen(row, rules, seed)["first_ft"],
    "height_ratio": lambda row, rules, seed: _seen(row, rules, seed)["first_ft"] / float(row["oak_ft"]),
    "collar": lambda row, rules, seed: _seen(row, rules, seed)["first_collar_in"],
    "oaks_ratio": _oaks_ratio,
    "oaks_over_start": lambda row, rules, seed: _ratio(_seen(row, rules, seed)["oaks_ac"], _seen(row, rules, seed, years_run="0")["oaks_ac"]),
    "tall_ratio": lambda row, rules, seed: _against(row, rules, seed, "oaks_1ft_ac"),
    "oaks_4_5ft_ac": lambda row, rules, seed: _seen(row, rules, seed)["oaks_4_5ft_ac"],
    "light": lambda row, rules, seed: 100 * _seen(row, rules, seed)["light"],
    "rival": lambda row, rules, seed: _seen(row, rules, seed)["rival_ft"],
    "topkilled": lambda row, rules, seed: (float(row["oak_ft"]) < _drawn(row, rules, seed)["burn_escape_ft"]).astype(float),
    "tolerant_ratio": lambda row, rules, seed: _against(row, rules, seed, "tolerant_share"),
    "midstory_ratio": lambda row, rules, seed: _seen(row, rules, seed)["midstory"],
    "planted_per_success": _per_success,
    "burn_death_ratio": _burn_deaths,
    "open_gain": _open_gain,
    "climbed": _climbed,
    "stumps_alive": lambda row, rules, seed: trees.stumps_alive(row, rules, DRAWS, seed),
    "stumps_dead": lambda row, rules, seed: 1 - trees.stumps_alive(row, rules, DRAWS, seed),
    "standing_lost": lambda row, rules, seed: trees.standing_lost(row, rules, DRAWS, seed)[0],
    "standing_lost_ratio": lambda row, rules, seed: _ratio(*trees.standing_lost(row, rules, DRAWS, seed)),
    "unreleased_loss": lambda row, rules, seed: _drawn(row, rules, seed)["dominant_loss_10yr"],
}  # fmt: skip


def _oak_leads(row: dict[str, str], rules: Rules, seed: int) -> bool:
    seen = _seen(row, rules, seed)
    return float(np.median(seen["oak_leads"])) > max(float(np.median(seen[name])) for name in ("tolerant_leads", "pioneer_leads"))


def _more(name: str) -> Callable[[dict[str, str], Rules, int], bool]:
    """Whether the treated floor has more of it on average than the untreated."""
    return lambda row, rules, seed: bool(
        _seen(row, rules, seed)[name].mean() > _seen(row, rules, seed, work=row["against_work"])[name].mean()
    )


def _site_growth(row: dict[str, str], rules: Rules, seed: int) -> bool:
    """At one start stems grow more on middling sites than on poor ones, and oak leads more often there than on good ones."""
    poor, middling, good = (
        _seen(row, rules, seed, oak_ft="2.0", tolerant_ft="2.5", site=site, ba_ft2_ac="30", years_run="2") for site in ("40", "61", "80")
    )
    grows = poor["first_ft"].mean() < middling["first_ft"].mean()
    return bool(grows and middling["oak_leads"].mean() > good["oak_leads"].mean())


def _light_by_share(row: dict[str, str], rules: Rules, seed: int) -> bool:
    """Light and height rise with the share of a midstory removed."""
    light, height = zip(
        *(
            (seen["light"].mean(), seen["first_ft"].mean())
            for left in ("1", "0.5", "0")
            if (seen := _seen(row, rules, seed, midstory=left, ba_ft2_ac="100", oak_ft="1.0", years_run="2"))
        ),
        strict=True,
    )
    return bool(light[0] < light[1] < light[2] and height[0] < height[2])


def _browsed_shorter(row: dict[str, str], rules: Rules, seed: int) -> bool:
    return bool(_seen(row, rules, seed)["first_ft"].mean() < _seen(row, rules, seed, browse="0")["first_ft"].mean())


def _released_more(row: dict[str, str], rules: Rules, seed: int) -> bool:
    """A released crop tree of three feet, with rivals of its own height, keeps its place more often."""
    p = _drawn(row, rules, seed)
    kept, released = (np.mean([science.success_chance(0.61, 1.0, weeded, 70.0, one) for one in p]) for weeded in (0.0, 1.0))
    return bool(released > kept)


_DIRECTIONS: dict[str, Callable[[dict[str, str], Rules, int], bool]] = {
    "oak_leads": _oak_leads,
    "light_more": _more("light"),
    "leads_more": _more("oak_leads"),
    "released_more": _released_more,
    "site_growth": _site_growth,
    "light_by_share": _light_by_share,
    "browsed_shorter": _browsed_shorter,
}


def met_table(experiments: tuple[Experiment, ...]) -> str:
    """The table of what the program says of each experiment, as text: what the forecast for the owner counts."""
    lines = ["id,about,kind,low,five,middle,ninety_five,high,agrees"]
    for one in experiments:
        if one.agrees is not None:
            spread = ",".join(f"{value:.4g}" for value in one.program) if one.program else ",,"
            ends = ("", "") if one.program is None else (f"{one.low:g}", f"{one.high:g}")
            lines.append(f"{one.number},{one.about},{one.kind},{ends[0]},{spread},{ends[1]},{'yes' if one.agrees else 'no'}")
    return "\n".join(lines) + "\n"
