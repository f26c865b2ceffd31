"""The formulas of fire and injection."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from overwood.desk.formulas.keys import Values
from overwood.ground.errors import Misuse
from overwood.science import injection, timber
from overwood.science.fire import moisture, spread, trees

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
    values = moisture.table_pct(
        temp_f, rh_pct, month, hour, shaded=shade == "yes", slope_pct=slope_pct, aspect_deg=aspect
    )
    return {"moisture_pct": float(values)}


def _fire(
    fuel_model: str,
    slope_pct: float,
    midflame_wind_mph: float,
    live_herb_pct: float,
    live_woody_pct: float,
    **wet: float,
) -> Values:
    fire = spread.surface_fire(
        fuel_model,
        **wet,
        live_herb_pct=live_herb_pct,
        live_woody_pct=live_woody_pct,
        midflame_mi_h=midflame_wind_mph,
        slope_pct=slope_pct,
    )
    return {
        "spread_ch_h": float(fire.spread_ch_h),
        "flame_ft": float(fire.flame_ft),
        "intensity_btu_ft_s": float(fire.intensity_btu_ft_s),
        "heat_btu_ft2": float(fire.heat_btu_ft2),
        "residence_min": fire.residence_min,
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


COMPUTE: dict[str, Callable[..., Values]] = {
    "equilibrium-moisture": lambda temp_f, rh_pct: {"moisture_pct": float(moisture.equilibrium_pct(temp_f, rh_pct))},
    "dead-fuel-moisture": _moisture,
    "surface-fire": _fire,
    "wind-adjustment": _wind,
    "scorch-height": lambda intensity_btu_ft_s, temp_f, midflame_wind_mph: {
        "scorch_ft": float(trees.scorch_height_ft(intensity_btu_ft_s, temp_f, midflame_wind_mph))
    },
    "bark-kill-time": lambda bark_in: {"minutes": float(trees.bark_kill_min(bark_in))},
    "fire-mortality": _mortality,
    "drought-index": lambda previous, max_temp_f, rain_in, annual_rain_in: {
        "kbdi": moisture.drought_step(previous, max_temp_f, rain_in, annual_rain_in)
    },
    "injection-dose": lambda dbh_in, tpa, inches_per_cut, ml_per_cut: dict(
        zip(("cuts_ac", "solution_ml_ac"), injection.dose(dbh_in, tpa, inches_per_cut, ml_per_cut), strict=True)
    ),
}
NOTES: dict[str, Callable[..., list[str]]] = {
    "surface-fire": lambda fuel_model, **_: [
        _named(fuel_model),
        _MODEL_RANGE,
        "residence is not how long flames stay at a stem",
    ],
    "wind-adjustment": _wind_notes,
    "fire-mortality": lambda equation, **_: (
        [_WESTERN] if equation == "ryan1988" else ["coefficients recalled, low confidence; deaths go on 4 to 5 years"]
    ),
}
