"""The formulas of the futures."""

from __future__ import annotations

from collections.abc import Callable

from overwood.desk.formulas.keys import Values
from overwood.ground.species import by_code
from overwood.judgement.rules import load

# The futures bring the compiler with them, which no other formula needs: they are imported where they are asked for.
# What growth under light reads of the parameters of a future.
_READ = (
    "light_no_gain", "light_full", "dieback_share", "growth_open_ft_yr", "growth_size_power", "growth_most_ft_yr",
    "growth_sprout_times",
    "growth_site_power", "browse_growth", "browse_line_ft", "seedling_ft", "tolerant_shade_ft_yr",
    "tolerant_full_ft_yr", "tolerant_light",
    "rival_site_power", "pioneer_ft_yr", "pioneer_light",
)  # fmt: skip
_SITE_INDEX_FT = 70.0


def _growth(species: int, light_pct: float, height_ft: float, years: int) -> Values:
    from overwood.judgement.futures.draws import SOURCES
    from overwood.science import regeneration

    rules, light, height = load(), light_pct / 100, height_ft
    p = {name: rules.number(SOURCES[name]) for name in _READ}
    entry = by_code(species)
    for _ in range(years):
        if entry.is_oak:
            height = _oak_ft(height, light, p)
        elif entry.is_tolerant:
            height += regeneration.tolerant_gain_ft.py_func(light, _SITE_INDEX_FT, p)
        else:
            height += regeneration.pioneer_gain_ft.py_func(light, _SITE_INDEX_FT, p)
    return {"height_ft": float(height)}


def _oak_ft(height: float, light: float, p: dict[str, float]) -> float:
    """An oak a year on; from an acorn its first season lives on what the acorn held."""
    from overwood.science import regeneration

    if height == 0:
        return p["seedling_ft"]
    open_ft = regeneration.open_gain_ft.py_func(height, _SITE_INDEX_FT, p)
    return float(height + regeneration.oak_gain_ft.py_func(height, height, open_ft, light, 0.0, p))


def _notes(species: int, **_: object) -> list[str]:
    entry = by_code(species)
    kind = (
        "an oak" if entry.is_oak else "a tolerant rival" if entry.is_tolerant else "a pioneer rival, as yellow-poplar"
    )
    return [
        f"grown as {kind}; plots and years differ by half and more",
        "rates are assumptions met by published trials; see the experiments",
    ]


def _crops(years: int, good_share: float, seed: int) -> Values:
    from overwood.science import regeneration

    numbers = regeneration.crop_years(years, good_share, seed)
    return {"good_years": numbers, "good_count": len(numbers)}


COMPUTE: dict[str, Callable[..., Values]] = {
    "crop-sequence": _crops,
    "growth-under-light": _growth,
}
NOTES: dict[str, Callable[..., list[str]]] = {
    "growth-under-light": _notes,
}
