"""How stems were taken in: the basal area factor or plot size of a sheet, and what a tally comes to under it."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from overwood.ground import measures, plausible, units
from overwood.memory.exchange import classes
from overwood.memory.exchange.proposal import Choice, Question
from overwood.memory.exchange.said import Said

FACTOR_UNITS = ("m2/ha", "ft2/ac")
_PLOT_UNITS = ("ha", "ac")
# Usual answers for the plots of young stems, and their acres.
_SEEDLING_PLOTS = {"1/735": 1 / 735, "1/1000": 1 / 1000, "4 m2": units.conversion("m2", "ac")(4)}
# A plain number above these limits is hardly a plot size in acres: it is asked about.
_LARGEST_PLAIN = {"trees": "tree_plot_most_ac", "seedlings": "seedling_plot_most_ac"}


@dataclass(frozen=True)
class Design:
    """A prism of a factor, or a plot of an area; neither where it is not known."""

    baf_ft2_ac: float | None = None
    plot_area_ac: float | None = None

    @property
    def is_known(self) -> bool:
        return self.baf_ft2_ac is not None or self.plot_area_ac is not None

    def words(self) -> str:
        """The factor or the plot in words."""
        if self.baf_ft2_ac is not None:
            return f"a factor of {measures.amount(self.baf_ft2_ac, 'ft2/ac', '.4g')}"
        return f"plots of {_size(self.plot_area_ac, '.4g')}" if self.plot_area_ac is not None else "nothing"


def factor(text: str) -> Design | None:
    """The prism a basal area factor in ft2/ac, or in m2/ha where it says so, stands for, or one over the points that a
    sheet sums (10/12); None where it is none."""
    bare, points = _over_points(text)
    size = classes.measure(bare)
    if size is None or not points:
        return None
    number = units.conversion("m2/ha", "ft2/ac")(size[0]) if size[1] == "m2/ha" else size[0]
    is_factor = plausible.limit("baf_least_ft2_ac") <= number <= plausible.limit("baf_most_ft2_ac")
    return Design(baf_ft2_ac=round(number / points, 4)) if is_factor else None


def _over_points(text: str) -> tuple[str, int]:
    """A factor as (its text with its unit, the points it is shared over): 10/12 m2/ha is 10 m2/ha over 12."""
    bare = text.lower().replace("baf", "").strip()
    shared = re.fullmatch(r"(\d+(?:\.\d+)?)\s*/\s*(\d{1,3})\b\s*(\D.*)?", bare)
    return (f"{shared[1]} {shared[3] or ''}".strip(), int(shared[2])) if shared else (bare, 1)


def plot(text: str, table: str) -> Design | None:
    """The plot a size stands for; None where it is none, or a plain number too large for acres."""
    size = classes.plot_area(text)
    if size is None or size[0] <= 0:
        return None
    number, unit = size
    if not unit and number > plausible.limit(_LARGEST_PLAIN[table]):
        return None
    area = number / 100 if unit == "%" else units.conversion(unit or "ac", "ac")(number)
    return Design(plot_area_ac=round(area, 8)) if 0.0001 <= area <= 10 else None


def read(name: str, text: str, table: str) -> Design | None:
    """The design an answer or a cell stands for, by the column it answers."""
    return factor(text) if name == "baf_ft2_ac" else plot(text, table)


NAMED_FACTOR = re.compile(
    r"\b(?:baf|prism|factor)\D{0,12}?(\d+(?:\.\d+)?)(?!\s*/)\s*(m2/ha|m²/ha)?"
    r"|(?<![\d/.])(\d+(?:\.\d+)?)\s*-?\s*(m2/ha|m²/ha)?\s*-?\s*(?:baf|factor prism|factor)\b(?!\s*[:=]?\s*\d)"
)
NAMED_PLOT = re.compile(
    r"\b1/(?P<share>\d+)(?:th)?\s*-?\s*ac(?:re)?s?\b|(?<![\d.])(?P<acres>0?\.\d+)\s*-?\s*ac(?:re)?s?\s+(?:plot|circ)"
    r"|(?<![\d.])(?P<feet>\d+(?:\.\d+)?)\s*-?\s*(?:ft|feet|foot|')\.?[ -]*rad(?:ius|\.)?"
    r"|(?<![\d.])(?P<meters>\d+(?:\.\d+)?)\s*-?\s*m(?:eter)?[ -]*rad(?:ius|\.)?"
    r"|\brad(?:ius|\.)?\D{0,4}(?P<after>\d+(?:\.\d+)?\s*(?:ft|feet|foot|'|m)\b)"
    r"|(?<![\d.])(?P<metric>\d+(?:\.\d+)?\s*-?\s*(?:ha|m2|m\u00b2|sq\.? ?m))\.?\s+(?:circular )?plot"
    r"|\bplots? of (?P<of>\d+(?:\.\d+)?\s*(?:ha|ac(?:re)?s?|m2|m\u00b2|sq\.? ?m|sq\.? ?ft))\b"
    r"|(?<!\d)(?<!\d[ -])(?P<mil>mil-?acre)|\b(?P<word>tenth|twentieth|fiftieth|hundredth)[ -]acre"
)
_WORD_PLOTS = {"tenth": "1/10", "twentieth": "1/20", "fiftieth": "1/50", "hundredth": "1/100"}
# A plot that is named by its area and its radius is one; both are rounded.
_SAME_PLOT = 0.02


def _plot_named(said: re.Match[str]) -> float:
    """The acres of a plot that words name; 0 where they are none."""
    kind, text = next((kind, str(text)) for kind, text in said.groupdict().items() if text)
    written = {
        "share": f"1/{text}",
        "feet": f"radius {text} ft",
        "meters": f"radius {text} m",
        "after": f"radius {text}",
    }
    words = {"metric": text.replace("-", " "), "mil": "1/1000", "word": _WORD_PLOTS.get(text, "")}
    ring = plot((written | words).get(kind, text), "trees")
    return ring.plot_area_ac or 0.0 if ring else 0.0


def sizes_named(text: str) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Factors in ft2/ac and plot sizes in acres that a title or note names in passing, each once."""
    lowered = text.lower()
    metric = units.conversion("m2/ha", "ft2/ac")
    factors = [
        metric(float(one or other)) if unit or its else float(one or other)
        for one, unit, other, its in NAMED_FACTOR.findall(lowered)
    ]
    plots: list[float] = []
    for area in map(_plot_named, NAMED_PLOT.finditer(lowered)):
        plots += [area] if area and all(abs(area / one - 1) > _SAME_PLOT for one in plots) else []
    limits = plausible.limit("baf_least_ft2_ac"), plausible.limit("baf_most_ft2_ac")
    known = tuple(dict.fromkeys(one for one in factors if limits[0] <= one <= limits[1]))
    return known, tuple(plots)


def in_unit(name: str, text: str, said: Said) -> str:
    """A factor without a unit with the one that was answered for it; anything else as it stands."""
    told = said.setting("factor_unit")
    return (
        f"{text} {told}"
        if name == "baf_ft2_ac" and told in FACTOR_UNITS and _bare(_over_points(text)[0]) is not None
        else text
    )


def plot_unit(written: tuple[str, str], said: Said) -> Question | None:
    """The question for a plot size that a metric sheet writes without a unit; None where it says one.

    A plot of 0.04 ha is 0.1 ac: read in the other unit, a stem counts two and a half times what it does.
    """
    number = _bare(written[1]) if written[0] == "plot_area_ac" else None
    if number is None or plot(written[1], "trees") is None:
        return None
    choices = {"ha": f"{number:g} ha is {units.conversion('ha', 'ac')(number):.4g} ac", "ac": f"{number:g} ac"}
    text = f"The plot size {written[1]} names no unit, and the sheet is metric: is it in hectares or in acres?"
    return _unit_question("plot_unit", text, choices, said)


def _unit_question(name: str, text: str, choices: Mapping[str, str], said: Said) -> Question:
    """The question for a unit that a sheet leaves out; ``choices`` say what each would come to."""
    told = said.setting(name)
    ways = tuple(Choice(unit, words) for unit, words in choices.items())
    return Question(
        key=said.key(name),
        kind="set",
        sheet=said.sheet,
        choices=ways,
        text=text,
        answer=told if told in choices else "",
    )


def _bare(text: str) -> float | None:
    size = classes.measure(text.lower().replace("baf", "").strip())
    return size[0] if size and not size[1] else None


def factor_unit(factors: Sequence[str], is_metric: bool, said: Said) -> Question | None:
    """The question for the unit of factors that name none and may be in m2/ha; None where they can only be in ft2/ac.

    A factor of 2 m2/ha is 8.7 ft2/ac: read in the other unit every figure an acre is a quarter of what it is.
    """
    limit = plausible.limit("baf_metric_most") if is_metric else plausible.limit("baf_plain_least")
    doubted = [number for text in factors if (number := _bare(_over_points(text)[0])) is not None]
    doubted = [number for number in doubted if number < limit or (is_metric and number == limit)]
    if not doubted:
        return None
    factor_of, shown = units.conversion("m2/ha", "ft2/ac"), f"{doubted[0]:g}"
    beside = " and the diameters are metric" if is_metric else ", and it is a small one for ft2/ac"
    choices = {
        "m2/ha": f"a tree stands for {shown} m2/ha, {factor_of(doubted[0]):.1f} ft2/ac",
        "ft2/ac": f"a tree stands for {shown} ft2/ac",
    }
    text = f"The basal area factor {shown} names no unit{beside}: is it in m2/ha or in ft2/ac?"
    return _unit_question("factor_unit", text, choices, said)


@dataclass(frozen=True)
class Tally:
    """What a tree tally holds: diameters in inches with the stems they stand for, and the plots they stood on."""

    dbh_in: Sequence[float]
    stems: Sequence[float]
    points: int

    def quadratic_mean_in(self) -> float:
        """Quadratic mean diameter, in."""
        total = sum(self.stems)
        return math.sqrt(sum(n * d * d for d, n in zip(self.dbh_in, self.stems, strict=True)) / total) if total else 0.0

    def basal_area(self, design: Design) -> float | None:
        """Basal area, ft2/ac; None without plots or design."""
        if not self.points or not design.is_known:
            return None
        if design.baf_ft2_ac is not None:
            return sum(self.stems) * design.baf_ft2_ac / self.points
        square = sum(n * d * d for d, n in zip(self.dbh_in, self.stems, strict=True)) * units.FT2_PER_IN2_OF_DBH
        return square / self.points / (design.plot_area_ac or 1)

    def words(self, design: Design) -> str:
        """The tally in words: range, quadratic mean, basal area where the design is known."""
        if not self.dbh_in:
            return "no diameter"
        ends = measures.span(min(self.dbh_in), max(self.dbh_in), "in", ".1f")
        text = f"{ends}, quadratic mean {measures.amount(self.quadratic_mean_in(), 'in', '.1f')}"
        area = self.basal_area(design)
        return text if area is None else f"{text}, basal area {measures.amount(area, 'ft2/ac')}"


def question(table: str, said: Said, written: tuple[str, str] = ("", ""), where: str = "") -> tuple[Design, Question]:
    """How stems were taken in, and the question for it.

    ``written`` is what the file itself says, as (column, text), and ``where`` the place; an answer goes before it.
    """
    names: tuple[str, ...] = ("plot_area_ac",) if table == "seedlings" else ("baf_ft2_ac", "plot_area_ac")
    name, text = said.design(*names)
    told = bool(text)
    if not told and written[0] in names and written[1]:
        name, text = written
        unit = said.setting("plot_unit")
        text = f"{text} {unit}" if name == "plot_area_ac" and unit in _PLOT_UNITS and _bare(text) is not None else text
    known = read(name, in_unit(name, text, said), table) if text else None
    refused = text if known is None else ""
    # The key that the choices shown are answers to comes first.
    first = "plot_area_ac" if _readings(refused, table) else name
    names = (first, *(one for one in names if one != first)) if first else names
    evidence = () if not text or (told and known) else (f"{name}={text} was said",) if told else (where,)
    return known or Design(), Question(
        key=said.key(names[0]),
        also=tuple(said.key(one) for one in names[1:]),
        kind="set",
        sheet=said.sheet,
        text=_words(table, refused),
        evidence=evidence,
        choices=_choices(names[0], table, refused),
        answer=text if known else "",
    )


def _words(table: str, refused: str) -> str:
    if refused:
        return f"How large is a plot of {refused!r}? Say it with its unit."
    if table == "seedlings":
        return "How large was a seedling plot?"
    return "How were trees taken in: a prism of which factor, or a plot of which size?"


def _readings(refused: str, table: str) -> tuple[Choice, ...]:
    """What a bare number that is no plot in acres can be, with the acres of each; none for anything else."""
    area = classes.plot_area(refused) if refused else None
    if not area or area[1]:
        return ()
    number = area[0]
    ways = (
        f"{number:g} m2",
        f"1/{number:g}",
        f"{number:g}%",
        f"radius {number:g} ft",
        f"radius {number:g} m",
        f"{number:g} ac",
    )
    sized = [(way, plot(way, table)) for way in ways]
    return tuple(Choice(way, _plot_words(one.plot_area_ac)) for way, one in sized if one and one.plot_area_ac)


def _choices(key: str, table: str, refused: str) -> tuple[Choice, ...]:
    """Usual answers to a key; for a bare number that is no plot in acres, the readings it can have with their acres."""
    if readings := _readings(refused, table):
        return readings
    if table == "seedlings":
        return tuple(Choice(size, _plot_words(area)) for size, area in _SEEDLING_PLOTS.items())
    if key == "plot_area_ac":
        return tuple(Choice(size, _plot_words(1 / int(size[2:]))) for size in ("1/10", "1/20", "1/50"))
    return tuple(
        Choice(factor, f"a tree stands for {measures.amount(float(factor), 'ft2/ac')}") for factor in ("10", "20")
    )


def _plot_words(area: float) -> str:
    radius = math.sqrt(area * units.FT2_PER_ACRE / math.pi)
    stands_for = measures.amount(1 / area, "an acre", ",.0f")
    return f"{_size(area, '.5f')}, radius {measures.amount(radius, 'ft', '.2f')}, 1 stem on it is {stands_for}"


def _size(area_ac: float, form: str) -> str:
    return measures.plot_size(area_ac) if measures.is_metric() else f"{area_ac:{form}} ac"
