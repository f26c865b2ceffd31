"""overwood quarantine: files with faults that wait."""

from __future__ import annotations

import datetime as dt
import sys
from pathlib import Path

import click

from overwood.faces.cli import output
from overwood.faces.cli.commands import import_
from overwood.faces.cli.options import book_option, json_option, rules_option


@click.command("quarantine")
@click.argument("action", type=click.Choice(("list", "show", "release", "discard")), default="list")
@click.argument("number", type=int, required=False)
@click.option(
    "--replace",
    multiple=True,
    metavar="VISIT",
    help="Let good rows change stored values of this visit; all: of every one.",
)
@book_option
@rules_option
@json_option
def command(
    action: str, number: int | None, replace: tuple[str, ...], book: Path | None, overlay: Path | None, as_json: bool
) -> None:
    """List waiting files, show the faults of one, release its good rows, or set it aside."""
    from overwood.desk import answers, entering, importing, session

    session.open_book(book)
    if action != "list" and number is None:
        raise click.UsageError(f"Say which file: overwood quarantine {action} NUMBER.")
    if action == "release" and number is not None:
        consent = entering.ALL if "all" in replace else frozenset(replace)
        report = importing.release(
            number, today=dt.date.today(), replace=consent, rules=answers.rules(overlay) if overlay else None
        )
        import_.show(report)
        sys.exit(1 if report.needs_consent else 0)
    if action == "discard" and number is not None:
        importing.discard(number)
        click.echo(f"File {number} is set aside.")
        return
    waiting = [entry for entry in importing.quarantine() if number in (None, entry["id"])]
    if as_json:
        output.as_json(waiting)
        return
    if not waiting:
        click.echo("No file waits in quarantine.")
    for entry in waiting:
        click.echo(
            f"{entry['id']}  {entry['file_name']}, {len(entry['problems'])} problems, since "
            f"{entry['entered_at']:%d %b %Y}"
        )
        if action == "show":
            from overwood.ground.errors import Problem

            for problem in entry["problems"]:
                click.echo(f"  {Problem(**problem)}")
