"""overwood mappings: how the headings, units and codes of foreign sheets are remembered."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from overwood.faces.cli import output
from overwood.faces.cli.commands.import_ import pairs
from overwood.faces.cli.options import book_option, json_option


@click.command("mappings")
@click.argument("number", type=int, required=False)
@click.option(
    "--map",
    "columns",
    multiple=True,
    callback=pairs,
    metavar="HEADING=COLUMN",
    help="Read a heading as a column; - leaves it out.",
)
@click.option(
    "--unit",
    "units",
    multiple=True,
    callback=pairs,
    metavar="COLUMN=UNIT",
    help="Read a column in a unit, such as dbh_in=cm.",
)
@click.option(
    "--code",
    "codes",
    multiple=True,
    callback=pairs,
    metavar="WRITTEN=CODE",
    help="Read a code so, such as RO=833; RO= forgets it.",
)
@click.option("--forget", is_flag=True, help="Forget the mapping; the next such sheet is asked about anew.")
@book_option
@json_option
def command(
    number: int | None,
    columns: dict[str, str],
    units: dict[str, str],
    codes: dict[str, str],
    forget: bool,
    book: Path | None,
    as_json: bool,
) -> None:
    """List the kept mappings; with a NUMBER show one, mend it, or forget it.

    A mapping holds headings, units and codes of a layout and is found again by its headings. It holds no stand, no day
    and no plot size: those are asked for every file.
    """
    from overwood.desk import mappings, session

    session.open_book(book)
    if number is None:
        if columns or units or codes or forget:
            raise click.UsageError("Say which mapping: overwood mappings NUMBER; `overwood mappings` lists them.")
        _list(as_json)
        return
    if forget:
        click.echo(f"The mapping {mappings.forget(number).name!r} is forgotten.")
        return
    changed = columns or units or codes
    one = mappings.change(number, columns=columns, units=units, codes=codes) if changed else mappings.one(number)
    if as_json:
        output.as_json(one)
        return
    _show(one)


def _list(as_json: bool) -> None:
    from overwood.desk import mappings

    entries = mappings.kept()
    if as_json:
        output.as_json(entries)
        return
    if not entries:
        click.echo("No mapping is kept yet; one is kept when a file with its own headings comes in.")
        return
    rows = [
        (str(one.number), one.name, one.mapping.table, ", ".join(one.mapping.headings), f"{one.saved_at:%d %b %Y}")
        for one in entries
    ]
    output.table(("number", "name", "table", "headings", "kept"), rows)


def _show(one: Any) -> None:
    mapping = one.mapping
    rows = []
    for heading in mapping.headings:
        column = mapping.columns.get(heading, "not read, asked about anew")
        rows.append((heading, "left out" if column == "-" else column, mapping.units.get(column, "")))
    output.table(
        ("heading", "is taken as", "read in"), rows, title=f"{one.number} {one.name}: a sheet of {mapping.table}"
    )
    for column, codes in mapping.codes.items():
        if codes:
            click.echo(f"  {column}: " + ", ".join(f"{written} = {code}" for written, code in codes.items()))
