"""overwood mark: which trees stay."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import click

from overwood.faces.cli import output
from overwood.faces.cli.options import OutFile, asks, language_option, prices_option
from overwood.faces.cli.progress import watched
from overwood.ground import measures

_PATH = OutFile()


class Span(click.ParamType):
    """Two numbers with a dash between."""

    name = "low-high"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> tuple[float, float]:
        if isinstance(value, tuple):
            return value
        match = re.fullmatch(r"\s*(\d+(?:\.\d+)?)\s*-\s*(\d+(?:\.\d+)?)\s*", str(value))
        if not match or float(match[1]) >= float(match[2]):
            self.fail(f"{value!r} is no span; write it as 30-50", param, ctx)
        return float(match[1]), float(match[2])


@click.command("mark")
@click.argument("stand")
@click.option(
    "--light",
    "light_pct",
    type=Span(),
    help="Light wanted on the forest floor, % of full sun; the rulebook's if left out.",
)
@click.option("--ba", "ba_ft2_ac", type=Span(), help="Basal area to leave, ft2/ac; the rulebook's if left out.")
@click.option(
    "--seed-cover", "cover", type=click.FloatRange(0, 1), help="Share of the ground within reach of a leave oak."
)
@click.option("--stocking", "stocking_pct", type=Span(), help="Stocking to leave, percent; asks nothing if left out.")
@click.option("--spacing", "spacing_ft", type=click.FloatRange(1, 200), help="Least distance between leave trees, ft.")
@click.option(
    "--least-sale",
    type=click.FloatRange(1),
    help="Board feet an acre that must be sold, by the price list's log rule or Doyle.",
)
@click.option("--value-kept", type=click.FloatRange(1), help="US$ an acre that must stay standing; needs --prices.")
@prices_option
@click.option(
    "--moves",
    type=click.IntRange(1, 5_000_000),
    help="Moves of the search; so many a stem as the assumptions say if left out.",
)
@click.option(
    "--least-dbh", type=click.FloatRange(1, 40), help="Least dbh of a leave tree, in.; the rulebook's if left out."
)
@click.option(
    "--constraints",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    help="File of constraints, one a row.",
)
@click.option(
    "--row",
    "rows",
    multiple=True,
    help=(
        "A constraint: 'least dbh 12', 'spacing 20', 'species white oak 30-70', 'wildlife 12, 45', 'edge north "
        "30' (or every)."
    ),
)
@click.option(
    "--seed", type=click.IntRange(0), default=1, show_default=True, help="The same seed gives the same marking."
)
@click.option(
    "--years",
    type=click.IntRange(1, 20),
    default=5,
    show_default=True,
    help="Show the light this many years on as well.",
)
@click.option(
    "--trade-off",
    type=click.Choice(["score", "value"]),
    is_flag=False,
    flag_value="score",
    help="Show what even light costs in the score of the trees that stay, or in their value (needs --prices).",
)
@click.option("--trees", type=_PATH, help="Write the tree list as csv.")
@click.option("--gpx", type=_PATH, help="Write the leave trees as waypoints.")
@click.option("--gpkg", type=_PATH, help="Write every stem with its call as a GeoPackage.")
@click.option("--sheet", type=_PATH, help="Write the marking sheet for the crew as PDF.")
@language_option
@asks
def command(
    stand: str,
    light_pct: tuple[float, float] | None,
    ba_ft2_ac: tuple[float, float] | None,
    stocking_pct: tuple[float, float] | None,
    cover: float | None,
    spacing_ft: float | None,
    least_sale: float | None,
    value_kept: float | None,
    prices: Path | None,
    moves: int | None,
    least_dbh: float | None,
    constraints: Path | None,
    rows: tuple[str, ...],
    seed: int,
    years: int,
    trade_off: str | None,
    trees: Path | None,
    gpx: Path | None,
    gpkg: Path | None,
    sheet: Path | None,
    tongue: str,
    ask: Any,
    as_json: bool,
) -> None:
    """Choose the leave trees of STAND: tree by tree on its stem map, or as a rule for the crew where there is none.

    Ctrl-C stops the search and keeps the best marking found so far.
    """
    from overwood.desk import marking, timber

    asked = {
        "light_pct": light_pct,
        "ba_ft2_ac": ba_ft2_ac,
        "stocking_pct": stocking_pct,
        "cover": cover,
        "spacing_ft": spacing_ft,
    }
    rows = (*(marking.rows_of(constraints) if constraints else ()), *rows)
    wanted = marking.wants(
        ask, rows=rows, **asked, least_sale_bf_ac=least_sale, least_value_kept_usd_ac=value_kept, least_dbh_in=least_dbh
    )
    if not marking.has_map(stand, ask):
        _refuse_single_trees(stand, bool(trees or gpx or gpkg), bool(rows))
        _rule_sheet(stand, ask, wanted, sheet, tongue, as_json)
        return
    moves = moves or marking.default_moves(stand, ask)
    how: dict[str, Any] = {"years": years, "prices": timber.price_list(prices)}
    marked = _searched(stand, ask, wanted, seed, moves, **how)
    curve = None
    if trade_off:
        with watched("searching", moves) as progress:
            curve = marking.trade_off(marked, ask, marking.Effort(seed, moves, progress), trade_off)
    for path, write in ((trees, marking.write_trees), (gpx, marking.write_gpx), (gpkg, marking.write_geopackage)):
        if path:
            write(marked, path)
    if sheet:
        made = {"by": "a search", "seed": seed, "moves": marked.marking.moves, "rows": list(rows)}
        _write_sheet(marked, ask, made, how["prices"], (sheet, tongue))
    if as_json:
        output.as_json(output.plain(marked) | {"trade_off": output.plain(curve)})
        return
    _show(marked)
    if curve:
        _show_curve(curve)
    for path, what in ((trees, "Tree list"), (gpx, "Waypoints"), (gpkg, "GeoPackage"), (sheet, "Marking sheet")):
        if path:
            click.echo(f"{what} written to {path}.")


def _searched(stand: str, ask: Any, wanted: Any, seed: int, moves: int, **how: Any) -> Any:
    from overwood.desk import marking

    with watched("searching", moves) as progress:
        return marking.mark(stand, ask, wanted, marking.Effort(seed, moves, progress), **how)


def _refuse_single_trees(stand: str, lists: bool, rows: bool) -> None:
    """Without a stem map there are no single trees to list or to constrain."""
    if lists:
        raise click.UsageError(
            f"{stand} has no stem map, so there is no tree list; leave --trees, --gpx and --gpkg out for "
            "the rule sheet."
        )
    if rows:
        raise click.UsageError(
            f"{stand} has no stem map, and constraints are of single trees; leave --row and --constraints out."
        )


def _write_sheet(marked: Any, ask: Any, made: dict[str, Any], listed: Any, sheet: tuple[Path, str]) -> None:
    from overwood.desk import marking
    from overwood.faces.papers import marking_sheet, press

    answer = marking.on_table(marked.stand, ask, marking.called(marked), made, listed, marked.wants)
    with press.printed_from(answer.words):
        marking_sheet.write(marked, ask.on, *sheet)


def states_of(marked: Any) -> list[Any]:
    """The states worth showing of a marking: midstory out only where there is one."""
    made = marked.marking
    between = [made.light_no_midstory] if marked.block.midstory.any() else []
    return [made.light_before, *between, made.light_after, marked.later]


def _show(marked: Any) -> None:
    from overwood.desk import marking
    from overwood.faces.cli.commands.light import states_table

    made, wants = marked.marking, marked.wants
    title = (
        f"{marked.stand}: light on the forest floor, stem map {marked.block.visit}, "
        f"{measures.amount(marked.block.acres, 'ac', '.1f')}, % of full sun"
    )
    output.table(*states_table(states_of(marked)), title=title, numeric=range(1, 5))
    click.echo(
        f"Leave {int(made.leave.sum())} trees ({measures.amount(made.leave_trees_ac, 'an acre')}), "
        f"{measures.amount(made.residual_ba_ft2_ac, 'ft2/ac')} "
        f"(wanted {measures.span(wants.ba_low_ft2_ac, wants.ba_high_ft2_ac, 'ft2/ac', 'g')}); a leave oak "
        f"within reach of {made.seed_cover_share:.0%} of the ground (wanted "
        f"{wants.seed_cover_share:.0%}); {made.score_kept_share:.0%} of the score of the main canopy stays."
    )
    click.echo(
        "Leave trees are dominant or codominant, of a known species and "
        f"{measures.amount(wants.least_dbh_in, 'in.', 'g')} or more, or marked to stay. What is let be "
        "shades. The light above needs the stems called inject dead: with them alive the mean is "
        f"{made.light_not_injected.mean_pct:.1f}%, "
        f"and {made.light_not_injected.share_in_band:.0%} of the ground lies in the light wanted."
    )
    output.bullets("Constraints", marking.constraints(marked))
    click.echo(_money(made))
    output.bullets("Short of what was wanted", made.shortfalls)
    click.echo(
        f"{made.moves:,} moves, seed {made.seed}. The last row assumes leave crowns widen as "
        "crown_closing_ft_yr says; over its range the mean "
        f"is {marked.later_range_pct[0]:.0f} to {marked.later_range_pct[1]:.0f}%."
    )
    _cautions(marked.warnings)


def _money(made: Any) -> str:
    rule = measures.log_rule_words(made.log_rule)
    sold = f"Sold: {measures.amount(made.sale_bf_ac, 'bd ft/ac', ',.0f')} ({rule}, logs assumed from dbh)"
    if made.sale_usd_ac is None:
        return f"{sold}; stocking left {made.stocking_pct:.0f}%. Name your price list (--prices) to see money."
    return (
        f"{sold}, {measures.amount(made.sale_usd_ac, 'US$/ac', ',.0f')}; left standing "
        f"{measures.amount(made.value_kept_usd_ac, 'US$/ac', ',.0f')}, stocking {made.stocking_pct:.0f}%. "
        "Not an appraisal."
    )


def _show_curve(curve: Any) -> None:
    unit = "points" if curve.by == "score" else "US$ for each {ft2} left"
    rows = [
        (
            f"{s.weight:g}",
            f"{s.share_in_band:.0%}",
            f"{s.mean_quality:.2f}",
            f"{s.gap_share:.1%}",
            measures.digits(s.residual_ba_ft2_ac, "ft2/ac"),
            *(measures.digits(one, "/ac", ",.0f") for one in (s.value_kept_usd_ac, s.sale_usd_ac) if one is not None),
        )
        for s in curve.steps
    ]
    money = () if curve.steps[0].value_kept_usd_ac is None else ("value left, {US$/ac}", "sold, {US$/ac}")
    headings = (
        f"weight of the {curve.by}",
        "area in the light wanted",
        f"mean {curve.by} kept, {unit}",
        "short of the bound",
        "{ft2/ac} left",
        *money,
    )
    output.table(headings, rows, title="What even light costs", numeric=range(len(headings)))
    click.echo(
        f"Bound: {curve.bound:.2f} {unit} is the most any marking with this basal area and seed cover can "
        "reach if light is left aside."
    )


def _rule_sheet(stand: str, ask: Any, wanted: Any, sheet: Path | None, tongue: str, as_json: bool) -> None:
    from overwood.desk import marking
    from overwood.faces.cli.commands.light import show_told
    from overwood.faces.papers import marking_sheet, press

    (told, lights), warnings = marking.rule_answer(stand, ask, wanted), marking.warnings(stand, ask)
    rule = told.answer
    if sheet:
        with press.printed_from(told.words):
            marking_sheet.write_rule(rule, lights, ask.on, sheet, warnings, tongue)
    if as_json:
        output.as_json(output.plain(rule) | {"drawn": output.plain(lights)})
        return
    click.echo(f"{rule.stand} has no stem map, so this is a rule for the crew, tried on the cruise {rule.visit}.")
    output.bullets("Leave", rule.leave)
    output.bullets("Take, in this order", rule.take)
    rows = [
        (
            row.species,
            measures.limits(row.dbh_class_in, "in"),
            measures.digits(row.leave_trees_ac, "/ac", ".1f"),
            measures.digits(row.leave_ba_ft2_ac, "ft2/ac", ".1f"),
            measures.digits(row.take_trees_ac, "/ac", ".1f"),
            measures.digits(row.take_ba_ft2_ac, "ft2/ac", ".1f"),
        )
        for row in rule.rows
    ]
    headings = (
        "species", "dbh, {in.}", "leave, {trees/ac}", "leave, {ft2/ac}", "take, {trees/ac}", "take, {ft2/ac}"
    )  # fmt: skip
    output.table(headings, rows, title="What the rule leaves and takes of the main canopy", numeric=range(1, 6))
    for name in ("leave_ba_ft2_ac", "leave_trees_ac", "take_ba_ft2_ac", "light_pct"):
        value, span, unit = output.shown(getattr(rule, name))
        click.echo(f"  {name}: {measures.with_unit(value, unit)}" + (f" ({span})" if span else ""))
    show_told(rule.stand, lights)
    output.bullets("Short of what was wanted", rule.shortfalls)
    output.bullets("Light afterwards", [rule.light_pct.note] if rule.light_pct.note else [])
    _cautions(warnings)
    if sheet:
        click.echo(f"Marking sheet written to {sheet}.")


def _cautions(warnings: Sequence[str]) -> None:
    from overwood.judgement.course.steps import caution

    output.bullets(
        "Cautions",
        [*warnings, *(caution(name) for name in ("felling", "snags", "boundary", "herbicide"))],
    )
