"""The formulas of fire and injection."""

from __future__ import annotations

from typing import Any

from overwood.desk.formulas.keys import Formula, Key, Values
from overwood.ground.errors import Misuse
from overwood.science import injection, timber
from overwood.science.fire import moisture, spread, trees

_SHELTER = ("open", "partial", "full")
_TEMP = Key(kind="number", unit="F", low=-40, high=130)
_RH = Key(kind="number", unit="%", low=0, high=100)
_MOISTURE = Key(kind="number", unit="%", low=1, high=300)
_LIVE = Key(kind="number", unit="%", low=30, high=300, optional=True, default=100.0)
_MODEL_RANGE = (
    "steady fire in even fuel: no spotting, no slash at stems, no strips that meet; planning only, a qualified "
    "burner decides"
)
_WESTERN = (
    "made for western conifers: it kills hardwoods in light dormant fires that live; shown only to be "
    "compared, never used by the program"
)


def _moisture(
    temp_f: float, rh_pct: float, month: int, hour: int, shade: str, slope_pct: float, aspect: float
) -> Values:
    if not moisture.FIRST_HOUR <= hour < moisture.LAST_HOUR:
        raise Misuse(
            f"hour={hour} lies outside the day tables.", remedy="Give an hour from 8 to 19, local standard time."
        )
    found = moisture.table_pct(
        temp_f, rh_pct, month, hour, shaded=shade == "yes", slope_pct=slope_pct, aspect_deg=aspect
    )
    return {"moisture_pct": float(found)}


def _fire(
    fuel_model: str,
    slope_pct: float,
    midflame_wind_mph: float,
    live_herb_pct: float,
    live_woody_pct: float,
    **wet: float,
) -> Values:
    found = spread.surface_fire(
        fuel_model,
        **wet,
        live_herb_pct=live_herb_pct,
        live_woody_pct=live_woody_pct,
        midflame_mi_h=midflame_wind_mph,
        slope_pct=slope_pct,
    )
    return {
        "spread_ch_h": float(found.spread_ch_h),
        "flame_ft": float(found.flame_ft),
        "intensity_btu_ft_s": float(found.intensity_btu_ft_s),
        "heat_btu_ft2": float(found.heat_btu_ft2),
        "residence_min": found.residence_min,
    }


def _named(code: str) -> str:
    """Which fuel model was taken for what was written."""
    model = spread.fuel_model(code)
    return f"fuel model {model.code}: {model.description}"


def _wind(
    fuel_depth_ft: float | None,
    shelter: str | None,
    canopy_cover_pct: float | None,
    canopy_height_ft: float | None,
    crown_ratio: float | None,
) -> Values:
    canopy = (canopy_cover_pct, canopy_height_ft, crown_ratio)
    if shelter and any(value is not None for value in canopy):
        raise Misuse("wind-adjustment takes shelter or the canopy, not both.")
    if canopy_cover_pct is not None and canopy_height_ft is not None and crown_ratio is not None:
        return {"factor": spread.wind_factor_sheltered(canopy_cover_pct, canopy_height_ft, crown_ratio)}
    if any(value is not None for value in canopy):
        raise Misuse("wind-adjustment needs canopy_cover_pct, canopy_height_ft and crown_ratio together.")
    if shelter in ("partial", "full"):
        return {"factor": spread.wind_factor_table(shelter)}
    if fuel_depth_ft is None:
        raise Misuse("wind-adjustment needs fuel_depth_ft in the open.", remedy="Such as 0.2 for FM9.")
    return {"factor": spread.wind_factor_open(fuel_depth_ft)}


def _wind_notes(shelter: str | None, **_: Any) -> list[str]:
    if shelter == "full":
        return [
            "a dense stand in leaf; 0.2 under an open one, and a leafless oak stand passes about 0.17 "
            "(0.12 to 0.28, an assumption)"
        ]
    return ["by the table of the same report, wind half sheltered"] if shelter == "partial" else []


def _mortality(
    species: int, dbh_in: float, crown_scorch_pct: float | None, char_height_ft: float | None, equation: str
) -> Values:
    if equation == "keyser2018":
        if char_height_ft is None:
            raise Misuse(
                "keyser2018 needs char_height_ft.", remedy="Char is measured after the fire; before it, it is a guess."
            )
        return {"share": float(trees.mortality_by_char(species, dbh_in, char_height_ft))}
    if crown_scorch_pct is None:
        raise Misuse("ryan1988 needs crown_scorch_pct.")
    return {"share": float(trees.mortality_by_scorch_western(timber.foot_bark_in(species, dbh_in), crown_scorch_pct))}


FIRE = (
    Formula(
        name="equilibrium-moisture",
        about="moisture fine dead fuel comes to in still air",
        keys={"temp_f": _TEMP, "rh_pct": _RH},
        units={"moisture_pct": "%"},
        equation="three pieces by humidity: under 10, 10 to 50, 50 and over",
        sources=("simard1968",),
        status="published",
        compute=lambda temp_f, rh_pct: {"moisture_pct": float(moisture.equilibrium_pct(temp_f, rh_pct))},
        notes=lambda **_: ["shaded fuel; sun makes it warmer and drier"],
    ),
    Formula(
        name="dead-fuel-moisture",
        about="fine dead fuel moisture by the day tables",
        keys={
            "temp_f": _TEMP,
            "rh_pct": _RH,
            "month": Key(kind="whole", low=1, high=12),
            "hour": Key(kind="whole", low=0, high=23),
            "shade": Key(kind="choice", choices=("yes", "no")),
            "slope_pct": Key(kind="number", unit="%", low=0, high=200),
            "aspect": Key(kind="aspect"),
        },
        units={"moisture_pct": "%"},
        equation="reference by temperature and humidity, corrected for month, hour, shade, aspect and slope",
        sources=("rothermel1983",),
        status="memory",
        compute=_moisture,
        notes=lambda **_: ["reads clearly lower than litter weighed on the day; no rain in it"],
    ),
    Formula(
        name="surface-fire",
        about="spread, flame and intensity of a head fire",
        keys={
            "fuel_model": Key(kind="text name"),
            "moisture_1h_pct": _MOISTURE,
            "moisture_10h_pct": _MOISTURE,
            "moisture_100h_pct": _MOISTURE,
            "live_herb_pct": _LIVE,
            "live_woody_pct": _LIVE,
            "midflame_wind_mph": Key(kind="number", unit="mi/h", low=0, high=60),
            "slope_pct": Key(kind="number", unit="%", low=0, high=200),
        },
        units={
            "spread_ch_h": "chains/h",
            "flame_ft": "ft",
            "intensity_btu_ft_s": "Btu/ft/s",
            "heat_btu_ft2": "Btu/ft2",
            "residence_min": "min",
        },
        equation="I_R xi (1 + wind + slope) / heat sink; flame 0.45 I^0.46; residence 384 / sigma",
        sources=(
            "rothermel1972",
            "albini1976",
            "andrews2018",
            "byram1959",
            "anderson1969",
            "anderson1982",
            "scott2005",
        ),
        status="memory",
        compute=_fire,
        notes=lambda fuel_model, **_: [
            _named(fuel_model),
            _MODEL_RANGE,
            "residence is not how long flames stay at a stem",
        ],
    ),
    Formula(
        name="wind-adjustment",
        about="wind at the flame over wind at 20 ft",
        keys={
            "fuel_depth_ft": Key(kind="number", unit="ft", above=0, high=10, optional=True),
            "shelter": Key(kind="choice", choices=_SHELTER, optional=True),
            "canopy_cover_pct": Key(kind="number", unit="%", above=0, high=100, optional=True),
            "canopy_height_ft": Key(kind="number", unit="ft", above=5, high=250, optional=True),
            "crown_ratio": Key(kind="number", unit="share", above=0, high=1, optional=True),
        },
        units={"factor": "ratio"},
        equation=(
            "open: 1.83 / ln((20 + 0.36 d) / (0.13 d)); sheltered: 0.555 / (sqrt(F H) ln((20 + 0.36 H) / (0.13 "
            "H))), F = ratio x cover / 3"
        ),
        sources=("albini1979", "andrews2012", "rothermel1983"),
        status="memory",
        compute=_wind,
        notes=_wind_notes,
    ),
    Formula(
        name="scorch-height",
        about="height to which leaves and opened buds are killed",
        keys={
            "intensity_btu_ft_s": Key(kind="number", unit="Btu/ft/s", low=0, high=5000),
            "temp_f": Key(kind="number", unit="F", low=-40, high=120),
            "midflame_wind_mph": Key(kind="number", unit="mi/h", low=0, high=60),
        },
        units={"scorch_ft": "ft"},
        equation="63 / (140 - T) I^(7/6) / sqrt(I + U^3)",
        sources=("vanwagner1973", "albini1976"),
        status="memory",
        compute=lambda intensity_btu_ft_s, temp_f, midflame_wind_mph: {
            "scorch_ft": float(trees.scorch_height_ft(intensity_btu_ft_s, temp_f, midflame_wind_mph))
        },
        notes=lambda **_: ["leafless hardwoods have little to scorch: it counts for evergreens and opened buds"],
    ),
    Formula(
        name="bark-kill-time",
        about="minutes of flame that kill the cambium",
        keys={"bark_in": Key(kind="number", unit="in", above=0, high=5)},
        units={"minutes": "min"},
        equation="2.9 x^2, x in cm",
        sources=("peterson1986",),
        status="memory",
        compute=lambda bark_in: {"minutes": float(trees.bark_kill_min(bark_in))},
    ),
    Formula(
        name="fire-mortality",
        about="chance that a stem is dead after a fire",
        keys={
            "species": Key(kind="species"),
            "dbh_in": Key(kind="number", unit="in", above=0, high=100),
            "crown_scorch_pct": Key(kind="number", unit="%", low=0, high=100, optional=True),
            "char_height_ft": Key(kind="number", unit="ft", low=0, high=60, optional=True),
            "equation": Key(kind="choice", choices=("keyser2018", "ryan1988")),
        },
        units={"share": "share"},
        equation=(
            "keyser2018: logit of dbh and char, two years; ryan1988: 1 / (1 + exp(-1.941 + 6.316 (1 - "
            "exp(-bark)) - 5.35 scorch^2))"
        ),
        sources=("keyser2018", "ryan1988"),
        status="memory",
        compute=_mortality,
        notes=lambda equation, **_: (
            [_WESTERN]
            if equation == "ryan1988"
            else ["coefficients recalled, low confidence; deaths go on 4 to 5 years"]
        ),
    ),
    Formula(
        name="drought-index",
        about="one day of the drought index",
        keys={
            "previous": Key(kind="number", low=0, high=800),
            "max_temp_f": Key(kind="number", unit="F", low=-40, high=130),
            "rain_in": Key(kind="number", unit="in", low=0, high=40),
            "annual_rain_in": Key(kind="number", unit="in", above=0, high=200),
        },
        units={"kbdi": "hundredths of an inch"},
        equation="(800 - Q)(0.968 exp(0.0486 T) - 8.30) 0.001 / (1 + 10.88 exp(-0.0441 R)), rain off first",
        sources=("keetch1968",),
        status="memory",
        compute=lambda previous, max_temp_f, rain_in, annual_rain_in: {
            "kbdi": moisture.drought_step(previous, max_temp_f, rain_in, annual_rain_in)
        },
        notes=lambda **_: ["rain_in is net rain: a wet spell's total less 0.20 in"],
    ),
    Formula(
        name="injection-dose",
        about="cuts and solution to inject a midstory",
        keys={
            "dbh_in": Key(kind="list", unit="in", above=0, high=40),
            "tpa": Key(kind="list", unit="trees/ac", low=0, high=20_000),
            "inches_per_cut": Key(kind="number", unit="in dbh a cut", above=0, high=6),
            "ml_per_cut": Key(kind="number", unit="ml", above=0, high=10),
        },
        units={"cuts_ac": "cuts/ac", "solution_ml_ac": "ml/ac"},
        equation="sum of tpa x dbh / inches per cut; times ml per cut",
        sources=("pennstate_inject", "kochenderfer2001", "moorhead2003"),
        status="published",
        compute=lambda dbh_in, tpa, inches_per_cut, ml_per_cut: dict(
            zip(("cuts_ac", "solution_ml_ac"), injection.dose(dbh_in, tpa, inches_per_cut, ml_per_cut), strict=True)
        ),
        notes=lambda **_: [
            "parts of cuts are counted; a crew makes whole ones, at least two a stem at one inch a cut",
            "the label governs",
        ],
    ),
)
