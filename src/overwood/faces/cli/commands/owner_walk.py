"""overwood owner-walk: ten stops for the owner, as a leaflet of two sides."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from overwood.faces.cli import output
from overwood.faces.cli.options import asks


@click.command("owner-walk")
@click.argument("stand")
@click.option("--to", "target", type=click.Path(path_type=Path), help="File to write; STAND-walk.pdf if left out.")
@asks
def command(stand: str, target: Path | None, ask: Any, as_json: bool) -> None:
    """Write the owner's walk of STAND: ten stops in plain words, each with a picture of the stand's own figures."""
    from overwood.desk import owner_walk
    from overwood.faces.papers import answered
    from overwood.faces.papers import owner_walk as paper

    found = owner_walk.owner_walk(stand, ask)
    if as_json:
        output.as_json(found)
        return
    target = target or Path(f"{found.stand}-walk.pdf")
    with answered.printed(found.stand, "owner walk", ask, found):
        paper.write(found, ask.on, target)
    for number, card in enumerate(found.cards, start=1):
        click.echo(f"{number}. {paper.words()[card.name]['title']}: {paper.text(card, found.step)}")
    click.echo(f"Leaflet written to {target}.")
    output.bullets("Cautions", dict.fromkeys(text for card in found.cards for text in card.cautions))
