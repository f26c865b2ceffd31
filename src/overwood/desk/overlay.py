"""An office's own numbers: the overlay of the rulebook written, entry by entry, and checked before it is kept."""

from __future__ import annotations

import json
import os
import tomllib
from pathlib import Path
from typing import Any

from overwood.ground.errors import BadRule, Misuse, NotFound
from overwood.judgement.rules import defaults, load


def change(path: Path, name: str, value: str, note: str) -> None:
    """Set one entry of an overlay, or take it back to the default where ``value`` is blank; the file is replaced whole
    or not at all. Raises NotFound when there is no such entry; Misuse when a changed value has no reason; BadRule when
    the value cannot be taken."""
    known = defaults().entries
    if name not in known:
        raise NotFound(f"there is no entry {name!r}.", remedy="See the rulebook.")
    plain: dict[str, Any] = tomllib.loads(path.read_text(encoding="utf-8")) if path.exists() else {}
    if not value.strip():
        plain.pop(name, None)
    else:
        if not note.strip():
            raise Misuse(f"{name} is changed without a reason.", remedy="Say why: the next reader will ask.")
        plain[name] = {"value": _read(name, value, known[name].value), "note": note.strip()}
    _kept(path, plain)


def _read(name: str, value: str, default: Any) -> Any:
    if isinstance(default, list):
        return [part.strip() for part in value.split(",")]
    try:
        number = float(value)
    except ValueError:
        raise Misuse(f"{name} is {value!r}.", remedy="Give a number.") from None
    return int(number) if isinstance(default, int) and number.is_integer() else number


def _kept(path: Path, plain: dict[str, Any]) -> None:
    """Write beside, check as the program will read it, then put it in its place."""
    office = plain.pop("office", path.name.split(".")[0])
    lines = [f"office = {json.dumps(office)}"]
    for name, fields in plain.items():
        lines += [
            "",
            f"[{json.dumps(name) if '.' in name else name}]",
            *(f"{key} = {json.dumps(value)}" for key, value in fields.items()),
        ]
    path.parent.mkdir(parents=True, exist_ok=True)
    beside = path.with_name(f".{path.name}.new")
    beside.write_text("\n".join(lines) + "\n", encoding="utf-8")
    try:
        load(beside)
        os.replace(beside, path)
    except BadRule as fault:
        # Nobody knows the file beside: what it holds is said without its name and line.
        said = str(fault.args[0])
        raise BadRule(said.partition(": ")[2] if said.startswith(beside.name) else said, remedy=fault.remedy) from None
    finally:
        beside.unlink(missing_ok=True)
