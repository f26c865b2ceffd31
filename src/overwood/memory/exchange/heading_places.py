"""Which cell of a sheet serves which column: by its heading, by what a person said, and by what the cells below
hold."""

from __future__ import annotations

import itertools
import re
from collections import Counter
from collections.abc import Container, Mapping

from overwood.ground import species
from overwood.ground.vocabulary import TREE_GRADES
from overwood.memory.exchange import classes, headings, several_stems, unread, years
from overwood.memory.exchange.layout import Layout
from overwood.memory.exchange.said import Said
from overwood.memory.exchange.straighten import Lines

_MOST_PLOTS = 0.5


def of(layout: Layout, table: str, said: Said) -> dict[str, int]:
    """Which cell serves which column, once a person said what the headings are."""
    taken = _without_blanks(layout, table, headings.columns(table, layout.headings))
    for at, heading in enumerate(layout.headings[: headings.MOST_HEADINGS]):
        column = said.column(heading) if heading and heading not in layout.headings[:at] else ""
        if not column or (column != "-" and column not in headings.columns_of(table)):
            continue
        taken = {name: where for name, where in taken.items() if where != at}
        # Of several headings that are diameters the first is read as such; the others hold further stems.
        if column != "-" and not (column == several_stems.DBH and _told_before(layout, at, said)):
            taken[column] = at
    if table == "trees" and several_stems.DBH not in taken and (first := several_stems.first_of_several(layout)) >= 0:
        taken = {**taken, several_stems.DBH: first}
    taken = years.with_one(layout, table, taken, said)
    if "stems" in taken and {"n", "e", "s", "w"} <= set(map(headings.plain, layout.headings)):
        taken = {name: at for name, at in taken.items() if headings.plain(layout.headings[at]) != "n"}
    if "subplot" in taken and unread.quarters(layout, taken) == taken["subplot"]:
        taken = {name: at for name, at in taken.items() if name != "subplot"}
    taken = _with_height_classes(layout, taken) if table == "seedlings" else taken
    taken = _without_counted_marks(layout, taken, 2 if table == "trees" else 1)
    taken = _with_plots_of_lines(layout, taken) if table in ("trees", "seedlings", "points") else taken
    return _with_counts(layout, taken, said) if table in ("trees", "seedlings") else taken


def what_lacks(layout: Layout, said: Said) -> str:
    """Why a sheet with headings is no tally: the species that it lacks beside sizes or counts, or all of it."""
    known = of(layout, "trees", said) | of(layout, "seedlings", said)
    if any(map(headings.is_amount_an_acre, layout.headings)):
        return "it holds amounts an acre, which are worked out of a tally: send the trees or stems that were counted"
    if "species" not in known and {"dbh_in", "height_class", "stems"} & set(known):
        return (
            "it has sizes or counts and no column of species; say which heading is the species with "
            "--map HEADING=species, or add it"
        )
    return "no headings of a tally were recognized"


def _without_blanks(layout: Layout, table: str, taken: dict[str, int]) -> dict[str, int]:
    """Columns without a filled cell give way to others of their kind that have some; "Gr" must hold grades."""
    held = {at: {cells[at].strip() for _, cells in layout.body if at < len(cells)} - {""} for at in taken.values()}
    graded = taken.get("grade", -1)
    if graded >= 0 and headings.plain(layout.headings[graded]) == "gr" and not held[graded] <= set(TREE_GRADES):
        taken = {name: at for name, at in taken.items() if at != graded}
    if headings.unit_in(layout.headings[taken.get("crown_class", 0)]) == "ft":
        taken = {name: at for name, at in taken.items() if name != "crown_class"}
    cells = ["" if not held.get(at, True) else cell for at, cell in enumerate(layout.headings)]
    others = headings.columns(table, cells) if "" in cells else {}
    return taken | {name: at for name, at in others.items() if name in taken and at not in taken.values()}


def _told_before(layout: Layout, at: int, said: Said) -> bool:
    """Whether a heading further left was said to be the diameter too."""
    return any(cell and said.column(cell) == several_stems.DBH for cell in layout.headings[:at])


def _with_plots_of_lines(layout: Layout, taken: dict[str, int]) -> dict[str, int]:
    """Plots that are numbered anew on each line, strip or transect are parts of it: 1-1, 1-2, 2-1, not 1, 2 and 1
    again."""
    if "cluster" in taken or ("point" in taken) == ("subplot" in taken):
        return taken
    inner = taken.get("point", taken.get("subplot", -1))
    named = (
        at for at, cell in enumerate(layout.headings) if headings.plain(cell) in headings.words("line") and at != inner
    )
    strata = [taken["stratum"]] if "stratum" in taken else []
    outer = next((at for at in (*named, *strata) if _is_outer(layout, at, inner)), -1)
    if outer < 0:
        return taken
    kept = {name: at for name, at in taken.items() if at != outer or name == "stratum"}
    return kept | {"point": outer, "subplot": inner}


def numbered_anew(layout: Layout, used: Container[int], point: int) -> list[str]:
    """Headings of columns that are not read and under whose numbers most plots stand several times."""
    return [
        heading
        for at, heading in enumerate(layout.headings[: headings.MOST_HEADINGS])
        if heading
        and at not in used
        and not headings.is_no_count(heading)
        and _is_outer(layout, at, point, _MOST_PLOTS)
    ]


def _is_outer(layout: Layout, outer: int, inner: int, share: float = 0.0) -> bool:
    """Whether plots, and at least a share of them, stand under several lines, and lines change less often than plots as
    one reads down."""
    pairs, last = [], ["", ""]
    for _, cells in layout.body:
        last = [
            (cells[at].strip() if at < len(cells) else "") or before
            for at, before in zip((outer, inner), last, strict=True)
        ]
        pairs.append(tuple(last))
    changes = [sum(one[at] != other[at] for one, other in itertools.pairwise(pairs)) for at in (0, 1)]
    lines_of = Counter(plot for _, plot in {pair for pair in pairs if all(pair)})
    several = sum(number > 1 for number in lines_of.values())
    return several > 0 and several >= share * len(lines_of) and changes[0] < changes[1]


def _without_counted_marks(layout: Layout, taken: dict[str, int], fewest: int) -> dict[str, int]:
    """Columns headed live, dead and cull that hold numbers above one count stems of each kind: they mark no tree."""
    marks = [name for name in ("live_mark", "dead_mark", "cull_mark") if name in taken]
    if len(marks) < fewest or "stems" in taken or not any(_has_counts(layout, taken[name]) for name in marks):
        return taken
    return {name: at for name, at in taken.items() if name not in marks}


def _with_counts(layout: Layout, taken: dict[str, int], said: Said) -> dict[str, int]:
    """A column headed "No." whose numbers come again within a plot counts stems: no two trees of a plot have one
    number."""
    column = _bare_numbers(layout, taken)
    if not column or said.column(layout.headings[taken[column]]) or not _come_again(layout, taken, column):
        return taken
    return {"stems" if name == column else name: at for name, at in taken.items()}


def _bare_numbers(layout: Layout, taken: Mapping[str, int]) -> str:
    """The column of numbers of trees or lines whose heading does not say of what, where no other counts the stems; ""
    where there is none."""
    column = next((name for name in ("tree", "line") if name in taken), "")
    return column if column and "stems" not in taken and headings.is_bare_number(layout.headings[taken[column]]) else ""


def likely_count(layout: Layout, taken: Mapping[str, int]) -> str:
    """The heading of bare numbers that do not run on, as those of trees or lines do; "" where there is none."""
    column = _bare_numbers(layout, taken)
    return layout.headings[taken[column]] if column and not _run_on(layout, taken, column) else ""


def _by_plot(layout: Layout, taken: Mapping[str, int], column: str) -> dict[str, list[float]]:
    """The numbers of a column by the plot they stand under."""
    number, point, here = taken[column], taken.get("point", -1), ""
    numbers: dict[str, list[float]] = {}
    for _, cells in layout.body:
        here = (cells[point].strip() or here) if 0 <= point < len(cells) else here
        size = classes.measure(cells[number]) if number < len(cells) else None
        if size is not None:
            numbers.setdefault(here, []).append(size[0])
    return numbers


def _come_again(layout: Layout, taken: Mapping[str, int], column: str) -> bool:
    return any(len(set(some)) < len(some) for some in _by_plot(layout, taken, column).values())


def _run_on(layout: Layout, taken: Mapping[str, int], column: str) -> bool:
    """Whether numbers rise through the whole sheet, or from 1 within each plot: then they number."""
    by_plot = list(_by_plot(layout, taken, column).values())
    every = [number for some in by_plot for number in some]
    rises = [all(one < other for one, other in itertools.pairwise(some)) for some in (every, *by_plot)]
    return rises[0] or (all(rises[1:]) and all(some[0] == 1 for some in by_plot))


def _with_height_classes(layout: Layout, taken: dict[str, int]) -> dict[str, int]:
    """A column of heights of young stems whose cells are classes (1-3, <6in) is the column of their classes."""
    place = taken.get("height_ft", -1)
    if place < 0 or "height_class" in taken:
        return taken
    values = [cells[place].strip() for _, cells in layout.body if place < len(cells) and cells[place].strip()]
    spans = sum(classes.span(value) is not None or bool(classes.class_from_date(value)) for value in values)
    if spans * 2 <= sum(any(letter.isdigit() for letter in value) for value in values):
        return taken
    return {"height_class" if name == "height_ft" else name: at for name, at in taken.items()}


def may_have_counts(layout: Layout, lines: Lines, taken: Mapping[str, int], used: Container[int], said: Said) -> bool:
    """Whether a sheet without numbered trees has amounts an acre, or a column that may count stems and is not read
    so."""
    bare = _bare_numbers(layout, taken)
    if bare and not said.column(layout.headings[taken[bare]]) and not _run_on(layout, taken, bare):
        return True
    if {"tree", "line", "stems"} & set(lines.columns):
        return False
    whole = {
        cell: max(numbers)
        for at, cell in enumerate(layout.headings)
        if cell and at not in used and (numbers := _numbers(layout, at))
    }
    unread = [cell for cell in whole if said.column(cell) != "-"]
    open_ones = [whole[cell] for cell in unread if not headings.is_no_count(cell)]
    several = len(open_ones) > 1 and max(open_ones) > 1
    if any(headings.is_cover(cell) for cell in layout.headings if said.column(cell) != "-"):
        return True
    named = any(headings.may_be_counts(cell) and whole[cell] > 1 for cell in unread)
    return several or named or any(map(headings.is_amount_an_acre, layout.headings))


def counting(layout: Layout, taken: Mapping[str, int], used: Container[int]) -> tuple[str, ...]:
    """Headings that may count the stems of a line: whole numbers that are not read, or that say not what they
    number."""
    bare = _bare_numbers(layout, taken)
    free = [at for at in range(len(layout.headings)) if at not in used or (bare and at == taken[bare])]
    return tuple(
        cell
        for at in free
        if (cell := layout.headings[at]) and not headings.is_no_count(cell) and _has_counts(layout, at)
        if headings.plain(cell) not in headings.words("aside")
    )


def other_counts(layout: Layout, used: Container[int], said: Said) -> tuple[str, ...]:
    """Headings that speak of stems beside the counts that are read, or are a class of sizes, and hold whole numbers:
    they would be lost in silence."""
    speaking = re.compile(r"stem|tree|seedl|sprout|sapling|count|tall(y|ied)", re.IGNORECASE)
    free = {cell: at for at, cell in enumerate(layout.headings) if cell and at not in used and said.column(cell) != "-"}
    return tuple(
        cell
        for cell, at in free.items()
        if (
            (speaking.search(cell) or _names_a_species(cell))
            and _has_counts(layout, at)
            and not headings.is_no_count(cell)
        )
        # Stems of inch classes beside those of height classes are saplings.
        or (_is_size(cell) and any(_numbers(layout, at)))
    )


def _names_a_species(heading: str) -> bool:
    return any(len(word) > 2 and species.match(word).spcd is not None for word in heading.split())


def _is_size(heading: str) -> bool:
    """Whether a heading is a class of sizes that names its unit or has no upper limit, such as 2 in. and 12+."""
    sized = classes.dbh_class(heading) and headings.unit_in(f"a {heading}") in ("in", "cm", "ft")
    return bool(sized) or classes.is_open_ended(heading)


def _numbers(layout: Layout, place: int) -> list[float]:
    """The whole numbers of a column; none where most of its cells are none."""
    values = [cells[place].strip() for _, cells in layout.body if place < len(cells) and cells[place].strip()]
    numbers = [float(value) for value in values if re.fullmatch(r"\d+(\.0+)?", value)]
    return numbers if len(numbers) * 2 > len(values) else []


def _has_counts(layout: Layout, place: int) -> bool:
    """Whether a column holds whole numbers, one of them above one."""
    return max(_numbers(layout, place), default=0) > 1
