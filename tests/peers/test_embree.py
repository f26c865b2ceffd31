"""The light field beside Embree's rays through meshes of the same crowns (trimesh and embreex, from the package index)."""

from __future__ import annotations

import numpy as np
import pytest

from conftest import missing
from crowns import halves, stand
from overwood.science.light import field, sky
from overwood.science.light.raster import Raster

FLOOR = Raster.near(60.0, 60.0, 3.0)


@pytest.mark.parametrize("kind", [stand, halves])
@pytest.mark.parametrize(("subdivisions", "rms"), [(2, 0.10), (3, 0.03)])
def test_the_field_is_that_of_rays_through_meshes(subdivisions, rms, kind):
    try:
        from embree_peer import light_by_embree
    except ImportError:
        missing("embreex with trimesh")
    crowns, ways = kind(21, 60), sky.sky_directions(60, "overcast")

    ours = field.light_field(crowns, ways, FLOOR, edge="open")
    theirs = light_by_embree(crowns, ways, FLOOR, subdivisions=subdivisions)

    points = 100 * (ours - theirs)
    assert np.sqrt((points**2).mean()) < rms
    assert abs(points.mean()) < rms / 2
    assert 10 < 100 * ours.mean() < 90


@pytest.mark.parametrize("side", [30.0, 33.9, 40.0])
def test_a_repeating_block_of_any_side_has_the_light_of_rays_through_its_copies(side):
    # One stand density on three sides, two of which are no multiple of a cell of 4 m; the rays meet copies of the block all around.
    try:
        from embree_peer import light_by_embree, repeated
    except ImportError:
        missing("embreex with trimesh")
    crowns, ways, raster = stand(22, round(side**2 / 50), side=side), sky.sky_directions(30, "overcast"), Raster.near(side, side, 4.0)

    ours = field.light_field(crowns, ways, raster, edge="torus")
    theirs = light_by_embree(repeated(crowns, raster, float(ways.z.min())), ways, raster, subdivisions=3)

    # Low rays pass many copies: meshes of 320 facets are off by 0.09 to 0.13 points rms here, those of 1,280 by 0.03 to 0.07.
    points = 100 * (ours - theirs)
    assert np.sqrt((points**2).mean()) < 0.1
    assert np.median(np.abs(points)) < 0.02
    assert abs(points.mean()) < 0.01
