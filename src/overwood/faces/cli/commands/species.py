"""overwood species: known species, and how a name is understood."""

from __future__ import annotations

import click

from overwood.faces.cli import output
from overwood.faces.cli.options import json_option


@click.command("species")
@click.argument("name", required=False)
@json_option
def command(name: str | None, as_json: bool) -> None:
    """List the known species, or say how NAME is understood."""
    from overwood.ground import species
    from overwood.ground.errors import NotFound

    if name is not None:
        try:
            chosen = [species.find(name)]
        except KeyError as fault:
            raise NotFound(f"{fault.args[0]}.") from fault
    else:
        chosen = list(species.all_species().values())
    if as_json:
        output.as_json(chosen)
        return
    rows = [
        (str(s.spcd), s.symbol, s.common_name, s.oak_group, s.tolerance, s.sprouting, ", ".join(s.aliases))
        for s in chosen
    ]
    output.table(("code", "symbol", "name", "oak group", "shade", "sprouts by", "also written"), rows)
