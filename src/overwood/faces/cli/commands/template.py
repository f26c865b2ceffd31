"""overwood template: empty sheets."""

from __future__ import annotations

from pathlib import Path

import click


@click.command("template")
@click.argument("target", type=click.Path(path_type=Path))
def command(target: Path) -> None:
    """Write empty sheets to TARGET: a workbook (name ending in .xlsx) or a folder of csv with a data package
    descriptor."""
    from overwood.desk import session

    names = session.template(target)
    click.echo(
        f"{target}: {len(names)} files."
        if len(names) > 1
        else f"{target} written. Fill what you have; leave out sheets you do not need."
    )
