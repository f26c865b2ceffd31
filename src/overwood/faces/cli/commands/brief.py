"""overwood brief: the owner's brief as PDF."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from overwood.faces.cli import output
from overwood.faces.cli.options import asks, prices_option


@click.command("brief")
@click.argument("stand")
@click.option("--to", "target", type=click.Path(path_type=Path), help="File to write; STAND-brief.pdf if left out.")
@click.option(
    "--sources", "with_sources", is_flag=True, help="Add a third page: the forester's reasons in full, and the sources."
)
@prices_option
@asks
def command(stand: str, target: Path | None, with_sources: bool, prices: Path | None, ask: Any, as_json: bool) -> None:
    """Write the owner's brief of STAND on two pages: what is advised, when, why, how sure, what it has cost."""
    from overwood.desk import answers
    from overwood.faces.papers import owner_brief, press

    target = Path(f"{stand}-brief.pdf") if target is None else target
    answer = answers.brief_answer(stand, answers.priced(ask, prices))
    with press.printed_from(answer.words):
        owner_brief.write(answer.answer, target, with_sources=with_sources)
    if as_json:
        output.as_json({"stand": stand, "file": str(target)})
        return
    click.echo(f"Brief written to {target}.")
