"""A sheet of a foreign file on its way to lines: its layout, and what was asked and said of it by then."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass

from overwood.ground.errors import Problem
from overwood.memory.exchange import layout, shape
from overwood.memory.exchange.proposal import Question
from overwood.memory.exchange.reading import Sheet
from overwood.memory.exchange.said import Said
from overwood.memory.exchange.straighten import Lines


@dataclass(frozen=True, kw_only=True)
class Draft:
    """A sheet with its table chosen and its rows straightened; ``lines`` is None where the sheet is left out."""

    sheet: Sheet
    said: Said
    layout: layout.Layout | None = None
    table: str = ""
    why_not: str = ""
    places: Mapping[str, int] = dataclasses.field(default_factory=dict)
    wide: shape.Wide | None = None
    lines: Lines | None = None
    # What was asked and said while the lines were made.
    questions: tuple[Question, ...] = ()
    notes: tuple[str, ...] = ()
    # One of several kinds of plots on the sheet, and what stops the lines that name none.
    plot_kind: str = ""
    problem: Problem | None = None

    @property
    def used(self) -> set[int]:
        """The places of all columns that are read."""
        again = self.layout.again if self.layout else ()
        return {*self.places.values(), *(self.wide.places if self.wide else ()), *again}
