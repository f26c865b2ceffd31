"""overwood archive: the file of a stand for an auditor."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from overwood.faces.cli import output
from overwood.faces.cli.options import OutFile, asks
from overwood.ground.shell import shell_word


@click.command("archive")
@click.argument("stand")
@click.option("--to", "target", type=OutFile(), required=True, help="Zip file to write.")
@click.option("--pdf", type=OutFile(), help="Write its PDF beside it as well; the PDF carries every file of the zip.")
@asks
def command(stand: str, target: Path, pdf: Path | None, ask: Any, as_json: bool) -> None:
    """Write the file of STAND: every record with its history, decisions and reasons, kept answers and papers, rules,
    versions, digests.

    Write the seal down outside this computer: with it `overwood archive-check` shows also a change of the list of
    digests.
    Names of people who entered records are in it.
    """
    from overwood.desk import archive
    from overwood.faces.papers import stand_file

    made = archive.gather(stand, ask)
    front = stand_file.made(made, ask.on)
    seal = archive.write(made, front, target)
    if pdf:
        pdf.write_bytes(front)
    if as_json:
        output.as_json(
            {"stand": stand, "file": str(target), "seal": seal, "members": sorted([*made.members, archive.FRONT])}
        )
        return
    click.echo(f"{target}: {len(made.members) + 1} files of {stand}, {sum(made.about['rows'].values()):,} rows.")
    click.echo(f"Seal: {seal}")
    click.echo(f"Check it at any time with `overwood archive-check {shell_word(str(target))} --seal {seal[:16]}`.")
