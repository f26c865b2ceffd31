"""Tallies that were read, as tables of the contract: visits, rings and points beside the lines, rows numbered as in the
file."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import polars as pl

from overwood.ground import plausible
from overwood.ground.records import TABLES
from overwood.memory.exchange import checking, watching
from overwood.memory.exchange.checking import ROW
from overwood.memory.exchange.own_size import SIZES
from overwood.memory.exchange.proposal import Part
from overwood.memory.exchange.straighten import Line, Lines

_NUMBERS = {"trees": "tree", "seedlings": "line", "acorn_trees": "tree", "stems": "stem"}
# Layers whose points may have a factor or plot size of their own.
_SIZED = ("overstory", "reproduction")
# Marks that stand beside a tree in words: behind its species, in its remark.
_BESIDE = ("species_mark", "note_mark")
_POINT_COLUMNS = ("stratum", "cluster", "fenced", "in_stand", "longitude_deg", "latitude_deg")


@dataclass(frozen=True, kw_only=True)
class Ready:
    """One sheet read and answered: its lines, and what holds for all of them."""

    file: str
    sheet: str
    table: str
    lines: Lines
    kind: str = ""
    constants: Mapping[str, str] = field(default_factory=dict)
    ring: Mapping[str, str] = field(default_factory=dict)
    # Whether its points have a factor or plot size of their own.
    has_own_sizes: bool = False

    def value(self, line: Line, column: str) -> str:
        """A cell of a line, or what was answered for all lines."""
        place = self.lines.place(column)
        return (line.cells[place] if place >= 0 else "") or self.constants.get(column, "")

    @property
    def every_line(self) -> tuple[Line, ...]:
        return (*self.lines.lines, *self.lines.empties)


def parts(ready: Sequence[Ready], today: dt.date) -> tuple[Part, ...]:
    """All sheets of a file as parts of the contract, parents before children."""
    lists = [one for one in ready if one.table == "points"]
    tallies = [one for one in ready if one.table in _NUMBERS]
    names = _visit_names(tallies)
    made: list[Part] = [part for one in ready if one.table == "stands" for part in _stands(one)]
    made += _visits(tallies, names)
    made += _rings(tallies, names)
    made += _maps(tallies, names)
    shared = _sharing(tallies, names)
    lines = [part for number, one in enumerate(tallies) for part in _tally(one, names, apart=number in shared)]
    lost = _lost_points(lines, tallies, names, today)
    made += [_without(part, lost) for part in _points(tallies, lists, names)]
    return tuple(made + lines)


def _lost_points(
    lines: Sequence[Part], tallies: Sequence[Ready], names: Mapping[Visit, tuple[str, str]], today: dt.date
) -> set[tuple[str, str]]:
    """Points all of whose lines will be refused: stored without them they would count as empty."""
    held: set[tuple[str, str]] = set()
    hurt: set[tuple[str, str]] = set()
    for part in lines:
        if "point" not in part.frame.columns:
            continue
        bad = set(
            checking.check(TABLES[part.table], part.frame, file=part.file, sheet=part.sheet, today=today).bad_rows
        )
        for row, visit, point in part.frame.select(ROW, "visit", "point").iter_rows():
            (hurt if row in bad else held).add((visit, point))
    held |= {(names[_key(one, line)][0], one.value(line, "point")) for one in tallies for line in one.lines.empties}
    return hurt - held


def _without(part: Part, lost: set[tuple[str, str]]) -> Part:
    if not lost:
        return part
    keep = [(visit, point) not in lost for visit, point in part.frame.select("visit", "point").iter_rows()]
    return Part(file=part.file, sheet=part.sheet, table=part.table, frame=part.frame.filter(keep))


def _part(one: Ready, table: str, columns: Sequence[str], rows: Sequence[tuple[Any, ...]]) -> list[Part]:
    if not rows:
        return []
    cells = list(zip(*rows, strict=True))
    data = {ROW: list(cells[0]), **{name: list(values) for name, values in zip(columns, cells[1:], strict=True)}}
    schema = {ROW: pl.Int64, **dict.fromkeys(columns, pl.String)}
    return [Part(file=one.file, sheet=one.sheet, table=table, frame=pl.DataFrame(data, schema=schema))]


def _stands(one: Ready) -> list[Part]:
    columns = list(
        dict.fromkeys((*one.lines.columns, *(name for name in one.constants if name in TABLES["stands"].columns)))
    )
    columns = [name for name in columns if name in TABLES["stands"].columns]
    rows = [(line.row, *(one.value(line, column) for column in columns)) for line in one.lines.lines]
    homes: dict[str, int] = {}
    for line in one.lines.lines:
        homes.setdefault(one.value(line, "property"), line.row)
    lands = [(row, name) for name, row in homes.items() if name]
    return [*_part(one, "properties", ("property",), lands), *_part(one, "stands", columns, rows)]


Visit = tuple[str, str, str]


def _key(one: Ready, line: Line) -> Visit:
    return one.value(line, "stand"), one.value(line, "visited_on"), one.kind


def _visit_names(tallies: Sequence[Ready]) -> dict[Visit, tuple[str, str]]:
    """Stand, day and kind to (visit, first day): days of one cruise, no point on two of them, make one visit."""
    days: dict[tuple[str, str], dict[str, set[str]]] = {}
    for one in tallies:
        for line in one.every_line:
            name, day, kind = _key(one, line)
            days.setdefault((name, kind), {}).setdefault(day, set()).add(one.value(line, "point") or f"row {line.row}")
    names: dict[Visit, tuple[str, str]] = {}
    for (name, kind), points in days.items():
        for first, day in _first_days(points):
            names[name, day, kind] = (f"{name}-{first}-{kind}", first)
    return names


def _first_days(points: Mapping[str, set[str]]) -> Iterable[tuple[str, str]]:
    """Each day with the first day of its cruise."""
    first, held, last = "", set[str](), ""
    for day in sorted(points):
        goes_on = bool(first) and _apart(last, day) <= plausible.limit("one_cruise_days") and not held & points[day]
        first, held = (first, held | points[day]) if goes_on else (day, points[day])
        last = day
        yield first, day


def _apart(one: str, other: str) -> float:
    """Days between two days; without bounds where one is none."""
    try:
        return (dt.date.fromisoformat(other) - dt.date.fromisoformat(one)).days
    except ValueError:
        return float("inf")


def _visits(tallies: Sequence[Ready], names: Mapping[Visit, tuple[str, str]]) -> list[Part]:
    made, seen = [], set[str]()
    for one in tallies:
        rows = []
        for line in one.every_line:
            stand, _, kind = key = _key(one, line)
            visit, first = names[key]
            if visit not in seen:
                seen.add(visit)
                rows.append((line.row, visit, stand, kind, first, one.value(line, "observer")))
        columns = ("visit", "stand", "kind", "visited_on", "observer")
        made += _part(one, "visits", columns, rows)
    return made


def _rings(tallies: Sequence[Ready], names: Mapping[Visit, tuple[str, str]]) -> list[Part]:
    """The ring of each visit; sheets that hold a plot each say the same ring, which is told once."""
    made = []
    told: set[tuple[str, frozenset[tuple[str, str]]]] = set()
    for one in tallies:
        if not one.ring:
            continue
        firsts: dict[str, int] = {}
        for line in one.every_line:
            firsts.setdefault(names[_key(one, line)][0], line.row)
        same = frozenset(one.ring.items())
        firsts = {visit: row for visit, row in firsts.items() if (visit, same) not in told}
        told |= {(visit, same) for visit in firsts}
        columns = ("visit", *one.ring)
        made += _part(one, "rings", columns, [(row, visit, *one.ring.values()) for visit, row in firsts.items()])
    return made


def _maps(tallies: Sequence[Ready], names: Mapping[Visit, tuple[str, str]]) -> list[Part]:
    """The mapped block of each visit that has a stem map."""
    made = []
    for one in tallies:
        if one.table == "stems":
            visits = {names[_key(one, line)][0]: line.row for line in reversed(one.lines.lines)}
            columns = ("visit", "width_ft", "height_ft", "edge")
            blocks = [
                (row, visit, *(one.constants.get(name, "") for name in columns[1:])) for visit, row in visits.items()
            ]
            made += _part(one, "stem_maps", columns, blocks)
    return made


def _points(tallies: Sequence[Ready], lists: Sequence[Ready], names: Mapping[Visit, tuple[str, str]]) -> list[Part]:
    """Points of the tallies and of lists of plots; what a list says of a point goes before what a tally says."""
    listed = {place: (one, line) for one in lists for line in one.every_line for place in _listed(one, line, names)}
    sized = {names[_key(one, line)][0] for one in tallies if one.ring.get("layer") in _SIZED for line in one.every_line}
    made, seen = [], set[tuple[str, str]]()
    for one in (*(one for one in tallies if one.table in ("trees", "seedlings")), *lists):
        rows = []
        for line in one.every_line:
            places = (
                _listed(one, line, names)
                if one.table == "points"
                else [(names[_key(one, line)][0], one.value(line, "point"))]
            )
            for place in places:
                if place not in seen:
                    seen.add(place)
                    rows.append(
                        (line.row, *place, *_of_point(one, line, listed.get(place), is_sized=place[0] in sized))
                    )
        made += _part(one, "points", ("visit", "point", *_POINT_COLUMNS, *SIZES, "note"), rows)
    return [_without_blank_columns(part) for part in made]


def _listed(one: Ready, line: Line, names: Mapping[Visit, tuple[str, str]]) -> list[tuple[str, str]]:
    """The visits, each with the point, that a line of a list of plots belongs to: of its stand, and of its day if it
    has one."""
    stand, day, point = (one.value(line, name) for name in ("stand", "visited_on", "point"))
    visits = {visit for (name, on, _), (visit, _) in names.items() if name == stand and (not day or on == day)}
    return [(visit, point) for visit in sorted(visits) if point]


def _of_point(one: Ready, line: Line, listed: tuple[Ready, Line] | None, *, is_sized: bool) -> list[str]:
    """Stratum, fence, place, size of its own and note of a point: as its list says, else as the line does."""
    sources = [source for source in (listed, (one, line)) if source is not None]
    values = [next((v for sheet, at in sources if (v := sheet.value(at, name))), "") for name in _POINT_COLUMNS]
    # A list of plots says the sizes of the trees' plots: those of young stems have theirs in their own sheet alone.
    own = [
        (sheet, at)
        for sheet, at in sources
        if is_sized and sheet.has_own_sizes and (one.table != "seedlings" or sheet is one)
    ]
    sizes = [next((v for sheet, at in own if (v := sheet.value(at, name))), "") for name in SIZES]
    # One size for all points of a tally: what an earlier file said of a point of its own holds no more.
    values += ["clear"] * len(SIZES) if is_sized and one.ring.get("layer") in _SIZED and not any(sizes) else sizes
    notes = (sheet.value(at, "note" if sheet.table == "points" else "point_note") for sheet, at in sources)
    return [*values, next((note for note in notes if note), "")]


def _without_blank_columns(part: Part) -> Part:
    """A part without the columns that the file does not carry: an absent column changes nothing in the book."""
    bare = [
        name
        for name in part.frame.columns
        if name not in (ROW, "visit", "point") and not any(part.frame[name].to_list())
    ]
    return Part(file=part.file, sheet=part.sheet, table=part.table, frame=part.frame.drop(bare))


def _sharing(tallies: Sequence[Ready], names: Mapping[Visit, tuple[str, str]]) -> set[int]:
    """Sheets of trees that share a visit with an earlier sheet: their trees are numbered apart."""
    seen: set[tuple[str, str]] = set()
    shared = set()
    for number, one in enumerate(tallies):
        visits = {(one.table, names[_key(one, line)][0]) for line in one.lines.lines}
        if visits & seen:
            shared.add(number)
        seen |= visits
    return shared


def _tally(one: Ready, names: Mapping[Visit, tuple[str, str]], *, apart: bool) -> list[Part]:
    table = TABLES[one.table]
    number = _NUMBERS[one.table]
    said = [
        name
        for name in one.constants
        if name in ("height_class", "stems", "method", "seconds") and name not in one.lines.columns
    ]
    kept = [
        name for name in (*one.lines.columns, *said) if name in table.columns and name not in ("visit", "point", number)
    ]
    has_point = "point" in table.columns
    added = [name for name in ("status", "quality") if _marks(one, name) and name not in kept]
    columns = ("visit", *(("point",) if has_point else ()), number, *kept, *added)
    numbers = _line_numbers(one, number, names, f"{one.ring.get('layer', 's')[:1]}" if apart else "")
    rows = []
    lines = watching.each(one.lines.lines, watching.PUT_IN_FORM)
    for line, tree in zip(lines, numbers, strict=True):
        cells = {name: one.value(line, name) for name in (*kept, *added)} | _standing(one, line)
        place = (one.value(line, "point"),) if has_point else ()
        visit = names[_key(one, line)][0]
        rows.append((line.row, visit, *place, tree, *(cells[name] for name in (*kept, *added))))
    return _part(one, one.table, columns, rows)


def _marks(one: Ready, column: str) -> bool:
    """Whether a sheet says in marks what a column of the record holds."""
    marks = {
        "status": ("dead_mark", "live_mark", *_BESIDE),
        "quality": ("cull_mark", "status", *_BESIDE),
    }[column]
    return one.table == "trees" and any(name in one.lines.columns for name in marks)


def _standing(one: Ready, line: Line) -> dict[str, str]:
    """Status and quality of a tree as its marks say; a mark never takes away what a column says."""
    if not (_marks(one, "status") or _marks(one, "quality")):
        return {}
    status, quality, *marks = (one.value(line, name) for name in ("status", "quality", *_BESIDE))
    dead = one.value(line, "dead_mark") == "yes" or one.value(line, "live_mark") == "no" or "dead" in (status, *marks)
    cull = one.value(line, "cull_mark") == "yes" or "cull" in (status, *marks)
    standing = {
        "status": "dead" if dead else "" if status == "cull" else status,
        "quality": "cull" if cull else quality,
    }
    return {name: value for name, value in standing.items() if name in one.lines.columns or _marks(one, name)}


def _line_numbers(one: Ready, number: str, names: Mapping[Visit, tuple[str, str]], prefix: str) -> list[str]:
    """The number of each line at its point: as written where the sheet numbers its lines, else counted."""
    place = one.lines.place(number)
    named = [(line.row, line.cells[place]) for line in one.lines.lines] if place >= 0 else []
    written = place >= 0 and len(set(named)) == len(named)
    counts: dict[tuple[str, str], int] = {}
    numbers = []
    for line in one.lines.lines:
        at = (names[_key(one, line)][0], one.value(line, "point"))
        counts[at] = counts.get(at, 0) + 1
        own = line.cells[place] if written else str(counts[at])
        numbers.append(f"{prefix}{own or f'row {line.row}'}")
    return numbers
