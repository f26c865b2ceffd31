"""Files of outlines: each shape matched to a stand, checked, looked at and then written; and the outlines of the book given out."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from overwood.desk import entering, outlines, places, session
from overwood.ground.errors import Misuse, NotFound, Problem
from overwood.ground.records import Property, Stand

# A shape that shares so much of its land with a stand's outline is likely that stand: our own choice.
_SAME_LAND_SHARE = 0.5
# Outline and noted acres that differ by more are asked about: our own choice.
_DOUBTED_AREA_SHARE = 0.05
_LIKELY_COLUMNS = ("stand", "stand_id", "stand_no", "standid", "stand no", "name", "label", "id")
AREAS = ("outline", "record")
LEFT_OUT = "-"


@dataclass(frozen=True, kw_only=True)
class Said:
    """What a person said of a file of outlines.

    ``system`` and ``layer`` are for reading it; ``name_column`` is the column that names the stand; ``stands`` gives a shape's
    name its stand ("-" leaves it out); ``swap`` turns latitude and longitude; ``area`` is which acres hold where both are
    known; ``new`` makes stands of shapes that are none yet, on ``property``.
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
    """What must be said before anything is written: the option it answers, what it is about, and the choices."""

    option: str
    about: str
    text: str
    choices: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Coming:
    """One outline as it would come in."""

    label: str
    stand: str
    how: str
    is_new: bool
    wkt: str
    area_ac: float
    noted_area_ac: float | None
    takes_area: bool
    had_outline: bool
    notes: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Look:
    """What a file of outlines comes to; nothing is written."""

    file: str
    system: str
    columns: tuple[str, ...]
    name_column: str
    outlines: tuple[Coming, ...]
    left_out: tuple[str, ...]
    questions: tuple[Question, ...]
    problems: tuple[Problem, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class _Shape:
    label: str
    polygon: Any
    notes: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class _Book:
    """The stands and properties a file is held against, every outline read once."""

    known: Mapping[str, Stand]
    lands: Mapping[str, Property]
    shapes: Mapping[str, Any]
    grounds: places.Grounds
    tree: Any

    @classmethod
    def now(cls) -> _Book:
        import shapely

        known = {stand.stand: stand for stand in session.stands()}
        shapes = {name: outlines.shape_of(stand) for name, stand in known.items() if stand.boundary_wkt}
        tree = shapely.STRtree(list(shapes.values()))
        return cls(known=known, lands=places.lands(), shapes=shapes, grounds=places.Grounds.of(known.values()), tree=tree)

    def on_land_of(self, polygon: Any) -> str:
        """The stand whose outline shares the most land with a shape, and enough to be the same."""
        names = list(self.shapes)
        near = [names[int(place)] for place in self.tree.query(polygon, predicate="intersects")]
        best = max(near, key=lambda name: self.share(polygon, name), default="")
        return best if best and self.share(polygon, best) >= _SAME_LAND_SHARE else ""

    def share(self, polygon: Any, name: str) -> float:
        """Land in both as a share of land in either."""
        import shapely

        other = self.shapes[name]
        if not polygon.intersects(other):
            return 0.0
        return float(shapely.area(polygon.intersection(other)) / shapely.area(polygon.union(other)))


@dataclass(frozen=True, kw_only=True)
class _Match:
    """Which stand a shape is, and how that is known; ``asked`` where it must be said."""

    stand: str = ""
    how: str = ""
    is_new: bool = False
    asked: Question | None = None


def look(name: str, content: bytes, said: Said) -> Look:
    """What a file of outlines comes to: which stand each is, its acres, what must be said first, what is wrong.

    Raises
    ------
    BadRecords
        when the file as a whole cannot be read.
    Misuse
        when something was said of a column, shape or stand that is not there.
    """
    from overwood.memory.exchange import outlines as files

    if said.area and said.area not in AREAS:
        raise Misuse(f"--area is {said.area!r}.", remedy=f"Use one of {', '.join(AREAS)}.")
    file = files.read(name, content, system=said.system, layer=said.layer)
    book = _Book.now()
    columns = tuple(dict.fromkeys(column for shape in file.shapes for column in shape.values))
    column = _name_column(file.shapes, columns, book.known, said)
    shapes = _labelled(file.shapes, column, said)
    _must_be_there(said, shapes)
    matches = {shape.label: _match(shape, book, said) for shape in shapes}
    taken = [shape for shape in shapes if matches[shape.label].stand]
    coming, questions, problems = [], [m.asked for m in matches.values() if m.asked], list(file.problems)
    problems += _twice(taken, matches, name)
    for shape in taken:
        match = matches[shape.label]
        off = book.grounds.astray(shape.polygon, _land(match, book, said), but=match.stand)
        if off:
            remedy = (
                "Say --swap, if the file has latitude first." if off.swapped_fits else "Check the coordinate system of the file (--crs)."
            )
            problems.append(Problem(what=off.what, file=name, found=shape.label, remedy=remedy))
            continue
        coming.append(_coming(shape, match, book.known.get(match.stand), said))
    if not said.area and any(_doubted(one) for one in coming):
        questions.append(_area_question([one for one in coming if _doubted(one)]))
    notes = (*file.notes, *_overlaps(coming, book))
    left = tuple(label for label, stand in said.stands.items() if stand == LEFT_OUT)
    return Look(
        file=name, system=file.system, columns=columns, name_column=column, outlines=tuple(coming), left_out=left, questions=tuple(questions),
        problems=tuple(problems), notes=notes,
    )  # fmt: skip


def write(found: Look, said: Said, today: dt.date) -> entering.Report:
    """Write the outlines of a look into the book as one entry, which can be undone.

    Raises
    ------
    Misuse
        when a question is open, or nothing is to be written.
    """
    if found.questions:
        raise Misuse("it is not yet said: " + " ".join(one.text for one in found.questions), remedy="Nothing was written.")
    if not found.outlines:
        raise Misuse(f"{found.file} holds no outline that can be written.", remedy="See what is wrong with each.")
    known = {stand.stand: stand for stand in session.stands()}
    rows = [_row(one, known.get(one.stand), said) for one in found.outlines]
    report = entering.enter({"stands": rows}, today=today, name=f"outlines: {found.file}")
    if report.faults:
        raise Misuse("; ".join(str(fault) for fault in report.faults), remedy="Nothing was written.")
    return report


def give_out(kind: str, only: Sequence[str] = (), system: str = "") -> bytes:
    """Outlines of the book, of all stands or of some, as a file of a kind.

    Raises
    ------
    NotFound
        when a named stand is not there, or no outline is.
    """
    from overwood.memory.exchange import outlines as files

    stands = [stand for stand in session.stands() if not only or stand.stand in only]
    missing = sorted(set(only) - {stand.stand for stand in stands})
    if missing:
        raise NotFound(f"there is no stand {missing[0]!r}.", remedy="See `overwood property`.")
    rows = [(_words(stand), outlines.shape_of(stand)) for stand in stands if stand.boundary_wkt]
    if not rows:
        raise NotFound("no stand has an outline.", remedy="Bring a file of outlines in, or draw one on the map.")
    return files.write("stands", rows, kind, system or files.DEGREES)


def kinds_out() -> tuple[str, ...]:
    """Endings of the files outlines go out as."""
    from overwood.memory.exchange.outlines import KINDS_OUT

    return KINDS_OUT


def endings_in() -> tuple[str, ...]:
    """Endings of the files outlines come in."""
    from overwood.memory.exchange.outlines import ENDINGS

    return ENDINGS


def _words(stand: Stand) -> dict[str, str | float]:
    noted = math.nan if stand.area_ac is None else float(stand.area_ac)
    acres = round(outlines.area_ac(outlines.shape_of(stand)), 3)
    return {"stand": stand.stand, "property": stand.property, "full_name": stand.name, "area_ac": acres, "noted_ac": noted}


def _name_column(shapes: Sequence[Any], columns: Sequence[str], known: Mapping[str, Stand], said: Said) -> str:
    """The column that names the most stands of the book; a likely heading where none does."""
    if said.name_column:
        if said.name_column not in columns:
            raise Misuse(f"the file has no column {said.name_column!r}.", remedy=f"It has {', '.join(columns) or 'none'}.")
        return said.name_column
    names = {name.casefold() for stand in known.values() for name in (stand.stand, stand.name) if name}
    named = {column: len({shape.values.get(column, "").casefold() for shape in shapes} & names) for column in columns}
    best = max(named, key=lambda column: named[column], default="")
    if best and named[best]:
        return best
    return next((column for likely in _LIKELY_COLUMNS for column in columns if column.casefold() == likely), "")


def _labelled(shapes: Sequence[Any], column: str, said: Said) -> list[_Shape]:
    """Shapes by name; several of one name are parts of one stand."""
    import shapely

    parts: dict[str, list[Any]] = {}
    for shape in shapes:
        parts.setdefault(shape.values.get(column, "") or f"shape {shape.number}", []).append(shape)
    found = []
    for label, several in parts.items():
        polygon = several[0].polygon if len(several) == 1 else shapely.union_all([one.polygon for one in several])
        notes = [note for one in several for note in one.notes]
        if len(several) > 1:
            notes.append(f"{len(several)} shapes of this name are taken as parts of one outline.")
        turned = places.swapped(polygon) if said.swap else polygon
        if turned is None:
            raise Misuse(f"{label} with latitude and longitude swapped is nowhere on the earth.", remedy="Leave --swap out.")
        found.append(_Shape(label=label, polygon=turned, notes=tuple(notes)))
    return found


def _must_be_there(said: Said, shapes: Sequence[_Shape]) -> None:
    labels = [shape.label for shape in shapes]
    stray = [label for label in said.stands if label not in labels]
    if stray:
        raise Misuse(f"no shape of the file is called {stray[0]!r}.", remedy=f"There are {', '.join(labels[:20])}.")


def _match(shape: _Shape, book: _Book, said: Said) -> _Match:
    known = book.known
    told = said.stands.get(shape.label)
    if told == LEFT_OUT:
        return _Match()
    if told is not None:
        if told not in known and not said.new:
            raise Misuse(f"there is no stand {told!r}.", remedy="Choose one of the book, or say --new to make it.")
        return _Match(stand=told, how="said", is_new=told not in known)
    same = _called(shape.label, known)
    on_land = book.on_land_of(shape.polygon)
    if len(same) == 1:
        if on_land and on_land != same[0] and same[0] in book.shapes and not book.share(shape.polygon, same[0]):
            text = f"{shape.label} is called {same[0]} but lies on the land of {on_land}. Which stand is it?"
            return _Match(asked=_which(shape, text, (same[0], on_land, LEFT_OUT)))
        return _Match(stand=same[0], how="name")
    if said.new and not on_land:
        return _Match(stand=shape.label, how="new", is_new=True)
    choices = (on_land, LEFT_OUT) if on_land else (*list(known)[:12], LEFT_OUT)
    lies = f" It lies on the land of {on_land}." if on_land else ""
    return _Match(asked=_which(shape, f"Which stand is {shape.label}?{lies} {LEFT_OUT} leaves it out; --new makes a stand of it.", choices))


def _called(label: str, known: Mapping[str, Stand]) -> list[str]:
    """Stands of this short name, else of this full name, whatever the capitals."""
    plain = label.casefold()
    short = [name for name in known if name.casefold() == plain]
    return short or [name for name, stand in known.items() if stand.name.casefold() == plain]


def _which(shape: _Shape, text: str, choices: tuple[str, ...]) -> Question:
    return Question(option="--stand", about=shape.label, text=f'{text} Say --stand "{shape.label}={choices[0]}".', choices=choices)


def _twice(taken: Sequence[_Shape], matches: Mapping[str, _Match], file: str) -> list[Problem]:
    seen: dict[str, str] = {}
    found = []
    for shape in taken:
        stand = matches[shape.label].stand
        if stand in seen:
            what = f"{seen[stand]} and {shape.label} are both taken for {stand}."
            found.append(Problem(what=what, file=file, found=shape.label, remedy=f'Leave one out: --stand "{shape.label}={LEFT_OUT}".'))
        seen.setdefault(stand, shape.label)
    return found


def _land(match: _Match, book: _Book, said: Said) -> Property | None:
    lands, stand = book.lands, book.known.get(match.stand)
    owner = stand.property if stand else said.property
    return lands.get(owner) or (next(iter(lands.values())) if len(lands) == 1 and not owner else None)


def _coming(shape: _Shape, match: _Match, stand: Stand | None, said: Said) -> Coming:
    noted = stand.area_ac if stand else None
    return Coming(
        label=shape.label, stand=match.stand, how=match.how, is_new=match.is_new, wkt=outlines.wkt_of(shape.polygon),
        area_ac=outlines.area_ac(shape.polygon), noted_area_ac=noted, takes_area=noted is None or said.area == "outline",
        had_outline=bool(stand and stand.boundary_wkt), notes=shape.notes,
    )  # fmt: skip


def _doubted(one: Coming) -> bool:
    return one.noted_area_ac is not None and abs(one.area_ac - one.noted_area_ac) > _DOUBTED_AREA_SHARE * one.noted_area_ac


def _area_question(doubted: Sequence[Coming]) -> Question:
    each = "; ".join(f"{one.stand}: outline {one.area_ac:.1f} ac, noted {one.noted_area_ac:.1f} ac" for one in doubted[:6])
    more = f" and {len(doubted) - 6} more" if len(doubted) > 6 else ""
    text = f"Outline and noted acres differ ({each}{more}). Which acres hold? Say --area outline or --area record."
    return Question(option="--area", about="area", text=text, choices=AREAS)


def _overlaps(coming: Sequence[Coming], book: _Book) -> list[str]:
    """Land that would lie in two stands, of the file or of the book."""
    import shapely

    new = {one.stand: shapely.from_wkt(one.wkt) for one in coming}
    old = {name: shape for name, shape in book.shapes.items() if name not in new}
    names, shapes = [*new, *old], [*new.values(), *old.values()]
    found = []
    tree = shapely.STRtree(shapes)
    for number, name in enumerate(new):
        for other in sorted(int(place) for place in tree.query(shapes[number], predicate="intersects")):
            if other > number:
                common = outlines.common_ac(shapes[number], shapes[other])
                if common:
                    found.append(f"{common:.1f} ac of {name} lie in {names[other]} too.")
    return found


def _row(one: Coming, stand: Stand | None, said: Said) -> dict[str, str]:
    row = entering.as_text(stand) if stand else {"stand": one.stand, "property": said.property or outlines.only_property()}
    if one.takes_area:
        row["area_ac"] = f"{one.area_ac:.2f}"
    return row | {"boundary_wkt": one.wkt}
