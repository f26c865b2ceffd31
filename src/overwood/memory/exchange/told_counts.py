"""Columns that a person said are counts of stems, beside columns of counts by species or size: they are one more of
those, and never take their place."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from overwood.ground.errors import Misuse
from overwood.ground.vocabulary import HEIGHT_CLASSES, height_class_words
from overwood.memory.exchange import headings
from overwood.memory.exchange.layout import Layout
from overwood.memory.exchange.proposal import Choice, Question
from overwood.memory.exchange.said import Said
from overwood.memory.exchange.shape import Wide

_KEY = "other_class"


def without(places: Mapping[str, int]) -> dict[str, int]:
    """The places of columns without that of one count."""
    return {name: at for name, at in places.items() if name != "stems"}


def added(layout: Layout, wide: Wide | None, said: Said) -> tuple[Wide | None, tuple[Question, ...]]:
    """The columns of counts with those that were said to be counts, their headings taken as species, and the question
    for the height class of columns that name none.

    Raises Misuse where the columns beside are told apart by what such a heading does not say.
    """
    told = {
        at: cell
        for at, cell in enumerate(layout.headings[: headings.MOST_HEADINGS])
        if cell and wide and at not in wide.said and said.column(cell) == "stems"
    }
    if wide is None or not told:
        return wide, ()
    if wide.columns == ("species",):
        return replace(wide, said=dict(sorted({**wide.said, **{at: (cell,) for at, cell in told.items()}}.items()))), ()
    if wide.columns != ("species", "height_class") and not any(map(said.answers_column, told.values())):
        return wide, ()
    if wide.columns != ("species", "height_class"):
        raise _refused(layout, wide, next(iter(told.values())))
    names = ", ".join(map(repr, told.values()))
    answer = said.setting(_KEY) if said.setting(_KEY) in HEIGHT_CLASSES else ""
    question = Question(
        key=said.key(_KEY), kind="set", sheet=said.sheet, answer=answer,
        text=f"{names} names no height class, and the columns of counts beside it do: which one are its stems of? "
            "Where they are of several, count them by class in the sheet.",
        choices=tuple(Choice(name, f"all its stems are {height_class_words(name)}") for name in HEIGHT_CLASSES),
    )  # fmt: skip
    more = {at: (cell, answer) for at, cell in told.items()}
    return replace(wide, said=dict(sorted({**wide.said, **more}.items()))), (question,)


def _refused(layout: Layout, wide: Wide, heading: str) -> Misuse:
    beside = ", ".join(repr(layout.headings[at]) for at in wide.places[:4])
    return Misuse(
        f"{heading!r} cannot be the count of stems: the columns {beside} are counts already, and it does not say which "
        "of their kind its stems are.",
        remedy="Leave it out where it is a sum of them; else write in its heading what its stems are, as in theirs.",
    )
