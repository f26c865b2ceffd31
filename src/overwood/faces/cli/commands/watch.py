"""overwood watch: is the reproduction coming, and what do the counts teach?"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from overwood.faces.cli import output
from overwood.faces.cli.options import asks


@click.command("watch")
@click.argument("stand")
@click.option("--draws", type=click.IntRange(200, 50_000), default=4_000, show_default=True, help="Draws of the assumptions.")
@click.option("--ahead", type=click.IntRange(1, 15), default=5, show_default=True, help="Years to look ahead from the last count.")
@click.option("--seed", type=click.IntRange(0), default=1, show_default=True, help="The same seed gives the same answer.")
@click.option("--alone", is_flag=True, help="Learn from this stand alone, not from the other stands of the book.")
@click.option("--sheet", type=click.Path(path_type=Path), help="Write the monitoring sheet for the next count as PDF, and stop.")
@asks
def command(stand: str, draws: int, ahead: int, seed: int, alone: bool, sheet: Path | None, ask: Any, as_json: bool) -> None:
    """Later counts of STAND against the forecast made at its first: on course, behind or ahead; what they teach; when the release gate opens."""
    from overwood.desk import answers, futures

    if sheet:
        from overwood.faces.papers import monitoring_sheet

        monitoring_sheet.write(answers.stand_file(stand).as_of(ask.on), answers.evidence(stand, ask), ask.on, sheet)
        click.echo(f"Monitoring sheet written to {sheet}.")
        return
    found = futures.watch(stand, ask, draws=draws, ahead=ahead, seed=seed, pool=not alone)
    if as_json:
        output.as_json(
            {
                **vars(found),
                "scored": [{**vars(row), "seen": vars(row.seen)} for row in found.scored],
                "learned": [vars(row) for row in found.learned],
                "ahead": [vars(row) for row in found.ahead],
            }
        )
        return
    _show(found)


def _show(found: Any) -> None:
    rows = [
        (
            f"{row.seen.on:%b %Y}",
            f"{row.height_ft:g} ft and more",
            f"{row.seen.oaks_ac[(1.0, 3.0, 4.5).index(row.height_ft)]:,.0f}",
            f"{row.middle_ac:,.0f} ({row.low_ac:,.0f} to {row.high_ac:,.0f})",
            row.verdict,
        )
        for row in found.scored
    ]
    headings = ("count", "oaks", "counted/ac", "forecast, nine in ten", "verdict")
    output.table(headings, rows, title=f"{found.stand}: counts beside the forecast made at {found.first}", numeric=(2, 3))
    taught_rows: list[tuple[str, ...]] = [
        (row.name, *(f"{middle:.3g} ({low:.3g} to {high:.3g})" for middle, low, high in (row.before, row.after))) for row in found.learned
    ]
    output.table(("assumption", "before the counts", "after them"), taught_rows, title="What the counts teach: middle, eight in ten")
    coming: list[tuple[str, ...]] = [
        (
            str(row.year),
            *(f"{middle:,.0f} ({low:,.0f} to {high:,.0f})" for middle, low, high in (row.before_ac, row.after_ac)),
            f"{10 * row.gate_before:.0f} of 10",
            f"{10 * row.gate_after:.0f} of 10",
        )
        for row in found.ahead
    ]
    headings = ("year", "waist-high oaks/ac, before learning", "after", "gate open, before", "after")
    output.table(headings, coming, title="Ahead, if nothing more is done", numeric=range(1, 5))
    output.bullets("What to do", found.advice)
    taught = f"; taught also by {', '.join(found.other_stands)}" if found.other_stands else ""
    click.echo(
        f"{found.effective_draws:.0f} draws carry the answer{taught}."
        + ("" if found.trusted == 1 else f" The counts lie far from most draws, so they are trusted to {found.trusted:.0%} only.")
    )
    from overwood.judgement.course.steps import caution

    output.bullets("Cautions", [caution("forecast"), caution("felling"), caution("snags")])
