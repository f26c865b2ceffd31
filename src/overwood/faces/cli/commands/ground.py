"""overwood ground: streams, roads and sites in from geodata, and the acres that are left to treat."""

from __future__ import annotations

import datetime as dt
import sys
from pathlib import Path
from typing import Any

import click

from overwood.faces.cli import output
from overwood.faces.cli.options import asks


@click.command("ground")
@click.argument("file", type=click.Path(path_type=Path), required=False)
@click.option("--yes", "accept", is_flag=True, help="Write the features that are shown.")
@click.option("--kind", default="", help="What every shape is, where the file has no column kind.")
@click.option("--buffer-ft", type=float, help="Ground kept on each side of every shape, in place of the rulebook's.")
@click.option("--crs", "system", default="", metavar="SYSTEM", help="Coordinate system, where the file names none.")
@click.option("--layer", default="", help="Only this layer of the file.")
@asks
def command(
    file: Path | None,
    accept: bool,
    kind: str,
    buffer_ft: float | None,
    system: str,
    layer: str,
    ask: Any,
    as_json: bool,
) -> None:
    """Bring streams, ponds, springs, graves and other sites, roads, landings, skid trails and lines in from FILE.

    FILE is a GeoPackage, a zipped shapefile, GeoJSON, KML, KMZ, GPX or well-known text with points, lines or areas.
    Each shape is laid over the outlines of the stands; the ground around it is taken out of the acres that are treated,
    and mapped trees beside water and sites stay. Without --yes nothing is written; without FILE it lists what is on
    record.
    """
    from overwood.desk import ground_features

    if file is None:
        _list(ground_features.standing(), as_json)
        return
    asked = ground_features.Asked(kind=kind, buffer_ft=buffer_ft, system=system, layer=layer)
    look = ground_features.look(file.name, file.read_bytes(), asked, ask.rules)
    report = ground_features.write(look, dt.date.today()) if accept else None
    if as_json:
        output.as_json({**output.plain(look), "entry": report.batch if report else None})
    else:
        _show(look)
        click.echo(_outcome(look, report, accept))
    sys.exit(1 if look.problems else 0)


def _list(standing: Any, as_json: bool) -> None:
    if as_json:
        output.as_json({name: output.plain(ground) for name, ground in standing})
        return
    for name, ground in standing:
        output.bullets(f"Stand {name}", ground.lines)
    if not standing:
        click.echo("No stream, road or site is on record: bring a file in with `overwood ground FILE`.")


def _show(look: Any) -> None:
    click.echo(f"{look.file}: {look.system}")
    for one in look.stands:
        output.bullets(f"Stand {one.stand}", one.ground.lines)
    output.bullets("Ground kept on each side", [f"{kind}: {why}" for kind, why in look.widths.items()])
    output.bullets("Notes", look.notes)
    output.bullets("Not taken", [str(problem) for problem in look.problems])


def _outcome(look: Any, report: Any, accept: bool) -> str:
    if not accept:
        return "Nothing was written. Add --yes to write it."
    if report.batch is None:
        return f"{look.file}: these features are in the book already; nothing was changed."
    return (
        f"{look.file}: {sum(len(one.rows) for one in look.stands)} features written (entry {report.batch}); `overwood "
        f"entries --undo {report.batch}` takes them back. Flag them on the ground before any work."
    )
