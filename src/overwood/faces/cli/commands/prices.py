"""overwood prices: the user's price list."""

from __future__ import annotations

from pathlib import Path

import click

from overwood.faces.cli import output
from overwood.faces.cli.options import book_option, json_option, prices_option
from overwood.ground import measures


@click.command("prices")
@prices_option
@book_option
@json_option
def command(prices: Path | None, book: Path | None, as_json: bool) -> None:
    """Check your price list and show it.

    A TOML file: date = "2025-09-01", source = "...", log_rule = "doyle"; for each price a [[price]] with product,
    species (a species, white oaks, red oaks, hickory or other), low, mean, high and unit (US$/MBF, US$/ton, US$/cord),
    and a grade where it differs; logs are priced in US$/MBF, or by the ton with [weight] tons_per_mbf and its source,
    pulpwood and firewood in US$/ton or US$/cord; under [cost] what work costs an acre. demo/prices.toml is an invented
    example.
    """
    from overwood.desk import session, timber

    prices = prices or session.where_kept(session.prices_beside(book))
    if prices is None:
        raise click.UsageError(
            "No list is kept with the book: name yours with --prices FILE or in OVERWOOD_PRICES; demo/prices.toml is "
            "an invented example."
        )
    listed = timber.price_list(prices)
    assert listed is not None
    if as_json:
        output.as_json(
            {
                "date": listed.date,
                "source": listed.source,
                "log_rule": listed.log_rule,
                "prices": listed.prices,
                "costs": listed.costs,
            }
        )
        return
    rows = [
        (p.product, p.species, p.grade or "any", f"{p.low:g}", f"{p.mean:g}", f"{p.high:g}", p.unit)
        for p in listed.prices
    ]
    output.table(
        ("product", "species", "grade", "low", "mean", "high", "unit"),
        rows,
        title=f"{listed.source}, {listed.date}, {measures.log_rule_words(listed.log_rule)}",
        numeric=(3, 4, 5),
    )
    for name, amount in listed.costs.items():
        click.echo(f"  {name}: {amount:g}")
