"""Injection of the midstory: which stems, how many cuts, how much solution, how many days and what it costs, and did it
work."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from overwood.ground import measures
from overwood.ground.errors import Misuse, NotFound
from overwood.ground.figure import Figure
from overwood.ground.records import Operation, StandFile, Visit
from overwood.ground.species import by_code
from overwood.ground.units import ML_PER_GAL
from overwood.judgement.crew_words import sentence
from overwood.judgement.evidence import light as light_figures
from overwood.judgement.evidence import overstory as standing
from overwood.judgement.evidence.layers import injected_of, midstory_mask, species_mask
from overwood.judgement.evidence.overstory import midstory_sizes, not_looked_at
from overwood.judgement.evidence.tally import Array, Cruise, Mask, cruise_of, ratio_figure, tallied_mean
from overwood.judgement.gates import years_since
from overwood.judgement.gates.windows import Window, upcoming
from overwood.judgement.light.gain import gain
from overwood.judgement.net_ground import net_area_ac
from overwood.judgement.rules import Rules
from overwood.science import injection as science
from overwood.science import overstory

CHECK = "injection check"
_SIZES = (2, 3, 4, 6, 8, 99)
_TIGHT_IN = 1
_FULL_PCT = 100.0

_CREWS = (1, 2, 3, 4, 6)


@dataclass(frozen=True)
class Row:
    """Stems to treat of one species and size."""

    species: str
    dbh_class_in: str
    stems_ac: float
    ba_ft2_ac: float
    cuts_ac: float
    solution_ml_ac: float


@dataclass(frozen=True)
class Span:
    """Low, likely and high."""

    low: float
    likely: float
    high: float


@dataclass(frozen=True)
class Product:
    """What a person means to use: active ingredient, its product's share of the solution, and the most product an acre
    and year by its label.

    ``most_gal_ac_yr`` is None where nobody read it off the label; ``is_tested`` where the share is one tested in print
    and not the person's.
    """

    active: str
    share: float
    most_gal_ac_yr: float | None = None
    is_tested: bool = False


def product_of(active: str, share: float | None, most_gal_ac_yr: float | None) -> Product:
    """The product a person named; a share left out is that of a published test. Raises Misuse when the share is left
    out and no test of the ingredient is known."""
    if share is not None:
        return Product(active, share, most_gal_ac_yr)
    known = science.tested()
    if active not in known:
        raise Misuse(
            f"the share of {active!r} in the solution is not known.",
            remedy=f"Give it from the label; tested in print: {', '.join(known)}.",
        )
    return Product(active, known[active].share, most_gal_ac_yr, is_tested=True)


@dataclass(frozen=True)
class Totals:
    """The whole stand: stems, cuts, gallons, and days by the number of people."""

    stems: float
    cuts: float
    solution_gal: float
    product_gal: Span
    water_gal: Span
    crew_days: dict[int, Span]


@dataclass(frozen=True)
class Order:
    """A work order for the injection of a stand."""

    stand: str
    visit: str
    area_ac: float | None
    stems_ac: Figure
    ba_ft2_ac: Figure
    rows: tuple[Row, ...]
    cuts_ac: float
    solution_gal_ac: float
    product: Product | None
    yearly_limit: str
    product_gal_ac: Span
    water_gal_ac: Span
    hours_ac: Span
    crew_days: Span | None
    cost_usd_ac: Span
    windows: tuple[Window, ...]
    light_before_pct: Figure
    light_after_pct: Span
    light_lasts_yr: Span
    left_alive_ac: Figure
    left_alive_text: str
    never: tuple[str, ...]
    exceptions: tuple[str, ...]
    spacing_in: float
    soil_distance_ft: float
    dead_share_wanted: float
    snags_yr: Span
    totals: Totals | None

    @property
    def spacing(self) -> str:
        """Dbh for each cut, in the system in force; to a tenth of a centimeter, for 3 is no inch."""
        return measures.digits(self.spacing_in, "in.", ".1f" if measures.is_metric() else "g")


def treated_mask(cruise: Cruise, rules: Rules) -> Mask:
    """Stems to treat: midstory from the smallest size worth a cut; never an oak."""
    return injected_of(cruise.spcd, cruise.dbh_in, cruise.crown_class, rules)


def order(
    file: StandFile, rules: Rules, on: dt.date, *, inches_per_cut: float | None = None, product: Product | None = None
) -> Order:
    """The order from the newest look at the midstory; without a product the gallons of it are a range too wide to buy
    by. Raises NotFound when the stand was never cruised, its cruise did not look at all sizes to treat, or it holds no
    stem to treat."""
    visit, cruise, chosen = _to_treat(file, rules, on)
    spacing = inches_per_cut or rules.number("injection_inches_per_cut")
    least = int(rules.number("injection_least_cuts")) if spacing <= _TIGHT_IN else 1
    hard = species_mask(cruise.spcd, science.is_hard_to_kill)
    cuts = science.whole_cuts(cruise.dbh_in, spacing, least) + np.where(
        hard, rules.number("injection_hard_extra_cuts"), 0.0
    )
    ml = rules.number("injection_ml_per_cut")
    ba = overstory.basal_area_ft2(cruise.dbh_in)
    stems = _stems(cruise, chosen, rules)
    rows = _rows(cruise, chosen, cuts, ml, rules.number("injection_low_dbh_in"))
    cuts_ac = sum(row.cuts_ac for row in rows)
    gallons = cuts_ac * ml / ML_PER_GAL
    left = _left_alive(cruise, chosen, rules)
    hours = _hours_ac(stems, rules)
    before, area = _light(file, rules), net_area_ac(file)
    pure, water = _mix(gallons, product, rules)
    return Order(
        stand=file.stand.stand,
        visit=visit.visit,
        area_ac=area,
        stems_ac=stems,
        ba_ft2_ac=tallied_mean(
            "treated_ba_ft2_ac",
            "ft2/ac",
            cruise,
            ba,
            used=chosen,
            rules=rules,
            method="basal area of the stems to treat",
        ),
        rows=rows,
        cuts_ac=cuts_ac,
        solution_gal_ac=gallons,
        product=product,
        yearly_limit=_yearly_limit(pure, product),
        product_gal_ac=pure,
        water_gal_ac=water,
        hours_ac=hours,
        crew_days=None if area is None else _crew_days(hours, area, rules, int(rules.number("injection_crew"))),
        cost_usd_ac=_span(rules, "injection_cost_stem_usd", lambda cost: stems.number * cost),
        windows=tuple(upcoming(rules, name, on) for name in ("window_injection", "window_injection_late")),
        light_before_pct=before,
        light_after_pct=_light_after(file, rules, before),
        light_lasts_yr=_span(rules, "injection_light_lasts_yr", float),
        left_alive_ac=left,
        left_alive_text=_left_words(left, rules),
        never=_never(rules),
        exceptions=(sentence("sap"), _hard_words(rules), sentence("walnut")),
        dead_share_wanted=rules.number("injection_dead_share"),
        spacing_in=spacing,
        soil_distance_ft=rules.number("injection_soil_distance_ft"),
        snags_yr=_span(rules, "injection_snags_yr", float),
        totals=None if area is None else _totals(area, (stems.number, cuts_ac, gallons), (pure, water), hours, rules),
    )


def _hard_words(rules: Rules) -> str:
    extra = rules.number("injection_hard_extra_cuts")
    return sentence("hard_one") if extra == 1 else sentence("hard_more", extra=f"{extra:g}")


def _mix(gallons: float, product: Product | None, rules: Rules) -> tuple[Span, Span]:
    """Product and water in the solution; exact where the share is known."""
    shares = rules["injection_solution_share"].span if product is None else (product.share,) * 3
    low, likely, high = shares
    return Span(gallons * low, gallons * likely, gallons * high), Span(
        gallons * (1 - high), gallons * (1 - likely), gallons * (1 - low)
    )


def _yearly_limit(pure: Span, product: Product | None) -> str:
    """Whether the product an acre stays under what its label allows a year."""
    if product is None or product.most_gal_ac_yr is None:
        return sentence("limit_unknown")
    code = "limit_over" if pure.high > product.most_gal_ac_yr else "limit_within"
    return sentence(code, gallons=f"{pure.high:.2f}", most=f"{product.most_gal_ac_yr:g}")


def _totals(
    area: float, amounts_ac: tuple[float, float, float], mix: tuple[Span, Span], hours_ac: Span, rules: Rules
) -> Totals:
    """Stems, cuts and gallons on the whole area, and the days each crew takes."""
    product, water = (Span(one.low * area, one.likely * area, one.high * area) for one in mix)
    days = {crew: _crew_days(hours_ac, area, rules, crew) for crew in _CREWS}
    stems, cuts, gallons = (amount * area for amount in amounts_ac)
    return Totals(stems, cuts, gallons, product, water, days)


def _span(rules: Rules, name: str, of: Callable[[float], float]) -> Span:
    """A quantity at the ends and the middle of an assumption, smallest first."""
    low, likely, high = (of(value) for value in rules[name].span)
    return Span(min(low, high), likely, max(low, high))


def crew_days(file: StandFile, rules: Rules, on: dt.date) -> Span | None:
    """Days of the usual crew by the stand's order, without the rest of it; None where its acreage is not noted. Raises
    NotFound as the order does."""
    _, cruise, chosen = _to_treat(file, rules, on)
    hours, area = _hours_ac(_stems(cruise, chosen, rules), rules), net_area_ac(file)
    return None if area is None else _crew_days(hours, area, rules, int(rules.number("injection_crew")))


def _to_treat(file: StandFile, rules: Rules, on: dt.date) -> tuple[Visit, Cruise, Mask]:
    """The newest look at the midstory, and which of its stems are treated."""
    visit = file.latest("midstory")
    if visit is None:
        raise NotFound(
            f"{file.stand.stand} was not cruised by {on}.",
            remedy=(
                f"Cruise it, with a {measures.plot_size(1 / 50, '-')} ring for stems "
                f"{measures.amount(1, 'in.', 'g')} or larger at each point."
            ),
        )
    cruise = cruise_of(file, visit)
    missing = not_looked_at(cruise, rules, midstory_sizes(rules, "injection_low_dbh_in"))
    if missing:
        raise NotFound(
            f"{missing}: an order from this cruise would leave them out.",
            remedy=(
                f"Tally a {measures.plot_size(1 / 50, '-')} ring for stems {measures.amount(1, 'in.', 'g')} and "
                "larger at each point, or say on the ring which sizes it took in."
            ),
        )
    chosen = treated_mask(cruise, rules)
    if not chosen.any():
        raise NotFound(
            f"the cruise {visit.visit} holds no midstory stem of "
            f"{measures.amount(rules.number('injection_low_dbh_in'), 'in.', 'g')} or larger to treat.",
            remedy="Was a ring tallied for small stems? If there is no midstory, there is nothing to inject.",
        )
    return visit, cruise, chosen


def _stems(cruise: Cruise, chosen: Mask, rules: Rules) -> Figure:
    one = np.ones(len(chosen))
    how = "midstory stems to treat (rulebook: midstory_*, injection_low_dbh_in)"
    return tallied_mean("treated_stems_ac", "stems/ac", cruise, one, used=chosen, rules=rules, method=how)


def _hours_ac(stems: Figure, rules: Rules) -> Span:
    return _span(rules, "injection_stems_per_hour", lambda pace: stems.number / pace)


def _crew_days(hours: Span, area_ac: float, rules: Rules, crew: int) -> Span:
    a_day = rules.number("injection_day_hours") * crew
    return Span(*(value * area_ac / a_day for value in (hours.low, hours.likely, hours.high)))


def _rows(cruise: Cruise, chosen: Mask, cuts: Array, ml: float, smallest_in: float) -> tuple[Row, ...]:
    per_ac, ba = cruise.per_ac / max(cruise.n, 1), overstory.basal_area_ft2(cruise.dbh_in)
    groups: dict[tuple[str, int], list[int]] = {}
    sizes = (smallest_in, *_SIZES)
    for place in np.flatnonzero(chosen):
        size = int(np.searchsorted(sizes, cruise.dbh_in[place], side="right"))
        groups.setdefault((by_code(int(cruise.spcd[place])).common_name, size), []).append(int(place))
    rows = []
    for (species, size), listed in sorted(groups.items()):
        places = np.array(listed)
        stems = per_ac[places]
        label = f"{sizes[size - 1]:g}-{sizes[size]:g}" if size < len(sizes) - 1 else f"{sizes[size - 1]:g}+"
        made = float((stems * cuts[places]).sum())
        rows.append(Row(species, label, float(stems.sum()), float((stems * ba[places]).sum()), made, made * ml))
    return tuple(rows)


def _left_alive(cruise: Cruise, chosen: Mask, rules: Rules) -> Figure:
    small = midstory_mask(cruise, rules) & ~chosen
    return tallied_mean(
        "left_alive_ac",
        "stems/ac",
        cruise,
        np.ones(len(chosen)),
        used=small,
        rules=rules,
        method="tolerant stems of the tally too small to treat",
    )


def _left_words(left: Figure, rules: Rules) -> str:
    code = "small_many" if left.number > rules.number("injection_left_alive_ac") else "small_few"
    return sentence(code, stems=f"{left.number:.0f}")


def _never(rules: Rules) -> tuple[str, ...]:
    soil = sentence("never_soil", ft=f"{rules.number('injection_soil_distance_ft'):g}")
    return sentence("never_oak"), sentence("never_canopy"), soil, sentence("never_rain")


def _light(file: StandFile, rules: Rules) -> Figure:
    return light_figures.figures(file, rules, standing.figures(file, rules, dt.date.max))["floor_light_pct"]


def _light_after(file: StandFile, rules: Rules, before: Figure) -> Span:
    """Light now, times what the light field gains with the treated stems gone."""
    times = gain(file, rules, lambda spcd, dbh_in, crown_class: injected_of(spcd, dbh_in, crown_class, rules))
    low, high = (before.number if end is None else end for end in (before.low, before.high))
    return Span(low * times.low, before.number * times.mean, min(high * times.high, _FULL_PCT))


def standing_dead(file: StandFile, rules: Rules, on: dt.date) -> tuple[Operation, ...]:
    """Injections so recent that the stems they killed still stand."""
    years = rules.number("injection_snags_yr")
    return tuple(row for row in file.done("injection") if years_since(row.ended_on or row.started_on, on) <= years)


def snag_note(file: StandFile, rules: Rules, on: dt.date) -> str:
    """What later work in a stand must know of stems injected some years ago; nothing where none were."""
    rule = rules["injection_snags_yr"]
    work = standing_dead(file, rules, on)
    if not work:
        return ""
    values = {"month": work[-1].started_on, "low": f"{rule.low:g}", "high": f"{rule.high:g}"}
    if not work[-1].stems_ac:
        return sentence("snags", **values)
    return sentence("snags_counted", **values, stems=f"{work[-1].stems_ac:.0f}")


@dataclass(frozen=True)
class Checked:
    """Did the injection work?"""

    visit: str
    stems: int
    dead_share: Figure
    wanted_share: float
    by_species: dict[str, tuple[int, int]]
    verdict: str
    advice: str


def check(file: StandFile, rules: Rules) -> Checked:
    """Share of the treated stems found dead at the latest check, with its interval. Raises NotFound when there is no
    check, or its tally notes no stem dead or live."""
    visit = file.latest(CHECK)
    remedy = (
        "Bring one in: a visit of kind 'injection check' with points and, as trees, every treated stem with "
        "status live or dead."
    )
    if visit is None:
        raise NotFound(f"{file.stand.stand} has no injection check.", remedy=remedy)
    rows = [row for row in file.trees if row.visit == visit.visit and row.status]
    if not rows:
        raise NotFound(f"the check {visit.visit} notes no stem as live or dead.", remedy=remedy)
    points = tuple(dict.fromkeys(row.point for row in rows))
    place = {point: index for index, point in enumerate(points)}
    dead, all_ = np.zeros(len(points)), np.zeros(len(points))
    species: dict[str, tuple[int, int]] = {}
    for row in rows:
        gone = row.stems if row.status == "dead" else 0
        dead[place[row.point]] += gone
        all_[place[row.point]] += row.stems
        name = by_code(row.species).common_name
        had = species.get(name, (0, 0))
        species[name] = had[0] + gone, had[1] + row.stems
    figure = _dead_share(dead, all_, rules)
    wanted = rules.number("injection_dead_share")
    verdict, advice = _verdict(figure, wanted)
    return Checked(visit.visit, int(all_.sum()), figure, wanted, species, verdict, advice)


def _dead_share(dead: Array, all_: Array, rules: Rules) -> Figure:
    method = "treated stems found dead over treated stems looked at"
    return ratio_figure(
        "injected_dead_share",
        dead,
        all_,
        rules=rules,
        method=method,
        inputs=(),
        sources=("field",),
        looks=int(all_.sum()),
    )


def _verdict(figure: Figure, wanted: float) -> tuple[str, str]:
    low, high = figure.ends
    if low >= wanted:
        return "it worked", "Go on: the light has changed, read it and count the reproduction."
    if high < wanted:
        return (
            "it did not work",
            "Treat the missed stems again, only those, after looking for the cause: product, season, "
            "species, cuts too few.",
        )
    return "not settled", "Look at more plots before accepting or treating again."
