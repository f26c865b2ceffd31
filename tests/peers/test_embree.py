"""The light field beside Embree's rays through meshes of the same crowns (trimesh and embreex, from the package index)."""

from __future__ import annotations

import numpy as np
import pytest

from conftest import missing
from crowns import halves, stand
from overwood.science.light import field, sky

BLOCK = {"width_m": 60.0, "height_m": 60.0, "spacing_m": 3.0}


@pytest.mark.parametrize("kind", [stand, halves])
@pytest.mark.parametrize(("subdivisions", "rms"), [(2, 0.10), (3, 0.03)])
def test_the_field_is_that_of_rays_through_meshes(subdivisions, rms, kind):
    try:
        from embree_peer import light_by_embree
    except ImportError:
        missing("embreex with trimesh")
    crowns, ways = kind(21, 60), sky.sky_directions(60, "overcast")

    ours = field.light_field(crowns, ways, edge="open", **BLOCK)
    theirs = light_by_embree(crowns, ways, BLOCK, subdivisions=subdivisions)

    points = 100 * (ours - theirs)
    assert np.sqrt((points**2).mean()) < rms
    assert abs(points.mean()) < rms / 2
    assert 10 < 100 * ours.mean() < 90
