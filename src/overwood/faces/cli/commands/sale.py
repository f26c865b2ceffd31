"""overwood sale: bids, papers and arithmetic of a sale."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from overwood.faces.cli import output
from overwood.faces.cli.options import asks, prices_option

if TYPE_CHECKING:
    from overwood.judgement.selling import Depletion, RankedBid


@click.command("sale")
@click.argument("stand")
@click.option(
    "--marking",
    type=click.Path(path_type=Path),
    help="The marked trees as csv: what `overwood mark --trees` writes, or species and dbh_in of each tree to be sold.",
)
@click.option("--notice", type=click.Path(path_type=Path), help="Write the notice for sealed bids as PDF.")
@click.option(
    "--bids",
    type=click.Path(path_type=Path),
    help="Compare the bids of this csv (bidder, amount_usd, share_at_signing, years_to_rest, default_chance, deductions_usd).",
)
@click.option(
    "--depletion", nargs=5, type=float, metavar="BASIS VOLUME SOLD INCOME EXPENSE", help="Depletion arithmetic: US$, MBF, MBF, US$, US$."
)
@prices_option
@asks
def command(
    stand: str,
    marking: Path | None,
    notice: Path | None,
    bids: Path | None,
    depletion: tuple[float, ...] | None,
    prices: Path | None,
    ask: Any,
    as_json: bool,
) -> None:
    """The sale of STAND: what is marked and nothing else, the notice, the bids net of terms and risk, depletion as information only."""
    from overwood.desk import timber

    # Bids and depletion are arithmetic on what a person was offered; the sale itself needs the marked trees.
    sale = None if (bids or depletion) and not notice and not marking else timber.sale(stand, ask, timber.price_list(prices), "", marking)
    ranked = tuple(timber.bids(bids, ask.rules)) if bids else ()
    answer = timber.SaleAnswer(stand, sale, ranked, _depletion(depletion) if depletion else None)
    if notice and sale:
        from overwood.desk import answers
        from overwood.faces.papers import answered, sale_notice

        with answered.printed(sale.stand, "sale", ask, sale):
            sale_notice.write(sale, answers.stand_file(stand), ask.on, notice)
    if as_json:
        output.as_json(answer)
        return
    if sale:
        show(sale)
    if ranked:
        _show_bids(ranked, ask.rules.number("real_rate"))
    if answer.depletion:
        parts = answer.depletion
        click.echo(
            f"Depletion unit {parts.unit_usd:,.2f} US$/MBF; allowed {parts.allowed_usd:,.0f}; gain {parts.gain_usd:,.0f}. "
            "Information only: take it to a tax professional."
        )
    if notice:
        click.echo(f"Notice written to {notice}. Your own counsel completes its terms.")


def _show_bids(ranked: tuple[RankedBid, ...], rate: float) -> None:
    rows = [(str(place), r.bid.bidder, f"{r.bid.amount_usd:,.0f}", f"{r.net_usd:,.0f}") for place, r in enumerate(ranked, start=1)]
    output.table(("rank", "bidder", "bid, US$", "worth now, US$"), rows, title=f"Bids at a real rate of {rate:.0%}", numeric=(0, 2, 3))


def show(sale: Any) -> None:
    """The marked trees, their sums and their value."""
    from overwood.judgement.course.steps import caution

    rows = [(x.species, x.product, x.grade or "-", str(x.trees), f"{x.amount:,.1f}", x.unit) for x in sale.lines]
    output.table(
        ("species", "product", "grade", "trees", "in all", "unit"),
        rows,
        title=f"{sale.stand}: {sale.trees} marked trees, {sale.log_rule}, by {sale.marking}",
        numeric=(3, 4),
    )
    sums = [(x.species, str(x.trees), f"{x.boards_bf:,.0f}", "-" if x.value_usd is None else f"{x.value_usd:,.0f}") for x in sale.species]
    sums.append(("in all", str(sale.trees), f"{sale.boards_bf:,.0f}", "-" if sale.value_usd is None else f"{sale.value_usd[1]:,.0f}"))
    output.table(("species", "trees", f"bd ft, {sale.log_rule}", "US$"), sums, title="By species", numeric=(1, 2, 3))
    for rule, boards in sale.by_rule.items():
        click.echo(f"  sawtimber by {rule}: {boards:,.0f} bd ft")
    if sale.value_usd:
        low, _, high = sale.value_usd
        click.echo(f"Value from {low:,.0f} at the low prices to {high:,.0f} US$ at the high.")
    if sale.unpriced:
        click.echo(f"Not priced, so not in the value: {', '.join(sale.unpriced)}.")
    output.bullets("Notes", ("every marked tree is counted once, so bids can be asked on the tally", *sale.notes))
    output.bullets("Caution", [caution(name) for name in ("felling", "money")])


def _depletion(given: tuple[float, ...]) -> Depletion:
    from overwood.ground.errors import Misuse
    from overwood.judgement import selling

    basis, volume, sold, income, expense = given
    if volume <= 0 or not 0 <= sold <= volume:
        raise Misuse("depletion needs a volume above 0 and a sold part of it.", remedy="BASIS VOLUME SOLD INCOME EXPENSE.")
    return selling.depletion(basis, volume, sold, income, expense)
