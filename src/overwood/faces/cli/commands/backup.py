"""overwood backup: copies of the book."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from overwood.faces.cli.options import book_option


@click.command("backup")
@click.argument("target", type=click.Path(path_type=Path), required=False)
@click.option("--restore", "source", type=click.Path(path_type=Path), help="Put this backup in the book's place.")
@click.option(
    "--drill",
    is_flag=True,
    help="Prove that the copy TARGET, or one made now, opens and is the book; nothing is changed.",
)
@book_option
def command(target: Path | None, source: Path | None, drill: bool, book: Path | None) -> None:
    """Copy the book to TARGET, or put a copy back with --restore. The book as it was is kept.

    With --drill, a copy is opened by this program in a place of its own and compared with the book row by row. Exit
    status 1 where a copy made now differs, or an older one holds rows that the book does not have.
    """
    from overwood.desk import session

    if source is not None and drill:
        raise click.UsageError("--drill and --restore do not go together: a drill puts nothing in place.")
    session.open_book(book, create=source is not None)
    if drill:
        _drill(target)
    elif source is not None:
        copy = session.restore(source)
        click.echo(f"{source} is now the book. The book as it was is kept at {copy}.")
    else:
        click.echo(f"Copied to {session.backup(target)}.")


def _drill(target: Path | None) -> None:
    from overwood.desk import session

    seen = session.drill(target)
    rows = sum(table.copy_rows for table in seen.tables)
    click.echo(
        f"The copy ({seen.copy}) is sound and opens: {seen.stands} stands, {rows:,} rows in {len(seen.tables)} tables."
    )
    for table in seen.tables:
        if not table.is_equal:
            words = f"{table.book_rows:,} rows in the book, {table.copy_rows:,} in the copy"
            click.echo(
                f"  {table.table}: {words}"
                + (f", {table.changed_rows:,} of them not as in the book" if table.changed_rows else "")
            )
    if seen.is_equal:
        click.echo("Every row of every table is equal.")
    elif seen.is_fresh:
        click.echo(
            "A copy made now differs from the book: was the desk written to meanwhile? Try again, and ask "
            "for help if it stays."
        )
        sys.exit(1)
    else:
        click.echo("The book went on after this copy: what is listed would be lost by putting it back.")
