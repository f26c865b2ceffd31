"""overwood management-plan: the prescriptions of a property in one paper."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from overwood.faces.cli import output
from overwood.faces.cli.options import OutFile, asks, prices_option
from overwood.faces.cli.progress import watched


@click.command("management-plan")
@click.option("--property", "land", default="", help="The property, where the book holds several.")
@click.option("--to", "target", type=OutFile(), required=True, help="PDF to write.")
@click.option("--words", default="", help="Your own words, set apart below the title.")
@prices_option
@asks
def command(land: str, target: Path, words: str, prices: Path | None, ask: Any, as_json: bool) -> None:
    """Bind the prescriptions of every stand of a property, with its aim, the next step of each and what is due in ten
    years.

    A stand that was never cruised is named with what it needs. Futures are those that were run and kept last.
    """
    from overwood.desk import answers, management_plan, session
    from overwood.faces.papers import management_plan as paper
    from overwood.faces.papers import press

    with watched("prescribing", len(session.stands())) as progress:
        made = management_plan.management_plan(answers.priced(ask, prices), land, progress)
    with press.own_words(words):
        paper.write(made, target)
    if as_json:
        output.as_json(made)
        return
    click.echo(f"{len(made.prescriptions)} prescriptions bound in {target}. It is a draft until it is signed.")
    output.bullets("Without a prescription", [f"{name}: {why}" for name, why in made.without.items()])
