"""A TOML file as the standard reader gives it, with the line on which each entry stands.

The reader alone decides what is in the file; the line is only for the words of a fault.
"""

from __future__ import annotations

import json
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from overwood.ground import typed
from overwood.ground.errors import BadRule

# A list of prices or rules is some tens of kilobytes.
MOST_BYTES = 1_000_000


@dataclass(frozen=True)
class TomlFile:
    """Name, text and content of a file."""

    name: str
    text: str
    plain: dict[str, Any]

    def line_of(self, *path: str | int) -> int:
        """The first line (from 1) at whose end the entry ``path`` is there; the last line where it is nowhere."""
        lines = self.text.split("\n")
        low, high = 1, len(lines)
        while low < high:
            middle = (low + high) // 2
            if _holds(lines[:middle], path):
                high = middle
            else:
                low = middle + 1
        return low

    def where(self, *path: str | int) -> str:
        """File and line of an entry, for the head of a fault."""
        return f"{self.name} line {self.line_of(*path)}"

    def tables(self, name: str) -> list[dict[str, Any]]:
        """The entries of an array of tables; none where there is none."""
        entries = self.plain.get(name, [])
        if not isinstance(entries, list) or not all(isinstance(entry, dict) for entry in entries):
            raise BadRule(
                f"{self.where(name)}: {name} is no list of tables.", remedy=f"Head each entry with [[{name}]]."
            )
        return entries

    def known_keys(self, plain: dict[str, Any], known: tuple[str, ...], *path: str | int) -> None:
        """Refuse a key that nobody reads: it is a slip of the hand, and what it says would be missed."""
        for key in plain:
            if key not in known:
                raise BadRule(
                    f"{self.where(*path, key)}: there is no entry {key!r} here.", remedy=f"Known: {', '.join(known)}."
                )


def read(path: Path, *, what: str) -> TomlFile:
    """Read a TOML file; ``what`` names its kind, such as "price list". Raises BadRule when it cannot be opened, is too
    large, is not UTF-8 or is no TOML, with the line where that is known."""
    try:
        content = path.read_bytes()
    except OSError as fault:
        raise BadRule(f"the {what} {path} cannot be read: {fault.strerror}.", remedy="Check the name.") from fault
    if len(content) > MOST_BYTES:
        raise BadRule(
            f"{path.name} has {len(content):,} bytes; a {what} has at most {MOST_BYTES:,}.",
            remedy="Is it another file?",
        )
    try:
        text = content.decode("utf-8-sig").replace("\r\n", "\n")
        return TomlFile(path.name, text, tomllib.loads(text))
    except UnicodeDecodeError as fault:
        line = content[: fault.start].count(b"\n") + 1
        raise BadRule(
            f"{path.name} line {line} is not UTF-8 text.", remedy="Save it as plain text in UTF-8."
        ) from fault
    except (tomllib.TOMLDecodeError, RecursionError) as fault:
        raise BadRule(f"{path.name} is not readable TOML: {fault}.", remedy="Mend that line.") from fault


def as_text(value: str) -> str:
    """A text as TOML writes it, letters of every script as they are."""
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


def number_or_text(value: str) -> str:
    """A typed number as TOML; what is none stays a text, which the reader refuses by name."""
    try:
        return repr(typed.number(value)).removesuffix(".0")
    except ValueError:
        return as_text(value)


def _holds(lines: list[str], path: tuple[str | int, ...]) -> bool:
    """Whether the longest readable beginning of some lines holds an entry; a value over several lines is readable at
    its end."""
    for end in range(len(lines), 0, -1):
        try:
            plain: Any = tomllib.loads("\n".join(lines[:end]))
        except tomllib.TOMLDecodeError:
            continue
        return _is_at(plain, path)
    return False


def _is_at(plain: Any, path: tuple[str | int, ...]) -> bool:
    for step in path:
        try:
            plain = plain[step]
        except (KeyError, IndexError, TypeError):
            return False
    return True
