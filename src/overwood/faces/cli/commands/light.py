"""overwood light: how much light the floor of one stand gets."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from overwood.faces.cli import output
from overwood.faces.cli.options import asks


@click.command("light")
@click.argument("stand")
@click.option("--picture", type=click.Path(path_type=Path), help="Write the light map of each state as a picture (.svg).")
@asks
def command(stand: str, picture: Path | None, ask: Any, as_json: bool) -> None:
    """Light on the floor of STAND: readings, the planning curve, and the stem map uncut and with the midstory out."""
    from overwood.desk import light

    found = light.light(stand, ask)
    if picture:
        if found.block is None:
            raise click.UsageError(f"{stand} has no stem map to draw. Bring one in with the sheets stem_maps and stems.")
        from overwood.faces.papers import light_map

        light_map.write_picture(found.block, found.states, picture)
    if as_json:
        output.as_json(
            {
                "stand": found.stand,
                "figures": {name: figure.to_dict() for name, figure in found.figures.items()},
                "states": [state.to_dict() for state in found.states],
                "notes": found.notes,
            }
        )
        return
    _show(found)
    if picture:
        click.echo(f"Light map written to {picture}.")


def _show(found: Any) -> None:
    rows = [(name, *output.shown(figure)[:2], figure.method) for name, figure in found.figures.items()]
    if rows:
        output.table(("figure", "% of full sun", "interval", "from"), rows, title=f"{found.stand}: light on the floor", numeric=(1,))
    if found.states:
        output.table(*states_table(found.states), title=f"{found.stand}: stem map {found.block.visit}, % of full sun", numeric=range(1, 5))
    output.bullets("Notes", found.notes)


def states_table(states: Any) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """Headings and rows of the light of several states."""
    headings: tuple[str, ...] = (
        "state",
        "mean",
        "crowns wider to narrower",
        "tenth, half, nine tenths of the area below",
        "area in the light wanted",
    )
    rows: list[tuple[str, ...]] = [
        (
            state.state,
            f"{state.mean_pct:.1f}",
            f"{state.wide_pct:.1f} to {state.narrow_pct:.1f}",
            ", ".join(f"{value:.0f}" for value in state.percentiles_pct),
            f"{state.share_in_band:.0%}",
        )
        for state in states
    ]
    return headings, rows
