"""overwood changes: what changed since the visit before."""

from __future__ import annotations

from typing import Any

import click

from overwood.faces.cli import output
from overwood.faces.cli.options import asks


@click.command("changes")
@click.argument("stand")
@asks
def command(stand: str, ask: Any, as_json: bool) -> None:
    """Compare the last two visits of each kind to STAND, and list the work in between."""
    from overwood.desk import answers

    between = answers.changes(stand, ask)
    if as_json:
        output.as_json(between)
        return
    if not between.between:
        click.echo(f"{stand} was visited once or not at all of each kind: there is nothing to compare yet.")
        return
    for kind, (first, last) in between.between.items():
        click.echo(f"{kind}: {first:%d %b %Y} and {last:%d %b %Y}")
    rows = []
    for change in between.figures:
        before, now = output.shown(change.before), output.shown(change.now)
        rows.append(
            (
                change.figure,
                f"{before[0]} ({before[1]})" if before[1] else before[0],
                f"{now[0]} ({now[1]})" if now[1] else now[0],
                now[2],
                change.word + (f" (the same {change.points} points)" if change.points else ""),
            )
        )
    output.table(("figure", "before", "now", "unit", ""), rows)
    output.bullets("Work since", between.work)
    output.bullets("Look at this: two visits of one kind on one day", between.same_day)
