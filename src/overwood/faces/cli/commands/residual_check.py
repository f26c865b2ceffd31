"""overwood residual-check: what the cut left, and what it hurt."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from overwood.faces.cli import output
from overwood.faces.cli.commands.mark import Span
from overwood.faces.cli.options import OutFile, asks, language_option
from overwood.ground import measures


@click.command("residual-check")
@click.argument("stand")
@click.option(
    "--ba", "ba_ft2_ac", type=Span(), help="Basal area wanted after the cut, ft2/ac; the rulebook's if left out."
)
@click.option("--sheet", type=OutFile(), help="Write the crew's sheet for the check as PDF; before a check, and stop.")
@language_option
@asks
def command(
    stand: str, ba_ft2_ac: tuple[float, float] | None, sheet: Path | None, tongue: str, ask: Any, as_json: bool
) -> None:
    """After the cut of STAND: basal area left against the plan, and logging damage against the limit.

    Bring the points in as a visit of kind 'residual check', with damage none, slight or severe for each tree.
    """
    from overwood.desk import marking

    wanted = marking.wants(ask, ba_ft2_ac=ba_ft2_ac)
    if sheet:
        from overwood.faces.papers import residual_sheet

        after = marking.after_cut(stand, ask, wanted)
        residual_sheet.write(after, ask.on, sheet, tongue)
        click.echo(f"Sheet written to {sheet}.")
        if after.check is None:
            return
    residual = marking.residual(stand, ask, wanted)
    if as_json:
        output.as_json(residual)
        return
    output.heading(f"{stand}, {residual.visit}: {'; '.join(residual.verdicts)}")
    ba, span, unit = output.shown(residual.ba_ft2_ac)
    wanted_ba = " to ".join(
        measures.digits(end, "ft2/ac", "g") for end in (residual.ba_low_ft2_ac, residual.ba_high_ft2_ac)
    )
    hurt, hurt_span, _ = output.shown(residual.damage_share)
    rows = [
        (f"basal area left, {unit}", ba, span, wanted_ba),
        ("oak's share of it, %", f"{100 * residual.oak_ba_share:.0f}", "", ""),
        ("severely hurt, % of trees looked at", hurt, hurt_span, f"at most {100 * residual.limit_share:g}"),
        ("slightly hurt, % of trees looked at", f"{100 * residual.slight_share:.0f}", "", ""),
    ]
    output.table(
        ("what", "found", "interval", "wanted"),
        rows,
        title=f"{residual.points} points, {residual.trees} trees",
        numeric=(1, 2),
    )
    if residual.not_looked_at:
        click.echo(f"{residual.not_looked_at} trees have no damage noted and are left out of the shares.")
    output.bullets("Next", residual.advice)
    from overwood.judgement.course.steps import caution

    output.bullets("Cautions", [caution(name) for name in ("snags", "felling", "money")])
