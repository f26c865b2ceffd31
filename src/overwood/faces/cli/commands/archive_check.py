"""overwood archive-check: is an archive as it was written?"""

from __future__ import annotations

from pathlib import Path

import click

from overwood.faces.cli import output
from overwood.faces.cli.options import json_option


@click.command("archive-check")
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option("--seal", default="", help="The seal that was written down, or at least its first digits.")
@json_option
def command(file: Path, seal: str, as_json: bool) -> None:
    """Hold every file of an archive against its digest, and the list of digests against the SEAL; no book is needed."""
    from overwood.desk import archive
    from overwood.ground.errors import Misuse

    if seal and (len(seal.strip()) < archive.FEWEST_DIGITS or not set(seal.strip().lower()) <= set("0123456789abcdef")):
        raise Misuse(
            f"{seal!r} is no seal.", remedy=f"Give at least {archive.FEWEST_DIGITS} of its digits, 0-9 and a-f."
        )
    checked = archive.check(file, seal)
    if as_json:
        output.as_json(output.plain(checked) | {"is_whole": checked.is_whole})
    else:
        click.echo(
            f"{checked.file}: stand {checked.stand}, {checked.made_on}, program {checked.program}, rulebook "
            f"{checked.rules_version}, "
            f"{checked.members} files."
        )
        click.echo(f"Seal: {checked.seal}")
        output.bullets("Not as it was written", [str(problem) for problem in checked.problems])
        if checked.is_whole:
            click.echo(
                "Whole: every file is as it was written."
                + ("" if seal else " Without --seal a list written anew would not show.")
            )
    if not checked.is_whole:
        raise SystemExit(1)
