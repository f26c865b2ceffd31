"""overwood prescription: the paper a silviculturist signs, as PDF."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from overwood.faces.cli import output
from overwood.faces.cli.options import asks, prices_option


@click.command("prescription")
@click.argument("stand")
@click.option(
    "--to", "target", type=click.Path(path_type=Path), help="File to write; STAND-prescription.pdf if left out."
)
@click.option("--words", default="", help="Your own words, set apart below the title.")
@prices_option
@asks
def command(stand: str, target: Path | None, words: str, prices: Path | None, ask: Any, as_json: bool) -> None:
    """Write the prescription of STAND: what is found, wanted, weighed and to be done, what opens each step, and who
    signs.

    Futures are those that were run and kept last; with a price list the choices are weighed in money too.
    """
    from overwood.desk import answers, prescription
    from overwood.faces.papers import prescription as paper
    from overwood.faces.papers import press

    answer = prescription.answer_of(stand, answers.priced(ask, prices))
    if as_json:
        output.as_json(answer.answer)
        return
    target = Path(f"{stand}-prescription.pdf") if target is None else target
    with press.own_words(words), press.printed_from(answer.words):
        paper.write(answer.answer, ask.on, target)
    click.echo(f"Prescription written to {target}. It is a draft until it is signed.")
    output.bullets("Cautions", answers.advice(stand, ask).cautions)
