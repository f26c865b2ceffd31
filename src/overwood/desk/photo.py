"""Fisheye photos as a person asks for them: read, judged, drawn over, and written down as light readings."""

from __future__ import annotations

import csv
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from overwood.ground.errors import Misuse, NotFound
from overwood.judgement.light import sky_photo
from overwood.judgement.light.sky_photo import SkyPhoto
from overwood.judgement.rules import Rules
from overwood.science.light.photo import Lens

_SMALLEST_PX = 64
_SKY_COLOUR = (86, 180, 233)
_LINE_COLOUR = (230, 159, 0)
_RINGS_DEG = (30, 60, 90)
_COLUMNS = ("visit", "point", "light_pct", "measures", "device")


@dataclass(frozen=True)
class ReadPhoto:
    """A photo and what it shows."""

    file: Path
    pixels: NDArray[np.uint8] = field(repr=False, metadata={"inner": True})
    reading: SkyPhoto


@dataclass(frozen=True)
class Camera:
    """How photos were taken: the lens, where the top of the picture points, and the circle (column, row, radius) [px];
    the largest about the middle where none is given."""

    projection: str
    top_bearing_deg: float
    circle: tuple[float, float, float] | None = None


def read(file: Path, rules: Rules, camera: Camera, *, threshold: int | None, latitude_deg: float | None) -> ReadPhoto:
    """Read and judge one photo. Raises NotFound when
    the file is not there or is no picture; Misuse when it is too small, or its circle lies outside."""
    pixels = _pixels(file)
    rows, columns = pixels.shape[:2]
    column, row, radius = camera.circle or ((columns - 1) / 2, (rows - 1) / 2, min(rows, columns) / 2)
    lens = Lens(column, row, radius, camera.projection, camera.top_bearing_deg)
    latitude = rules.number("light_latitude_deg") if latitude_deg is None else latitude_deg
    return ReadPhoto(
        file, pixels, sky_photo.read(pixels[..., 2], lens, rules, latitude_deg=latitude, threshold=threshold)
    )


def _pixels(file: Path) -> NDArray[np.uint8]:
    from overwood.memory.exchange import pictures

    try:
        content = file.read_bytes()
    except OSError as fault:
        raise NotFound(
            f"{file} is no picture that can be read: {fault}.", remedy="Give the JPEG as the camera wrote it."
        ) from fault
    pixels = pictures.pixels(str(file), content)
    if min(pixels.shape[:2]) < _SMALLEST_PX:
        raise Misuse(
            f"{file} is {pixels.shape[1]} by {pixels.shape[0]} pixels.",
            remedy=f"At least {_SMALLEST_PX} on the shorter side.",
        )
    return pixels


def write_overlay(photo: ReadPhoto, target: Path) -> None:
    """The photo with what was taken for sky tinted, and circles at 30, 60 and 90 degrees from the zenith."""
    from PIL import Image, ImageDraw

    from overwood.science.light.photo import zenith_deg

    shown = photo.pixels.copy()
    shown[photo.reading.sky] = (
        shown[photo.reading.sky].astype(np.uint16) + np.array(_SKY_COLOUR, dtype=np.uint16)
    ) // 2
    picture, lens = Image.fromarray(shown), photo.reading.lens
    pen, shares = ImageDraw.Draw(picture), np.linspace(0, 1, 2001)
    angles = zenith_deg(shares, lens.projection)
    for ring in _RINGS_DEG:
        radius = lens.radius_px * float(np.interp(ring, angles, shares))
        box = (lens.column - radius, lens.row - radius, lens.column + radius, lens.row + radius)
        pen.ellipse(box, outline=_LINE_COLOUR, width=max(1, round(lens.radius_px / 150)))
    target.parent.mkdir(parents=True, exist_ok=True)
    picture.save(target)


def reading_rows(photos: list[ReadPhoto], visit: str) -> list[dict[str, Any]]:
    """One row of the sheet light_readings for each photo; the file's name is the point."""
    return [
        {
            "visit": visit,
            "point": photo.file.stem,
            "light_pct": round(photo.reading.openness_pct, 1),
            "measures": "openness",
            "device": "fisheye photo",
        }
        for photo in photos
    ]


def write_readings(photos: list[ReadPhoto], visit: str, target: Path) -> None:
    """The rows as csv, ready to be brought in with the visit they name."""
    with target.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, fieldnames=_COLUMNS)
        writer.writeheader()
        writer.writerows(reading_rows(photos, visit))
