"""overwood file: is the stand's file complete?"""

from __future__ import annotations

from typing import Any

import click

from overwood.faces.cli import output
from overwood.faces.cli.options import asks


@click.command("file")
@click.argument("stand")
@asks
def command(stand: str, ask: Any, as_json: bool) -> None:
    """What an auditor looks for in the file of STAND, item by item."""
    from overwood.desk import answers

    items = answers.completeness(stand, ask)
    if as_json:
        output.as_json(items)
        return
    output.table(
        ("item", "state", "found"), [(item.item, item.state, item.found) for item in items], title=f"{stand}: file"
    )
    missing = sum(item.state != "present" for item in items)
    click.echo(f"{missing} of {len(items)} items are missing or old." if missing else "Complete.")
