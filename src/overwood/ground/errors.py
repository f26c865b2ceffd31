"""What went wrong, where, what was expected, and what to do: one shape for every fault a person can mend.

OverwoodError
|-- Misuse          a command, key or argument that cannot be taken (exit status 2)
|-- NotFound        a stand, figure or file that is not there (exit status 1)
|-- BadRecords      faults in data, carried as Problems (exit status 1)
`-- BadRule         a rulebook or assumption that cannot be used (exit status 1)
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Problem:
    """One fault: where it stands, what was found, what was expected, and the remedy."""

    what: str
    file: str = ""
    sheet: str = ""
    row: int | None = None
    column: str = ""
    found: str = ""
    expected: str = ""
    remedy: str = ""
    severity: str = "error"

    @classmethod
    def of_value(cls, file: str, row: int, column: str, text: str, expected: str) -> Problem:
        """A value of a file that cannot be taken."""
        return cls(what="A value cannot be taken.", file=file, row=row, column=column, found=text, expected=expected)

    @property
    def where(self) -> str:
        parts = [self.file, self.sheet]
        parts.append(f"row {self.row}" if self.row is not None else "")
        parts.append(f"column {self.column}" if self.column else "")
        return ", ".join(part for part in parts if part)

    def __str__(self) -> str:
        text = f"{self.where}: {self.what}" if self.where else self.what
        if self.found:
            text += f" Found {self.found!r}."
        if self.expected:
            text += f" Expected {self.expected}."
        if self.remedy:
            text += f" {self.remedy}"
        return text


class OverwoodError(Exception):
    """A failure a person can act on. ``remedy`` says what to do next, ``field`` which field of a form it is at."""

    exit_status = 1

    def __init__(self, message: str, *, remedy: str = "", field: str = "") -> None:
        super().__init__(message)
        self.remedy, self.field = remedy, field

    def __str__(self) -> str:
        message = super().__str__()
        return f"{message} {self.remedy}" if self.remedy else message


class Misuse(OverwoodError):
    """A command, key or value that cannot be taken."""

    exit_status = 2


class NotFound(OverwoodError):
    """Something asked for by name that is not there."""


class BadRule(OverwoodError):
    """A rulebook or assumptions entry that cannot be used."""


class BadRecords(OverwoodError):
    """Faults found in records; nothing was stored."""

    def __init__(self, message: str, problems: tuple[Problem, ...] = (), *, remedy: str = "") -> None:
        super().__init__(message, remedy=remedy)
        self.problems = problems
