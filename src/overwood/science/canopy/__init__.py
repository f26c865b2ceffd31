"""A canopy's surface from above: the large crowns in a raster of heights, and the gaps between them."""

from overwood.science.canopy.crowns import Crowns, Settings, by_tiles, crown_width_m, crowns_of
from overwood.science.canopy.gaps import Gaps, gaps_of

__all__ = ["Crowns", "Gaps", "Settings", "by_tiles", "crown_width_m", "crowns_of", "gaps_of"]
