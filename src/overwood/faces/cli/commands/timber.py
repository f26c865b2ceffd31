"""overwood timber: volume and value of one stand."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from overwood.faces.cli import output
from overwood.faces.cli.options import asks, prices_option
from overwood.ground import measures

_LINES_SHOWN = 40


@click.command("timber")
@click.argument("stand")
@click.option(
    "--log-rule",
    type=click.Choice(("doyle", "scribner", "international-1/4")),
    default=None,
    help="Log rule; that of the price list, or Doyle.",
)
@click.option("--tally", type=click.Path(path_type=Path), help="Write the tally summary as PDF.")
@prices_option
@asks
def command(stand: str, log_rule: str | None, tally: Path | None, prices: Path | None, ask: Any, as_json: bool) -> None:
    """Volume of STAND by species, product and grade with its sampling error, and its value by your price list."""
    from overwood.desk import timber

    stand_timber = timber.timber(stand, ask, timber.price_list(prices), log_rule or "")
    if tally:
        from overwood.faces.papers import tally_summary

        tally_summary.write(stand_timber, ask.on, tally)
    if as_json:
        output.as_json(stand_timber)
        return
    show(stand_timber)
    if tally:
        click.echo(f"Tally summary written to {tally}.")


def show(stock: Any) -> None:
    """Volume and value in words."""
    valued = stock.valued
    rows = []
    for line in valued.lines[:_LINES_SHOWN]:
        value, span, unit = output.shown(line.volume)
        worth = output.shown(line.value) if line.value else ("-", "", "")
        rows.append((line.species, line.product, line.grade or "-", value, span, unit, worth[0], line.note))
    output.table(
        ("species", "product", "grade", "{an acre}", "interval", "unit", "{US$/ac}", ""),
        rows,
        title=f"{stock.stand}: timber, {measures.log_rule_words(valued.timber.log_rule)}",
        numeric=(3, 6),
    )
    output.table(
        ("species", "{bd ft an acre}", "interval", "{US$/ac}", "interval"),
        [_sum_row(one) for one in valued.species],
        title="By species: sawtimber, and all products that have a price",
        numeric=(1, 3),
    )
    for rule, figure in valued.by_rule.items():
        value, span, unit = output.shown(figure)
        click.echo(f"  sawtimber by {measures.log_rule_words(rule)}: {value} ({span}) {unit}")
    if valued.value_usd_ac:
        value, span, unit = output.shown(valued.value_usd_ac)
        low, high = (measures.digits(one, "/ac", ",.0f") for one in (valued.price_low_usd_ac, valued.price_high_usd_ac))
        click.echo(f"Value: {value} {unit} ({span}); at the low prices {low}, at the high {high}.")
        click.echo(f"  Prices: {stock.price_list.source}, {stock.price_list.date}.")
    else:
        click.echo(
            "No price list: give one with --prices FILE or OVERWOOD_PRICES; `overwood prices --help` shows its form."
        )
    if stock.totals:
        said = "; ".join(_total(figure) for figure in stock.totals)
        click.echo(f"On all {measures.amount(stock.area_ac, 'ac', 'g')}: {said}. The area is taken as known.")
    if valued.unpriced:
        click.echo(f"Not priced, so not in the value: {', '.join(valued.unpriced)}.")
    if stock.method:
        click.echo(f"Sell {stock.method.way}: {stock.method.why}.")
    output.bullets("Notes", valued.notes)
    click.echo("Not an appraisal. Prices change; take taxes to a tax professional.")


def _sum_row(one: Any) -> tuple[str, str, str, str, str]:
    boards, span, _ = output.shown(one.boards)
    worth = output.shown(one.value) if one.value else ("-", "", "")
    return one.species, boards, span, worth[0], worth[1]


def _total(figure: Any) -> str:
    value, span, unit = output.shown(figure)
    return f"{value} {unit} ({span})"
