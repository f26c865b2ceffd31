"""overwood mend-species: species that were not understood when they came in, and what they are."""

from __future__ import annotations

import datetime as dt
import sys
from pathlib import Path

import click

from overwood.faces.cli import output
from overwood.faces.cli.options import book_option, json_option


@click.command("mend-species")
@click.argument("meaning", required=False, metavar="[WRITTEN=SPECIES]")
@click.option("--stand", default="", help="Only the rows of this stand.")
@click.option("--entry", type=int, help="Only the rows of this entry.")
@book_option
@json_option
def command(meaning: str | None, stand: str, entry: int | None, book: Path | None, as_json: bool) -> None:
    """List the species that were not understood, or say what one is, such as CAGL=403.

    Every row written so is corrected; the import stays, and the row before stays in the history.
    """
    from overwood.desk import mending, session
    from overwood.faces.cli.commands import import_

    session.open_book(book)
    if meaning is None:
        _list(as_json)
        return
    written, sign, meant = meaning.rpartition("=")
    if not sign or not written.strip():
        raise click.UsageError(f"{meaning!r} is not WRITTEN=SPECIES, such as CAGL=403.")
    report = mending.mend_species(written.strip(), meant.strip(), today=dt.date.today(), stand=stand, entry=entry)
    if as_json:
        output.as_json(report)
    else:
        import_.show(report)
    sys.exit(1 if report.faults else 0)


def _list(as_json: bool) -> None:
    from overwood.desk import mending

    unknown = mending.unknown_species()
    if as_json:
        output.as_json(unknown)
        return
    if not unknown:
        click.echo("Every species of the book is known.")
        return
    rows = [
        (one.written, one.nearest, one.stand, one.table, f"{one.rows:,}", f"{one.entry} {one.file}") for one in unknown
    ]
    output.table(
        ("written", "nearest", "stand", "table", "rows", "entry"),
        rows,
        title="Not understood, counted as unknown",
        numeric=(4,),
    )
    click.echo(f"Say what one is: overwood mend-species {unknown[0].written}=SPECIES")
