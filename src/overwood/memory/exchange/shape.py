"""Wide tallies into long ones: a column for each height class, inch class or species becomes a line for each count."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from overwood.ground import species
from overwood.memory.exchange import classes, codes, headings
from overwood.memory.exchange.proposal import RowFate
from overwood.memory.exchange.straighten import Line, Lines, is_word

_FEWEST = 2
# Bare numbers as headings: none above the first is a diameter, and where all lie below the second they may be heights,
# ft.
_LARGEST_CLASS, _LARGEST_HEIGHT = 150, 6
# Height classes in inches end at a foot or two; a class that begins at this many is one of diameters, or 10 ft and
# more.
_INCHES, _NAMED_INCHES = 12, 8


@dataclass(frozen=True)
class Wide:
    """Columns of counts: which columns their headings stand for, and what each heading says of them, by its place."""

    columns: tuple[str, ...]
    said: Mapping[int, tuple[str, ...]]

    @property
    def places(self) -> tuple[int, ...]:
        return tuple(self.said)


def wide_of(cells: Sequence[str], taken: Mapping[str, int], table: str) -> Wide | None:
    """The columns of counts among the headings that are not taken; None where there are not two of a kind."""
    free = {
        place: cell
        for place, cell in enumerate(cells[: headings.MOST_HEADINGS])
        if cell and place not in taken.values() and not headings.is_amount_an_acre(cell)
    }
    sized = {"trees": "dbh_in", "seedlings": "height_class"}[table]
    has_size = bool({"dbh_in", "height_class", "height_ft"} & set(taken))
    plots = {place: (name,) for place, cell in free.items() if (name := _plot(cell))} if "point" not in taken else {}
    if len(plots) >= _FEWEST and "species" in taken:
        return Wide(("point",), plots)
    coded = _coded(free, taken) if table == "trees" else None
    if coded is not None:
        return coded
    if not has_size and "species" not in taken:
        both = {place: pair for place, cell in free.items() if (pair := _species_and_size(cell, sized))}
        if len(both) >= _FEWEST:
            return Wide(("species", sized), both)
    if not has_size:
        grouped = _grouped(free, sized)
        if grouped is not None:
            return grouped
        sizes = {place: (size,) for place, cell in free.items() if (size := _size(cell, sized))}
        if len(sizes) >= _FEWEST and (sized != "dbh_in" or _are_sizes_of_trees([size for (size,) in sizes.values()])):
            return Wide((sized,), sizes)
    if "species" not in taken:
        kinds = {place: (name,) for place, cell in free.items() if (name := _species(cell))}
        if len(kinds) >= _FEWEST:
            kinds |= {place: (cell,) for place, cell in free.items() if is_word("other_species", cell)}
            return Wide(("species",), dict(sorted(kinds.items())))
    return None


def _grouped(free: Mapping[int, str], sized: str) -> Wide | None:
    """Classes of sizes that stand below plots, or below live and dead; those of the dead among young stems are none."""
    parts = {at: (cell[: -len(size)].strip(), size) for at, cell in free.items() if (size := _size(cell, sized))}
    plots = {at: (name, size) for at, (before, size) in parts.items() if (name := _plot(before))}
    if len({name for name, _ in plots.values()}) >= _FEWEST:
        return Wide(("point", sized), plots)
    status = {at: codes.code_of("status", before) if len(before) > 1 else "" for at, (before, _) in parts.items()}
    if "dead" not in status.values():
        return None
    if sized == "dbh_in":
        return Wide(("status", sized), {at: (status[at], size) for at, (_, size) in parts.items()})
    return Wide((sized,), {at: (size,) for at, (_, size) in parts.items() if status[at] != "dead"})


def are_diameters(wide: Wide | None) -> bool:
    """Whether classes of a tally are of diameters: in inches or without a unit, and beyond what heights in inches go
    to."""
    if wide is None or wide.columns[-1] != "height_class":
        return False
    spans = [given for words in wide.said.values() if (given := classes.span(words[-1])) is not None]
    beyond = any(given.low >= (_NAMED_INCHES if given.unit == "in" else _INCHES) for given in spans)
    return beyond and all(given.unit in ("", "in") for given in spans)


def _are_sizes_of_trees(sizes: Sequence[str]) -> bool:
    """Whether headings that are numbers can be classes of diameters: bare ones up to a few could be heights, large ones
    years."""
    known = [limits for size in sizes if (limits := classes.dbh_class(size)) is not None]
    bare = [number for number, unit in known if not unit]
    largest = max((number for number, _ in known), default=0.0)
    return largest <= _LARGEST_CLASS and (len(bare) < len(known) or largest >= _LARGEST_HEIGHT)


def _size(cell: str, sized: str) -> str:
    if sized == "dbh_in":
        return _last_size(cell)
    # A sapling's inches are those of its diameter.
    return "" if re.search(r"sapling|\bdbh\b|diam|\bdia\b", cell.lower()) else classes.heading_class(cell)[1]


def _last_size(cell: str) -> str:
    """The inch class a heading ends with, such as 8 of "Tally 8" or 10-12 of "DBH 10-12"."""
    parts = cell.split()
    for start in range(len(parts)):
        text = " ".join(parts[start:])
        if classes.dbh_class(text) is not None or classes.is_open_ended(text):
            return text
    return ""


def _coded(free: Mapping[int, str], taken: Mapping[str, int]) -> Wide | None:
    """Columns that count the trees of each crown class, or the live and the dead, beside their species and size."""
    if not {"species", "dbh_in"} <= set(taken) or "stems" in taken:
        return None
    for column in ("crown_class", "status"):
        codes_of = {place: (code,) for place, cell in free.items() if (code := _code(column, cell))}
        if column not in taken and len(set(codes_of.values())) >= _FEWEST:
            return Wide((column,), codes_of)
    return None


def _code(column: str, cell: str) -> str:
    """The crown class or status a heading of more than a letter stands for."""
    word = headings.plain(cell)
    return codes.code_of(column, word) if len(word) > 1 else ""


def _plot(cell: str) -> str:
    """The plot a heading stands for, such as 3 of "Plot 3" or "Pt. 3"; "" where it stands for none."""
    words = "|".join(sorted(map(re.escape, (*headings.words("section_point"), "plt", "p")), key=len, reverse=True))
    said = re.match(rf"^(?:{words})\s*(?:no\b|#|number)?\s*[:#.-]?\s*(\d+[a-z]?)$", cell.strip(), re.IGNORECASE)
    return said[1] if said else ""


def _species(cell: str) -> str:
    """The species a heading stands for, as it is written; words of a group before it are left out."""
    parts = cell.split()
    for start in range(len(parts)):
        text = " ".join(parts[start:])
        match = species.match(text)
        if (match.spcd is not None and match.spcd != species.UNKNOWN and not text.isdigit()) or match.ambiguous:
            return text
    return ""


def _species_and_size(cell: str, sized: str) -> tuple[str, str] | None:
    before, size = classes.heading_class(cell) if sized == "height_class" else _before_number(cell)
    kind = _species(before) if before else ""
    kind = kind or (before if is_word("other_species", before) else "")
    return (kind, size) if kind and size else None


def _before_number(cell: str) -> tuple[str, str]:
    size = _last_size(cell)
    return (cell[: -len(size)].strip(), size) if size and size != cell else ("", "")


def melted(tally: Lines, wide: Wide, sheet: str) -> Lines:
    """A line for every count; a row, or a plot's own column, in which nothing was counted is a plot looked at."""
    base = [place for place, name in enumerate(tally.columns) if not name.startswith("wide:")]
    counts = {
        int(name.removeprefix("wide:")): place for place, name in enumerate(tally.columns) if name.startswith("wide:")
    }
    by_plot = wide.columns[0] == "point"
    lines, empties, fates = [], [], []
    for line in tally.lines:
        kept = tuple(line.cells[place] for place in base)
        grown = [
            Line(line.row, (*kept, *wide.said[at], line.cells[place]))
            for at, place in counts.items()
            if line.cells[place] and not is_word("none", line.cells[place])
        ]
        lines += grown
        if not grown and by_plot:
            fates.append(RowFate(sheet=sheet, row=line.row, fate="note", why="nothing counted on any plot"))
        elif not grown:
            empties.append(line)
            fates.append(RowFate(sheet=sheet, row=line.row, fate="empty", why="nothing counted"))
    columns = (*(tally.columns[place] for place in base), *wide.columns, "stems")
    filler = ("",) * (len(columns) - len(base))
    bare = tuple(
        Line(line.row, (*(line.cells[place] for place in base), *filler)) for line in (*tally.empties, *empties)
    )
    if by_plot and tally.lines:
        counted = {line.cells[len(base)] for line in lines}
        names = [name for name in dict.fromkeys(parts[0] for parts in wide.said.values()) if name not in counted]
        row = tally.lines[0].row
        bare += tuple(Line(row, (*("" for _ in base), name, *filler[1:])) for name in names)
    return replace(tally, columns=columns, lines=tuple(lines), empties=bare, fates=(*tally.fates, *fates))
