"""The two doors a sheet comes in by: the command as a user types it, and the import page as a browser sends it."""

from __future__ import annotations

import contextlib
import io
from dataclasses import dataclass
from pathlib import Path

from corpus.case import Said


@dataclass(frozen=True)
class Came:
    """What a door said, and whether it took the file."""

    taken: bool
    text: str


def command(path: Path, said: Said | None, book: Path, *, accept: bool = True) -> Came:
    """`overwood import FILE`, with ``--yes`` and the answers where there are any."""
    words = ["import", str(path), "--book", str(book)]
    answers = _options(said) if said else []
    return _run([*words, *(word for word in answers if accept or word != "--yes")])


def release(number: int, book: Path) -> Came:
    """`overwood quarantine release NUMBER`: the good rows of a file with faults."""
    return _run(["quarantine", "release", str(number), "--book", str(book)])


def _options(said: Said) -> list[str]:
    pairs = (("--set", said.settings), ("--code", said.codes), ("--map", said.columns), ("--unit", said.units))
    return ["--yes", *(word for option, given in pairs for name, value in given.items() for word in (option, f"{name}={value}"))]


def _run(words: list[str]) -> Came:
    from overwood.faces.cli import main as door

    out = io.StringIO()
    status = 0
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(out):
        try:
            door.main(words)
        except SystemExit as done:
            status = int(done.code or 0)
    return Came(status == 0, out.getvalue())


def page(client, path: Path, said: Said, sheets: list[str]) -> Came:
    """The import page: the file with every answer in its field, confirmed."""
    from django.core.files.uploadedfile import SimpleUploadedFile

    fields = {"file": SimpleUploadedFile(path.name, path.read_bytes()), "accept": "yes"}
    fields |= {f"set.{name}": value for name, value in said.settings.items()}
    fields |= {f"code.{name}": value for name, value in said.codes.items()}
    fields |= {f"as.{name}": value for name, value in said.columns.items()}
    fields |= {f"in.{name}": value for name, value in said.units.items()}
    answer = client.post("/import/", fields)
    return Came(answer.status_code == 200, answer.content.decode())


def page_release(client, came: Came) -> Came:
    """The good rows of a file that waits, by the button of the page."""
    answer = client.post("/import/waiting/1/", {"act": "release"})
    return Came(answer.status_code == 200, answer.content.decode())
