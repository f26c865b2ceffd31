"""overwood where: the files and folders that belong to a person's work, for copying, moving and removing them."""

from __future__ import annotations

from pathlib import Path

import click

from overwood.faces.cli.options import book_option, json_option


@click.command("where")
@book_option
@json_option
def command(book: Path | None, as_json: bool) -> None:
    """Say where the book, its copies, the log and the program lie.

    Nothing is opened, made or changed.
    """
    from overwood.desk import keeping
    from overwood.faces.cli import output

    places = keeping.places(book)
    if as_json:
        output.as_json({"places": places})
        return
    for place in places:
        size = "not there" if place.size_bytes is None else f"{place.size_bytes / 1e6:,.1f} MB"
        click.echo(f"{place.what}: {place.path} ({size})\n    {place.about}")
