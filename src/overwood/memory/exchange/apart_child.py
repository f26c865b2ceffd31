"""Runs one reader in this process alone: content from standard input; its answer or its fault, as JSON, to standard
output.

The first line is an object with ``answer`` or ``fault``; bytes of the answer follow it.
"""

from __future__ import annotations

import dataclasses
import importlib
import json
import sys
from collections.abc import Callable
from typing import Any

from overwood.ground.errors import BadRecords, OverwoodError
from overwood.memory.exchange.workbook_child import limit

# Readers by name: a module of this room and a function (file, content, **said) -> (plain data, bytes).
READERS = {
    "outlines": ("outlines.plain", "read"),
    "picture": ("pictures", "read"),
    "codes": ("screen_codes", "read"),
    "canopy": ("canopy.grid", "read"),
    "ticks": ("tick_photo", "read"),
}
_LONGEST = 300


def reader(name: str) -> Callable[..., tuple[Any, bytes]]:
    """A reader by its name."""
    place, function = READERS[name]
    reader_of: Callable[..., tuple[Any, bytes]] = getattr(
        importlib.import_module(f"overwood.memory.exchange.{place}"), function
    )
    return reader_of


def _told(fault: BaseException) -> dict[str, Any]:
    """A fault as plain data; what no reader expects keeps its kind, and its words are cut."""
    if not isinstance(fault, OverwoodError):
        return {"kind": type(fault).__name__, "message": str(fault)[:_LONGEST]}
    problems = [dataclasses.asdict(one) for one in fault.problems] if isinstance(fault, BadRecords) else []
    return {"kind": type(fault).__name__, "message": str(fault.args[0]), "remedy": fault.remedy, "problems": problems}


def main() -> int:
    """Read, within the limits given as arguments."""
    limit(*map(int, sys.argv[1:4]))
    file, said = json.loads(sys.argv[5])
    body, status = b"", 0
    try:
        plain, body = reader(sys.argv[4])(file, sys.stdin.buffer.read(), **said)
        head: dict[str, Any] = {"answer": plain}
    except BaseException as fault:  # a compiled reader can panic past every exception of Python's own
        head, status = {"fault": _told(fault)}, 1
    sys.stdout.buffer.write(json.dumps(head).encode() + b"\n" + body)
    return status


if __name__ == "__main__":
    sys.exit(main())
