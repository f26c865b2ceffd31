"""The formulas of timber, growth and money."""

from __future__ import annotations

from typing import Any

from overwood.desk.formulas.keys import Formula, Key, Values, stand_in
from overwood.ground.errors import Misuse
from overwood.judgement.growing import response
from overwood.judgement.rules import load
from overwood.science import growth, money, timber

_SPECIES = Key(kind="species")
_DBH = Key(kind="number", unit="in", above=0, high=100)
_RATE = Key(kind="number", unit="share a year", above=-0.99, high=10)
_RULES = ("doyle", "scribner", "scribner-c", "international-1/4", "international-1/8", "smalian", "huber")
_TREE_RULES = ("doyle", "scribner", "international-1/4", "international-1/8")


def _log(rule: str, diameter_in: float, length_ft: float, large_end_in: float | None) -> Values:
    if rule == "smalian":
        if large_end_in is None:
            raise Misuse(
                "smalian needs large_end_in.",
                remedy="Give the diameter of the large end; huber takes the middle alone.",
            )
        return {"volume": float(timber.smalian_ft3(diameter_in, large_end_in, length_ft)), "unit": "ft3"}
    if large_end_in is not None:
        raise Misuse(f"{rule} takes one diameter.", remedy="Leave large_end_in out.")
    if rule == "huber":
        return {"volume": float(timber.huber_ft3(diameter_in, length_ft)), "unit": "ft3"}
    if rule == "scribner-c":
        return {"volume": timber.scribner_decimal_c_bf(diameter_in, length_ft), "unit": "bd ft"}
    return {"volume": float(timber.BOARD_RULES[rule](diameter_in, length_ft)), "unit": "bd ft"}


def _log_notes(rule: str, diameter_in: float, length_ft: float, **_: Any) -> list[str]:
    notes = []
    if rule in ("scribner", "doyle", "international-1/4", "international-1/8"):
        notes.append("diameter is that of the small end inside bark")
    if rule == "scribner" and not (6 <= diameter_in <= 44 and 10 <= length_ft <= 24):
        notes.append("outside the published range: 6 to 44 in., 10 to 24 ft")
    if rule.startswith("international"):
        notes.append("printed tables round to the nearest 5")
    return notes


def _tree(rule: str, dbh_in: float, logs: float, form_class: float | None) -> Values:
    form = load().number("form_class_pct") if form_class is None else form_class
    return {"volume_bf": float(timber.tree_bf(rule, dbh_in, logs, form))}


def _tree_notes(dbh_in: float, form_class: float | None, **_: Any) -> list[str]:
    low, high = timber.TREE_DBH_IN
    notes = [] if low <= dbh_in <= high else [f"outside the published range: {low:g} to {high:g} in."]
    return notes + (["form class assumed (form_class_pct)"] if form_class is None else [])


def _cubic(species: int, dbh_in: float, height_ft: float) -> Values:
    top = load().number("cubic_top_in")
    if dbh_in <= top:
        raise Misuse(f"dbh_in={dbh_in:g} is not above the top of {top:g} in. (cubic_top_in).")
    return {
        "volume_ft3": float(timber.tree_cubic_ft3(dbh_in, timber.merchantable_height_ft(dbh_in, height_ft, top_in=top)))
    }


def _growth(
    species: int, dbh_in: float, site_index_ft: float, ba_ft2_ac: float, ba_larger_ft2_ac: float | None
) -> Values:
    larger = load().number("ba_larger_share") * ba_ft2_ac if ba_larger_ft2_ac is None else ba_larger_ft2_ac
    answers = response(load(), site_index_ft)
    faster = growth.site_response(answers) * growth.thinning_response(ba_ft2_ac, answers)
    return {
        "growth_in_yr": faster * float(growth.diameter_growth_in_yr(species, dbh_in, larger, growth_z=answers.growth_z))
    }


def _growth_notes(species: int, ba_larger_ft2_ac: float | None, **_: Any) -> list[str]:
    notes = [
        "one unmanaged Virginia site, its level pooled with a second forest for oaks, hickories and red maple",
        "site index and thinning enter by assumptions (growth_site_power, release_growth_multiplier)",
        f"single trees vary by {growth.growth_error_in_yr(species):.2f} in. a year",
    ]
    if ba_larger_ft2_ac is None:
        notes.append("basal area of larger trees assumed (ba_larger_share)")
    return notes + stand_in(species, growth.GROWTH_TABLE)


def _stream(amounts: list[float], years: list[float]) -> None:
    if len(amounts) != len(years):
        raise Misuse(f"amounts has {len(amounts)} and years has {len(years)}.", remedy="Give a year for every amount.")


def _npv(amounts: list[float], years: list[float], rate: float) -> Values:
    _stream(amounts, years)
    return {"npv": money.net_present_value(amounts, years, rate)}


def _irr(amounts: list[float], years: list[float]) -> Values:
    _stream(amounts, years)
    rates = money.rates_of_return(amounts, years)
    if not rates:
        raise Misuse("the stream has no rate of return.", remedy="It needs a cost and an income.")
    if len(rates) > 1:
        several = ", ".join(f"{rate:.2%}" for rate in rates)
        raise Misuse(
            f"the stream turns between cost and income {money.sign_changes(amounts, years)} times and has "
            f"{len(rates)} rates "
            f"of return: {several}.",
            remedy="None of them ranks it: compare present values at your own rate.",
        )
    return {"rate": rates[0]}


TIMBER = (
    Formula(
        name="log-volume",
        about="volume of a log by a log rule",
        keys={
            "rule": Key(kind="choice", choices=_RULES),
            "diameter_in": Key(kind="number", unit="in", above=0, high=80),
            "length_ft": Key(kind="number", unit="ft", above=0, high=60),
            "large_end_in": Key(kind="number", unit="in", above=0, high=100, optional=True),
        },
        units={"volume": "bd ft or ft3, as unit says", "unit": ""},
        equation="Doyle ((d-4)/4)^2 L; Scribner (0.79 d^2 - 2 d - 4) L/16; International 1/8: 0.22 d^2 - 0.71 d "
        "each 4 ft, d + 0.5; 1/4: 0.905 of it; "
        "Smalian (A1 + A2)/2 L; Huber A L",
        sources=("doyle1825", "bruce1950", "clark1906", "scaling_handbook", "geometry"),
        status="memory",
        compute=_log,
        notes=_log_notes,
    ),
    Formula(
        name="tree-volume",
        about="board feet of a tree by merchantable logs and form class",
        keys={
            "rule": Key(kind="choice", choices=_TREE_RULES),
            "dbh_in": _DBH,
            "logs": Key(kind="number", unit="16-ft logs", above=0, high=4),
            "form_class": Key(kind="number", unit="%", low=65, high=90, optional=True),
        },
        units={"volume_bf": "bd ft"},
        equation=(
            "butt log = form class x dbh, each upper log less the taper of the table, every 16-ft log scaled "
            "and added; half logs are means"
        ),
        sources=("mesavage1946", "girard1933"),
        status="memory",
        compute=_tree,
        notes=_tree_notes,
    ),
    Formula(
        name="tree-cubic",
        about="cubic feet inside bark of a hardwood's stem",
        keys={"species": _SPECIES, "dbh_in": _DBH, "height_ft": Key(kind="number", unit="ft", low=10, high=200)},
        units={"volume_ft3": "ft3"},
        equation="76 a b; a = d^2 (d + 190) / 1e5, b = (h (168 - h) / 64 + 32 / h) / 100, h = height (1 - 4 / d)",
        sources=("beers1964", "practice"),
        status="practice",
        compute=_cubic,
        notes=lambda **_: [
            "height to a 4-in. top taken as on a cone (cubic_top_in); the equation is for hardwoods of any species"
        ],
    ),
    Formula(
        name="height-from-dbh",
        about="total height from dbh",
        keys={"species": _SPECIES, "dbh_in": _DBH},
        units={"height_ft": "ft"},
        equation="4.5 + a (1 - exp(-b d))^c",
        sources=("scbi",),
        status="assumption",
        compute=lambda species, dbh_in: {"height_ft": float(timber.height_ft(species, dbh_in, scale=1.0))},
        notes=lambda species, **_: [
            "own fit to one tall Virginia site; scale it to your own heights",
            *stand_in(species, timber.trees.HEIGHT_TABLE),
        ],
    ),
    Formula(
        name="biomass",
        about="dry weight above ground",
        keys={"species": _SPECIES, "dbh_in": Key(kind="number", unit="in", low=1, high=90)},
        units={"dry_lb": "lb"},
        equation="exp(b0 + b1 ln(dbh in cm)) kg",
        sources=("jenkins2003",),
        status="published",
        compute=lambda species, dbh_in: {"dry_lb": float(timber.biomass_dry_lb(species, dbh_in))},
        notes=lambda species, **_: stand_in(species, timber.wood.WOOD_TABLE),
    ),
    Formula(
        name="bark-thickness",
        about="bark on one side of the stem",
        keys={"species": _SPECIES, "dbh_in": _DBH},
        units={"bark_in": "in"},
        equation="dbh (1 - 1 / sqrt(1 + bark share)) / 2",
        sources=("fia_species",),
        status="published",
        compute=lambda species, dbh_in: {"bark_in": float(timber.bark_thickness_in(species, dbh_in))},
        notes=lambda species, **_: [
            "an average of the stem, for volume and not for heat",
            *stand_in(species, timber.wood.WOOD_TABLE),
        ],
    ),
    Formula(
        name="bark-at-foot",
        about="bark on one side of the stem where a surface fire heats it",
        keys={"species": _SPECIES, "dbh_in": _DBH},
        units={"bark_in": "in", "low_in": "in", "high_in": "in"},
        equation="dbh times a ratio of its species",
        sources=("assumed",),
        status="assumption",
        compute=lambda species, dbh_in: {
            name: float(timber.foot_bark_in(species, dbh_in, end))
            for name, end in (("bark_in", "ratio"), ("low_in", "low"), ("high_in", "high"))
        },
        notes=lambda species, **_: stand_in(species, timber.wood.FOOT_TABLE),
    ),
    Formula(
        name="diameter-growth",
        about="yearly increment of diameter",
        keys={
            "species": _SPECIES,
            "dbh_in": _DBH,
            "site_index_ft": Key(kind="number", unit="ft", low=20, high=150),
            "ba_ft2_ac": Key(kind="number", unit="ft2/ac", low=0, high=400),
            "ba_larger_ft2_ac": Key(kind="number", unit="ft2/ac", low=0, high=400, optional=True),
        },
        units={"growth_in_yr": "in/yr"},
        equation="level b1 d^b2 exp(-b3 d) exp(-b4 larger) (site/70)^power gain(ba)",
        sources=("scbi", "second_map", "ward2002"),
        status="assumption",
        compute=_growth,
        notes=_growth_notes,
    ),
    Formula(
        name="npv",
        about="present value of a stream",
        keys={"amounts": Key(kind="list", unit="US$"), "years": Key(kind="list", unit="yr", low=0), "rate": _RATE},
        units={"npv": "US$"},
        equation="sum(amount / (1 + rate)^year)",
        sources=("geometry",),
        status="published",
        compute=_npv,
    ),
    Formula(
        name="annual-equivalent",
        about="yearly income worth a present value",
        keys={
            "npv": Key(kind="number", unit="US$"),
            "rate": _RATE,
            "years": Key(kind="number", unit="yr", above=0, high=1000),
        },
        units={"amount": "US$ a year"},
        equation="npv rate / (1 - (1 + rate)^-years)",
        sources=("geometry",),
        status="published",
        compute=lambda npv, rate, years: {"amount": money.annual_equivalent(npv, rate, years)},
    ),
    Formula(
        name="land-expectation",
        about="value of bare land that repeats a rotation for ever",
        keys={
            "net_income": Key(kind="number", unit="US$/ac"),
            "rotation_yr": Key(kind="number", unit="yr", above=0, high=500),
            "rate": Key(kind="number", unit="share a year", above=0, high=10),
        },
        units={"lev": "US$/ac"},
        equation="net income / ((1 + rate)^rotation - 1)",
        sources=("zobrist",),
        status="published",
        compute=lambda net_income, rotation_yr, rate: {
            "lev": money.land_expectation_value(net_income, rotation_yr, rate)
        },
        notes=lambda **_: [
            "net income is carried to the end of the rotation: each cost and income times (1 + rate)^(rotation - year)"
        ],
    ),
    Formula(
        name="rate-of-return",
        about="internal rate of return of a stream",
        keys={"amounts": Key(kind="list", unit="US$"), "years": Key(kind="list", unit="yr", low=0)},
        units={"rate": "share a year"},
        equation="the rate at which the present value is zero",
        sources=("geometry",),
        status="published",
        compute=_irr,
    ),
)
