"""overwood canopy: a stand from above."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import click

from overwood.faces.cli import output
from overwood.faces.cli.options import Day, OutFile, asks
from overwood.ground import measures

_GAPS_TOLD = 3
_IN = click.Path(exists=True, dir_okay=False, path_type=Path)


@click.command("canopy")
@click.argument("stand")
@click.argument("rasters", nargs=-1, metavar="[RASTER]...", type=_IN)
@click.option("--flown", type=Day(), help="Day of the flight; needed with a raster.")
@click.option(
    "--height", type=click.Choice(["m", "ft"]), default=None, help="Unit of its heights, where the file does not say."
)
@click.option("--keep", is_flag=True, help="Keep the map in the book: its crowns stay proposals.")
@click.option("--sheet", type=OutFile(), help="Write the crowns as a sheet to take to the woods (csv).")
@click.option("--check", "filled", type=_IN, help="The filled sheet: what stands below crowns of the map kept last.")
@click.option("--by", default="", help="Who looked; needed with --check.")
@asks
def command(
    stand: str,
    rasters: tuple[Path, ...],
    flown: dt.date | None,
    height: str | None,
    keep: bool,
    sheet: Path | None,
    filled: Path | None,
    by: str,
    ask: Any,
    as_json: bool,
) -> None:
    """Large crowns and gaps of STAND proposed from RASTER, a canopy-height GeoTIFF or a point cloud (LAS, LAZ).

    Name all pieces where it comes in several: they are laid together first, so that no seam parts a crown.

    Crowns are proposals without species, each to be looked at on the ground. Without RASTER the map kept last is shown.
    """
    from overwood.desk import canopy

    _must_agree(bool(rasters), flown, keep, filled, by)
    if rasters and flown is not None:
        seen = canopy.look_at_files(stand, rasters, ask, flown_on=flown, height=height or "")
        state = f"Answer {canopy.keep(seen, ask).number}." if keep else "Not kept; keep it with --keep."
    elif filled is not None:
        verdicts = canopy.verdicts_of(filled.name, canopy.text_of(filled.name, filled.read_bytes()))
        seen = canopy.check(stand, verdicts, ask, by=by)
        state = f"{len(verdicts)} crowns written down."
    else:
        seen, answer = canopy.newest(stand, ask)
        state = (
            f"{answer.words} Made on {answer.made_on}.{' Records of the stand changed since.' if answer.is_old else ''}"
        )
    if sheet:
        sheet.write_text(canopy.sheet(seen), encoding="utf-8")
    if as_json:
        output.as_json(seen)
        return
    _show(seen)
    click.echo(state)
    if sheet:
        click.echo(
            f"Sheet of {len(seen.crowns)} crowns written to {sheet}; fill its last columns and bring it "
            "back with --check."
        )


def _must_agree(has_raster: bool, flown: dt.date | None, keep: bool, filled: Path | None, by: str) -> None:
    if has_raster and flown is None:
        raise click.UsageError("--flown DAY is needed with a raster: trees fall and grow after a flight.")
    if not has_raster and (flown is not None or keep):
        raise click.UsageError("--flown and --keep belong to a raster; name its file.")
    if has_raster and filled is not None:
        raise click.UsageError("--check speaks of the map kept last; leave the raster out.")
    if filled is not None and not by.strip():
        raise click.UsageError("--check needs --by NAME, who looked.")


def _show(seen: Any) -> None:
    output.heading(
        f"{seen.stand} from above: {seen.file}, flown {seen.flown_on}, {seen.kind} of {seen.cell_m:.2f} m cells"
    )
    click.echo(
        f"{len(seen.crowns)} crowns proposed on {measures.amount(seen.acres, 'ac', '.1f')} "
        f"({measures.amount(seen.crowns_ac, 'an acre', '.1f')}), {len(seen.gaps)} gaps on "
        f"{100 * seen.gap_share:.1f}% of the ground; {100 * seen.covered_share:.0f}% of what was seen has "
        "canopy over it."
    )
    if seen.gaps:
        largest = ", ".join(
            f"{measures.amount(gap.area_ac, 'ac', '.2f')} at {gap.latitude_deg:.5f}, {gap.longitude_deg:.5f}"
            for gap in seen.gaps[:_GAPS_TOLD]
        )
        click.echo(f"Largest gaps: {largest}.")
    rows = [
        (size_name(size), measures.digits(size.crowns_ac, "/ac", ".1f"), *output.shown(size.trees_ac)[:2])
        for size in seen.sizes
    ]
    if rows:
        headings = ("height, {ft}", "crowns from above, {an acre}", "trees of the cruise, {an acre}", "interval")
        output.table(headings, rows, title="What was seen of each height, and what was missed", numeric=(1, 2))
    _show_light(seen)
    output.bullets("Not seen from above", seen.unseen)
    output.bullets("Refused", [refusal.words for refusal in seen.refusals])
    click.echo(check_words(seen.check))
    output.bullets("Notes", seen.notes)


def size_name(size: Any) -> str:
    """A class of height as it is told."""
    low = measures.digits(size.from_ft, "ft")
    return f"{low} or taller" if size.to_ft is None else f"{low} to {measures.digits(size.to_ft, 'ft')}"


def _show_light(seen: Any) -> None:
    value, span, _ = output.shown(seen.floor_light)
    figure = (
        f"The stand's figure of floor light stays {value}%{f' ({span})' if span else ''}."
        if seen.floor_light.measured
        else ""
    )
    if seen.light is None:
        click.echo(f"No light is given: {seen.light_lacking}. {figure}")
        return
    light = seen.light
    click.echo(
        f"Light by these crowns and the cruise's {measures.digits(light.small_stems_ac, '/ac')} other "
        f"stems {measures.unit_word('an acre')}: "
        f"{light.mean_pct:.0f}% of full sun, "
        f"{light.low_pct:.0f} to {light.high_pct:.0f} (model alone: {light.method}). {figure}"
    )


def check_words(check: Any) -> str:
    """How far the ground check has come."""
    if check.one_tree_share is None:
        return f"Looked at on the ground: {check.checked} crowns of the {check.needed} that a share needs."
    return (
        f"Looked at on the ground: {check.checked} crowns, {check.one_tree} one tree, {check.several} "
        f"several, {check.no_tree} none; "
        f"one tree in {100 * check.one_tree_share:.0f}% ({100 * check.low_share:.0f} to {100 * check.high_share:.0f})."
    )
