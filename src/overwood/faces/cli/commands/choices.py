"""overwood choices: what each choice pays."""

from __future__ import annotations

import dataclasses
import functools
from pathlib import Path
from typing import Any

import click

from overwood.faces.cli import output
from overwood.faces.cli.options import asks, prices_option
from overwood.ground import measures


@click.command("choices")
@click.argument("stand")
@click.option("--page", type=click.Path(path_type=Path), help="Write the one-page comparison for the owner as PDF.")
@click.option(
    "--with",
    "extras",
    multiple=True,
    type=click.Choice(("burn", "planting", "fence", "road")),
    help="Count this work in, at the price list's cost; may be given several times.",
)
@click.option(
    "--inflation",
    type=click.FloatRange(0, 0.3),
    help="Say what the real rates are in nominal terms at this inflation, such as 0.025.",
)
@prices_option
@asks
def command(
    stand: str,
    page: Path | None,
    extras: tuple[str, ...],
    inflation: float | None,
    prices: Path | None,
    ask: Any,
    as_json: bool,
) -> None:
    """Compare cut now, shelterwood, two ages, thin and wait for STAND in money an acre, with what is known of the
    oak."""
    from overwood.desk import timber

    if prices is None:
        raise click.UsageError("Choices need prices: name your list with --prices FILE or in OVERWOOD_PRICES.")
    listed = timber.price_list(prices)
    assert listed is not None
    answer = timber.choices_answer(stand, ask, listed, extras)
    choices = answer.answer
    if page:
        from overwood.faces.papers import choices_page, press

        with press.printed_from(answer.words):
            choices_page.write(choices, ask.on, page)
    if as_json:
        output.as_json(choices)
        return
    show(choices)
    click.echo(answer.words)
    if "burn" in extras:
        from overwood.judgement.course.steps import caution

        output.bullets("Caution", [caution("burn")])
    if inflation is not None:
        nominal = ", ".join(f"{rate:.0%} is {(1 + rate) * (1 + inflation) - 1:.1%}" for rate in choices.choices[0].npv)
        click.echo(
            f"With inflation of {inflation:.1%} a year, in nominal terms: {nominal}. Flows stay in today's money."
        )
    if page:
        click.echo(f"Comparison written to {page}.")


def show(choices: Any) -> None:
    """The comparison in words."""
    from overwood.judgement.money.choices import GROWN_BY

    rates, usd = list(choices.choices[0].npv), functools.partial(measures.digits, unit="/ac", form=",.0f")
    rows = [
        (
            c.name,
            *[usd(c.npv[rate]) for rate in rates],
            f"{usd(c.low)} to {usd(c.high)}",
            usd(c.annual_equivalent),
            " or ".join(f"{rate:.1%}" for rate in c.rates_earned) or "-",
            usd(c.land_after_npv),
            c.oak,
        )
        for c in choices.choices
    ]
    headings = (
        "choice",
        *[f"at {rate:.0%}" for rate in rates],
        f"low to high prices, {choices.rate:.0%}",
        f"a year over {choices.horizon_yr:.0f} years",
        "earned by waiting",
        "land after",
        "oak",
    )
    output.table(headings, rows, title=f"{choices.stand}: present value, {{US$/ac}}, real rates", numeric=range(1, 8))
    click.echo(
        f"Standing now {measures.amount(choices.value_now_usd_ac, 'US$/ac', ',.0f')}, growing "
        f"{choices.growth_share_yr:.1%} a year; a year of waiting costs "
        f"{measures.amount(choices.waiting_usd_ac, 'US$/ac', ',.0f')} at {choices.rate:.0%}."
    )
    rows = [
        (c.name, *[usd(value) for value in dataclasses.astuple(c.tried)])
        for c in choices.choices
        if c.tried.crop_fails is not None
    ]
    if rows:
        columns = ("low prices", "high prices", "costs doubled", "costs halved", "slow site", "fast site")
        headings = ("choice", *columns, "crop fails three years")
        output.table(headings, rows, title=f"One thing changed, at {choices.rate:.0%}", numeric=range(1, 8))
    if choices.too_old:
        click.echo(f"Doubt: {choices.too_old}.")
    if choices.missing_costs:
        click.echo(f"Counted as free, because the list has no cost: {', '.join(choices.missing_costs)}.")
    click.echo(
        f"Prices: {choices.price_list}. {GROWN_BY}. Values are not an appraisal. "
        "Oak has no price here: weigh it yourself."
    )
