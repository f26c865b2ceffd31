"""Foreign files read in a process of their own, with limits of memory and time, so that a bad file ends that one
alone."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

from overwood.ground import errors
from overwood.ground.errors import BadRecords, OverwoodError, Problem

_SOURCES = Path(errors.__file__).resolve().parents[2]
_DAMAGED = "it asks for more memory or time than a file of its kind does, or is damaged"


@dataclass(frozen=True, kw_only=True)
class Limits:
    """What the process of one file may take: memory and output [bytes], time of the processor and of the clock [s]."""

    memory: int = 3_000_000_000
    cpu_seconds: int = 120
    wait_seconds: int = 900
    written: int = 500_000_000

    @property
    def words(self) -> tuple[str, str, str]:
        """The limits that the process sets itself, as arguments."""
        return str(self.memory), str(self.cpu_seconds), str(self.written)


class TooMuch(Exception):
    """A file that broke a limit outside its process; says which."""


@contextmanager
def output(
    command: Sequence[str], content: bytes, limits: Limits, environment: dict[str, str] | None = None
) -> Iterator[tuple[IO[bytes], int]]:
    """What a process wrote that was given ``content``, and its exit status. Raises TooMuch when it does not end in
    time, or writes more than it may."""
    with tempfile.TemporaryFile() as source, tempfile.TemporaryFile() as target:
        source.write(content)
        source.seek(0)
        try:
            done = subprocess.run(
                command,
                stdin=source,
                stdout=target,
                stderr=subprocess.DEVNULL,
                timeout=limits.wait_seconds,
                check=False,
                env=environment,
            )
        except subprocess.TimeoutExpired as fault:
            raise TooMuch("takes too long to read") from fault
        if target.seek(0, os.SEEK_END) > limits.written:
            raise TooMuch("holds too much")
        target.seek(0)
        yield target, done.returncode


def answer(
    reader: str, file: str, content: bytes, said: Mapping[str, Any] | None = None, *, limits: Limits | None = None
) -> tuple[Any, bytes]:
    """What a reader of the table in ``apart_child`` answers to a file: plain data, and bytes where it has some. Raises
    OverwoodError what the reader itself says of the file; BadRecords when its process died or broke a limit."""
    limits = limits or Limits()
    command = [
        sys.executable,
        "-P",
        "-m",
        "overwood.memory.exchange.apart_child",
        *limits.words,
        reader,
        json.dumps([file, dict(said or {})]),
    ]
    try:
        with output(command, content, limits, _environment()) as (target, status):
            head, body = target.readline(), target.read()
    except TooMuch as fault:
        raise _unreadable(file, f"it {fault}") from fault
    try:
        told = json.loads(head)
    except ValueError:
        raise _unreadable(file, _DAMAGED) from None
    if "fault" in told:
        raise _fault(file, told["fault"])
    if status:
        raise _unreadable(file, _DAMAGED)
    return told["answer"], body


def _environment() -> dict[str, str]:
    """The child finds the same program; libraries that would open a thread a core keep to one."""
    paths = os.pathsep.join(part for part in (str(_SOURCES), os.environ.get("PYTHONPATH", "")) if part)
    return os.environ | {"PYTHONPATH": paths, "OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}


def _unreadable(file: str, what: str) -> BadRecords:
    remedy = "Look at it in the program that wrote it, and write it anew."
    return BadRecords(
        f"{file} cannot be read.", (Problem(what=f"{what[0].upper()}{what[1:]}.", file=file, remedy=remedy),)
    )


def _fault(file: str, told: dict[str, Any]) -> OverwoodError:
    """The fault of the child as the error it was there; what no reader expects is told with its name."""
    if told["kind"] == "BadRecords":
        return BadRecords(told["message"], tuple(Problem(**one) for one in told["problems"]), remedy=told["remedy"])
    if told["kind"] in ("Misuse", "NotFound"):
        error: OverwoodError = getattr(errors, told["kind"])(told["message"], remedy=told["remedy"])
        return error
    return _unreadable(file, f"{_DAMAGED} ({told['kind']}: {told['message']})")
