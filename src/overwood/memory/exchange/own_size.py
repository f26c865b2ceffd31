"""A basal area factor or plot size of each point's own: read from the columns of a sheet whose points differ, or of a
list of plots."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from overwood.ground.errors import Problem
from overwood.memory.exchange import classes, design, headings, layout
from overwood.memory.exchange.said import Said
from overwood.memory.exchange.straighten import Line, Lines

SIZES = ("baf_ft2_ac", "plot_area_ac")
_PLACE = ("stand", "visited_on", "point")
Place = tuple[str, ...]
Sizes = Mapping[Place, frozenset[tuple[str, str]]]


@dataclass(frozen=True)
class OwnSizes:
    """Lines whose sizes stand as the contract writes them; the usual size of a point, and the mean factor or plot over
    all stems."""

    lines: Lines
    usual: design.Design
    mean: design.Design
    by_point: Mapping[Place, design.Design] = field(default_factory=dict)


def of_sheet(
    sheet: layout.Layout, table: str, lines: Lines, names: Mapping[str, str], said: Said
) -> tuple[OwnSizes | None, list[Problem]]:
    """Factors or plot sizes of the points where they differ, and what stops a sheet whose points cannot be told apart
    by them."""
    if table not in ("trees", "seedlings"):
        return None, []
    texts = written(lines)
    if len(texts) < 2:
        return None, []
    if table == "trees" and said.setting("layer").lower() not in ("", "overstory"):
        return _stop(sheet, "differing", sorted(text for _, text in texts))
    sizes = by_point(lines)
    points = unclear(lines, sizes)
    if points:
        return _stop(sheet, "unclear", points)
    told = said.design()
    if told[1]:
        return _stop(sheet, "answered", [f"{told[0]}={told[1]}"], told[0])
    own = of(lines, sizes, names, table, said)
    return _stop(sheet, "no size", [own]) if isinstance(own, str) else (own, [])


def with_unit(size: str, heading: str) -> str:
    """A plot size or factor with the unit its heading names."""
    measure, unit = classes.measure(size), headings.unit_in(heading)
    return f"{size} {unit}" if unit and measure and not measure[1] else size


def written(lines: Lines) -> frozenset[tuple[str, str]]:
    """Every (column, text) that says how stems were taken in somewhere on the sheet."""
    return frozenset((name, value) for name in SIZES for value in lines.values(name) if value)


def by_point(lines: Lines) -> Sizes:
    """What is written of each point of a tally, empty points too."""
    said: dict[Place, set[tuple[str, str]]] = {}
    for line in (*lines.lines, *lines.empties):
        here = said.setdefault(place_of(lines, line), set())
        here |= {(name, text) for name in SIZES if (text := _cell(lines, line, name))}
    return {place: frozenset(sizes) for place, sizes in said.items()}


def unclear(lines: Lines, sizes: Sizes) -> tuple[str, ...]:
    """Points with stems of which no size, or more than one, is written."""
    tallied = dict.fromkeys(place_of(lines, line) for line in lines.lines)
    return tuple(place[-1] for place in tallied if len(sizes[place]) != 1)


def of(lines: Lines, sizes: Sizes, names: Mapping[str, str], table: str, said: Said) -> OwnSizes | str:
    """The sizes of all points; the first text that stands for no size where there is one. ``names`` are the headings of
    the columns."""
    read: dict[Place, design.Design] = {}
    for place, here in sizes.items():
        for name, text in here:
            size = design.read(name, design.in_unit(name, with_unit(text, names.get(name, "")), said), table)
            if size is None:
                return text
            read[place] = size
    return with_sizes(lines, read, Counter(read.values()).most_common(1)[0][0])


def with_sizes(lines: Lines, read: Mapping[Place, design.Design], usual: design.Design) -> OwnSizes:
    """Lines with the size of each point in the contract's columns."""
    stems = Counter(place_of(lines, line) for line in lines.lines)
    missing = tuple(name for name in SIZES if name not in lines.columns)

    def wider(line: Line) -> Line:
        return replace(line, cells=(*line.cells, *("" for _ in missing)))

    full = replace(
        lines,
        columns=(*lines.columns, *missing),
        lines=tuple(map(wider, lines.lines)),
        empties=tuple(map(wider, lines.empties)),
    )
    return OwnSizes(_as_contract(full, read), usual, _mean(stems, read), read)


def of_list(lines: Lines, names: Mapping[str, str], said: Said) -> Lines:
    """A list of plots with its sizes as the contract writes them; what stands for no size is left to the checks."""

    def plain(line: Line) -> Line:
        cells = list(line.cells)
        for name in SIZES:
            size = (
                design.read(name, design.in_unit(name, with_unit(text, names.get(name, "")), said), "trees")
                if (text := _cell(lines, line, name))
                else None
            )
            if size is not None:
                cells[lines.place(name)] = _texts(size)[name]
        return replace(line, cells=tuple(cells))

    return replace(lines, lines=tuple(map(plain, lines.lines)), empties=tuple(map(plain, lines.empties)))


def _as_contract(lines: Lines, read: Mapping[Place, design.Design]) -> Lines:
    def plain(line: Line) -> Line:
        texts = _texts(read.get(place_of(lines, line), design.Design()))
        return replace(
            line, cells=tuple(texts.get(name, cell) for name, cell in zip(lines.columns, line.cells, strict=True))
        )

    return replace(lines, lines=tuple(map(plain, lines.lines)), empties=tuple(map(plain, lines.empties)))


def _texts(size: design.Design) -> dict[str, str]:
    factor, area = size.baf_ft2_ac, size.plot_area_ac
    return {"baf_ft2_ac": f"{factor:g}" if factor else "", "plot_area_ac": repr(area) if area else ""}


def _mean(stems: Mapping[Place, int], read: Mapping[Place, design.Design]) -> design.Design:
    """The size under which the lines of all points come to what they come to each under its own; unknown where designs
    are mixed."""
    factors = [(number, size.baf_ft2_ac) for place, number in stems.items() if (size := read[place]).baf_ft2_ac]
    areas = [(number, size.plot_area_ac) for place, number in stems.items() if (size := read[place]).plot_area_ac]
    if bool(factors) == bool(areas):
        return design.Design()
    total = sum(stems.values())
    if factors:
        return design.Design(baf_ft2_ac=sum(number * (factor or 0) for number, factor in factors) / total)
    return design.Design(plot_area_ac=total / sum(number / (area or 1) for number, area in areas))


def place_of(lines: Lines, line: Line) -> Place:
    """Stand, day and point of a line, "" for each that has no column."""
    return tuple(_cell(lines, line, name) for name in _PLACE)


def _cell(lines: Lines, line: Line, name: str) -> str:
    place = lines.place(name)
    return line.cells[place] if place >= 0 else ""


def on_slopes(sheet: layout.Layout, table: str, said: Said) -> list[Problem]:
    """What stops slopes that are to be corrected for: a ring below the canopy holds one size, a list of plots no
    stems."""
    if table == "points":
        return _stop(sheet, "listed slopes", [])[1]
    is_below = table == "trees" and said.setting("layer").lower() not in ("", "overstory")
    return _stop(sheet, "differing", ["slopes"])[1] if is_below else []


# What stops a sheet: column, what, what was expected, what to do.
_STOPS = {
    "differing": (
        "plot_area_ac",
        "The plots have different sizes, and such plots hold one.",
        "one for all plots of small trees; only trees of the overstory and plots of seedlings may have a "
        "size of their own by point",
        "Split the sheet into one for each size, under visits of their own.",
    ),
    "unclear": (
        "point",
        "Factors and plot sizes differ, and some points have none or more than one.",
        "one factor or one plot size at each point",
        "Fill the column at each point; put rings of different sizes on sheets of their own in one workbook.",
    ),
    "answered": (
        "",
        "One factor or plot size was answered, and the sheet has several, each at its points.",
        "no answer: each point is read with its own",
        "Leave the answer out; or leave the column of the sheet out, and the answer holds for all points.",
    ),
    "listed slopes": (
        "slope",
        "Slopes of a list of plots are not carried over to their stems.",
        "the slope of each plot in a column of the tally",
        "Put the slopes into the tally and leave their column out of the list.",
    ),
    "no size": (
        "plot_area_ac",
        "A factor or plot size is not understood.",
        "a basal area factor from 1 to 120, or a plot size in acres or with its unit",
        "Write the size with its unit, such as 0.1 ac or 4 m2.",
    ),
}


def _stop(sheet: layout.Layout, which: str, cells: Sequence[str], column: str = "") -> tuple[None, list[Problem]]:
    named, what, expected, remedy = _STOPS[which]
    text = ", ".join(cells[:6])
    return None, [
        Problem(
            what=what,
            file=sheet.file,
            sheet=sheet.sheet,
            column=column or named,
            found=text,
            expected=expected,
            remedy=remedy,
        )
    ]
