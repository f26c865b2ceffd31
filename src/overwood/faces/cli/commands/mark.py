"""overwood mark: which trees stay."""

from __future__ import annotations

import re
import signal
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import click

from overwood.faces.cli import output
from overwood.faces.cli.options import asks

_PATH = click.Path(path_type=Path)


class Span(click.ParamType):
    """Two numbers with a dash between."""

    name = "low-high"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> tuple[float, float]:
        if isinstance(value, tuple):
            return value
        found = re.fullmatch(r"\s*(\d+(?:\.\d+)?)\s*-\s*(\d+(?:\.\d+)?)\s*", str(value))
        if not found or float(found[1]) >= float(found[2]):
            self.fail(f"{value!r} is no span; write it as 30-50", param, ctx)
        return float(found[1]), float(found[2])


@click.command("mark")
@click.argument("stand")
@click.option("--light", "light_pct", type=Span(), help="Light wanted on the floor, % of full sun; the rulebook's if left out.")
@click.option("--ba", "ba_ft2_ac", type=Span(), help="Basal area to leave, ft2/ac; the rulebook's if left out.")
@click.option("--seed-cover", "cover", type=click.FloatRange(0, 1), help="Share of the ground within reach of a leave oak.")
@click.option("--moves", type=click.IntRange(1, 5_000_000), default=10_000, show_default=True, help="Moves of the search.")
@click.option("--seed", type=click.IntRange(0), default=1, show_default=True, help="The same seed gives the same marking.")
@click.option("--years", type=click.IntRange(1, 20), default=5, show_default=True, help="Show the light this many years on as well.")
@click.option("--trade-off", is_flag=True, help="Show what even light costs in the score of the trees that stay.")
@click.option("--trees", type=_PATH, help="Write the tree list as csv.")
@click.option("--gpx", type=_PATH, help="Write the leave trees as waypoints.")
@click.option("--sheet", type=_PATH, help="Write the marking sheet for the crew as PDF.")
@asks
def command(
    stand: str,
    light_pct: tuple[float, float] | None,
    ba_ft2_ac: tuple[float, float] | None,
    cover: float | None,
    moves: int,
    seed: int,
    years: int,
    trade_off: bool,
    trees: Path | None,
    gpx: Path | None,
    sheet: Path | None,
    ask: Any,
    as_json: bool,
) -> None:
    """Choose the leave trees of STAND: tree by tree on its stem map, or as a rule for the crew where there is none.

    Ctrl-C stops the search and keeps the best marking found so far.
    """
    from overwood.desk import light

    wanted = light.wants(ask, light_pct=light_pct, ba_ft2_ac=ba_ft2_ac, cover=cover)
    if not light.has_map(stand, ask):
        if trees or gpx:
            raise click.UsageError(f"{stand} has no stem map, so there is no tree list; leave --trees and --gpx out for the rule sheet.")
        _rule_sheet(light.rule_sheet(stand, ask, wanted), light.drawn_of(stand, ask, wanted), sheet, ask, as_json)
        return
    with _watched(moves) as progress:
        found = light.mark(stand, ask, wanted, seed=seed, moves=moves, years=years, progress=progress)
    curve = None
    if trade_off:
        with _watched(moves) as progress:
            curve = light.trade_off(found, ask, seed=seed, moves=moves, progress=progress)
    if trees:
        light.write_trees(found, trees)
    if gpx:
        light.write_gpx(found, gpx)
    if sheet:
        from overwood.faces.papers import marking_sheet

        marking_sheet.write(found, ask.on, sheet)
    if as_json:
        bound = {"bound": curve.bound, "steps": [vars(step) for step in curve.steps]} if curve else None
        output.as_json({**_plain(found), "trade_off": bound})
        return
    _show(found)
    if curve:
        _show_curve(curve)
    for path, what in ((trees, "Tree list"), (gpx, "Waypoints"), (sheet, "Marking sheet")):
        if path:
            click.echo(f"{what} written to {path}.")


@contextmanager
def _watched(moves: int) -> Iterator[Callable[[int, float], bool]]:
    """A progress bar on a terminal; the first Ctrl-C stops the search instead of the program."""
    from rich.console import Console
    from rich.progress import Progress

    stopped = False

    def stop(*_: object) -> None:
        nonlocal stopped
        stopped = True

    before = signal.signal(signal.SIGINT, stop)
    bar = Progress(console=Console(stderr=True), disable=not sys.stderr.isatty(), transient=True)
    task = bar.add_task("searching", total=moves)

    def progress(made: int, best: float) -> bool:
        bar.update(task, completed=made, description=f"searching, worth {best:.3f}")
        return not stopped

    try:
        with bar:
            yield progress
    finally:
        signal.signal(signal.SIGINT, before)


def _plain(found: Any) -> dict[str, Any]:
    from overwood.desk import light

    made = found.marking
    lights = {
        "uncut": made.light_before,
        "midstory_out": made.light_no_midstory,
        "after_marking": made.light_after,
        "years_on": found.later,
    }
    return {
        "stand": found.stand,
        "stem_map": found.block.visit,
        "acres": found.block.acres,
        "wants": vars(found.wants),
        "residual_ba_ft2_ac": made.residual_ba_ft2_ac,
        "leave_trees_ac": made.leave_trees_ac,
        "seed_cover_share": made.seed_cover_share,
        "mean_score": made.mean_score,
        "score_kept_share": made.score_kept_share,
        "light": {name: state.to_dict() for name, state in lights.items()},
        "moves": made.moves,
        "seed": made.seed,
        "shortfalls": made.shortfalls,
        "trees": light.tree_rows(found),
    }


def states_of(found: Any) -> list[Any]:
    """The states worth showing of a marking: midstory out only where there is one."""
    made = found.marking
    between = [made.light_no_midstory] if found.block.midstory.any() else []
    return [made.light_before, *between, made.light_after, found.later]


def _show(found: Any) -> None:
    from overwood.faces.cli.commands.light import states_table

    made, wants = found.marking, found.wants
    title = f"{found.stand}: light on the floor, stem map {found.block.visit}, {found.block.acres:.1f} ac, % of full sun"
    output.table(*states_table(states_of(found)), title=title, numeric=range(1, 5))
    click.echo(
        f"Leave {int(made.leave.sum())} trees ({made.leave_trees_ac:.0f} an acre), {made.residual_ba_ft2_ac:.0f} ft2/ac "
        f"(wanted {wants.ba_low_ft2_ac:g} to {wants.ba_high_ft2_ac:g}); a leave oak within reach of {made.seed_cover_share:.0%} of the ground "
        f"(wanted {wants.seed_cover_share:.0%}); {made.score_kept_share:.0%} of the score of the main canopy stays."
    )
    output.bullets("Short of what was wanted", made.shortfalls)
    click.echo(
        f"{made.moves:,} moves, seed {made.seed}. The last row assumes leave crowns widen as the assumption crown_closing_ft_yr says."
    )
    _cautions()


def _show_curve(curve: Any) -> None:
    rows = [
        (f"{s.weight:g}", f"{s.share_in_band:.0%}", f"{s.mean_score:.2f}", f"{s.gap_share:.1%}", f"{s.residual_ba_ft2_ac:.0f}")
        for s in curve.steps
    ]
    headings = ("weight of the score", "area in the light wanted", "mean score of trees kept", "short of the bound", "ft2/ac left")
    output.table(headings, rows, title="What even light costs", numeric=range(5))
    click.echo(
        f"Bound: {curve.bound:.2f} points is the most any marking with this basal area and seed cover can reach if light is left aside."
    )


def _rule_sheet(found: Any, drawn: Any, sheet: Path | None, ask: Any, as_json: bool) -> None:
    from overwood.faces.cli.commands.light import show_drawn

    if sheet:
        from overwood.faces.papers import marking_sheet

        marking_sheet.write_rule(found, drawn, ask.on, sheet)
    if as_json:
        figures = ("leave_ba_ft2_ac", "leave_trees_ac", "take_ba_ft2_ac", "light_pct")
        plain = {**vars(found), **{name: getattr(found, name).to_dict() for name in figures}, "rows": [vars(row) for row in found.rows]}
        output.as_json({**plain, "drawn": [vars(state) for state in drawn]})
        return
    click.echo(f"{found.stand} has no stem map, so this is a rule for the crew, tried on the cruise {found.visit}.")
    output.bullets("Leave", found.leave)
    output.bullets("Take, in this order", found.take)
    rows = [
        (
            row.species,
            row.dbh_class_in,
            f"{row.leave_trees_ac:.1f}",
            f"{row.leave_ba_ft2_ac:.1f}",
            f"{row.take_trees_ac:.1f}",
            f"{row.take_ba_ft2_ac:.1f}",
        )
        for row in found.rows
    ]
    headings = ("species", "dbh, in.", "leave, trees/ac", "leave, ft2/ac", "take, trees/ac", "take, ft2/ac")
    output.table(headings, rows, title="What the rule leaves and takes of the main canopy", numeric=range(1, 6))
    for name in ("leave_ba_ft2_ac", "leave_trees_ac", "take_ba_ft2_ac", "light_pct"):
        value, span, unit = output.shown(getattr(found, name))
        click.echo(f"  {name}: {value} {unit} ({span})" if span else f"  {name}: {value} {unit}")
    show_drawn(found.stand, drawn)
    output.bullets("Short of what was wanted", found.shortfalls)
    click.echo(f"Light by the planning curve: {found.light_pct.note}.")
    _cautions()
    if sheet:
        click.echo(f"Marking sheet written to {sheet}.")


def _cautions() -> None:
    from overwood.judgement.course.steps import caution

    output.bullets("Cautions", [caution(name) for name in ("felling", "snags", "boundary", "herbicide")])
