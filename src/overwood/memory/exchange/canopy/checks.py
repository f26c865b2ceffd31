"""Whether numbers can be the heights of a canopy: unit said and not guessed, heights above the ground and not above the
sea, stand covered."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from overwood.ground import measures
from overwood.ground.errors import Misuse
from overwood.ground.plausible import limit
from overwood.ground.units import FT_PER_M
from overwood.memory.exchange.canopy.cells import UNITS, Cut, HeightGrid

# Rounding of what was seen: nearer to all than this is all.
_ALL_SEEN_SHARE = 0.999
_FACTOR = {"m": 1.0, "ft": 1 / FT_PER_M}


def checked(file: str, cut: Cut, said: str) -> HeightGrid:
    """Heights in meters, strays left unseen. Raises Misuse when the unit is open, the numbers are no canopy heights, or
    the stand is not covered."""
    if not cut.inside.any() or np.isnan(cut.heights[cut.inside]).all():
        remedy = "Give the raster of this place, or correct the outline or the coordinate system."
        raise Misuse(f"{file} shows nothing of the stand.", remedy=remedy)
    unit = _unit(file, cut, said)
    heights, notes = _without_strays(file, cut, unit)
    seen = _seen_share(file, heights, cut)
    if seen < _ALL_SEEN_SHARE:
        notes.append(f"{100 * (1 - seen):.1f}% of the stand was not seen: neither crown nor gap is drawn there")
    return HeightGrid(
        heights_m=(heights * np.float32(_FACTOR[unit])).astype(np.float32), inside=cut.inside, cell_m=cut.cell_m,
        system=cut.system,
        corner=cut.corner, side=cut.side, unit=unit, kind=cut.kind, seen_share=seen, notes=(*cut.notes, *notes),
    )  # fmt: skip


def _unit(file: str, cut: Cut, said: str) -> str:
    """The unit of the heights, by the file and by the person; never by how large they look."""
    if said and said not in UNITS:
        raise Misuse(f"the unit of heights is {said!r}.", remedy=f"Use one of {', '.join(UNITS)}.")
    if said and cut.unit and said != cut.unit:
        remedy = "Leave --height out, or have the file's unit corrected."
        raise Misuse(f"{file} says that its heights are in {cut.unit}, and you say {said}.", remedy=remedy)
    if not (said or cut.unit):
        tallest = float(np.nanpercentile(cut.heights[cut.inside], 99))
        question = (
            f"{file} does not say whether its heights are meters or feet; one in a hundred cells is taller than "
            f"{tallest:.0f}."
        )
        raise Misuse(question, remedy="Say --height m or --height ft.")
    return said or cut.unit


def _without_strays(file: str, cut: Cut, unit: str) -> tuple[NDArray[np.float32], list[str]]:
    """Heights with what can be none left unseen; many of them are a fault of the file."""
    per_ft, inside = (1 / FT_PER_M if unit == "m" else 1.0), cut.heights[cut.inside]
    seen = inside[~np.isnan(inside)]
    low, tall = (seen < limit("canopy_below_ground_ft") * per_ft), (seen > limit("canopy_tallest_ft") * per_ft)
    if tall.mean() > limit("canopy_stray_share"):
        raise _too_tall(file, seen[~low], unit, float(tall.mean()))
    heights = cut.heights.copy()
    heights[(heights < limit("canopy_below_ground_ft") * per_ft) | (heights > limit("canopy_tallest_ft") * per_ft)] = (
        np.nan
    )
    if (
        np.isnan(heights[cut.inside]).all()
        or float(np.nanpercentile(heights[cut.inside], 99)) < limit("canopy_lowest_top_ft") * per_ft
    ):
        remedy = "Check the unit (--height), and that it is heights above the ground and not a slope or a density."
        raise Misuse(
            f"{file} shows nothing taller than {_feet('canopy_lowest_top_ft')} on this stand.",
            remedy=remedy,
        )
    notes = (
        [f"{int(low.sum())} cells below the ground (lowest {float(seen.min()):g} {unit}) are read as not seen"]
        if low.any()
        else []
    )
    if tall.any():
        notes.append(f"{int(tall.sum())} cells above {_feet('canopy_tallest_ft')} (birds, wires) are read as not seen")
    return heights, notes


def _feet(name: str) -> str:
    """A limit of heights in words."""
    return measures.amount(limit(name), "ft", "g")


def _too_tall(file: str, seen: NDArray[np.float32], unit: str, share: float) -> Misuse:
    low, middle, high = (float(value) for value in np.percentile(seen, (1, 50, 99)))
    words = (
        f"{file} has {100 * share:.0f}% of the stand taller than {_feet('canopy_tallest_ft')} (middle "
        f"{middle:.0f} {unit}, lowest {low:.0f}):"
    )
    if unit == "m" and low < limit("canopy_tallest_ft") / 2 and high <= limit("canopy_tallest_ft"):
        return Misuse(f"{words} no canopy is so tall.", remedy="These look like feet: say --height ft, if they are.")
    if low < limit("canopy_near_ground_share") * high:
        return Misuse(
            f"{words} they look like a smaller unit.",
            remedy="Give heights in meters or feet, not in tenths or hundredths of them.",
        )
    remedy = "Subtract the ground from it (surface less terrain) and give the canopy's height above the ground."
    return Misuse(f"{words} these are heights above the sea, a surface model.", remedy=remedy)


def _seen_share(file: str, heights: NDArray[np.float32], cut: Cut) -> float:
    """Share of the stand's own ground with a height; what lies beyond the grid's edge counts as not seen."""
    seen = min(cut.reached_share, 1.0) * float((~np.isnan(heights[cut.inside])).mean())
    if seen < limit("canopy_least_seen_share"):
        remedy = "Give all pieces of it at once, or draw the part that it covers as a stand of its own."
        raise Misuse(
            f"{file} covers {100 * seen:.0f}% of the stand; {100 * limit('canopy_least_seen_share'):.0f}% are needed.",
            remedy=remedy,
        )
    return seen
