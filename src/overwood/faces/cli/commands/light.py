"""overwood light: how much light the floor of one stand gets."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from overwood.faces.cli import output
from overwood.faces.cli.options import asks
from overwood.ground import measures


@click.command("light")
@click.argument("stand")
@click.option(
    "--picture", type=click.Path(path_type=Path), help="Write the light map of each state as a picture (.svg)."
)
@click.option("--fit", is_flag=True, help="Fit the crowns' extinction to the stand's own light readings.")
@click.option("--models", is_flag=True, help="Show the light of the map under other models that publications use.")
@asks
def command(stand: str, picture: Path | None, fit: bool, models: bool, ask: Any, as_json: bool) -> None:
    """Light on the floor of STAND: readings, the planning curve, and the stem map uncut and with the midstory out."""
    from overwood.desk import light

    floor = light.light(stand, ask)
    fitted = light.fit(stand, ask) if fit else None
    others = light.models(stand, ask) if models else ()
    if picture:
        if floor.block is None:
            raise click.UsageError(
                f"{stand} has no stem map to draw. Bring one in with the sheets stem_maps and stems."
            )
        from overwood.faces.papers import light_map

        light_map.write_picture(floor.block, floor.states, picture)
    if as_json:
        output.as_json(
            {
                "stand": floor.stand,
                "figures": floor.figures,
                "states": floor.states,
                "told": floor.told,
                "notes": floor.notes,
                "models": others,
                "fit": fitted,
            }
        )
        return
    _show(floor)
    if others:
        rows = [(model.model, *(f"{mean:.1f}" for mean in model.means_pct)) for model in others]
        headings = ("model", *(state.state for state in floor.states))
        output.table(
            headings, rows, title="The same map under other models, mean % of full sun", numeric=range(1, len(headings))
        )
    if fitted:
        _show_fit(fitted)
    if picture:
        click.echo(f"Light map written to {picture}.")


def _show(floor: Any) -> None:
    rows = [(name, *output.shown(figure)[:2], figure.method) for name, figure in floor.figures.items()]
    if rows:
        output.table(
            ("figure", "% of full sun", "interval", "from"),
            rows,
            title=f"{floor.stand}: light on the forest floor",
            numeric=(1,),
        )
    if floor.states:
        output.table(
            *states_table(floor.states),
            title=f"{floor.stand}: stem map {floor.block.visit}, % of full sun",
            numeric=range(1, 5),
        )
    show_told(floor.stand, floor.told)
    output.bullets("Notes", floor.notes)


def show_told(stand: str, told: Any) -> None:
    """The one figure of each state, and what the methods alone would say."""
    if not told:
        return
    rows = [
        (
            one.state,
            "" if one.ba_ft2_ac is None else measures.digits(one.ba_ft2_ac, "ft2/ac"),
            f"{one.mean_pct:.0f}",
            f"{one.low_pct:.0f} to {one.high_pct:.0f}",
            f"{one.model_pct:.0f}",
            "" if one.curve_pct is None else f"{one.curve_pct:.0f}",
            one.method,
        )
        for one in told
    ]
    headings = ("state", "{ft2/ac} standing", "light", "interval", "model alone", "curve alone", "from")
    output.table(headings, rows, title=f"{stand}: light by state, % of full sun", numeric=range(1, 6))


def _show_fit(fitted: Any) -> None:
    span = f" ({fitted.scale_low:.2f} to {fitted.scale_high:.2f})" if fitted.scale_low and fitted.scale_high else ""
    click.echo(
        f"{fitted.readings} readings of {' and '.join(fitted.kinds)} average {fitted.readings_pct:.1f}%. "
        f"The map gives {fitted.before_pct:.1f} "
        f"({fitted.before_error_pct:+.1f} points, {fitted.before_rms_pct:.1f} rms) and, with extinction "
        f"times {fitted.scale:.2f}{span}, "
        f"{fitted.after_pct:.1f} ({fitted.after_error_pct:+.1f} points, {fitted.after_rms_pct:.1f} rms)."
    )
    if not fitted.placed:
        click.echo(
            "The readings have no east_ft and north_ft, so each is set against the map's mean: their "
            "spread stays in the error."
        )
    if not fitted.in_range:
        click.echo("That scale lies outside the range of the assumption: look at crown radii and crown base first.")
        return
    click.echo("To use it, put these lines into your overlay (--rules FILE):")
    click.echo(fitted.overlay.rstrip())


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
