"""overwood outlines: outlines of stands in from geodata and out again."""

from __future__ import annotations

import datetime as dt
import sys
from pathlib import Path
from typing import Any

import click

from overwood.faces.cli import output
from overwood.faces.cli.options import OutFile, book_option, json_option


def _pairs(ctx: click.Context, param: click.Parameter, values: tuple[str, ...]) -> dict[str, str]:
    """SHAPE=STAND; the name of a shape may itself hold the sign."""
    pairs = {}
    for value in values:
        shape, sign, stand = value.rpartition("=")
        if not sign or not shape or not stand:
            raise click.BadParameter(f"{value!r} is not SHAPE=STAND", ctx=ctx, param=param)
        pairs[shape.strip()] = stand.strip()
    return pairs


@click.command("outlines")
@click.argument("file", type=click.Path(path_type=Path), required=False)
@click.option("--yes", "accept", is_flag=True, help="Write the outlines that are shown.")
@click.option("--name", "name_column", default="", metavar="COLUMN", help="Column of the file that names the stand.")
@click.option(
    "--stand",
    "stands",
    multiple=True,
    callback=_pairs,
    metavar="SHAPE=STAND",
    help="Say which stand a shape is; - leaves it out.",
)
@click.option(
    "--area", default="", metavar="outline|record", help="Which acres hold where the outline and the record differ."
)
@click.option(
    "--crs",
    "system",
    default="",
    metavar="SYSTEM",
    help="Coordinate system, such as EPSG:26917, where the file names none; or to write.",
)
@click.option("--layer", default="", help="Layer of a file that has several.")
@click.option("--swap", is_flag=True, help="The file gives latitude first: turn each corner round.")
@click.option("--new", is_flag=True, help="Make a stand of each shape that is none of the book.")
@click.option("--property", "owner", default="", metavar="NAME", help="Property of new stands.")
@click.option(
    "--out", type=OutFile(), help="Write the book's outlines to this file (.gpkg .zip .geojson .kml .kmz .gpx .wkt)."
)
@click.option("--only", multiple=True, metavar="STAND", help="With --out: only this stand; may be given again.")
@book_option
@json_option
def command(
    file: Path | None,
    accept: bool,
    name_column: str,
    stands: dict[str, str],
    area: str,
    system: str,
    layer: str,
    swap: bool,
    new: bool,
    owner: str,
    out: Path | None,
    only: tuple[str, ...],
    book: Path | None,
    as_json: bool,
) -> None:
    """Bring outlines of stands in from FILE, or write them with --out.

    FILE is a GeoPackage, a zipped shapefile, GeoJSON, KML, KMZ, a GPX track or well-known text, in any coordinate
    system. Shapes are matched to stands by name, else by the land they lie on; what is not sure is asked. Without --yes
    nothing is written.
    """
    from overwood.desk import outline_files, session

    if (file is None) == (out is None):
        raise click.UsageError("Name a file of outlines to bring in, or write the book's with --out FILE.")
    session.open_book(book)
    if out is not None:
        out.write_bytes(outline_files.give_out(out.suffix.lower().lstrip("."), only, system))
        click.echo(f"Outlines written to {out}.")
        return
    assert file is not None
    answers = outline_files.OutlineAnswers(
        system=system,
        layer=layer,
        name_column=name_column,
        stands=stands,
        swap=swap,
        area=area,
        new=new,
        property=owner,
    )
    look = outline_files.look(file.name, file.read_bytes(), answers)
    report = outline_files.write(look, answers, dt.date.today()) if accept else None
    if as_json:
        output.as_json({**output.plain(look), "entry": report.batch if report else None})
    else:
        show(look)
        click.echo(_outcome(look, report, accept))
    sys.exit(1 if look.problems else 0)


def show(look: Any) -> None:
    """The outlines of a file as they would come in, what must be said, what is wrong."""
    rows = [
        (
            one.label,
            one.stand,
            _HOW[one.how],
            f"{one.area_ac:.2f}",
            "" if one.noted_area_ac is None else f"{one.noted_area_ac:.2f}",
            _does(one),
        )
        for one in look.outlines
    ]
    named = f"named by {look.name_column!r}" if look.name_column else "without a column of names"
    headings = ("shape", "stand", "known by", "outline, ac", "noted, ac", "what it does")
    output.table(headings, rows, title=f"{look.file}: {look.system}, {named}", numeric=(3, 4))
    output.bullets("Notes", [*look.notes, *(f"{one.label}: {note}" for one in look.outlines for note in one.notes)])
    output.bullets("Left out", look.left_out)
    output.bullets("Not taken", [str(problem) for problem in look.problems])
    output.bullets("Questions", [one.text for one in look.questions])


_HOW = {"name": "its name", "answer": "your word", "new": "new"}


def _does(one: Any) -> str:
    outline = "makes the stand" if one.is_new else "replaces its outline" if one.had_outline else "gives it an outline"
    return f"{outline}, takes the acres" if one.takes_area and not one.is_new else outline


def _outcome(look: Any, report: Any, accept: bool) -> str:
    if not accept:
        return "Nothing was written. " + (
            "Answer the questions, then add --yes." if look.questions else "Add --yes to write it."
        )
    if report.batch is None:
        return f"{look.file}: these outlines are in the book already; nothing was changed."
    return (
        f"{look.file}: {len(look.outlines)} outlines written (entry {report.batch}); `overwood entries --undo "
        f"{report.batch}` takes them back."
    )
