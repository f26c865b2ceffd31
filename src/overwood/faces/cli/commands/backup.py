"""overwood backup: copies of the book."""

from __future__ import annotations

from pathlib import Path

import click

from overwood.faces.cli.options import book_option


@click.command("backup")
@click.argument("target", type=click.Path(path_type=Path), required=False)
@click.option("--restore", "source", type=click.Path(path_type=Path), help="Put this backup in the book's place.")
@book_option
def command(target: Path | None, source: Path | None, book: Path | None) -> None:
    """Copy the book to TARGET, or put a copy back with --restore. The book as it was is kept."""
    from overwood.desk import session

    session.open_book(book, create=source is not None)
    if source is not None:
        kept = session.restore(source)
        click.echo(f"{source} is now the book. The book as it was is kept at {kept}.")
        return
    click.echo(f"Copied to {session.backup(target)}.")
