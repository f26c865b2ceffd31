"""overwood due: what is due when."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import click

from overwood.faces.cli import output
from overwood.faces.cli.options import Day, asks


@click.command("due")
@click.option("--until", type=Day(), help="Last day to look ahead; two years if left out.")
@click.option("--ics", type=click.Path(path_type=Path), help="Write the list as a calendar file (iCalendar).")
@asks
def command(until: dt.date | None, ics: Path | None, ask: Any, as_json: bool) -> None:
    """What is due in every stand, in the order of the calendar."""
    from overwood.desk import answers, calendar

    entries = answers.due(ask, until or ask.on + dt.timedelta(days=730))
    if ics:
        calendar.write(ics, entries, ask.on)
    if as_json:
        output.as_json(entries)
        return
    if not entries:
        click.echo("Nothing is due. Bring records in with `overwood import FILE`, or look further ahead with --until.")
    else:
        rows = [
            (str(e.window), e.stand, e.what, "" if e.days_left is None else str(e.days_left), e.why) for e in entries
        ]
        output.table(
            ("when", "stand", "what", "days left", "why"), rows, title=f"Due, seen from {ask.on:%d %b %Y}", numeric=(3,)
        )
    if ics:
        click.echo(f"Calendar written to {ics}.")
