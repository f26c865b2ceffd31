"""The light field kept direction by direction, so that one tree more or less costs only its own shadows."""

from __future__ import annotations

import math

import numba
import numpy as np

from overwood.science.light.field import HIDDEN, LEVEL, Crowns, chord, raster_shape, row_ends, shadow, wraps
from overwood.science.light.sky import Directions


def _seen(ways: Directions, gradient: tuple[float, float]) -> Directions:
    """The directions that the slope does not hide."""
    seen = ways.z - gradient[0] * ways.x - gradient[1] * ways.y > HIDDEN
    return Directions(ways.x[seen], ways.y[seen], ways.z[seen], ways.weight[seen])


class Ledger:
    """The field with every direction kept, so that taking or giving back one tree costs only its own shadows.

    Notes
    -----
    Optical depth is held as whole numbers of a billionth: sums do not depend on their order, so giving a tree back
    restores the field to the bit.

    Examples
    --------
    >>> from overwood.science.light.sky import sky_directions
    >>> one = Crowns(*(np.array([v]) for v in (5.0, 5.0, 10.0, 2.0, 2.0, 3.0, 0.4)))
    >>> book = Ledger(one, sky_directions(40, "overcast"), width_m=10, height_m=10, spacing_m=2, edge="torus")
    >>> book.flip(0)
    >>> float(book.light.mean().round(9))
    1.0
    """

    def __init__(
        self,
        crowns: Crowns,
        directions: Directions,
        *,
        width_m: float,
        height_m: float,
        spacing_m: float,
        edge: str,
        gradient: tuple[float, float] = LEVEL,
    ) -> None:
        self.crowns, self.directions = crowns, _seen(directions, gradient)
        self.spacing_m, self.wraps, self.gradient = spacing_m, wraps(edge), gradient
        rows, columns = raster_shape(width_m, height_m, spacing_m)
        self.tau = np.zeros((len(self.directions.z), rows, columns), dtype=np.int64)
        self.standing = np.zeros(len(crowns.x), dtype=np.bool_)
        self.light = np.full((rows, columns), float(self.directions.weight.sum()))
        for tree in range(len(crowns.x)):
            self._change(tree, 1)
            self.standing[tree] = True
        self.settle()

    def _change(self, tree: int, sign: int) -> None:
        t, d = self.crowns, self.directions
        _shade_all(
            self.tau, self.light, t.x[tree], t.y[tree], t.centre[tree], t.a[tree], t.b[tree], t.c[tree], t.k[tree], t.low[tree], t.fixed[tree],
            d.x, d.y, d.z, d.weight, self.spacing_m, *self.wraps, sign, *self.gradient,
        )  # fmt: skip

    def flip(self, tree: int) -> None:
        """Cut a standing tree, or put a cut one back."""
        self._change(tree, -1 if self.standing[tree] else 1)
        self.standing[tree] = not self.standing[tree]

    def settle(self) -> None:
        """Sum the light anew from the optical depths, so that small changes of rounding do not pile up."""
        self.light = _summed(self.tau, self.directions.weight)


@numba.njit(cache=True)
def _summed(tau, weight):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    ways, rows, columns = tau.shape
    light = np.zeros((rows, columns))
    for d in range(ways):
        for i in range(rows):
            for j in range(columns):
                light[i, j] += weight[d] * math.exp(-tau[d, i, j] * 1e-9)
    return light


@numba.njit(cache=True)
def _shade_all(  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    tau, light, x, y, centre, a, b, c, k, low, fixed, dx, dy, dz, weight, spacing, wrap_x, wrap_y, sign, gx, gy
):
    """Add or take one crown's optical depth in every direction, and the difference it makes to the light."""
    for d in range(tau.shape[0]):
        if low == c:
            _shade(tau[d], light, x, y, centre, a, b, c, k, fixed, 0, dx[d], dy[d], dz[d], weight[d], spacing, wrap_x, wrap_y, sign, gx, gy)
        else:
            _shade(tau[d], light, x, y, centre, a, b, c, k, fixed, 1, dx[d], dy[d], dz[d], weight[d], spacing, wrap_x, wrap_y, sign, gx, gy)
            _shade(
                tau[d], light, x, y, centre, a, b, low, k, fixed, -1, dx[d], dy[d], dz[d], weight[d], spacing, wrap_x, wrap_y, sign, gx, gy
            )


@numba.njit(cache=True)
def _shade(  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    tau, light, x, y, centre, a, b, c, k, fixed, part, dx, dy, dz, weight, spacing, wrap_x, wrap_y, sign, gx, gy
):
    rows, columns = tau.shape
    sx, sy, pxx, pyy, pxy, vv, wx, wy, reach = shadow(x, y, centre, a, b, c, dx, dy, dz, gx, gy)
    for row in range(math.ceil((sy - reach) / spacing - 0.5), math.floor((sy + reach) / spacing - 0.5) + 1):
        if not wrap_y and (row < 0 or row >= rows):
            continue
        oy = (row + 0.5) * spacing - sy
        start, stop = row_ends(oy, sx, pxx, pyy, pxy, spacing)
        for column in range(start, stop + 1):
            if not wrap_x and (column < 0 or column >= columns):
                continue
            ox = (column + 0.5) * spacing - sx
            q = 1 - pxx * ox * ox - 2 * pxy * ox * oy - pyy * oy * oy
            if q > 0:
                i, j = row % rows, column % columns
                before = math.exp(-tau[i, j] * 1e-9)
                depth = fixed if fixed > 0 else k * chord(q, vv, wx * ox + wy * oy, -(gx * ox + gy * oy) / dz, part)
                tau[i, j] += sign * round(1e9 * depth)
                light[i, j] += weight * (math.exp(-tau[i, j] * 1e-9) - before)
