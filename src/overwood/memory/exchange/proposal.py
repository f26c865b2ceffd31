"""What is proposed of a foreign file, what is asked, what was said, and what became of every row: frozen shapes only.

Headings, units and codes of a layout are kept (:class:`Mapping`); stand, day and how stems were taken in belong to
one file (:class:`Answers`) and are asked each time.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections import abc
from dataclasses import dataclass, field
from typing import Any, ClassVar

from overwood.ground.shell import shell_word

# What a row of a file can come to. "tally": it holds records (the book may still refuse it, or hold it already);
# "empty": a plot or species looked at, nothing counted; "refused": named in a problem and not stored.
_NOTES = ("title", "heading", "total", "note")
AS_WRITTEN = "as written"
LEFT_OUT = "-"
_Places = abc.Set[tuple[str, int]]


@dataclass(frozen=True, kw_only=True)
class RowFate:
    """The one fate of one row of a sheet; a row is a line of the file with anything in it."""

    sheet: str
    row: int
    fate: str
    why: str = ""


@dataclass(frozen=True, kw_only=True)
class RowSums:
    """Rows of a file by what became of them; the parts add up to ``rows``."""

    rows: int
    stored: int = 0
    empty_plots: int = 0
    notes: int = 0
    refused: int = 0
    already: int = 0

    @property
    def closes(self) -> bool:
        """Whether the parts add up."""
        return self.rows == self.stored + self.empty_plots + self.notes + self.refused + self.already

    @classmethod
    def of(
        cls, fates: abc.Iterable[RowFate], *, refused: _Places = frozenset(), already: _Places = frozenset()
    ) -> RowSums:
        """Sums of the fates; ``refused`` and ``already`` are (sheet, row) that the book refused or held as they are."""
        counts = {"stored": 0, "empty_plots": 0, "notes": 0, "refused": 0, "already": 0}
        for one in fates:
            counts[_part(one, refused, already)] += 1
        return cls(rows=sum(counts.values()), **counts)

    def __add__(self, other: RowSums) -> RowSums:
        return RowSums(
            rows=self.rows + other.rows,
            stored=self.stored + other.stored,
            empty_plots=self.empty_plots + other.empty_plots,
            notes=self.notes + other.notes,
            refused=self.refused + other.refused,
            already=self.already + other.already,
        )


def _part(one: RowFate, refused: _Places, already: _Places) -> str:
    place = (one.sheet, one.row)
    if one.fate == "refused" or (place in refused and one.fate in ("tally", "empty")):
        return "refused"
    if one.fate == "empty":
        return "empty_plots"
    if one.fate in _NOTES:
        return "notes"
    return "already" if place in already else "stored"


@dataclass(frozen=True)
class Choice:
    """One answer that a question takes: the value as typed, and what it would mean for this file."""

    value: str
    meaning: str = ""


@dataclass(frozen=True, kw_only=True)
class Question:
    """Something the file does not say, with the evidence for each answer.

    ``kind`` is the way to answer: "set", "code", "unit", "map" or "table" (an option of the command and a field of the
    page each). ``key`` goes before the equals sign; of several sheets it begins with ``SHEET.``. ``needed`` says that
    nothing is stored without an answer; where it is not needed, ``default`` is what is taken. ``answer`` is what was
    said, or kept with the mapping. ``also`` are other keys of the same kind that answer it as well.
    """

    key: str
    kind: str
    text: str
    evidence: tuple[str, ...] = ()
    choices: tuple[Choice, ...] = ()
    needed: bool = True
    default: str = ""
    answer: str = ""
    sheet: str = ""
    also: tuple[str, ...] = ()
    DERIVED: ClassVar = ("how",)

    @property
    def words(self) -> tuple[str, ...]:
        """All that it speaks of."""
        return (
            self.key,
            self.text,
            *self.evidence,
            *(part for one in self.choices for part in (one.value, one.meaning)),
        )

    @property
    def is_open(self) -> bool:
        """Whether it still stands in the way of storing."""
        return self.needed and not self.answer

    @property
    def is_closed(self) -> bool:
        """Whether it takes nothing but its choices."""
        return self.kind == "map" or any(one.value == AS_WRITTEN for one in self.choices)

    @property
    def how(self) -> str:
        """How to answer on the command line."""
        value = self.choices[0].value if self.choices else "VALUE"
        return f"--{self.kind} {shell_word(f'{self.key}={value}')}"


@dataclass(frozen=True, kw_only=True)
class Answers:
    """What a person said about this one file; it always wins over what was kept.

    ``settings``: ``[SHEET.]KEY`` to value; ``codes``: ``[SHEET.][COLUMN.]WRITTEN`` to code; ``units``:
    ``[SHEET.]COLUMN`` to unit; ``columns``: ``[SHEET.]HEADING`` to column, "-" leaves it out; ``tables``: sheet to
    table, "-" leaves it out.
    """

    settings: abc.Mapping[str, str] = field(default_factory=dict)
    codes: abc.Mapping[str, str] = field(default_factory=dict)
    units: abc.Mapping[str, str] = field(default_factory=dict)
    columns: abc.Mapping[str, str] = field(default_factory=dict)
    tables: abc.Mapping[str, str] = field(default_factory=dict)

    def to_json(self) -> dict[str, dict[str, str]]:
        """As plain JSON, to be kept with a file that waits."""
        return {name: dict(getattr(self, name)) for name in ("settings", "codes", "units", "columns", "tables")}

    @classmethod
    def from_json(cls, kept: abc.Mapping[str, Any]) -> Answers:
        """The answers of :meth:`to_json`; what is missing is empty."""
        parts = {name: {str(k): str(v) for k, v in dict(kept.get(name, {})).items()} for name in cls().to_json()}
        return cls(**parts)


@dataclass(frozen=True, kw_only=True)
class Mapping:
    """What is kept of a sheet's layout, found again by its headings: never a stand, a day or a plot size.

    ``columns``: heading to column ("-": somebody said that it is left out); ``units``: column to unit; ``codes``:
    column to written to code.
    """

    signature: str
    table: str
    headings: tuple[str, ...] = ()
    columns: abc.Mapping[str, str] = field(default_factory=dict)
    units: abc.Mapping[str, str] = field(default_factory=dict)
    codes: abc.Mapping[str, abc.Mapping[str, str]] = field(default_factory=dict)

    def joined(self, other: Mapping) -> Mapping:
        """Two sheets of the same headings as one layout: codes of both; a unit or code in which they differ is asked
        for again."""
        columns = {*self.codes, *other.codes}
        codes = {name: _agreeing(self.codes.get(name, {}), other.codes.get(name, {})) for name in sorted(columns)}
        return dataclasses.replace(self, units=_agreeing(self.units, other.units), codes=codes)

    def to_json(self) -> dict[str, Any]:
        """As plain JSON."""
        return {
            "signature": self.signature,
            "table": self.table,
            "headings": list(self.headings),
            "columns": {heading: column for heading, column in self.columns.items() if column != LEFT_OUT},
            "left_out": [heading for heading, column in self.columns.items() if column == LEFT_OUT],
            "units": dict(self.units),
            "codes": {column: dict(codes) for column, codes in self.codes.items()},
        }

    @classmethod
    def from_json(cls, kept: abc.Mapping[str, Any]) -> Mapping:
        """The mapping of :meth:`to_json`. A "-" among the columns is of a time when every heading that was not read was
        kept as left out, asked about or not: it says nothing."""
        columns = {heading: column for heading, column in kept.get("columns", {}).items() if column != LEFT_OUT}
        return cls(
            signature=str(kept["signature"]),
            table=str(kept["table"]),
            headings=tuple(map(str, kept.get("headings", ()))),
            columns=columns | dict.fromkeys(kept.get("left_out", ()), LEFT_OUT),
            units=dict(kept.get("units", {})),
            codes={column: dict(codes) for column, codes in kept.get("codes", {}).items()},
        )


def _agreeing(one: abc.Mapping[str, str], other: abc.Mapping[str, str]) -> dict[str, str]:
    return {key: value for key, value in {**one, **other}.items() if one.get(key, value) == other.get(key, value)}


@dataclass(frozen=True, kw_only=True)
class KnownStand:
    """A stand as the book has it, for answers to choose from."""

    stand: str
    property: str = ""
    last_visit_on: dt.date | None = None
    latitude_deg: float | None = None
    longitude_deg: float | None = None


@dataclass(frozen=True, kw_only=True)
class Known:
    """The book's side: what a foreign file is held against. Nothing known asks less, never more."""

    stands: tuple[KnownStand, ...] = ()
    properties: tuple[str, ...] = ()
    visits: frozenset[str] = frozenset()
    today: dt.date | None = None


@dataclass(frozen=True, kw_only=True)
class HeadingUse:
    """One heading of a sheet: the column it is taken as ("-": left out), its unit, and its first values."""

    heading: str
    column: str
    unit: str = ""
    units: tuple[str, ...] = ()
    such_as: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class SheetProposal:
    """How one sheet is read: the table it holds, its headings, its questions, its rows so far.

    ``table`` is "" where the sheet is left out, ``why_not`` says why. ``notes`` are said to the person, in words.
    ``body`` is for :func:`proposing.apply` alone.
    """

    file: str
    sheet: str
    table: str
    why_not: str = ""
    heading_row: int = 0
    headings: tuple[HeadingUse, ...] = ()
    questions: tuple[Question, ...] = ()
    notes: tuple[str, ...] = ()
    fates: tuple[RowFate, ...] = field(default=(), metadata={"inner": True})
    mapping: Mapping | None = None
    remembered: bool = False
    points: int = 0
    lines: int = 0
    body: Any = field(default=None, repr=False, compare=False, metadata={"inner": True})


@dataclass(frozen=True, kw_only=True)
class Proposal:
    """How a file with its own headings is read, for a person to look at."""

    file: str
    sheets: tuple[SheetProposal, ...]
    today: dt.date | None = None

    @property
    def questions(self) -> tuple[Question, ...]:
        """All questions of all sheets, each once."""
        return tuple({(one.kind, one.key): one for sheet in self.sheets for one in sheet.questions}.values())

    @property
    def open_questions(self) -> tuple[Question, ...]:
        """Questions that must be answered before anything is stored."""
        return tuple(one for one in self.questions if one.is_open)

    @property
    def mappings(self) -> tuple[Mapping, ...]:
        """What may be kept once the rows went in without a fault."""
        kept: dict[str, Mapping] = {}
        for mapping in (sheet.mapping for sheet in self.sheets if sheet.mapping is not None):
            kept[mapping.signature] = kept[mapping.signature].joined(mapping) if mapping.signature in kept else mapping
        return tuple(kept.values())

    @property
    def understood(self) -> bool:
        """Whether any sheet holds a tally."""
        return any(sheet.table for sheet in self.sheets)


@dataclass(frozen=True, kw_only=True)
class Part:
    """Rows of one table of the contract from one sheet: a frame of text with the row numbers of the file in ``__row``.

    A column the file does not have is absent. A cell "clear" asks for a stored value to be taken away.
    """

    file: str
    sheet: str
    table: str
    frame: Any


@dataclass(frozen=True, kw_only=True)
class Applied:
    """A foreign file as tables of the contract, with the fate of every row and what was refused."""

    parts: tuple[Part, ...]
    fates: tuple[RowFate, ...]
    problems: tuple[Any, ...] = ()

    @property
    def sums(self) -> RowSums:
        """Rows by fate, before the book had its say."""
        return RowSums.of(self.fates)
