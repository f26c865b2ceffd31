"""A figure: a number that never travels bare.

It carries its unit, its interval, how many plots or trees stand behind it, the method, the sources, and the inputs
down to the tally rows, so that it can be unfolded and defended.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass

from overwood.ground.copies import with_fields
from overwood.ground.doubt import Doubt, joined

Value = float | int | str | bool | None


@dataclass(frozen=True, kw_only=True)
class Input:
    """What a figure was made of: a value, another figure by name, or tally rows by their identifiers."""

    name: str
    value: Value = None
    unit: str = ""
    figure: str = ""
    rows: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Figure:
    """One answer with its error and its origin.

    ``low`` and ``high`` bound a two-sided interval at ``level`` unless the method says one-sided; with a level an end
    that is None is open. ``value`` is None when nothing was measured; then ``status`` is ``unmeasured`` and ``note``
    says what is missing.
    ``doubts`` are what speaks against it; their words stand in ``note``, which no logic reads.
    """

    name: str
    value: Value
    unit: str = ""
    low: float | None = None
    high: float | None = None
    level: float | None = None
    n: int | None = None
    method: str = ""
    sources: tuple[str, ...] = ()
    inputs: tuple[Input, ...] = ()
    note: str = ""
    status: str = "measured"
    doubts: tuple[Doubt, ...] = ()

    @property
    def measured(self) -> bool:
        return self.value is not None

    @property
    def number(self) -> float:
        """The value as a number; NaN when unmeasured, so that arithmetic shows it."""
        return float(self.value) if isinstance(self.value, int | float) else math.nan

    @property
    def ends(self) -> tuple[float, float]:
        """Low and high: the value where there is no error, no end where an interval has none (one plot alone sets
        none)."""
        open_end = math.inf if self.level else 0.0
        return (self.number - open_end if self.low is None else self.low), (
            self.number + open_end if self.high is None else self.high
        )


class Figures(Mapping[str, Figure]):
    """Figures by name in a fixed order, each worked out when it is first asked for: what nobody asks costs nothing."""

    def __init__(self) -> None:
        self._makers: dict[str, Callable[[], Mapping[str, Figure]]] = {}
        self._held: dict[str, Figure] = {}

    def add(self, names: Iterable[str], make: Callable[[], Mapping[str, Figure]]) -> Figures:
        """Take in figures that are worked out together; one that is there already keeps its place."""
        self._makers.update(dict.fromkeys(names, make))
        return self

    def take(self, others: Figures) -> Figures:
        """Take in the figures of others, each still to be worked out."""
        self._makers.update(others._makers)
        return self

    def __getitem__(self, name: str) -> Figure:
        if name not in self._held:
            self._held.update(self._makers[name]())
        return self._held[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._makers)

    def __len__(self) -> int:
        return len(self._makers)


def unmeasured(name: str, missing: str, unit: str = "") -> Figure:
    """The figure that says nothing was measured, and what is missing."""
    return Figure(name=name, value=None, unit=unit, note=missing, status="unmeasured", method="not measured")


def doubted(figure: Figure, doubts: tuple[Doubt, ...]) -> Figure:
    """The figure with doubts before those it has, and their words in its note."""
    if not doubts:
        return figure
    note = "; ".join(filter(None, (joined(doubts), figure.note)))
    return with_fields(figure, doubts=(*doubts, *figure.doubts), note=note)
