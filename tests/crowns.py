"""Random crowns on a square, and their light field."""

from __future__ import annotations

import numpy as np

from overwood.science.light import field, sky
from overwood.science.light.raster import Raster


def stand(seed: int, trees: int, side: float = 60.0) -> field.Crowns:
    rng = np.random.default_rng(seed)
    c = rng.uniform(2, 5, trees)
    columns = (
        rng.random(trees) * side,
        rng.random(trees) * side,
        c + rng.uniform(1, 12, trees),
        rng.uniform(1, 5, trees),
        rng.uniform(1, 5, trees),
        c,
        rng.uniform(0.3, 0.6, trees),
    )
    return field.Crowns(*columns)


def halves(seed: int, trees: int, side: float = 60.0) -> field.Crowns:
    """The same crowns with lower halves of another depth."""
    whole = stand(seed, trees, side)
    return field.Crowns(*whole.columns[:7], whole.c * np.random.default_rng(seed + 1).uniform(0.4, 1.0, trees))


def one_openness(seed: int, trees: int, side: float = 60.0) -> field.Crowns:
    """The same crowns, each of one openness whatever the path."""
    whole = stand(seed, trees, side)
    return field.Crowns(*whole.columns[:7], whole.c, np.random.default_rng(seed + 2).uniform(0.5, 2.5, trees))


def made(crowns, edge="torus", path=field.light_field, spacing=3.0, count=60, side=60.0):
    return path(crowns, sky.sky_directions(count, "overcast"), Raster.near(side, side, spacing), edge=edge)
