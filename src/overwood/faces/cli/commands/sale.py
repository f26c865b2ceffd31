"""overwood sale: bids, papers and arithmetic of a sale."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from overwood.faces.cli import output
from overwood.faces.cli.options import OutFile, asks, language_option, prices_option
from overwood.ground import measures

if TYPE_CHECKING:
    from overwood.desk.kept import NamedAnswer
    from overwood.desk.timber import CutList
    from overwood.judgement.money.selling import Depletion, RankedBid
    from overwood.judgement.money.settlement import Settlement


@click.command("sale")
@click.argument("stand")
@click.option(
    "--marking",
    type=click.Path(path_type=Path),
    help="The marked trees as csv: what `overwood mark --trees` writes, or species and dbh_in of each tree to be sold.",
)
@click.option(
    "--cut-list",
    "trees",
    type=OutFile(),
    help="Write the marked trees one by one, as PDF for the logger or as csv by the file's ending.",
)
@click.option(
    "--tickets",
    type=click.Path(path_type=Path, exists=True, dir_okay=False),
    help="Settle the sale: scale tickets as csv (ticket, species, boards_bf, log_rule), one species of one load a row.",
)
@click.option("--settlement", type=OutFile(), help="Write the settlement as PDF; needs --tickets.")
@click.option("--notice", type=click.Path(path_type=Path), help="Write the notice for sealed bids as PDF.")
@click.option(
    "--bids",
    type=click.Path(path_type=Path),
    help=(
        "Compare the bids of this csv (bidder, amount_usd, share_at_signing, years_to_rest, default_chance, "
        "deductions_usd)."
    ),
)
@click.option(
    "--depletion",
    nargs=5,
    type=float,
    metavar="BASIS VOLUME SOLD INCOME EXPENSE",
    help="Depletion arithmetic: US$, MBF, MBF, US$, US$.",
)
@prices_option
@language_option
@asks
def command(
    stand: str,
    marking: Path | None,
    trees: Path | None,
    tickets: Path | None,
    settlement: Path | None,
    notice: Path | None,
    bids: Path | None,
    depletion: tuple[float, ...] | None,
    prices: Path | None,
    tongue: str,
    ask: Any,
    as_json: bool,
) -> None:
    """The sale of STAND: what is marked and nothing else, its papers, the bids net of terms and risk, the settlement;
    depletion as information only."""
    from overwood.desk import timber

    # Bids and depletion are arithmetic on what a person was offered; the sale itself needs the marked trees.
    if settlement and not tickets:
        raise click.UsageError("--settlement needs the scale tickets: name them with --tickets.")
    alone = (bids or depletion) and not (notice or marking or trees or tickets)
    told = None if alone else timber.sale_answer(stand, ask, timber.price_list(prices), "", marking)
    sale = told.answer.sale if told else None
    ranked = tuple(timber.bids(bids, ask.rules)) if bids else ()
    settled = timber.settle(sale, tickets, ask.rules) if tickets and sale else None
    answer = timber.SaleAnswer(stand, sale, ranked, _depletion(depletion) if depletion else None, settled)
    files = {"notice": notice, "cut list": trees, "settlement": settlement}
    if told and any(files.values()):
        _write_papers(told, settled, ask, files, tongue)
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
            f"Depletion unit {parts.unit_usd:,.2f} US$/MBF; allowed {parts.allowed_usd:,.0f}; gain "
            f"{parts.gain_usd:,.0f}. "
            "Information only: take it to a tax professional."
        )
    if settled:
        _show_settlement(settled)
    for path, what in ((notice, "Notice"), (trees, "Cut list"), (settlement, "Settlement")):
        if path:
            click.echo(
                f"{what} written to {path}." + (" Your attorney completes its terms." if what == "Notice" else "")
            )


def _write_papers(
    told: NamedAnswer[CutList], settled: Settlement | None, ask: Any, files: dict[str, Path | None], tongue: str
) -> None:
    """The papers of a sale that were asked for; each names the sale that is kept."""
    from overwood.desk import answers, timber
    from overwood.faces.papers import cut_list, press, sale_notice, settlement_sheet

    cuts = told.answer
    with press.printed_from(told.words):
        if files["notice"]:
            sale_notice.write(cuts.sale, answers.stand_file(cuts.stand), ask.on, files["notice"])
        if (trees := files["cut list"]) and trees.suffix.lower() == ".csv":
            timber.write_cut_list(cuts, trees)
        elif trees:
            cut_list.write(cuts, ask.on, trees, tongue)
        if settled and files["settlement"]:
            settlement_sheet.write(settled, ask.on, files["settlement"], tongue)


def _show_settlement(settled: Settlement) -> None:
    def cells(name: str, row: Any) -> tuple[str, ...]:
        gap = "-" if row.gap_share is None else f"{row.gap_share:+.0%}"
        return (name, str(row.trees), f"{row.marked_bf:,.0f}", f"{row.scaled_bf:,.0f}", gap)

    rows = [cells(row.species, row) for row in settled.rows] + [cells("in all", settled)]
    title = f"{settled.tickets} scale tickets against the marking, {measures.log_rule_words(settled.log_rule)}"
    output.table(
        ("species", "trees", "marked, bd ft", "scaled, bd ft", "difference"), rows, title=title, numeric=range(1, 5)
    )
    output.bullets(
        "Look into", [f"{row.species}: {row.verdict}" for row in settled.rows if row.verdict.code != "settle_near"]
    )
    output.bullets("What it teaches", settled.lessons)


def _show_bids(ranked: tuple[RankedBid, ...], rate: float) -> None:
    rows = [
        (str(place), r.bid.bidder, f"{r.bid.amount_usd:,.0f}", f"{r.net_usd:,.0f}")
        for place, r in enumerate(ranked, start=1)
    ]
    output.table(
        ("rank", "bidder", "bid, US$", "worth now, US$"),
        rows,
        title=f"Bids at a real rate of {rate:.0%}",
        numeric=(0, 2, 3),
    )


def show(sale: Any) -> None:
    """The marked trees, their sums and their value."""
    from overwood.judgement.course.steps import caution

    rows = [
        (x.species, x.product, x.grade or "-", str(x.trees), measures.digits(x.amount, x.unit, ",.1f"),
        measures.unit_word(x.unit))
        for x in sale.lines
    ]  # fmt: skip
    output.table(
        ("species", "product", "grade", "trees", "in all", "unit"),
        rows,
        title=f"{sale.stand}: {sale.trees} marked trees, {measures.log_rule_words(sale.log_rule)}, by {sale.marking}",
        numeric=(3, 4),
    )
    sums = [
        (x.species, str(x.trees), f"{x.boards_bf:,.0f}", "-" if x.value_usd is None else f"{x.value_usd:,.0f}")
        for x in sale.species
    ]
    sums.append(
        (
            "in all",
            str(sale.trees),
            f"{sale.boards_bf:,.0f}",
            "-" if sale.value_usd is None else f"{sale.value_usd[1]:,.0f}",
        )
    )
    boards_head = f"bd ft, {measures.log_rule_words(sale.log_rule)}"
    output.table(("species", "trees", boards_head, "US$"), sums, title="By species", numeric=(1, 2, 3))
    for rule, boards in sale.by_rule.items():
        click.echo(f"  sawtimber by {measures.log_rule_words(rule)}: {boards:,.0f} bd ft")
    if sale.value_usd:
        low, _, high = sale.value_usd
        click.echo(f"Value from {low:,.0f} at the low prices to {high:,.0f} US$ at the high.")
    if sale.unpriced:
        click.echo(f"Not priced, so not in the value: {', '.join(sale.unpriced)}.")
    output.bullets("Notes", ("every marked tree is counted once, so bids can be asked on the tally", *sale.notes))
    output.bullets("Caution", [caution(name) for name in ("felling", "money")])


def _depletion(given: tuple[float, ...]) -> Depletion:
    from overwood.ground.errors import Misuse
    from overwood.judgement.money import selling

    basis, volume, sold, income, expense = given
    if volume <= 0 or not 0 <= sold <= volume:
        raise Misuse(
            "depletion needs a volume above 0 and a sold part of it.", remedy="BASIS VOLUME SOLD INCOME EXPENSE."
        )
    return selling.depletion(basis, volume, sold, income, expense)
