"""A stand from above: proposed crowns and gaps, what such a look misses, and light with the cruise's small stems
below."""

from overwood.judgement.canopy.answer import (
    VERDICTS,
    CanopyCrown,
    CanopyGap,
    CanopyLight,
    CanopyMap,
    GroundCheck,
    Refusal,
    SizeSeen,
)
from overwood.judgement.canopy.checking import Verdict, checked_map, ground_check
from overwood.judgement.canopy.seen import Flight, map_of
from overwood.judgement.canopy.surface import Surface
