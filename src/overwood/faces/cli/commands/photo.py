"""overwood photo: canopy openness and light from fisheye photos."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import click

from overwood.faces.cli import output
from overwood.faces.cli.options import json_option

_PATH = click.Path(path_type=Path)


class Circle(click.ParamType):
    """Three numbers with commas between."""

    name = "column,row,radius"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[float, float, float]:
        if isinstance(value, tuple):
            return value
        match = re.fullmatch(r"\s*(\d+(?:\.\d+)?)\s*,\s*(\d+(?:\.\d+)?)\s*,\s*(\d+(?:\.\d+)?)\s*", str(value))
        if not match or float(match[3]) <= 0:
            self.fail(
                f"{value!r} is no circle; write it as 1500,1000,980: pixel column and row of the zenith, "
                "radius of the horizon",
                param,
                ctx,
            )
        return float(match[1]), float(match[2]), float(match[3])


@click.command("photo")
@click.argument("files", nargs=-1, required=True, type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option(
    "--lens",
    type=click.Choice(["equidistant", "equisolid", "orthographic", "stereographic"]),
    default="equidistant",
    show_default=True,
)
@click.option(
    "--circle",
    type=Circle(),
    help="Where the sky lies on the picture; the largest circle about its middle if left out.",
)
@click.option(
    "--top",
    type=click.FloatRange(0, 360),
    default=0.0,
    show_default=True,
    help="Bearing of the picture's top, degrees.",
)
@click.option(
    "--threshold", type=click.IntRange(0, 254), help="Gray level above which blue is sky; found by itself if left out."
)
@click.option(
    "--latitude",
    type=click.FloatRange(-66, 66),
    help="For the sun's path; the assumption light_latitude_deg if left out.",
)
@click.option("--overlay", type=_PATH, help="Folder for pictures of what was taken for sky: look at them.")
@click.option(
    "--readings", type=_PATH, help="Write the openness of each photo as rows of the sheet light_readings (csv)."
)
@click.option("--visit", default="", help="Name of the visit those rows belong to.")
@click.option("--rules", "overlay_rules", type=_PATH, envvar="OVERWOOD_RULES", help="An office's overlay of the rules.")
@json_option
def command(
    files: tuple[Path, ...],
    lens: str,
    circle: tuple[float, float, float] | None,
    top: float,
    threshold: int | None,
    latitude: float | None,
    overlay: Path | None,
    readings: Path | None,
    visit: str,
    overlay_rules: Path | None,
    as_json: bool,
) -> None:
    """Canopy openness, and the season's light it lets through, from fisheye photos taken straight up.

    Take them under an even sky before leaves color, level, with the top to the north, a stop or two under the meter.
    """
    from overwood.desk import photo
    from overwood.judgement.rules import load

    if readings and not visit:
        raise click.UsageError("--readings needs --visit NAME, the visit of kind 'light' that the rows belong to.")
    rules = load(overlay_rules)
    camera = photo.Camera(lens, top, circle)
    photos = [photo.read(file, rules, camera, threshold=threshold, latitude_deg=latitude) for file in files]
    if overlay:
        for one in photos:
            photo.write_overlay(one, overlay / f"{one.file.stem}-sky.png")
    if readings:
        photo.write_readings(photos, visit, readings)
    if as_json:
        output.as_json(photos)
        return
    _show(photos)
    if overlay:
        click.echo(
            f"Overlays written to {overlay}/: blue is what was taken for sky, circles lie 30, 60 and 90 "
            "degrees from the zenith."
        )
    if readings:
        click.echo(f"Readings written to {readings}.")


def _show(photos: list[Any]) -> None:
    rows = [
        (
            one.file.name,
            f"{one.reading.threshold}" + ("" if one.reading.automatic else " (given)"),
            f"{one.reading.openness_pct:.1f}",
            f"{one.reading.openness_low_pct:.1f} to {one.reading.openness_high_pct:.1f}",
            f"{one.reading.diffuse_light_pct:.1f}",
            f"{one.reading.season_light_pct:.1f}",
        )
        for one in photos
    ]
    headings = (
        "photo",
        "threshold",
        "openness, % of sky",
        "if the threshold is off",
        "overcast light, %",
        "season's light, %",
    )
    output.table(headings, rows, numeric=range(1, 6))
    for one in photos:
        output.bullets(one.file.name, one.reading.notes)
    click.echo(
        "Leaves lighter than the threshold count as sky and small gaps may be lost: the overlay shows it. "
        "Boles count as cover."
    )
