"""overwood decide: a decision with its reason."""

from __future__ import annotations

from typing import Any

import click

from overwood.faces.cli import output
from overwood.faces.cli.options import asks


@click.command("decide")
@click.argument("stand")
@click.argument("step")
@click.option(
    "--because", "reason", default="", help="The reason, in your words; needed where the advice is overridden."
)
@click.option("--by", default="Forester", show_default=True, help="Who decides, by role.")
@asks
def command(stand: str, step: str, reason: str, by: str, ask: Any, as_json: bool) -> None:
    """Write down that STEP was chosen for STAND: the name of the advised step, or your own words."""
    from overwood.desk import answers

    name = answers.decide(stand, ask, step=step, reason=reason, by=by)
    if as_json:
        output.as_json({"decision": name, "rulebook_version": ask.rules.version})
        return
    click.echo(f"Decision {name} is on file, with rulebook {ask.rules.version}.")
