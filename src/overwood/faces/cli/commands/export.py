"""overwood export: everything out."""

from __future__ import annotations

from pathlib import Path

import click

from overwood.faces.cli import output
from overwood.faces.cli.options import book_option, json_option


@click.command("export")
@click.argument("target", type=click.Path(path_type=Path))
@book_option
@json_option
def command(target: Path, book: Path | None, as_json: bool) -> None:
    """Write the book as a data package to TARGET: a folder, or a zip file where the name ends so."""
    from overwood.desk import session

    session.open_book(book)
    rows = session.export(target)
    if as_json:
        output.as_json({"target": str(target), "rows": rows})
        return
    click.echo(f"{target}: " + ", ".join(f"{count:,} {table}" for table, count in rows.items()))
