"""overwood entries: what was brought in, undoing it with all that hangs on it, and taking an undo back."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import click

from overwood.faces.cli import output
from overwood.faces.cli.options import book_option, json_option


@click.command("entries")
@click.option(
    "--undo", type=int, metavar="NUMBER", help="Take an entry out of the current view; its rows stay in the history."
)
@click.option(
    "--undo-visit", default="", metavar="VISIT", help="Take one visit out, with everything that was entered for it."
)
@click.option("--redo", type=int, metavar="NUMBER", help="Take an undo back, by the number it was given.")
@click.option("--yes", is_flag=True, help="Undo without asking, also where other entries hang on it.")
@book_option
@json_option
def command(undo: int | None, undo_visit: str, redo: int | None, yes: bool, book: Path | None, as_json: bool) -> None:
    """List what was brought in, newest first; undo an entry or a visit, and take an undo back."""
    from overwood.desk import session, undoing

    session.open_book(book)
    if redo is not None:
        undoing.redo(redo)
        click.echo(f"Undo {redo} is taken back.")
        return
    if undo is not None:
        _undo(undoing.undo_preview(undo), f"Entry {undo}", lambda: undoing.undo(undo), yes)
        return
    if undo_visit:
        _undo(undoing.visit_preview(undo_visit), f"Visit {undo_visit}", lambda: undoing.undo_visit(undo_visit), yes)
        return
    _list(as_json)


def _undo(preview: Any, what: str, work: Any, yes: bool) -> None:
    """Show what goes, ask where somebody can answer, and undo."""
    rows = ", ".join(f"{count:,} {table}" for table, count in preview.rows.items()) or "no rows"
    click.echo(f"{what}: {rows} would be taken out.")
    lines = [
        f"entry {one.number} {one.file_name}{' by ' + one.entered_by if one.entered_by else ''}: "
        + ", ".join(f"{count:,} {table}" for table, count in one.rows.items())
        for one in preview.entries
    ]
    output.bullets("  Entries that go", lines)
    output.bullets("  Visits that go", preview.visits)
    if not yes and sys.stdin.isatty():
        click.confirm("Take all of it out?", abort=True)
    elif not yes:
        click.echo("Nothing was undone: nobody can be asked here. Run the same command with --yes to take it out.")
        sys.exit(1)
    number = work()
    click.echo(f"{what} is withdrawn (undo {number}). To take that back: overwood entries --redo {number}")


def _list(as_json: bool) -> None:
    from overwood.desk import session, undoing

    entries, rulings = session.entries(), [one for one in undoing.rulings() if one["kind"] == "undo"]
    if as_json:
        output.as_json({"entries": entries, "undone": rulings})
        return
    if not entries:
        click.echo("Nothing was brought in yet.")
        return
    rows = [
        (
            str(one["id"]),
            one["file_name"],
            f"{one['entered_at']:%d %b %Y %H:%M}",
            ", ".join(f"{count:,} {table}" for table, count in one["rows"].items()),
            "withdrawn" if one["withdrawn_at"] else "",
        )
        for one in entries
    ]
    output.table(("entry", "file", "when", "rows", ""), rows)
    output.bullets(
        "Undone, and can be taken back",
        [f"undo {one['id']}: {one['about']}" for one in rulings if one["lifted_at"] is None],
    )
