"""overwood plots: how many, and where."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from overwood.faces.cli import output
from overwood.faces.cli.options import asks
from overwood.ground import measures


@click.command("plots")
@click.argument("stand")
@click.option("--count", type=click.IntRange(1, 5000), help="Lay this many plots on a grid with a random start.")
@click.option("--seed", default=1, show_default=True, help="The same seed gives the same start.")
@click.option("--gpx", type=click.Path(path_type=Path), help="Write the plots as waypoints.")
@asks
def command(stand: str, count: int | None, seed: int, gpx: Path | None, ask: Any, as_json: bool) -> None:
    """How many plots STAND needs for each error wanted, and where they go."""
    from overwood.desk import layout

    needs = layout.plots_needed(stand, ask)
    grid = layout.grid(stand, count, seed) if count else None
    if grid and gpx:
        layout.write_gpx(gpx, stand, grid)
    if as_json:
        output.as_json({"stand": stand, "needed": needs, "grid": grid.points if grid else []})
        return
    output.table(
        ("for", "plots", "why"),
        [(need.wanted, str(need.plots), need.why) for need in needs],
        title=f"Plots for {stand}",
        numeric=(1,),
    )
    if grid:
        click.echo(
            f"{len(grid.points)} plots on a grid of {measures.amount(grid.spacing_ft, 'ft')} with a random "
            f"start (seed {seed})."
        )
        for number, (longitude, latitude) in enumerate(grid.points, start=1):
            click.echo(f"  {number:>3}  {latitude:.6f}, {longitude:.6f}")
    if grid and gpx:
        click.echo(f"Waypoints written to {gpx}.")
