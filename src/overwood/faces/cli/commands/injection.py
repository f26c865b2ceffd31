"""overwood injection: the work order for the midstory, and whether it worked."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from overwood.faces.cli import output
from overwood.faces.cli.options import asks
from overwood.ground.errors import Misuse

_FIGURES = ("stems_ac", "ba_ft2_ac", "light_before_pct", "left_alive_ac")


@click.command("injection")
@click.argument("stand")
@click.option("--inches-per-cut", type=click.FloatRange(0.5, 6), help="Inches of dbh for each cut; the rulebook's if left out.")
@click.option("--product", help="Active ingredient of the product, such as glyphosate.")
@click.option(
    "--share",
    type=click.FloatRange(0, 1, min_open=True),
    help="Product in the solution by its label, 0 to 1; a published test's if left out.",
)
@click.option("--most-a-year", type=click.FloatRange(0, min_open=True), help="Gallons of product an acre and year that the label allows.")
@click.option("--check", is_flag=True, help="Judge the latest injection check instead: share of treated stems dead.")
@click.option("--order", type=click.Path(path_type=Path), help="Write the work order with its tally sheet as PDF.")
@asks
def command(
    stand: str,
    inches_per_cut: float | None,
    product: str | None,
    share: float | None,
    most_a_year: float | None,
    check: bool,
    order: Path | None,
    ask: Any,
    as_json: bool,
) -> None:
    """Stems, cuts, solution, days and cost to inject the midstory of STAND, and the light it brings.

    The label of the product on site is the law; licensed people apply it.
    """
    from overwood.desk import fire

    if check:
        _check(fire.injection_check(stand, ask), as_json)
        return
    if not product and (share is not None or most_a_year is not None):
        raise Misuse("--share and --most-a-year are of a product.", remedy="Name its active ingredient: --product glyphosate.")
    named = fire.product_of(product, share, most_a_year) if product else None
    found, file = fire.injection(stand, ask, inches_per_cut=inches_per_cut, product=named)
    if order:
        from overwood.faces.papers import answered, injection_order

        with answered.printed(found.stand, "injection", ask, found):
            injection_order.write(found, file, ask.on, order)
    if as_json:
        output.as_json(found)
        return
    _show(found)
    if order:
        click.echo(f"Work order written to {order}.")


def span(value: Any, places: int = 0) -> str:
    """Likely (low to high); alone where there is nothing to doubt."""
    if value.low == value.high:
        return f"{value.likely:,.{places}f}"
    return f"{value.likely:,.{places}f} ({value.low:,.{places}f} to {value.high:,.{places}f})"


def _show(found: Any) -> None:
    rows = [
        (row.species, row.dbh_class_in, f"{row.stems_ac:.0f}", f"{row.ba_ft2_ac:.1f}", f"{row.cuts_ac:,.0f}", f"{row.solution_ml_ac:,.0f}")
        for row in found.rows
    ]
    headings = ("species", "dbh, in.", "stems/ac", "ft2/ac", "cuts/ac", "solution, ml/ac")
    output.table(headings, rows, title=f"{found.stand}: stems to inject, from {found.visit}", numeric=range(1, 6))
    stems, interval, _ = output.shown(found.stems_ac)
    click.echo(f"In all {stems} stems/ac ({interval}), {found.cuts_ac:,.0f} cuts/ac, {found.solution_gal_ac:.2f} gal/ac of solution.")
    days = "acreage not noted" if found.crew_days is None else f"{span(found.crew_days, 1)} crew days on {found.area_ac:g} ac"
    click.echo(
        f"{product_words(found)} {span(found.product_gal_ac, 2)} gal/ac, water {span(found.water_gal_ac, 2)}; labour {span(found.hours_ac, 1)} h/ac, {days}; {span(found.cost_usd_ac)} US$/ac."
    )
    before, before_span, _ = output.shown(found.light_before_pct)
    click.echo(
        f"Season: {found.windows[0]}; second choice {found.windows[1]}. Floor light {before} % now ({before_span}), {span(found.light_after_pct)} % "
        f"after, for {span(found.light_lasts_yr)} years until crowns close. Injected stems stand dead {span(found.snags_yr)} years."
    )
    click.echo(f"Yearly limit: {found.yearly_limit}.")
    if found.totals:
        _show_totals(found)
    output.bullets("Never", found.never)
    output.bullets("By species", found.exceptions)
    output.bullets("Small stems", [found.left_alive_text])
    from overwood.desk.fire import injection_cautions

    output.bullets("Cautions", injection_cautions())


def product_words(found: Any) -> str:
    """What the solution is made of."""
    if found.product is None:
        return "Product in it (name it with --product for gallons to buy)"
    said = "a published test; the label governs" if found.product.is_tested else "as given"
    return f"{found.product.active.capitalize()} product in it, {found.product.share:.1%} of the solution ({said}),"


def _show_totals(found: Any) -> None:
    whole = found.totals
    click.echo(
        f"The whole stand, {found.area_ac:g} ac: {whole.stems:,.0f} stems, {whole.cuts:,.0f} cuts, {whole.solution_gal:,.1f} gal of solution, "
        f"of it product {span(whole.product_gal, 1)} and water {span(whole.water_gal, 1)}."
    )
    rows = [(str(crew), span(days, 1)) for crew, days in whole.crew_days.items()]
    output.table(("people", "days"), rows, title="Days by crew", numeric=(0, 1))


def _check(found: Any, as_json: bool) -> None:
    if as_json:
        output.as_json(found)
        return
    share, interval, _ = output.shown(found.dead_share)
    output.heading(f"{found.visit}: {found.verdict}")
    click.echo(f"{share} % of {found.stems} treated stems are dead ({interval}); {found.wanted_share:.0%} are wanted. {found.advice}")
    rows = [(name, f"{dead}", f"{looked}", f"{dead / looked:.0%}") for name, (dead, looked) in found.by_species.items()]
    output.table(("species", "dead", "looked at", "share"), rows, numeric=(1, 2, 3))
    from overwood.desk.fire import injection_cautions

    output.bullets("Cautions", injection_cautions())
