"""overwood bearers: which numbered trees bear."""

from __future__ import annotations

from typing import Any

import click

from overwood.faces.cli import output
from overwood.faces.cli.options import asks


@click.command("bearers")
@click.argument("stand")
@click.option("--top", default=20, show_default=True, help="How many trees to print.")
@asks
def command(stand: str, top: int, ask: Any, as_json: bool) -> None:
    """Rank the numbered oaks of STAND by what they have borne, ranked within their oak group."""
    from overwood.desk import answers

    bearers = answers.bearers(stand, ask)
    if as_json:
        output.as_json(bearers)
        return
    if not bearers:
        click.echo(
            f"No trees of {stand} were counted in two autumns or more. Number 25 or more oaks and count the "
            "same ones each September."
        )
        return
    autumns = max(bearer.autumns for bearer in bearers)
    rows = [
        (b.tree, b.species, str(b.rank), str(b.autumns), output.number(b.mean_count), f"{b.shrunken_log:+.2f}")
        for b in bearers[:top]
    ]
    output.table(
        ("tree", "species", "rank in its group", "autumns", "mean count", "shrunken score"),
        rows,
        title=f"{stand}: bearers over {autumns} autumns",
        numeric=(2, 3, 4, 5),
    )
    if autumns < 3:
        click.echo("Fewer than three autumns: expect to miss a quarter to a half of the best bearers (acorn2017).")
