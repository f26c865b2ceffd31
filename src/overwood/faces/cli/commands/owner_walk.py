"""overwood owner-walk: ten stops for the owner, as a leaflet of two sides."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from overwood.faces.cli import output
from overwood.faces.cli.options import OutFile, asks


@click.command("owner-walk")
@click.argument("stand")
@click.option("--to", "target", type=click.Path(path_type=Path), help="File to write; STAND-walk.pdf if left out.")
@click.option(
    "--cards", default="", help="Cards to show, parted by commas, in the order they are walked; all ten if left out."
)
@click.option(
    "--stations",
    type=OutFile(),
    help="Write a sheet for each stop of a field day: words, questions, a code for a phone.",
)
@click.option(
    "--address",
    default="",
    help="Address of the walk's page, for the codes; without it a code holds the words themselves.",
)
@asks
def command(
    stand: str, target: Path | None, cards: str, stations: Path | None, address: str, ask: Any, as_json: bool
) -> None:
    """Write the owner's walk of STAND: ten stops in plain words, each with a picture of the stand's own figures."""
    from overwood.desk import owner_walk
    from overwood.faces.papers import owner_walk as paper
    from overwood.faces.papers import press

    answer = owner_walk.answer_of(stand, ask)
    leaflet = answer.answer
    if as_json:
        output.as_json(leaflet)
        return
    names = [name.strip() for name in cards.split(",") if name.strip()]
    if names and not stations:
        raise click.UsageError("--cards is for the sheets of a field day: name them with --stations.")
    shown = paper.chosen(leaflet, names)
    target = target or Path(f"{leaflet.stand}-walk.pdf")
    with press.printed_from(answer.words):
        if stations:
            paper.write_stations(shown, ask.on, stations, address)
        else:
            paper.write(leaflet, ask.on, target)
    for number, card in enumerate(shown.cards, start=1):
        click.echo(f"{number}. {paper.words()[card.name]['title']}: {paper.text(card, leaflet.step)}")
    click.echo(f"{'Stations' if stations else 'Leaflet'} written to {stations or target}.")
    output.bullets("Cautions", dict.fromkeys(text for card in shown.cards for text in card.cautions))
