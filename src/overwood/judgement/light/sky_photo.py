"""A fisheye photo judged: what is sky, how open the canopy is, what light of the season that lets through."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from overwood.ground.errors import Misuse
from overwood.judgement.rules import Rules
from overwood.judgement.stem_map import season_at
from overwood.science.light import photo
from overwood.science.light.photo import Lens

Mask = NDArray[np.bool_]


@dataclass(frozen=True)
class SkyPhoto:
    """What a photo shows; spans are for a threshold some gray levels lower and higher."""

    threshold: int
    automatic: bool
    openness_pct: float
    openness_low_pct: float
    openness_high_pct: float
    diffuse_light_pct: float
    season_light_pct: float
    sky: Mask = field(repr=False, metadata={"inner": True})
    lens: Lens
    notes: tuple[str, ...]


def read(
    blue: NDArray[np.uint8], lens: Lens, rules: Rules, *, latitude_deg: float, threshold: int | None = None
) -> SkyPhoto:
    """Judge the blue channel of a photo, in which leaves are darkest against the sky. Raises Misuse where the circle
    lies outside the picture, or the picture has one gray level only."""
    _check_lens(blue, lens)
    angle, bearing, solid = photo.sky_of_pixels((blue.shape[0], blue.shape[1]), lens)
    inside = blue[solid > 0]
    if inside.min() == inside.max():
        raise Misuse("the picture is of one gray level inside its circle, so sky and leaves cannot be told apart.")
    level = photo.otsu_threshold(inside) if threshold is None else threshold
    error, limit = int(rules.number("photo_threshold_error")), rules.number("photo_zenith_deg")

    def open_pct(at: int) -> float:
        return 100 * photo.openness(blue > at, angle, solid, zenith_limit_deg=limit)

    sky = (blue > level) & (solid > 0)
    rings, sectors = int(rules.number("photo_rings")), int(rules.number("photo_sectors"))
    ways = season_at(latitude_deg, rules)
    through = photo.share_along(sky, angle, bearing, solid, ways, rings=rings, sectors=sectors)
    return SkyPhoto(
        threshold=level,
        automatic=threshold is None,
        openness_pct=open_pct(level),
        openness_low_pct=open_pct(level + error),
        openness_high_pct=open_pct(level - error),
        diffuse_light_pct=100 * photo.diffuse_share(sky, angle, solid, rules.number("sky_brightening")),
        season_light_pct=100 * through,
        sky=sky,
        lens=lens,
        notes=_notes(inside, open_pct(level + error), open_pct(level - error), rules),
    )


def _check_lens(blue: NDArray[np.uint8], lens: Lens) -> None:
    rows, columns = blue.shape[:2]
    out = lens.column - lens.radius_px < -1 or lens.column + lens.radius_px > columns + 1
    if out or lens.row - lens.radius_px < -1 or lens.row + lens.radius_px > rows + 1:
        raise Misuse(
            f"the circle of {lens.radius_px:g} pixels about {lens.column:g},{lens.row:g} leaves the picture "
            f"of {columns} by {rows}.",
            remedy="Give the pixel of the zenith and the radius of the horizon as --circle COLUMN,ROW,RADIUS.",
        )


def _notes(inside: NDArray[np.uint8], low: float, high: float, rules: Rules) -> tuple[str, ...]:
    notes = []
    burnt = float((inside == np.iinfo(np.uint8).max).mean())
    if burnt > rules.number("photo_burnt_share"):
        notes.append(
            f"{burnt:.0%} of the circle is burnt out: bright sky eats leaf edges; expose one or two stops less"
        )
    if high - low > rules.number("photo_doubt_points"):
        notes.append(
            f"the threshold matters by {high - low:.0f} points: take the photo under an even sky, and look "
            "at the overlay"
        )
    return tuple(notes)
