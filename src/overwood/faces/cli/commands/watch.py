"""overwood watch: is the reproduction coming, and what do the counts teach?"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from overwood.faces.cli import output
from overwood.faces.cli.options import asks, language_option
from overwood.ground import measures


@click.command("watch")
@click.argument("stand")
@click.option(
    "--draws", type=click.IntRange(200, 50_000), default=4_000, show_default=True, help="Draws of the assumptions."
)
@click.option(
    "--ahead", type=click.IntRange(1, 15), default=5, show_default=True, help="Years to look ahead from the last count."
)
@click.option(
    "--seed", type=click.IntRange(0), default=1, show_default=True, help="The same seed gives the same answer."
)
@click.option("--alone", is_flag=True, help="Learn from this stand alone, not from the other stands of the book.")
@click.option(
    "--sheet", type=click.Path(path_type=Path), help="Write the monitoring sheet for the next count as PDF, and stop."
)
@click.option("--keep", is_flag=True, help="Keep the forecast ahead in the book, to be scored by later counts.")
@language_option
@asks
def command(
    stand: str,
    draws: int,
    ahead: int,
    seed: int,
    alone: bool,
    sheet: Path | None,
    keep: bool,
    tongue: str,
    ask: Any,
    as_json: bool,
) -> None:
    """Later counts of STAND against the forecast made at its first: on course, behind or ahead; what they teach; when
    the release gate opens."""
    from overwood.desk import answers, futures, kept

    if sheet:
        from overwood.faces.papers import monitoring_sheet

        monitoring_sheet.write(
            answers.stand_file(stand).as_of(ask.on), answers.evidence(stand, ask), ask.on, sheet, tongue
        )
        click.echo(f"Monitoring sheet written to {sheet}.")
        return
    beside = futures.monitored(stand, ask)
    watch = futures.watch(stand, ask, draws=draws, ahead=ahead, seed=seed, pool=not alone)
    settings = {"draws": draws, "ahead": ahead, "seed": seed, "alone": alone}
    number = kept.keep(watch.stand, "watch", ask, settings, watch).number if keep else None
    if as_json:
        output.as_json(output.plain(watch) | {"beside": output.plain(beside)})
        return
    _show_beside(stand, beside)
    _show(watch)
    if number is not None:
        click.echo(f"Kept in the book as answer {number}: later counts score it.")


_COMPARED = ("what", "before", "after", "change", "")


def _show_beside(stand: str, beside: Any) -> None:
    """Counts set beside each other: visit to visit, person to person, inside and outside a fence, and kept
    forecasts."""
    for pair in beside.between[-3:]:
        plots = f"the same {pair.plots} plots" if pair.same_plots else f"other plots, {pair.plots} in all"
        title = f"{stand}: {pair.first_on:%b %Y} to {pair.later_on:%b %Y}, {plots}"
        output.table(_COMPARED, [_compared(row) for row in pair.measures], title=title, numeric=(1, 2, 3))
    if beside.between:
        click.echo(f"Note: {beside.between[-1].note}.")
    for twice in beside.twice:
        names = " and ".join(name or "unknown" for name in twice.observers)
        title = f"{twice.plots} plots counted twice, by {names} ({twice.count}, {twice.recount})"
        output.table(
            ("what", "count", "recount", "difference", ""),
            [_compared(row) for row in twice.measures],
            title=title,
            numeric=(1, 2, 3),
        )
    for fence in beside.fences:
        title = f"{fence.on:%b %Y}: {fence.fenced} plots inside the fence, {fence.open} outside"
        output.table(
            ("what", "outside", "inside", "difference", ""),
            [_compared(row) for row in fence.measures],
            title=title,
            numeric=(1, 2, 3),
        )
    if beside.past:
        rows = [
            (str(row.number), f"{row.made_on:%b %Y}", f"{row.counted_on:%b %Y}",
            measures.digits(row.oaks_ac, "/ac", ",.0f"),
            output.span((row.low_ac, row.middle_ac, row.high_ac), 0, "/ac"), row.verdict)
            for row in beside.past
        ]  # fmt: skip
        hits = sum(row.verdict == "within" for row in beside.past)
        headings = ("forecast", "made", "counted", "waist-high oaks/{ac}", "forecast, eight in ten", "came")
        output.table(
            headings, rows, title=f"Kept forecasts beside what came: {hits} of {len(rows)} within", numeric=(3, 4)
        )


def _compared(row: Any) -> tuple[str, ...]:
    """One comparison in words."""
    if row.unit == "plots":
        return (row.what, f"{row.before:.0f} plots", f"{row.after:.0f}", f"{row.low:.0%} to {row.high:.0%}", row.word)
    places = 1 if row.unit in ("ft", "ft/yr") else 2 if row.unit == "share" else 0
    before, after, *ends = (
        measures.digits(value, row.unit, f"{sign},.{places}f")
        for value, sign in ((row.before, ""), (row.after, ""), (row.low, "+"), (row.high, "+"))
    )
    change = "" if row.low == float("-inf") else " to ".join(ends)
    return (f"{row.what}, {measures.unit_word(row.unit)}", before, after, change, row.word)


def _show(seen: Any) -> None:
    rows = [
        (
            f"{row.seen.on:%b %Y}",
            f"{measures.amount(row.height_ft, 'ft', 'g')} or taller",
            measures.digits(row.seen.oaks_ac[(1.0, 3.0, 4.5).index(row.height_ft)], "/ac", ",.0f"),
            output.span((row.low_ac, row.middle_ac, row.high_ac), 0, "/ac"),
            row.verdict,
        )
        for row in seen.scored
    ]
    headings = ("count", "oaks", "counted/{ac}", "forecast, nine in ten", "verdict")
    output.table(headings, rows, title=f"{seen.stand}: counts beside the forecast made at {seen.first}", numeric=(2, 3))
    taught_rows: list[tuple[str, ...]] = [
        (row.name, *(f"{middle:.3g} ({low:.3g} to {high:.3g})" for middle, low, high in (row.before, row.after)))
        for row in seen.learned
    ]
    output.table(
        ("assumption", "before the counts", "after them"),
        taught_rows,
        title="What the counts teach: middle, eight in ten",
    )
    if seen.pooled:
        stands = ", ".join(seen.other_stands)
        rows_pooled: list[tuple[str, ...]] = [
            (row.name, f"{row.middle:.3g} (give or take {row.error:.2g})", f"{row.between:.2g}") for row in seen.pooled
        ]
        output.table(
            ("parameter", "what they say of a new stand", "stands differ by"),
            rows_pooled,
            title=f"What the counts of {stands} add",
        )
    coming: list[tuple[str, ...]] = [
        (
            str(row.year),
            *(output.span((low, middle, high), 0, "/ac") for middle, low, high in (row.before_ac, row.after_ac)),
            f"{10 * row.gate_before:.0f} of 10",
            f"{10 * row.gate_after:.0f} of 10",
        )
        for row in seen.ahead
    ]
    headings = ("year", "waist-high oaks/{ac}, before learning", "after", "gate open, before", "after")
    output.table(headings, coming, title="Ahead, if nothing more is done", numeric=range(1, 5))
    output.bullets("What to do", seen.advice)
    taught = f"; taught also by {', '.join(seen.other_stands)}" if seen.other_stands else ""
    click.echo(
        f"{seen.effective_draws:.0f} draws carry the answer{taught}; another seed moves no chance by more "
        f"than {100 * seen.seed_error:.1f} points (one standard error)."
    )
    from overwood.judgement.course.steps import caution

    output.bullets("Cautions", [caution("forecast"), caution("felling"), caution("snags")])
