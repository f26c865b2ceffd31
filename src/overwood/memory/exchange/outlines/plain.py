"""A file of outlines as plain data and back: what the process that reads it hands over."""

from __future__ import annotations

import dataclasses
from typing import Any

import shapely

from overwood.ground.errors import Problem
from overwood.memory.exchange import apart, outlines
from overwood.memory.exchange.outlines.shapes import OutlineFile, Shape


def read(name: str, content: bytes, **said: str) -> tuple[dict[str, Any], bytes]:
    """The outlines of a file, each polygon as well-known binary in hexadecimal."""
    file = outlines.read(name, content, **said)
    shapes = [
        vars(one) | {"values": dict(one.values), "polygon": shapely.to_wkb(one.polygon, hex=True)}
        for one in file.shapes
    ]
    return vars(file) | {"shapes": shapes, "problems": [dataclasses.asdict(one) for one in file.problems]}, b""


def read_apart(name: str, content: bytes, **said: str) -> OutlineFile:
    """The same as ``outlines.read``, in a process of its own that can die alone."""
    plain, _ = apart.answer("outlines", name, content, said)
    shapes = (
        one | {"polygon": shapely.from_wkb(one["polygon"]), "notes": tuple(one["notes"])} for one in plain["shapes"]
    )
    return OutlineFile(
        file=plain["file"],
        system=plain["system"],
        shapes=tuple(Shape(**one) for one in shapes),
        problems=tuple(Problem(**one) for one in plain["problems"]),
        notes=tuple(plain["notes"]),
    )
