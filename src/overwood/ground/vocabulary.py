"""Words that a field of a record may hold, and the kinds of work and visits that logic turns on."""

from __future__ import annotations

import math

from overwood.ground import measures

# Height classes of the floor, ft: lower limit included, upper not (a stem of exactly 3 ft counts as 3 ft tall).
HEIGHT_CLASSES: dict[str, tuple[float, float]] = {
    "<0.5": (0.0, 0.5),
    "0.5-1": (0.5, 1.0),
    "1-3": (1.0, 3.0),
    "3-4.5": (3.0, 4.5),
    "4.5-10": (4.5, 10.0),
    "10+": (10.0, 99.0),
}
LAYERS = ("overstory", "midstory", "reproduction")
DESIGNS = ("prism", "fixed", "strip")
VISIT_KINDS = (
    "cruise",
    "reproduction",
    "recount",
    "acorn",
    "crown",
    "site",
    "light",
    "fuel",
    "stem map",
    "marking check",
    "residual check",
    "injection check",
    "inspection",
)
# Ground where no work goes, and ground without trees to treat: both are taken out of the acres that are treated.
PROTECTED_KINDS = ("stream", "pond or wetland", "spring", "grave site", "other site")
CLEARED_KINDS = ("road", "landing", "skid trail", "line")
FEATURE_KINDS = (*PROTECTED_KINDS, *CLEARED_KINDS)
MAP_EDGES = ("torus", "open", "buffer")
MAP_SIDES = ("north", "east", "south", "west")
DAMAGES = ("none", "slight", "severe")
LIGHT_MEASURES = ("light", "openness")
CALLS = ("leave", "cut")
TREE_GRADES = ("1", "2", "3", "below")
QUALITIES = ("veneer", "stave", "sawlog", "pulpwood", "firewood", "cull")
CROWN_CLASSES = ("dominant", "codominant", "intermediate", "overtopped")
OPERATION_KINDS = (
    "injection",
    "burn",
    "seed cut",
    "preparatory cut",
    "removal cut",
    "thinning",
    "clearcut",
    "sale offered",
    "marking",
    "planting",
    "fence",
    "weeding",
    "crop-tree release",
)
# Operations that take overwood trees and so open the canopy.
CUT_KINDS = ("preparatory cut", "seed cut", "thinning", "removal cut", "clearcut")
# Cuts that open a stand for the next one, and cuts that take the overwood off.
OPENING_KINDS = ("preparatory cut", "seed cut")
REMOVAL_KINDS = ("removal cut", "clearcut")
# Operations after which a stand is no longer what an older visit saw.
CHANGING_KINDS = (*CUT_KINDS, "injection", "burn", "planting", "weeding", "crop-tree release")
SIGHTING_KINDS = (
    "invasive plant",
    "soft ground",
    "late frost",
    "defoliation",
    "oak wilt",
    "drought",
    "deer",
    "roost tree",
    "rare species",
    "cultural site",
    "stream",
    "boundary",
    "snag",
)


# Of these a crew is told before it works in the stand: somebody must be asked first, or it must be kept off them.
ASK_FIRST_KINDS = ("roost tree", "rare species", "cultural site", "stream", "boundary", "snag")


def as_written(word: str) -> str:
    """A word that a field may hold, as it is typed; in metric a height class by its limits."""
    return height_class_words(word) if measures.is_metric() and word in HEIGHT_CLASSES else word


def height_class_words(label: str) -> str:
    """A height class of the floor with its unit: '1-3 ft' or '0.3-0.9 m'; the last has no upper limit."""
    if not measures.is_metric():
        return f"{label} ft"
    low, high = HEIGHT_CLASSES[label]
    return measures.class_words(low, math.inf if label.endswith("+") else high, "ft")
