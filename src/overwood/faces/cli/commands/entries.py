"""overwood entries: what was brought in, and undoing it."""

from __future__ import annotations

from pathlib import Path

import click

from overwood.faces.cli import output
from overwood.faces.cli.options import book_option, json_option


@click.command("entries")
@click.option("--undo", type=int, metavar="NUMBER", help="Take an entry out of the current view; its rows stay in the history.")
@book_option
@json_option
def command(undo: int | None, book: Path | None, as_json: bool) -> None:
    """List what was brought in, newest first."""
    from overwood.desk import session, undoing

    session.open_book(book)
    if undo is not None:
        undoing.undo(undo)
        click.echo(f"Entry {undo} is withdrawn.")
        return
    found = session.entries()
    if as_json:
        output.as_json(found)
        return
    if not found:
        click.echo("Nothing was brought in yet.")
        return
    rows = [
        (
            str(e["id"]),
            e["file_name"],
            f"{e['entered_at']:%d %b %Y %H:%M}",
            ", ".join(f"{n:,} {t}" for t, n in e["rows"].items()),
            "withdrawn" if e["withdrawn_at"] else "",
        )
        for e in found
    ]
    output.table(("entry", "file", "when", "rows", ""), rows)
