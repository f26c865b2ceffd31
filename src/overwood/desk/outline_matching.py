"""Which stand a shape of a file is: by its name, or as a person answers; the land it lies on only says which is
likely."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import shapely

from overwood.desk import outlines, places, session
from overwood.ground.errors import Misuse
from overwood.ground.records import Property, Stand

# A shape that shares so much of its land with a stand's outline is likely that stand: our own choice.
_SAME_LAND_SHARE = 0.5
_LIKELY_COLUMNS = ("stand", "stand_id", "stand_no", "standid", "stand no", "name", "label", "id")
LEFT_OUT = "-"
_MOST_NAMED = 12


@dataclass(frozen=True, kw_only=True)
class OutlineAnswers:
    """What a person answers about a file of outlines.

    ``system`` and ``layer`` are for reading it; ``name_column`` is the column that names the stand; ``stands`` gives a
    shape's name its stand ("-" leaves it out); ``swap`` turns latitude and longitude; ``area`` is which acres hold
    where both are known; ``new`` makes stands of shapes that are none yet, on ``property``.
    """

    system: str = ""
    layer: str = ""
    name_column: str = ""
    stands: Mapping[str, str] = field(default_factory=dict)
    swap: bool = False
    area: str = ""
    new: bool = False
    property: str = ""


@dataclass(frozen=True, kw_only=True)
class Question:
    """What must be answered before anything is written: the option that answers it, what it is about, and the
    choices."""

    option: str
    about: str
    text: str
    choices: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class NamedShape:
    """One outline of a file under its name."""

    label: str
    polygon: Any
    notes: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Match:
    """Which stand a shape is and how that is known; a question where a person must answer, neither where it is left
    out."""

    stand: str = ""
    how: str = ""
    is_new: bool = False
    question: Question | None = None


@dataclass(frozen=True, kw_only=True)
class BookOutlines:
    """The stands and properties a file is held against, every outline read once."""

    stands: Mapping[str, Stand]
    lands: Mapping[str, Property]
    shapes: Mapping[str, Any]
    grounds: places.Grounds
    tree: Any

    @classmethod
    def now(cls) -> BookOutlines:
        """As the book is."""
        stands = {stand.stand: stand for stand in session.stands()}
        shapes = {name: outlines.shape_of(stand) for name, stand in stands.items() if stand.boundary_wkt}
        tree = shapely.STRtree(list(shapes.values()))
        return cls(
            stands=stands, lands=places.lands(), shapes=shapes, grounds=places.Grounds.of(stands.values()), tree=tree
        )

    def land(self, stand: str, new_owner: str) -> Property | None:
        """The property a stand is on; of a stand that is to be made, the one answered, or the only one."""
        owner = self.stands[stand].property if stand in self.stands else new_owner
        only = next(iter(self.lands.values())) if len(self.lands) == 1 and not owner else None
        return self.lands.get(owner) or only

    def stand_on(self, polygon: Any) -> str:
        """The stand whose outline shares the most land with a shape, and enough to be the same; "" where none does."""
        names = list(self.shapes)
        near = [names[int(place)] for place in self.tree.query(polygon, predicate="intersects")]
        best = max(near, key=lambda name: self.share(polygon, name), default="")
        return best if best and self.share(polygon, best) >= _SAME_LAND_SHARE else ""

    def share(self, polygon: Any, name: str) -> float:
        """Land in both a shape and a stand's outline, as a share of land in either."""
        other = self.shapes[name]
        if not polygon.intersects(other):
            return 0.0
        return float(shapely.area(polygon.intersection(other)) / shapely.area(polygon.union(other)))

    def called(self, label: str) -> list[str]:
        """Stands of this short name, else of this full name, whatever the capitals."""
        plain = label.casefold()
        short = [name for name in self.stands if name.casefold() == plain]
        return short or [name for name, stand in self.stands.items() if stand.name.casefold() == plain]


def name_column(shapes: Sequence[Any], columns: Sequence[str], book: BookOutlines, answers: OutlineAnswers) -> str:
    """The column that names the most stands of the book; a likely heading where none does. Raises Misuse when a column
    was answered that the file does not have."""
    if answers.name_column:
        if answers.name_column not in columns:
            raise Misuse(
                f"the file has no column {answers.name_column!r}.", remedy=f"It has {', '.join(columns) or 'none'}."
            )
        return answers.name_column
    names = {name.casefold() for stand in book.stands.values() for name in (stand.stand, stand.name) if name}
    hits = {column: len({shape.values.get(column, "").casefold() for shape in shapes} & names) for column in columns}
    best = max(hits, key=lambda column: hits[column], default="")
    if best and hits[best]:
        return best
    return next((column for likely in _LIKELY_COLUMNS for column in columns if column.casefold() == likely), "")


def named_shapes(shapes: Sequence[Any], column: str, swap: bool) -> list[NamedShape]:
    """Shapes under their names; several of one name are parts of one stand. Raises Misuse when the corners are to be
    swapped, and then are nowhere on the earth."""
    parts: dict[str, list[Any]] = {}
    for shape in shapes:
        parts.setdefault(shape.values.get(column, "") or f"shape {shape.number}", []).append(shape)
    return [_named(label, several, swap) for label, several in parts.items()]


def _named(label: str, parts: Sequence[Any], swap: bool) -> NamedShape:
    polygon = parts[0].polygon if len(parts) == 1 else shapely.union_all([part.polygon for part in parts])
    notes = [note for part in parts for note in part.notes]
    if len(parts) > 1:
        notes.append(f"{len(parts)} shapes of this name are taken as parts of one outline.")
    turned = places.swapped(polygon) if swap else polygon
    if turned is None:
        raise Misuse(
            f"{label} with latitude and longitude swapped is nowhere on the earth.", remedy="Leave --swap out."
        )
    return NamedShape(label=label, polygon=turned, notes=tuple(notes))


def matches(shapes: Sequence[NamedShape], book: BookOutlines, answers: OutlineAnswers) -> list[Match]:
    """For each shape which stand it is. Raises Misuse when an answer names a shape or a stand that is not there."""
    labels = [shape.label for shape in shapes]
    stray = [label for label in answers.stands if label not in labels]
    if stray:
        raise Misuse(f"no shape of the file is called {stray[0]!r}.", remedy=f"There are {', '.join(labels[:20])}.")
    return [
        _answered(shape, book, answers) if shape.label in answers.stands else _match(shape, book, answers.new)
        for shape in shapes
    ]


def _answered(shape: NamedShape, book: BookOutlines, answers: OutlineAnswers) -> Match:
    stand = answers.stands[shape.label]
    if stand == LEFT_OUT:
        return Match()
    if stand not in book.stands and not answers.new:
        raise Misuse(f"there is no stand {stand!r}.", remedy="Choose one of the book, or say --new to make it.")
    return Match(stand=stand, how="answer", is_new=stand not in book.stands)


def _match(shape: NamedShape, book: BookOutlines, new: bool) -> Match:
    called, likely = book.called(shape.label), book.stand_on(shape.polygon)
    if len(called) == 1:
        stand = called[0]
        if likely and likely != stand and stand in book.shapes and not book.share(shape.polygon, stand):
            text = f"{shape.label} is called {stand} but lies on the land of {likely}. Which stand is it?"
            return Match(question=_which(shape, text, (stand, likely, LEFT_OUT)))
        return Match(stand=stand, how="name")
    if new and not likely:
        return Match(stand=shape.label, how="new", is_new=True)
    choices = (likely, LEFT_OUT) if likely else (*list(book.stands)[:_MOST_NAMED], LEFT_OUT)
    lies = f" It lies on the land of {likely}." if likely else ""
    return Match(
        question=_which(
            shape, f"Which stand is {shape.label}?{lies} {LEFT_OUT} leaves it out; --new makes a stand of it.", choices
        )
    )


def _which(shape: NamedShape, text: str, choices: tuple[str, ...]) -> Question:
    how = f'Say --stand "{shape.label}={choices[0]}".'
    return Question(option="--stand", about=shape.label, text=f"{text} {how}", choices=choices)
