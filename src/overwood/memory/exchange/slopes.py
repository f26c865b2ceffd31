"""The slope at each point of a tally: where distances were not corrected for it, each stem stands for more.

A plot laid out along the ground, or a stem judged by a prism held level on a slope, takes in ground that is shorter on
the map by the cosine of the slope's angle: a stem counts 1/cos times (``beers1969``, from memory of it; for fixed plots
it is the projection of a circle).
"""

from __future__ import annotations

import math
import re
import statistics
from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace

from overwood.memory.exchange import classes, own_size
from overwood.memory.exchange.design import Design
from overwood.memory.exchange.proposal import Choice, Question
from overwood.memory.exchange.said import Said
from overwood.memory.exchange.straighten import Line, Lines

SLOPE, FACTOR = "slope", "slope_factor"
# Below this slope, %, a stem counts less than 1 in 200 more: common practice, no published source.
_LEAST_PCT = 10.0
# A factor above this is that of a slope of more than 130%, on which nobody cruises.
_MOST_FACTOR = 1.65
_STEEPEST_DEG = 55.0


@dataclass(frozen=True)
class Slopes:
    """How often a stem of each point counts, where the sheet was said to be uncorrected, and what is asked and said."""

    by_point: dict[own_size.Place, float]
    questions: tuple[Question, ...] = ()
    notes: tuple[str, ...] = ()


def apart(lines: Lines) -> tuple[Lines, dict[own_size.Place, tuple[str, ...]]]:
    """The lines without their column of slopes, and what it says of each point."""
    place = next((at for name in (FACTOR, SLOPE) if (at := lines.place(name)) >= 0), -1)
    if place < 0:
        return lines, {}
    said: dict[own_size.Place, set[str]] = {}
    for line in (*lines.lines, *lines.empties):
        said.setdefault(own_size.place_of(lines, line), set()).update({line.cells[place]} - {""})
    drop = {at for name in (FACTOR, SLOPE) if (at := lines.place(name)) >= 0}

    def without(line: Line) -> Line:
        return replace(line, cells=tuple(cell for at, cell in enumerate(line.cells) if at not in drop))

    columns = tuple(name for at, name in enumerate(lines.columns) if at not in drop)
    bare = replace(
        lines, columns=columns, lines=tuple(map(without, lines.lines)), empties=tuple(map(without, lines.empties))
    )
    return bare, {place: tuple(sorted(texts)) for place, texts in said.items()}


def of(written: Mapping[own_size.Place, tuple[str, ...]], names: Mapping[str, str], said: Said) -> Slopes:
    """What slopes come to, with the question whether they were corrected for; nothing where all ground is nearly level.

    ``names`` are the headings by column.
    """
    heading = names.get(FACTOR) or names.get(SLOPE, "")
    units = ("factor",) if FACTOR in names else _units(heading, written)
    read = {unit: {place: _secant(texts, unit) for place, texts in written.items()} for unit in units}
    odd = sorted({text for place, texts in written.items() if read[units[0]][place] is None for text in texts})
    notes: tuple[str, ...] = (f"Slopes that are no numbers are not read: {', '.join(odd[:6])}.",) if odd else ()
    several = [place[-1] for place, texts in written.items() if len(texts) > 1]
    notes += (f"Several slopes at point {', '.join(several[:8])}: their mean holds.",) if several else ()
    known = {unit: {place: one for place, one in some.items() if one is not None} for unit, some in read.items()}
    if max((one for some in known.values() for one in some.values()), default=1.0) < _of_pct(_LEAST_PCT):
        return Slopes({}, notes=notes)
    ways = {"uncorrected" if len(units) == 1 else f"uncorrected {unit}": unit for unit in units}
    told = said.setting("slope").lower()
    question = Question(
        key=said.key("slope"), kind="set", sheet=said.sheet, answer=told if told in ("corrected", *ways) else "",
        text=f"{heading!r} holds slopes: were distances or the prism corrected for slope in the woods?",
        choices=(
            Choice("corrected", "plots were laid out level, or limiting distances corrected: nothing changes"),
            *(Choice(way, _words(unit, known[unit].values())) for way, unit in ways.items()),
        ),
    )  # fmt: skip
    return Slopes(known[ways[told]] if told in ways else {}, (question,), notes)


def _units(heading: str, written: Mapping[own_size.Place, tuple[str, ...]]) -> tuple[str, ...]:
    """The units slopes can be in: that of the heading or the cells, else both."""
    texts = [text for some in written.values() for text in some]
    if re.search(r"\bdeg|°", heading.lower()) or (texts and all("°" in text for text in texts)):
        return ("degrees",)
    is_pct = re.search(r"%|\bpct\b|percent", heading.lower()) or (texts and all("%" in text for text in texts))
    return ("%",) if is_pct else ("%", "degrees")


def _words(unit: str, factors: Collection[float]) -> str:
    read = f", slopes in {unit}" if unit != "factor" else ""
    mean, most = statistics.fmean(factors or (1.0,)), max(factors, default=1.0)
    return f"a stem counts 1/cos of the slope{read}: {mean:.2f} times on average, up to {most:.2f} times"


def applied(lines: Lines, own: own_size.OwnSizes | None, size: Design, slopes: Slopes) -> own_size.OwnSizes | None:
    """The sizes of all points with their slopes in them; ``own`` as it is where nothing is to be corrected."""
    if not slopes.by_point or not (own or size.is_known):
        return own
    held = own.by_point if own else {}
    places = {own_size.place_of(lines, line) for line in (*lines.lines, *lines.empties)}
    read = {place: _on_slope(held.get(place, size), slopes.by_point.get(place, 1.0)) for place in places}
    return own_size.with_sizes(lines, read, own.usual if own else size)


def _on_slope(size: Design, secant: float) -> Design:
    if size.baf_ft2_ac:
        return Design(baf_ft2_ac=round(size.baf_ft2_ac * secant, 4))
    return Design(plot_area_ac=round(size.plot_area_ac / secant, 8)) if size.plot_area_ac else size


def _of_pct(slope: float) -> float:
    """How often a stem counts on a slope in percent: 1/cos(atan(slope))."""
    return math.hypot(1.0, slope / 100)


def _secant(texts: tuple[str, ...], unit: str) -> float | None:
    """1/cos of the slope of a point, the mean where it has several; None where one is no number."""
    each = [_secant_of(text, unit) for text in texts]
    known = [one for one in each if one is not None]
    return None if len(known) < len(each) else statistics.fmean(known or (1.0,))


def _secant_of(text: str, unit: str) -> float | None:
    size = classes.measure(text.rstrip("%° "))
    if size is None or size[0] < 0:
        return None
    number = size[0]
    if unit == "factor":
        factor = 1 / number if 0 < number < 1 else number
        return factor if 1 <= factor <= _MOST_FACTOR else None
    if unit == "degrees":
        return 1 / math.cos(math.radians(number)) if number <= _STEEPEST_DEG else None
    return _of_pct(number)
