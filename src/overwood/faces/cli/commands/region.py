"""overwood region: the next step of many stands, from parquet parts and without a book."""

from __future__ import annotations

import datetime as dt
import os
from dataclasses import replace
from pathlib import Path
from typing import Any

import click

from overwood.faces.cli import output
from overwood.faces.cli.options import book_option, json_option, on_option, rules_option

_LOOK = (
    "screen: the gates that decide and the step of every stand by columns, hundreds of times as quick as advice; "
    "wanted: the full advice of stands where such a gate is unsure or the step is work; tiers: both, one after the "
    "other; advice: the full advice of every stand; "
    "futures: by columns, and then the futures of --kinds stands that stand for all."
)

_HEADS = {
    "screen": "Every stand, by columns:",
    "wanted": "The full advice where a gate that decides is unsure or the step is work in the woods:",
}

# What a page of maps says of how all stands were looked at.
_LOOKED = {"advice": "By the full advice of every stand", "screen": "By columns, without reasons or firmness"}

_CLUSTER = (
    "Work on a Dask cluster (extra part 'cluster'): local starts --workers of them on this machine, "
    "tcp://HOST:PORT is a scheduler whose workers "
    "see the same folder and have the same version."
)


@click.command("region")
@click.argument("folder", type=click.Path(path_type=Path, file_okay=False))
@click.option("--from-book", is_flag=True, help="First write the book as parts of FOLDER.")
@click.option(
    "--inventory",
    "public",
    type=click.Path(path_type=Path, file_okay=False),
    help="First write the national inventory's public tables of this folder (PLOT, COND, TREE, SEEDLING) as parts.",
)
@click.option(
    "--stands-a-part",
    type=click.IntRange(1, 100_000),
    default=500,
    show_default=True,
    help="How large these parts are.",
)
@click.option(
    "--look",
    type=click.Choice(["tiers", "screen", "wanted", "advice", "futures"]),
    default="tiers",
    show_default=True,
    help=_LOOK,
)
@click.option(
    "--kinds",
    type=click.IntRange(4, 500),
    default=500,
    show_default=True,
    help="For --look futures: of how many kinds of stand futures are run.",
)
@click.option(
    "--futures",
    "count",
    type=click.IntRange(min=100),
    default=300,
    show_default=True,
    help="For --look futures: futures of each kind and course.",
)
@click.option("--seed", type=int, default=1, show_default=True, help="For --look futures: seed of the futures.")
@click.option(
    "--workers", type=click.IntRange(1, 256), default=1, show_default=True, help="Processes that share the work."
)
@click.option("--cluster", default="", metavar="ADDRESS", help=_CLUSTER)
@click.option("--maps", is_flag=True, help="Draw outlines.pmtiles and maps.html of the results too; not for wanted.")
@book_option
@on_option
@rules_option
@json_option
def command(
    folder: Path,
    from_book: bool,
    public: Path | None,
    stands_a_part: int,
    workers: int,
    look: str,
    cluster: str,
    maps: bool,
    kinds: int,
    count: int,
    seed: int,
    **more: Any,
) -> None:
    """Judge every stand of FOLDER/parts/NAME/TABLE.parquet (columns of the contract) and write the results beside them.

    The advice is that of `overwood property` on the same records; the futures a book keeps go along. All stands of a
    property lie in one part. A run that was stopped goes on: only what lacks is worked out.
    """
    from overwood.desk import part_advice, part_counties, part_tasks, regions, session
    from overwood.ground.errors import Misuse

    looks = ("screen", "wanted") if look == "tiers" else (look,)
    if maps and looks[0] not in _LOOKED:
        raise Misuse(f"{look} is no look at every stand, and maps are of all.", remedy="Use --look screen or advice.")
    if public:
        _say_brought(part_counties.from_inventory(folder, public, more["on"]), folder)
    if from_book:
        session.open_book(more["book"])
        click.echo(
            f"{part_advice.from_book(folder, stands_a_part)} parts written to {folder / part_advice.PARTS}", err=True
        )
        session.close()
    place = os.environ.get(regions.VARIABLE)
    on: dt.date = more["on"]
    ask = part_tasks.Ask(on, _whole(more["overlay"]), _whole(Path(place) if place else None), looks[0])
    hands = part_tasks.Hands(workers, cluster)
    if look == "futures":
        from overwood.desk import part_kinds

        _show_kinds(part_kinds.futures_by_kind(folder, ask, hands, part_kinds.KindsAsked(kinds, count, seed)), more)
        return
    standings = {one: part_advice.run(folder, replace(ask, look=one), hands) for one in looks}
    if maps:
        _draw(folder, standings[looks[0]], f"{_LOOKED[looks[0]]}, {on.day} {on:%B %Y}.")
    if more["as_json"]:
        output.as_json(standings if len(standings) > 1 else standings[look])
    else:
        for one, standing in standings.items():
            _show(standing, _HEADS[one] if len(standings) > 1 else "")
    _fail([*standings.values()])


def _show_kinds(found: Any, more: Any) -> None:
    from overwood.ground.errors import OverwoodError

    if more["as_json"]:
        output.as_json(found)
    else:
        click.echo(
            f"{found.stands:,} stands of {found.kinds:,} kinds; {found.without:,} more have no futures (no count, no "
            f"overwood, released or not judged). {found.parts_now:,} parts worked out now.\n"
            f"A stand lies {found.mean_distance:.2f} standard deviations from the stand of its kind, at most "
            f"{found.greatest_distance:.2f}."
        )
        click.echo(_error_words(found.error))
        click.echo(f"Results: kinds.csv and stand_kinds.parquet in {found.folder}.")
    if found.refused:
        raise OverwoodError("\n".join(f"part refused: {one}" for one in found.refused))


def _error_words(error: Any) -> str:
    if error is None:
        return "Each stand has its own futures."
    return (
        f"Of {error.stands} stands that were given their own futures too, a course's chance of an oak stand is off by "
        f"{100 * error.mean:.0f} points in the mean and by {100 * error.nine_of_ten:.0f} in one of ten; the seed alone "
        f"makes {100 * error.seed:.0f} of it at most. The best course is the same for {error.best_course_same:.0%} of "
        "them. Kinds sort stands for a closer look; they decide nothing on one."
    )


def _draw(folder: Path, standing: Any, words: str) -> None:
    from overwood.desk import part_maps
    from overwood.faces.papers import region_maps

    results = Path(standing.folder)
    region = part_maps.drawn(folder, results)
    part_maps.write_tiles(region, region_maps.WORK_COLORS, results / part_maps.TILES)
    region_maps.write(region, standing, words, results / "maps.html")


def _say_brought(brought: Any, folder: Path) -> None:
    click.echo(
        f"{brought.stands:,} forest conditions of {brought.plots:,} plots written to {folder} in {brought.parts:,} "
        "parts, one a county.",
        err=True,
    )
    for words, count in brought.left_out.items():
        if count:
            click.echo(f"Left out: {count:,} {words}.", err=True)


def _whole(place: Path | None) -> Path | None:
    """A path that another process finds too."""
    return place.resolve() if place else None


def _show(standing: Any, head: str) -> None:
    if head:
        click.echo(head)
    from overwood.judgement.course.steps import title_counted

    rows = [
        (title_counted(one.step), f"{one.stands:,}", f"{one.area_ac:,.0f}", f"{one.without_area:,}")
        for one in standing.steps
    ]
    output.table(("next step", "stands", "acres", "acres not noted"), rows, numeric=(1, 2, 3))
    click.echo(
        f"{standing.stands:,} stands in {standing.parts:,} parts, {standing.parts_now:,} of them worked out now."
    )
    click.echo(f"Results: {standing.folder}.")
    if standing.counties:
        counties = len({one.county for one in standing.counties})
        click.echo(f"Stands by county and step: {counties:,} counties in county_steps.csv.")


def _fail(told: list[Any]) -> None:
    """Say what was refused or could not be judged, each once."""
    from overwood.ground.errors import OverwoodError

    faults = [f"part refused: {one}" for standing in told for one in standing.refused]
    faults += [f"{one.stand} could not be judged: {one.reason}" for standing in told for one in standing.unjudged]
    if faults:
        raise OverwoodError("\n".join(dict.fromkeys(faults)))
