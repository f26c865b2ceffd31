"""Several years on one sheet, by a column of years or by headings (DBH 2015, DBH 2025): a person says which is read."""

from __future__ import annotations

import re
import statistics
from collections import Counter
from collections.abc import Iterable
from dataclasses import replace

from overwood.ground import plausible
from overwood.ground.measures import many
from overwood.memory.exchange import classes, headings, hidden
from overwood.memory.exchange.layout import Layout
from overwood.memory.exchange.proposal import Choice, Question
from overwood.memory.exchange.said import Said
from overwood.memory.exchange.straighten import Line, Lines

# The column stands under this name until the lines of a year are chosen.
YEAR = "year#"
_HEADED = re.compile(r"^(?:(?:cruise|survey|visit|inventory|measurement|measure|meas|sample|tally) )?(?:year|yr)$")
_ALL = "all"
# A year in a heading; of two digits only behind an apostrophe or right behind the word.
_IN_HEADING = re.compile(r"(?<!\d)(?:19|20)\d\d(?!\d)|'\d\d\b|(?<=[A-Za-z])[ _]?\d\d(?!\d)")
_FEWEST = 2
# What is measured again and again, by table, and the key of the question which time is read.
_MEASURED = {"trees": ("dbh_in",), "acorn_trees": ("acorns", "bearing")}
_KEYS = {"trees": "dbh_read", "acorn_trees": "acorns_read"}


def place(layout: Layout) -> int:
    """Where a column of two years or more stands; -1 where none does."""
    for at, heading in enumerate(layout.headings[: headings.MOST_HEADINGS]):
        if _HEADED.match(headings.plain(heading)):
            values = {cells[at].strip() for _, cells in layout.body if at < len(cells) and cells[at].strip()}
            if len(values) > 1 and all(re.fullmatch(r"(19|20)\d\d", value) for value in values):
                return at
    return -1


def several(layout: Layout, table: str = "trees") -> dict[str, int]:
    """Headings that are the diameter, or the acorns, of one tree at several times, with their places; none where fewer
    than two are."""
    known = headings.synonyms()[table]
    times: dict[str, tuple[str, int]] = {}
    for at, heading in enumerate(layout.headings[: headings.MOST_HEADINGS]):
        time, rest = _time(heading)
        if time and known.get(rest) in _MEASURED[table]:
            times.setdefault(time, (heading, at))
    least = plausible.limit("years_dbh_median_least")
    if len(times) < _FEWEST or (table == "trees" and any(_median(layout, at) < least for _, at in times.values())):
        return {}
    return dict(times.values())


def _time(heading: str) -> tuple[str, str]:
    """The year, or "old" and "new", that a heading names, and what is left of it in plain letters."""
    if year := _IN_HEADING.search(heading):
        return year[0].strip("' _"), headings.plain(heading[: year.start()] + " " + heading[year.end() :])
    words = headings.plain(heading).split()
    for time in ("old", "new"):
        rest = [word for word in words if word not in headings.words(f"{time}_measure")]
        if 0 < len(rest) < len(words):
            return time, " ".join(rest)
    return "", ""


def _median(layout: Layout, at: int) -> float:
    sizes = [
        size[0] for _, cells in layout.body if at < len(cells) and (size := classes.measure(cells[at])) is not None
    ]
    return statistics.median(sizes or (0.0,))


def with_one(layout: Layout, table: str, taken: dict[str, int], said: Said) -> dict[str, int]:
    """The columns with the measure of the time that was said, the last where nothing was yet."""
    times = several(layout, table) if table in _MEASURED else {}
    own = {taken[name] for name in _MEASURED.get(table, ()) if name in taken}
    if not times or _is_told(times, table, said) or not own <= set(times.values()):
        return taken
    kept = {name: at for name, at in taken.items() if at not in times.values()}
    heading = said.setting(_KEYS[table]) if said.setting(_KEYS[table]) in times else list(times)[-1]
    return {**kept, headings.synonyms()[table][_time(heading)[1]]: times[heading]}


def _is_told(times: Iterable[str], table: str, said: Said) -> bool:
    return any(said.column(heading) in _MEASURED[table] for heading in times)


def asked(layout: Layout, table: str, said: Said) -> tuple[Question, ...]:
    """The question which of several measures of a tree is read."""
    times = several(layout, table) if table in _MEASURED else {}
    if not times or _is_told(times, table, said):
        return ()
    told = said.setting(_KEYS[table])
    question = Question(
        key=said.key(_KEYS[table]), kind="set", sheet=said.sheet, answer=told if told in times else "",
        text=f"{', '.join(map(repr, times))} were measured on one tree at several times: which is of this visit?",
        choices=tuple(Choice(heading, "the others are left out") for heading in _latest_first(times)),
    )  # fmt: skip
    return (question,)


def _latest_first(times: Iterable[str]) -> list[str]:
    """Headings by the last two digits of the year that they name, else from the right: what is likeliest comes
    first."""
    return sorted(reversed(list(times)), key=lambda heading: re.findall(r"\d\d(?!\d)", heading)[-1:], reverse=True)


def of(lines: Lines, sheet: str, said: Said) -> tuple[Lines, tuple[Question, ...]]:
    """The lines of the year that was answered, and the question; a column of years is dropped."""
    at = lines.place(YEAR)
    if at < 0:
        return lines, ()
    every = (*lines.lines, *lines.empties)
    years = Counter(line.cells[at] for line in every if line.cells[at])
    told = said.setting("year")
    answer = told if told in (*years, _ALL) else ""
    question = Question(
        key=said.key("year"), kind="set", sheet=said.sheet, answer=answer,
        text=(f"The sheet holds lines of {', '.join(sorted(years))}, and they would come in as one visit: which "
            "year is read?"),
        choices=(*(Choice(year, f"{many(years[year], 'line')}; the others are left out")
            for year in sorted(years, reverse=True)),
            Choice(_ALL, "all are one look")),
    )  # fmt: skip
    left = {line.row for line in every if line.cells[at] != answer} if answer not in ("", _ALL) else set()
    lines = hidden.without(lines, left, sheet, "of another year, left out") if left else lines

    def bare(some: Iterable[Line]) -> tuple[Line, ...]:
        return tuple(replace(line, cells=(*line.cells[:at], *line.cells[at + 1 :])) for line in some)

    names = (*lines.columns[:at], *lines.columns[at + 1 :])
    return replace(lines, columns=names, lines=bare(lines.lines), empties=bare(lines.empties)), (question,)
