"""overwood sale: bids, papers and arithmetic of a sale."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from overwood.faces.cli import output
from overwood.faces.cli.options import asks, prices_option


@click.command("sale")
@click.argument("stand")
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
    stand: str, notice: Path | None, bids: Path | None, depletion: tuple[float, ...] | None, prices: Path | None, ask: Any, as_json: bool
) -> None:
    """The sale of STAND: how to sell, the notice, the bids net of terms and risk, and depletion as information only."""
    from overwood.desk import timber

    found = timber.timber(stand, ask, timber.price_list(prices), "")
    answer: dict[str, Any] = {"stand": stand, "method": vars(found.method) if found.method else None}
    if notice:
        from overwood.desk import answers
        from overwood.faces.papers import sale_notice

        sale_notice.write(found, answers.stand_file(stand), ask.on, notice)
        answer["notice"] = str(notice)
    if bids:
        answer["bids"] = [
            {"bidder": r.bid.bidder, "amount_usd": r.bid.amount_usd, "net_usd": r.net_usd} for r in timber.bids(bids, ask.rules)
        ]
    if depletion:
        answer["depletion"] = _depletion(depletion)
    if as_json:
        output.as_json(answer)
        return
    if found.method:
        click.echo(f"Sell {found.method.way}: {found.method.why}.")
    if bids:
        rows = [
            (str(place), b["bidder"], f"{b['amount_usd']:,.0f}", f"{b['net_usd']:,.0f}") for place, b in enumerate(answer["bids"], start=1)
        ]
        output.table(
            ("rank", "bidder", "bid, US$", "worth now, US$"),
            rows,
            title=f"Bids at a real rate of {ask.rules.number('real_rate'):.0%}",
            numeric=(0, 2, 3),
        )
    if depletion:
        d = answer["depletion"]
        click.echo(
            f"Depletion unit {d['unit_usd']:,.2f} US$/MBF; allowed {d['allowed_usd']:,.0f}; gain {d['gain_usd']:,.0f}. Information only: take it to a tax professional."
        )
    if notice:
        click.echo(f"Notice written to {notice}. Your own counsel completes its terms.")


def _depletion(given: tuple[float, ...]) -> dict[str, float]:
    from overwood.ground.errors import Misuse
    from overwood.judgement import selling

    basis, volume, sold, income, expense = given
    if volume <= 0 or not 0 <= sold <= volume:
        raise Misuse("depletion needs a volume above 0 and a sold part of it.", remedy="BASIS VOLUME SOLD INCOME EXPENSE.")
    return vars(selling.depletion(basis, volume, sold, income, expense))
