"""overwood marking-check: is the marking on target?"""

from __future__ import annotations

from typing import Any

import click

from overwood.faces.cli import output
from overwood.faces.cli.commands.mark import Span
from overwood.faces.cli.options import asks
from overwood.ground import measures


@click.command("marking-check")
@click.argument("stand")
@click.option("--ba", "ba_ft2_ac", type=Span(), help="Basal area to leave, ft2/ac; the rulebook's if left out.")
@asks
def command(stand: str, ba_ft2_ac: tuple[float, float] | None, ask: Any, as_json: bool) -> None:
    """Compare points taken while the crew marks STAND with the plan: on target, off target, or take more points.

    Bring the points in as a visit of kind 'marking check', tallying only the trees the crew leaves.
    """
    from overwood.desk import marking

    check = marking.marking_check(stand, ask, marking.wants(ask, ba_ft2_ac=ba_ft2_ac))
    if as_json:
        output.as_json(check)
        return
    looked = check.looked
    output.heading(f"{stand}, {check.visit}: {check.verdict}")
    span = (
        f" ({measures.span(looked.low, looked.high, 'ft2/ac')}, wide because it is looked at often)"
        if looked.low == looked.low
        else ""
    )
    click.echo(
        f"{looked.n} points: {measures.amount(looked.mean, 'ft2/ac')} stay{span}; wanted "
        f"{measures.span(check.ba_low_ft2_ac, check.ba_high_ft2_ac, 'ft2/ac', 'g')}. {check.advice}"
    )
    rows = [(s.what, f"{s.marked:.0%}", "-" if s.planned is None else f"{s.planned:.0%}") for s in check.shares]
    output.table(("of the basal area that stays", "marked", "by the rule on the cruise"), rows, numeric=(1, 2))
