"""Files of outlines: each shape matched to a stand, checked, looked at and then written; and the outlines of the book
given out."""

from __future__ import annotations

import collections
import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import shapely

from overwood.desk import crossing, entering, outline_matching, outlines, session
from overwood.desk.outline_matching import LEFT_OUT, BookOutlines, Match, NamedShape, OutlineAnswers, Question
from overwood.ground import measures
from overwood.ground.errors import Misuse, NotFound, Problem
from overwood.ground.records import Stand

# Outline and noted acres that differ by more are asked about: our own choice.
_DOUBTED_AREA_SHARE = 0.05
_MOST_LISTED = 6
AREAS = ("outline", "record")


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

    @property
    def is_doubted(self) -> bool:
        """Whether the outline's acres and the noted ones differ so much that somebody must say which hold."""
        return (
            self.noted_area_ac is not None
            and abs(self.area_ac - self.noted_area_ac) > _DOUBTED_AREA_SHARE * self.noted_area_ac
        )


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


def look(name: str, content: bytes, answers: OutlineAnswers) -> Look:
    """What a file of outlines comes to: which stand each is, its acres, what must be answered first, what is wrong.
    Raises BadRecords when the file as a whole cannot be read; Misuse when something was answered about a column, shape
    or stand that is not there."""
    from overwood.memory.exchange.outlines import plain

    if answers.area and answers.area not in AREAS:
        raise Misuse(f"--area is {answers.area!r}.", remedy=f"Use one of {', '.join(AREAS)}.")
    file, book = plain.read_apart(name, content, system=answers.system, layer=answers.layer), BookOutlines.now()
    columns = tuple(dict.fromkeys(column for shape in file.shapes for column in shape.values))
    column = outline_matching.name_column(file.shapes, columns, book, answers)
    shapes = outline_matching.named_shapes(file.shapes, column, answers.swap)
    pairs = list(zip(shapes, outline_matching.matches(shapes, book, answers), strict=True))
    wrong = [*_twice(pairs, name), *_astray(pairs, book, answers, name)]
    labels = {problem.found for problem in wrong}
    coming = [
        _coming(shape, match, book, answers) for shape, match in pairs if match.stand and shape.label not in labels
    ]
    return Look(
        file=name,
        system=file.system,
        columns=columns,
        name_column=column,
        outlines=tuple(coming),
        left_out=tuple(label for label, stand in answers.stands.items() if stand == LEFT_OUT),
        questions=(*(match.question for _, match in pairs if match.question), *_area_question(coming, answers)),
        problems=(*file.problems, *wrong),
        notes=(*file.notes, *_overlaps(coming, book), *_crossed(coming)),
    )


def write(look: Look, answers: OutlineAnswers, today: dt.date) -> entering.Report:
    """Write the outlines of a look into the book as one entry, which can be undone. Raises Misuse when a question is
    open, or nothing is to be written."""
    if look.questions:
        raise Misuse(
            "it is not yet said: " + " ".join(question.text for question in look.questions),
            remedy="Nothing was written.",
        )
    if not look.outlines:
        raise Misuse(f"{look.file} holds no outline that can be written.", remedy="See what is wrong with each.")
    stands = {stand.stand: stand for stand in session.stands()}
    rows = [_row(one, stands.get(one.stand), answers) for one in look.outlines]
    return outlines.write(rows, today, f"outlines: {look.file}")


def give_out(kind: str, only: Sequence[str] = (), system: str = "") -> bytes:
    """Outlines of the book, of all stands or of some, as a file of a kind. Raises NotFound when a named stand is not
    there, or no outline is."""
    from overwood.memory.exchange import outlines as files

    stands = [stand for stand in session.stands() if not only or stand.stand in only]
    missing = sorted(set(only) - {stand.stand for stand in stands})
    if missing:
        raise NotFound(f"there is no stand {missing[0]!r}.", remedy="See `overwood property`.")
    rows = [_words(stand) for stand in stands if stand.boundary_wkt]
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


def _words(stand: Stand) -> tuple[dict[str, str | float], Any]:
    """What is written beside an outline, and the outline."""
    shape = outlines.shape_of(stand)
    noted = math.nan if stand.area_ac is None else float(stand.area_ac)
    acres = round(outlines.area_ac(shape), 3)
    return {
        "stand": stand.stand,
        "property": stand.property,
        "full_name": stand.name,
        "area_ac": acres,
        "noted_ac": noted,
    }, shape


def _twice(pairs: Sequence[tuple[NamedShape, Match]], file: str) -> list[Problem]:
    """Of shapes for one stand none is written."""
    labels = collections.defaultdict(list)
    for shape, match in pairs:
        if match.stand:
            labels[match.stand].append(shape.label)
    return [
        Problem(
            what=f"{' and '.join(same)} are both meant for {stand}.",
            file=file,
            found=label,
            remedy=f'Leave one out: --stand "{same[-1]}={LEFT_OUT}".',
        )
        for stand, same in labels.items()
        if len(same) > 1
        for label in same
    ]


def _astray(
    pairs: Sequence[tuple[NamedShape, Match]], book: BookOutlines, answers: OutlineAnswers, file: str
) -> list[Problem]:
    """Outlines that lie off their property."""
    problems = []
    for shape, match in pairs:
        land = book.land(match.stand, answers.property) if match.stand else None
        off = book.grounds.astray(shape.polygon, land, but=match.stand) if match.stand else None
        if off:
            crs = "Check the coordinate system of the file (--crs)."
            remedy = "Say --swap, if the file has latitude first." if off.swapped_fits else crs
            problems.append(Problem(what=off.what, file=file, found=shape.label, remedy=remedy))
    return problems


def _coming(shape: NamedShape, match: Match, book: BookOutlines, answers: OutlineAnswers) -> Coming:
    stand = book.stands.get(match.stand)
    noted = stand.area_ac if stand else None
    return Coming(
        label=shape.label,
        stand=match.stand,
        how=match.how,
        is_new=match.is_new,
        wkt=outlines.wkt_of(shape.polygon),
        area_ac=outlines.area_ac(shape.polygon),
        noted_area_ac=noted,
        takes_area=noted is None or answers.area == "outline",
        had_outline=match.stand in book.shapes,
        notes=shape.notes,
    )


def _area_question(coming: Sequence[Coming], answers: OutlineAnswers) -> list[Question]:
    doubted = [one for one in coming if one.is_doubted]
    if answers.area or not doubted:
        return []
    each = "; ".join(
        f"{one.stand}: outline {measures.amount(one.area_ac, 'ac', '.1f')}, "
        f"noted {measures.amount(one.noted_area_ac or 0.0, 'ac', '.1f')}"
        for one in doubted[:_MOST_LISTED]
    )
    more = f" and {len(doubted) - _MOST_LISTED} more" if len(doubted) > _MOST_LISTED else ""
    acres = measures.unit_word("acres")
    text = f"Outline and noted {acres} differ ({each}{more}). Which {acres} hold? Say --area outline or --area record."
    return [Question(option="--area", about="area", text=text, choices=AREAS)]


def _overlaps(coming: Sequence[Coming], book: BookOutlines) -> list[str]:
    """Land that would lie in two stands, of the file or of the book."""
    new = {one.stand: shapely.from_wkt(one.wkt) for one in coming}
    shapes = new | {name: shape for name, shape in book.shapes.items() if name not in new}
    names, polygons = list(shapes), list(shapes.values())
    tree, notes = shapely.STRtree(polygons), []
    for number, name in enumerate(new):
        near = sorted(int(place) for place in tree.query(polygons[number], predicate="intersects"))
        for other in (place for place in near if place > number):
            common = outlines.common_ac(polygons[number], polygons[other])
            if common:
                notes.append(f"{measures.amount(common, 'ac', '.1f')} of {name} lie in {names[other]} too.")
    return notes


def _crossed(coming: Sequence[Coming]) -> list[str]:
    return crossing.crossed_words(crossing.newly_crossed({one.stand: one.wkt for one in coming}))


def _row(one: Coming, stand: Stand | None, answers: OutlineAnswers) -> dict[str, str]:
    row = (
        entering.as_text(stand)
        if stand
        else {"stand": one.stand, "property": answers.property or outlines.only_property()}
    )
    if one.takes_area:
        row["area_ac"] = f"{one.area_ac:.2f}"
    return row | {"boundary_wkt": one.wkt}
