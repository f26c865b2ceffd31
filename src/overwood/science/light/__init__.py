"""Light on the floor: the planning curve by basal area, the sky and the sun, crowns, and the light field below a stem
map."""

from overwood.science.light.crowns import (
    gap_light_share,
    mean_crown_openness,
    sphere_blocked_share,
)
from overwood.science.light.curve import from_basal_area_pct, midstory_share
from overwood.science.light.sky import (
    SKIES,
    Directions,
    brightening,
    past_boles,
    season_directions,
    share_below,
    sky_directions,
    sun_directions,
    sun_elevation_deg,
    view_directions,
)
