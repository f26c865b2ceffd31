"""A canopy's surface over a stand, as the judgement takes it, and the crowns and gaps in it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overwood.ground.units import FT_PER_M, M2_PER_ACRE
from overwood.judgement.canopy.answer import CanopyCrown, CanopyGap
from overwood.judgement.rules import Rules
from overwood.science import canopy as science

Array = NDArray[np.float64]
_TILE_CELLS = 512


@dataclass(frozen=True)
class Surface:
    """Heights above the ground [m], shape (rows, columns), NaN where not seen, row 0 north; the stand's cells; degrees
    of places in cells."""

    heights_m: NDArray[np.float32]
    inside: NDArray[np.bool_]
    cell_m: float
    degrees: Callable[[Array, Array], tuple[Array, Array]]

    @property
    def acres(self) -> float:
        """Ground of the stand."""
        return float(self.inside.sum()) * self.cell_m**2 / M2_PER_ACRE


def settings_of(cell_m: float, rules: Rules) -> science.Settings:
    """How crowns are parted, by the assumptions."""
    return science.Settings(
        cell_m=cell_m,
        smooth_m=rules.number("canopy_smooth_m"),
        least_height_m=rules.number("canopy_least_height_ft") / FT_PER_M,
        reach_share=rules.number("canopy_reach_share"),
        crown_share=rules.number("canopy_crown_share"),
        widest_radius_m=rules.number("canopy_widest_radius_ft") / FT_PER_M,
    )


def crowns_around(surface: Surface, rules: Rules) -> science.Crowns:
    """Every crown of the surface, those of the neighbors beyond the stand's edge among them."""
    return science.by_tiles(surface.heights_m, settings_of(surface.cell_m, rules), _TILE_CELLS)


def of_the_stand(crowns: science.Crowns, surface: Surface) -> NDArray[np.bool_]:
    """Which crowns have their top in the stand."""
    return surface.inside[crowns.top_row, crowns.top_column]


def proposed(crowns: science.Crowns, surface: Surface) -> tuple[CanopyCrown, ...]:
    """The stand's crowns as proposals, numbered from the north-west."""
    own = crowns.taken(of_the_stand(crowns, surface))
    longitude, latitude = surface.degrees(own.row, own.column)
    columns = zip(longitude, latitude, own.height_m * FT_PER_M, own.area_m2 * FT_PER_M**2, strict=True)
    return tuple(
        CanopyCrown(
            number=number, longitude_deg=float(x), latitude_deg=float(y), height_ft=float(height), area_ft2=float(area)
        )
        for number, (x, y, height, area) in enumerate(columns, start=1)
    )


def gaps(surface: Surface, rules: Rules) -> tuple[CanopyGap, ...]:
    """The stand's gaps, the largest first."""
    below, least = rules.number("canopy_gap_below_ft") / FT_PER_M, rules.number("canopy_gap_least_ft2") / FT_PER_M**2
    gap = science.gaps_of(surface.heights_m, surface.inside, cell_m=surface.cell_m, below_m=below, least_m2=least)
    longitude, latitude = surface.degrees(gap.row, gap.column)
    return tuple(
        CanopyGap(number=number, longitude_deg=float(x), latitude_deg=float(y), area_ac=float(area) / M2_PER_ACRE)
        for number, (x, y, area) in enumerate(zip(longitude, latitude, gap.area_m2, strict=True), start=1)
    )


def share_of_seen(surface: Surface, low_m: float) -> float:
    """Share of the stand's seen ground whose canopy is of a height or more."""
    seen = surface.heights_m[surface.inside]
    seen = seen[~np.isnan(seen)]
    return float((seen >= low_m).mean())
