"""A canopy's surface as it is seen from above, made from crowns that are known, and what was found of them."""

from __future__ import annotations

import numpy as np


def surface(crowns, width_m, height_m, cell_m=1.0, *, noise_m=0.0, seed=0):
    """Highest point of the crowns over each cell [m], row 0 the north edge; the ground where there is none."""
    rows, columns = round(height_m / cell_m), round(width_m / cell_m)
    top = np.zeros((rows, columns), dtype=np.float32)
    for x, y, centre, a, b, c in zip(crowns.x, crowns.y, crowns.centre, crowns.a, crowns.b, crowns.c, strict=True):
        west, east = max(int((x - a) / cell_m), 0), min(int((x + a) / cell_m) + 1, columns)
        north, south = max(int((height_m - y - b) / cell_m), 0), min(int((height_m - y + b) / cell_m) + 1, rows)
        if west >= east or north >= south:
            continue
        dx = ((np.arange(west, east) + 0.5) * cell_m - x) / a
        dy = (height_m - (np.arange(north, south) + 0.5) * cell_m - y) / b
        inside = 1 - dx[None, :] ** 2 - dy[:, None] ** 2
        dome = np.where(inside > 0, centre + c * np.sqrt(np.maximum(inside, 0)), 0).astype(np.float32)
        top[north:south, west:east] = np.maximum(top[north:south, west:east], dome)
    rough = np.random.default_rng(seed).normal(0, noise_m, top.shape) if noise_m else 0
    return np.maximum(top + rough, 0).astype(np.float32)


def matches(found_x, found_y, found_top, crowns):
    """For each true crown the found one that is it, or -1: pairs from the nearest on, each taken once, within the crown's radius."""
    radius = (crowns.a + crowns.b) / 2
    apart = np.hypot(crowns.x[:, None] - found_x[None, :], crowns.y[:, None] - found_y[None, :])
    near = (apart <= radius[:, None]) & (np.abs((crowns.centre + crowns.c)[:, None] - found_top[None, :]) < 3.0)
    pairs = np.argwhere(near)
    of, taken = np.full(len(radius), -1), np.zeros(len(found_x), dtype=bool)
    for true, found in pairs[np.argsort(apart[near], kind="stable")]:
        if of[true] < 0 and not taken[found]:
            of[true], taken[found] = found, True
    return of
