"""One foreign sheet of the corpus: what it looks like, what a forester answers, and what must come of it."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from corpus.sheets import CSV, Rows, Written
from corpus.truth import Look


@dataclass(frozen=True, kw_only=True)
class Said:
    """Answers to the questions a sheet leaves open, as both faces take them."""

    settings: Mapping[str, str] = field(default_factory=dict)
    codes: Mapping[str, str] = field(default_factory=dict)
    columns: Mapping[str, str] = field(default_factory=dict)
    units: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class Case:
    """``looks`` must stand in the book after the answers; ``asked`` must be questions before them.

    ``refused`` rows stop themselves and no other. ``doubts`` are words that
    must be said once the answers are given, before anything is written. ``unknown`` are species words kept as unknown. A ``guarded`` sheet may
    also be refused whole, with words: nothing wrong may come in.
    """

    name: str = ""
    sheets: Mapping[str, Rows]
    how: Written = CSV
    said: Said = Said()
    looks: Sequence[Look] = ()
    asked: Sequence[str] = ()
    refused: Sequence[int] = ()
    doubts: Sequence[str] = ()
    unknown: Sequence[str] = ()
    guarded: bool = False
    # With these answers nothing may come in: something must be said first.
    stopped: bool = False
    # Stands that must stand in the book with these acres.
    acres: Mapping[str, float] = field(default_factory=dict)
    # Trees by tag with whether they bore acorns.
    bearing: Mapping[str, bool] = field(default_factory=dict)
    # Whether the evidence is read too; not where the visit is no plain cruise.
    figures: bool = True


MAKERS: dict[str, Callable[[int], Case]] = {}


def sheet(name: str) -> Callable[[Callable[[int], Case]], Callable[[int], Case]]:
    """Put a maker of a foreign sheet in the corpus; its seed is its number in the list."""

    def listed(maker: Callable[[int], Case]) -> Callable[[int], Case]:
        assert name not in MAKERS, name
        MAKERS[name] = maker
        return maker

    return listed


def made(name: str, again: int = 0) -> Case:
    """The case of that name; ``again`` makes another of its kind."""
    seed = 1000 + list(MAKERS).index(name) + 10_000 * again
    return dataclasses.replace(MAKERS[name](seed), name=name)


DESIGN = {"baf_ft2_ac": "10"}
PLACE = {"stand": "K1", "visited_on": "2025-05-14"}
PRISM = Said(settings={**PLACE, **DESIGN})
PLOTS = Said(settings={**PLACE, "plot_area_ac": "0.1"})
FLOOR = Said(settings={"stand": "K1", "visited_on": "2025-08-20", "plot_area_ac": "0.001"})
