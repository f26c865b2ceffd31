"""overwood advise: the next step of one stand."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from overwood.faces.cli import output
from overwood.faces.cli.options import asks, prices_option
from overwood.ground import measures
from overwood.ground.shell import shell_word

# Good for going on, against it, or silent.
_SIGNS = {True: "+", False: "-", None: "?"}


@click.command("advise")
@click.argument("stand")
@prices_option
@asks
def command(stand: str, prices: Path | None, ask: Any, as_json: bool) -> None:
    """The next step of STAND: season, reasons, doubts, what would change it, what was set aside, cautions."""
    from overwood.desk import answers

    advice = answers.advice(stand, answers.priced(ask, prices))
    if as_json:
        output.as_json(advice)
        return
    show(advice)


def show(advice: Any) -> None:
    """Advice in words."""
    area = f", {measures.amount(advice.area_ac, 'ac', 'g')}" if advice.area_ac else ""
    output.heading(f"{advice.stand} {advice.name}{area}: {advice.what_it_is}")
    when = f", {advice.window}" if advice.window else ""
    second = f" (or {advice.second_window})" if advice.second_window else ""
    click.echo(click.style(f"Next step: {advice.title}{when}{second}", bold=True))
    click.echo(f"How firm: {advice.firm.words}")
    output.bullets("Why", advice.why)
    output.bullets("Doubts", [doubt.words for doubt in advice.doubts])
    output.bullets("What would change this", advice.would_change)
    output.bullets("Thresholds of the rulebook that would change it within their own range", advice.thresholds)
    output.bullets("Measure next", advice.measure_next)
    output.bullets("Then", advice.follow_on)
    output.bullets("Set aside", [f"{choice}: {because}" for choice, because in advice.set_aside])
    output.bullets("Conflicts, for you to decide", [conflict_words(conflict) for conflict in advice.conflicts])
    if advice.overridden:
        output.bullets("On file: a decision against the advice", [advice.overridden])
    output.heading("Gates")
    for gate in advice.gates:
        line = f"{gate.question} {gate.answer.capitalize()}: {gate.why}"
        click.echo(
            click.wrap_text(line, width=110, initial_indent=f"  {_SIGNS[gate.good]} ", subsequent_indent=" " * 4)
        )
    output.bullets("Cautions", advice.cautions)
    stand = shell_word(advice.stand)
    figures = f"`overwood evidence {stand}`; any one of them: `overwood why {stand} NAME`"
    click.echo(f"Figures: {figures}. Rulebook {advice.rulebook_version}.")


def conflict_words(conflict: Any) -> str:
    """Both aims of a conflict, and the days that are left."""
    left = f"; {conflict.days_left} days are left" if conflict.days_left is not None else ""
    return f"{conflict.what}: here {conflict.ours}; against it {conflict.theirs} ({conflict.source}){left}"
