"""overwood injection: the work order for the midstory, and whether it worked."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import click

from overwood.faces.cli import output
from overwood.faces.cli.options import asks, language_option
from overwood.ground import measures
from overwood.ground.errors import Misuse


@click.command("injection")
@click.argument("stand")
@click.option(
    "--inches-per-cut", type=click.FloatRange(0.5, 6), help="Inches of dbh for each cut; the rulebook's if left out."
)
@click.option("--product", help="Active ingredient of the product, such as glyphosate.")
@click.option(
    "--share",
    type=click.FloatRange(0, 1, min_open=True),
    help="Product in the solution by its label, 0 to 1; a published test's if left out.",
)
@click.option(
    "--most-a-year",
    type=click.FloatRange(0, min_open=True),
    help="Gallons of product an acre and year that the label allows.",
)
@click.option("--check", is_flag=True, help="Judge the latest injection check instead: share of treated stems dead.")
@click.option("--order", type=click.Path(path_type=Path), help="Write the work order with its tally sheet as PDF.")
@language_option
@asks
def command(
    stand: str,
    inches_per_cut: float | None,
    product: str | None,
    share: float | None,
    most_a_year: float | None,
    check: bool,
    order: Path | None,
    tongue: str,
    ask: Any,
    as_json: bool,
) -> None:
    """Stems, cuts, solution, days and cost to inject the midstory of STAND, and the light it brings.

    The label of the product on site is the law; licensed people apply it.
    """
    from overwood.desk import answers, fire
    from overwood.judgement.injection import product_of

    if check:
        _check(fire.injection_check(stand, ask), as_json)
        return
    if not product and (share is not None or most_a_year is not None):
        raise Misuse(
            "--share and --most-a-year are of a product.", remedy="Name its active ingredient: --product glyphosate."
        )
    named = product_of(product, share, most_a_year) if product else None
    answer = fire.injection_answer(stand, ask, inches_per_cut=inches_per_cut, product=named)
    warnings = fire.injection_warnings(stand, ask)
    if order:
        from overwood.faces.papers import injection_order, press

        file = answers.stand_file(stand).as_of(ask.on)
        with press.printed_from(answer.words):
            injection_order.write(answer.answer, file, ask.on, order, tongue, warnings)
    if as_json:
        output.as_json(answer.answer)
        return
    _show(answer.answer, warnings)
    click.echo(answer.words)
    if order:
        click.echo(f"Work order written to {order}.")


def span(value: Any, places: int = 0, unit: str = "") -> str:
    """Likely (low to high) of a value in this US unit; alone where there is nothing to doubt."""
    low, likely, high = (measures.digits(one, unit, f",.{places}f") for one in (value.low, value.likely, value.high))
    return likely if value.low == value.high else f"{likely} ({low} to {high})"


def _show(order: Any, warnings: Sequence[str]) -> None:
    rows = [
        (
            row.species,
            measures.limits(row.dbh_class_in, "in"),
            measures.digits(row.stems_ac, "/ac"),
            measures.digits(row.ba_ft2_ac, "ft2/ac", ".1f"),
            measures.digits(row.cuts_ac, "/ac", ",.0f"),
            measures.digits(row.solution_ml_ac, "/ac", ",.0f"),
        )
        for row in order.rows
    ]
    headings = ("species", "dbh, {in.}", "{stems/ac}", "{ft2/ac}", "{cuts/ac}", "solution, {ml/ac}")
    output.table(headings, rows, title=f"{order.stand}: stems to inject, from {order.visit}", numeric=range(1, 6))
    stems, interval, unit = output.shown(order.stems_ac)
    click.echo(
        f"In all {stems} {unit} ({interval}), {measures.amount(order.cuts_ac, 'cuts/ac', ',.0f')}, "
        f"{measures.amount(order.solution_gal_ac, 'gal/ac', '.2f')} of solution."
    )
    days = (
        "acreage not noted"
        if order.crew_days is None
        else f"{span(order.crew_days, 1)} crew days on {measures.amount(order.area_ac, 'ac', 'g')}"
    )
    click.echo(
        f"{product_words(order)} {span(order.product_gal_ac, 2, 'gal/ac')} {measures.unit_word('gal/ac')}, water "
        f"{span(order.water_gal_ac, 2, 'gal/ac')}; labor {span(order.hours_ac, 1, 'h/ac')} "
        f"{measures.unit_word('h/ac')}, {days}; {span(order.cost_usd_ac, 0, 'US$/ac')} {measures.unit_word('US$/ac')}."
    )
    before, before_span, _ = output.shown(order.light_before_pct)
    click.echo(
        f"Season: {order.windows[0]}; second choice {order.windows[1]}. Floor light {before}% now "
        f"({before_span}), {span(order.light_after_pct)}% "
        f"after, for {span(order.light_lasts_yr)} years until crowns close. Injected stems stand dead "
        f"{span(order.snags_yr)} years."
    )
    click.echo(f"Yearly limit: {order.yearly_limit}.")
    if order.totals:
        _show_totals(order)
    output.bullets("Never", order.never)
    output.bullets("By species", order.exceptions)
    output.bullets("Small stems", [order.left_alive_text])
    from overwood.desk.fire import injection_cautions

    output.bullets("Cautions", [*warnings, *injection_cautions()])


def product_words(order: Any) -> str:
    """What the solution is made of."""
    if order.product is None:
        return "Product in it (name it with --product for the amount to buy)"
    said = "a published test; the label governs" if order.product.is_tested else "as given"
    return f"{order.product.active.capitalize()} product in it, {order.product.share:.1%} of the solution ({said}),"


def _show_totals(order: Any) -> None:
    whole = order.totals
    click.echo(
        f"The whole stand, {measures.amount(order.area_ac, 'ac', 'g')}: {whole.stems:,.0f} stems, "
        f"{whole.cuts:,.0f} cuts, {measures.amount(whole.solution_gal, 'gal', ',.1f')} of solution, "
        f"of it product {span(whole.product_gal, 1, 'gal')} and water {span(whole.water_gal, 1, 'gal')}."
    )
    rows = [(str(crew), span(days, 1)) for crew, days in whole.crew_days.items()]
    output.table(("people", "days"), rows, title="Days by crew", numeric=(0, 1))


def _check(check: Any, as_json: bool) -> None:
    if as_json:
        output.as_json(check)
        return
    share, interval, _ = output.shown(check.dead_share)
    output.heading(f"{check.visit}: {check.verdict}")
    click.echo(
        f"{share}% of {check.stems} treated stems are dead ({interval}); {check.wanted_share:.0%} are "
        f"wanted. {check.advice}"
    )
    rows = [(name, f"{dead}", f"{looked}", f"{dead / looked:.0%}") for name, (dead, looked) in check.by_species.items()]
    output.table(("species", "dead", "looked at", "share"), rows, numeric=(1, 2, 3))
    from overwood.desk.fire import injection_cautions

    output.bullets("Cautions", injection_cautions())
