"""Shapes of what the API takes and gives: the described types of its JSON."""

from __future__ import annotations

import datetime as dt
from typing import Any, Literal

from ninja import Field, Schema

from overwood.desk.incoming import Clash
from overwood.ground.errors import Problem


class Fault(Schema):
    """What was wrong and what to do next."""

    what: str
    remedy: str


class StandOut(Schema):
    stand: str
    name: str
    property: str
    area_ac: float | None
    site_index_ft: float | None
    birth_year: int | None


class TryIn(Schema):
    rule: str
    value: float


class MarkIn(Schema):
    """A tree to leave or take, or a basal area to mark down to."""

    flip: str | None = None
    basal_area_ft2_ac: float | None = None


class RuleOut(Schema):
    name: str
    book: str
    value: float | int | list[str]
    low: float | None
    high: float | None
    unit: str
    status: str
    source: str
    note: str


class RowIn(Schema):
    """One record of a table of the contract, as text by column."""

    row: dict[str, str]
    replaces: str = ""


class ConflictOut(Schema):
    what: str
    remedy: str
    held: list[str] = Field(default_factory=list)
    conflicts: list[Clash]


class EnteredOut(Schema):
    entry: int | None
    new: dict[str, int]
    corrected: list[str]


class VisitIn(Schema):
    """A whole visit: rows of the contract's tables, as text by column, all of one visit.

    ``record_id`` of a row is the number it was given where it was made (a UUID): a row that came before counts once.
    ``record_device`` names where it was made, and ``record_replaces`` the record that a correction saw.
    """

    tables: dict[str, list[dict[str, str]]]
    device: str = ""


class VisitOut(Schema):
    entry: int | None
    new: dict[str, int]
    same: int
    corrected: list[str]
    # Keys that now have rival records; none of them is in a figure until a person settles it.
    in_dispute: list[str]


class SettleIn(Schema):
    because: str = ""


class FormulaIn(Schema):
    given: dict[str, str]


class FuturesIn(Schema):
    """How many futures, over how many draws of what is not known; without a count, as many as hold the seed's error
    below a point."""

    count: int | None = Field(None, ge=100, le=20_000)
    sets: int = Field(100, ge=10, le=1_000)
    seed: int = Field(1, ge=0, le=2**31 - 1)


class PlanIn(Schema):
    """Limits of a plan as the text of a file of limits (TOML); an empty one binds nothing."""

    limits: str = Field("", max_length=100_000)


class WorkOut(Schema):
    """Work beside the pages: ask again until it is finished."""

    number: int
    what: str
    share_pct: int
    note: str
    finished: bool
    fault: str
    result: dict[str, Any] | None
    cautions: list[str]


class DecisionIn(Schema):
    step: str
    by: str
    reason: str = ""


class PaperOut(Schema):
    """A kept paper, with what it was made from."""

    id: int
    which: str
    title: str
    own_words: str
    made_on: dt.date
    made_by: str
    rules_version: str
    data_version: str


class WordsIn(Schema):
    """Words of the person who signs, and the language of a crew's paper."""

    words: str = Field("", max_length=1_500)
    language: Literal["en", "es", "both"] = "en"


class NumberOut(Schema):
    number: int


class RuleIn(Schema):
    """An own value with its reason; blank takes the default back."""

    value: str
    note: str = ""


class ReportOut(Schema):
    """What came of a file, or what would come of it where ``written`` is false; ``needs_consent`` names what
    ``replace`` must name. ``reading`` sets foreign lines as written beside what was read of them."""

    file: str
    entry: int | None
    written: bool
    already: bool
    needs_consent: list[str]
    review: dict[str, Any] | None
    reading: list[dict[str, Any]] = Field(default_factory=list)
    sheets: list[dict[str, Any]] = Field(default_factory=list)
    open_questions: list[dict[str, Any]] = Field(default_factory=list)
    new: dict[str, int]
    same: int
    corrected: list[str]
    waits_as: int | None
    problems: list[Problem]


class EntryOut(Schema):
    id: int
    file_name: str
    entered_at: dt.datetime
    entered_by: str
    rows: dict[str, int]
    withdrawn_at: dt.datetime | None


class WaitingOut(Schema):
    id: int
    file_name: str
    entered_at: dt.datetime
    problems: int


class VersionOut(Schema):
    """One version of a record, the newest first."""

    entry: int
    entered_at: dt.datetime
    entered_by: str
    undone: bool
    row: dict[str, str]


class RecordOut(Schema):
    id: str
    row: dict[str, str]


class DrawingIn(Schema):
    """``act`` is draw, change, split or merge; ``shape`` is GeoJSON: an area, or the line to split along."""

    act: str
    stand: str
    other: str = ""
    property: str = ""
    shape: dict[str, Any] | None = None
    take_area: bool = True


class TraceOut(Schema):
    at: dt.datetime
    who: str
    role: str
    what: str
    address: str
    status: int
