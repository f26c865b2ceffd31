"""overwood property: every stand in one table."""

from __future__ import annotations

from typing import Any

import click

from overwood.faces.cli import output
from overwood.faces.cli.options import asks
from overwood.ground.errors import OverwoodError


@click.command("property")
@asks
def command(ask: Any, as_json: bool) -> None:
    """All stands of the book: what each is, its next step and season, why, how firm, what is missing."""
    from overwood.desk import answers

    standing = answers.property_standing(ask)
    rows = [one.advice for one in standing.judged]
    if as_json:
        output.as_json(rows)
    elif rows:
        show(rows)
    if standing.unjudged:
        raise OverwoodError("\n".join(f"{one.stand} could not be judged: {one.reason}" for one in standing.unjudged))
    if not rows and not as_json:
        click.echo(
            "The book holds no stand yet. Bring records in with `overwood import FILE`; `overwood "
            "template` writes empty sheets."
        )


def show(advices: list[Any]) -> None:
    """The table of the main job."""
    rows = []
    for advice in advices:
        window = str(advice.window) if advice.window else "-"
        if advice.second_window:
            window += f", or {advice.second_window}"
        rows.append(
            (
                f"{advice.stand} {advice.name}",
                advice.what_it_is,
                advice.title,
                window,
                advice.why_in_one_line,
                advice.firm.of_ten,
                ", ".join(advice.missing) or "nothing",
            )
        )
    day = advices[0].on
    output.table(
        ("stand", "what it is", "next step", "when", "why", "how firm", "missing"),
        rows,
        title=f"Next steps, {day.day} {day:%B %Y} (rulebook {advices[0].rulebook_version})",
    )
