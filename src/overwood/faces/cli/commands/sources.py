"""overwood sources: the bibliography."""

from __future__ import annotations

import click

from overwood.faces.cli import output
from overwood.faces.cli.options import json_option


@click.command("sources")
@click.argument("key", required=False)
@json_option
def command(key: str | None, as_json: bool) -> None:
    """The sources of constants, formulas and docs. KEY shows one."""
    from overwood.ground.sources import all_sources

    chosen = {name: source for name, source in all_sources().items() if key is None or key in name}
    if not chosen:
        raise click.UsageError(f"There is no source {key!r}; `overwood sources` lists them all.")
    if as_json:
        output.as_json(chosen)
        return
    for name, source in chosen.items():
        click.echo(f"{name}: {source.cite()}")
