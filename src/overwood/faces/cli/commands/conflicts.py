"""overwood conflicts: records that claim one key and differ, side by side, and which of them stands."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from overwood.faces.cli import output
from overwood.faces.cli.options import book_option, json_option


@click.command("conflicts")
@click.option(
    "--settle", default="", metavar="RECORD", help="The record that stands, by its number; its rivals are set aside."
)
@click.option("--because", default="", metavar="WORDS", help="Why it stands; kept with the settlement.")
@book_option
@json_option
def command(settle: str, because: str, book: Path | None, as_json: bool) -> None:
    """List records that claim one key and differ: two makers' counts of one tree, two corrections of one record.

    None of them is in a figure until one is said to stand. A settlement can be taken back: overwood entries --redo
    NUMBER.
    """
    from overwood.desk import conflicts, session

    session.open_book(book)
    waiting = conflicts.open_conflicts()
    if settle:
        number = conflicts.settle(conflicts.table_of(waiting, settle), settle, because=because)
        click.echo(f"It stands (settlement {number}). To take that back: overwood entries --redo {number}")
        return
    if as_json:
        output.as_json(waiting)
        return
    if not waiting:
        click.echo("No records are in dispute.")
        return
    for one in waiting:
        _show(one)
    click.echo("No figure uses them. Say which stands: overwood conflicts --settle RECORD --because WORDS")


def _show(conflict: Any) -> None:
    """One dispute: the fields in which the records differ, a column for each record."""
    click.echo(f"{conflict.table} {conflict.key}{f', stand {conflict.stand}' if conflict.stand else ''}")
    heads = ("field", *(side.id for side in conflict.sides))
    rows = [(name, *(side.values[name] or "blank" for side in conflict.sides)) for name in conflict.differs]
    rows.append(
        (
            "made",
            *(f"{side.made_at:%d %b %Y %H:%M}{f' on {side.device}' if side.device else ''}" for side in conflict.sides),
        )
    )
    rows.append(
        ("entry", *(f"{side.entry}{f' by {side.entered_by}' if side.entered_by else ''}" for side in conflict.sides))
    )
    output.table(heads, rows)
