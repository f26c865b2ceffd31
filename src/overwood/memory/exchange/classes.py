"""Texts that stand for sizes: height classes, inch classes, tally strokes, plot sizes, measures with a unit."""

from __future__ import annotations

import functools
import math
import re
import unicodedata
from dataclasses import dataclass

from overwood.ground import species, units
from overwood.ground.vocabulary import HEIGHT_CLASSES
from overwood.memory.exchange import headings

_NUMBER = r"(\d+(?:\.\d+)?|\.\d+)"
_UNIT = r"\s*(cm|mm|m|ft|feet|foot|in|inch|inches|'|\")?\.?"
_BETWEEN = re.compile(rf"^{_NUMBER}{_UNIT}\s*(?:-|–|—|to|<)\s*<?{_NUMBER}{_UNIT}$")
_BELOW = re.compile(rf"^(?:<|<=|≤|lt|under|below|less than|up to|to)\s*{_NUMBER}{_UNIT}$")
_ABOVE = re.compile(
    rf"^(?:>|>=|≥|gt|over|above|more than|from)\s*{_NUMBER}{_UNIT}$|^{_NUMBER}{_UNIT}\s*(?:\+|plus|and up|"
    r"and (?:over|larger)|\&up|& up|up)\s*(ft|in|inches|cm|m|'|\")?\.?$"
)
_MONTH_TRAP = re.compile(
    r"^(?:(\d{1,2})-(jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*|\d{4}-(\d{2})-(\d{2})(?: 00:00:00)?)$"
)
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
# How far a metric limit may lie from the class limit in feet that it stands for, as a share.
METRIC_SLACK = 0.035
_OPEN = 99.0
SPLIT = "split"
_TENTH = 0.1


@dataclass(frozen=True)
class Span:
    """A class as it was written: lower and upper limit in the unit written, "" where none was."""

    low: float
    high: float
    unit: str = ""

    def in_feet(self, unit: str) -> tuple[float, float]:
        """Both limits in feet, read in the unit written, else in ``unit``."""
        change = units.conversion(self.unit or unit or "ft", "ft")
        return change(self.low), (self.high if self.high >= _OPEN and math.isinf(self.high) else change(self.high))


# Halves, quarters and eighths that are one letter.
_GLYPHS = re.compile("[\u00bc-\u00be\u215b-\u215e]")


@functools.lru_cache(maxsize=16_384)
def _plain(text: str) -> str:
    tidy = (
        text.strip().lower().replace("′", "'").replace("’", "'").replace("″", '"').replace("”", '"').replace("''", '"')
    )
    tidy = _GLYPHS.sub(lambda glyph: unicodedata.normalize("NFKC", f" {glyph[0]}").replace("\u2044", "/"), tidy)
    return re.sub(r"\s+", " ", tidy).replace("ft.", "ft").replace("in.", "in").replace("(", "").replace(")", "").strip()


@functools.lru_cache(maxsize=16_384)
def span(text: str) -> Span | None:
    """A class such as 1-3', <6in, 3-4.5, 30-90 cm or >4.5 ft; None where the text is no class."""
    tidy = _plain(text)
    between = _BETWEEN.match(tidy)
    if between:
        return _two_limits(*between.groups())
    below = _BELOW.match(tidy)
    if below:
        return Span(0.0, float(below[1]), headings.UNIT_WORDS.get(below[2] or "", ""))
    above = _ABOVE.match(tidy)
    if above:
        return Span(
            float(above[1] or above[3]), math.inf, headings.UNIT_WORDS.get(above[2] or above[4] or above[5] or "", "")
        )
    return None


def _two_limits(low: str, low_unit: str | None, high: str, high_unit: str | None) -> Span | None:
    """A class of two limits; where each has a unit of its own both are turned into feet."""
    lower, upper = (headings.UNIT_WORDS.get(unit or "", "") for unit in (low_unit, high_unit))
    start, end, unit = float(low), float(high), upper or lower
    if lower and upper and lower != upper:
        start, end, unit = units.conversion(lower, "ft")(start), units.conversion(upper, "ft")(end), "ft"
    return Span(start, end, unit) if start < end else None


def height_classes(given: Span, unit: str) -> tuple[str, ...]:
    """The classes of the contract that a written class covers whole; several where it spans them, none where it cuts
    one."""
    low, high = given.in_feet(unit)
    slack = METRIC_SLACK if (given.unit or unit) in ("cm", "m", "mm") else 0.001
    inside = [
        name
        for name, (start, end) in HEIGHT_CLASSES.items()
        if _reaches(low, start, slack) and _reaches(end, high, slack)
    ]
    if not inside:
        return ()
    ends = HEIGHT_CLASSES[inside[0]][0], HEIGHT_CLASSES[inside[-1]][1]
    whole = _meets(low, ends[0], slack) and (_meets(high, ends[1], slack) or (math.isinf(high) and ends[1] >= _OPEN))
    return tuple(inside) if whole else ()


def _reaches(lower: float, upper: float, slack: float) -> bool:
    return math.isinf(upper) or lower <= upper * (1 + slack) + 1e-9


def _meets(one: float, other: float, slack: float) -> bool:
    return abs(one - other) <= slack * max(abs(other), 0.5)


def near_height_classes(given: Span, unit: str) -> tuple[str, ...]:
    """The classes of the contract that a written class touches, for a person to choose from."""
    low, high = given.in_feet(unit)
    return tuple(name for name, (start, end) in HEIGHT_CLASSES.items() if start < high * 0.99 and low * 1.01 < end)


def class_from_date(text: str) -> str:
    """The class a spreadsheet made a date of: 3-Jan or 2025-01-03 for 1-3; "" where it is none."""
    trap = _MONTH_TRAP.match(text.strip().lower())
    if not trap:
        return ""
    low, high = (_MONTHS.index(trap[2]) + 1, int(trap[1])) if trap[2] else (int(trap[3]), int(trap[4]))
    name = f"{low}-{high}"
    return name if name in HEIGHT_CLASSES else ""


def dbh_class(text: str) -> tuple[float, str] | None:
    """The middle of an inch or centimeter class (8, 8", 6-8, 12 in. class) and its unit; None where the text is
    none."""
    tidy = re.sub(r"\b(dbh|class|cl|diam|diameter)\b", " ", _plain(text)).strip()
    whole = re.match(rf"^{_NUMBER}{_UNIT}$", tidy)
    if whole:
        return float(whole[1]), headings.UNIT_WORDS.get(whole[2] or "", "")
    given = span(tidy)
    if given is None or math.isinf(given.high) or not given.low:
        return None
    # Sizes are read to a tenth: 10.0-11.9 holds all from 10 up to 12.
    to_a_tenth = re.search(r"\.9\D*$", tidy) is not None and given.low == int(given.low)
    return (given.low + given.high + (_TENTH if to_a_tenth else 0.0)) / 2, given.unit


def is_open_ended(text: str) -> bool:
    """Whether a class has no upper limit, such as 20+ or over 24 in."""
    given = span(text)
    return given is not None and math.isinf(given.high)


def middle(text: str) -> str:
    """A class of diameters as the size in its middle, with its unit; anything else as it stands."""
    if measure(text) is not None:
        return text
    limits = dbh_class(text)
    return f"{limits[0]:g} {limits[1]}".strip() if limits else text


def is_height_class_heading(cell: str) -> bool:
    """Whether a heading is a class of heights: it has two limits, or a mark for below or above."""
    return bool(heading_class(cell)[1])


# Where a class begins in a heading that is written in one: WO<1ft, RM1-3, WO_3-4.5.
_GLUED = re.compile(r"(?<=[A-Za-z])_?(?=[<>≤≥]|\d+(?:\.\d+)?\s*(?:-|–|\+))|(?<=[A-Za-z])_(?=\d)")


def heading_class(cell: str) -> tuple[str, str]:
    """A heading as (what stands before, the class at its end); the class is "" where there is none."""
    parts = _GLUED.sub(" ", cell.strip()).split()
    for start in range(len(parts)):
        tail = " ".join(parts[start:])
        if span(tail) is not None:
            # Two classes beside each other (taller than 4.5 ft, thinner than 1 in.) are neither of them alone.
            is_second = start > 0 and span(parts[start - 1]) is not None
            return (cell.strip(), "") if is_second else (" ".join(parts[:start]), tail.strip("()"))
    return cell.strip(), ""


@functools.lru_cache(maxsize=16_384)
def is_class_heading(cell: str) -> bool:
    """Whether a heading is a class of heights or diameters."""
    return is_height_class_heading(cell) or dbh_class(cell) is not None


def is_member_heading(cell: str) -> bool:
    """Whether a heading can stand below a group: a class, or a species."""
    match = species.match(cell)
    return is_class_heading(cell) or match.spcd is not None or match.ambiguous


_STROKES = {
    **dict.fromkeys("|Il1!/\\'¦│┃❘丨一.·•∙●", 1), ":": 2, "∶": 2, "∴": 3, "∵": 3, "∷": 4, "⁘": 4, "⁙": 5,
    "卌": 5, "正": 5, "𝍸": 5, "𝍷": 1, "□": 8, "☐": 8, "⊠": 10, "☒": 10,
}  # fmt: skip


def strokes(text: str) -> int | None:
    """Stems that tally marks stand for: |||| is 4, a struck gate 5, .: three dots; None where the text is no tally."""
    tidy = re.sub(r"\s+", " ", text.strip())
    if not tidy or re.fullmatch(r"[\d.,]*\d[\d.,]*", tidy):
        return None
    tidy = re.sub(r"(?:~~|--|̶)?([|IlTH]{4}|HH?T|TH?L|NH?L|LHT)(?:~~|-|/|\\|̶)", "卌", tidy)
    total = 0
    for mark in tidy.replace(" ", "").replace(",", "").replace("+", "").replace("&", ""):
        if mark not in _STROKES:
            return None
        total += _STROKES[mark]
    return total


_MEASURE = re.compile(
    rf"^(?:(\d+)\s*(?:'|ft|feet)\s*(\d+(?:\.\d+)?)\s*(?:\"|in|inches)|(-?{_NUMBER[1:-1]})\s*([a-z'\"%²/0-9 ]*?))\.?$"
)


def measure(text: str) -> tuple[float, str] | None:
    """A number with the unit written beside it (18", 46 cm, 5'6"); the unit is "" where none is; None where it is no
    number."""
    # Without its bracket "10(2)" would be 102.
    tidy = _plain(text) if not re.search(r"\d\s*\(\s*\d", text) else text
    if mixed := _with_fraction(tidy):
        return mixed
    match = _MEASURE.match(tidy)
    if not match:
        return None
    if match[1]:
        return int(match[1]) + float(match[2]) / 12, "ft"
    unit = headings.UNIT_WORDS.get((match[4] or "").strip(), "")
    return (float(match[3]), unit) if unit or not match[4] else None


_POINTS = ("n", "nne", "ne", "ene", "e", "ese", "se", "sse", "s", "ssw", "sw", "wsw", "w", "wnw", "nw", "nnw")
_QUARTER = re.compile(r"^([ns])\s*(\d{1,2}(?:\.\d+)?)\s*([ew])$")
_CIRCLE = 360


def compass(text: str) -> float | None:
    """Degrees from north of a point of the compass or a bearing by quarters (NE, south-west, N45E, 45°); None of
    anything else."""
    tidy = _plain(text).removesuffix("°").removesuffix("deg").strip()
    short = re.sub(r"(north|south|east|west)(?:ern|erly)?", lambda point: point[1][0], tidy.replace("°", ""))
    if quarter := _QUARTER.match(short):
        turn = float(quarter[2]) * (1 if (quarter[1] == "n") == (quarter[3] == "e") else -1)
        return (turn + (0 if quarter[1] == "n" else _CIRCLE / 2)) % _CIRCLE
    bare = re.sub(r"[\s-]", "", short)
    if bare in _POINTS:
        return _POINTS.index(bare) * _CIRCLE / len(_POINTS)
    return float(tidy) if re.fullmatch(r"\d+(\.\d+)?", tidy) else None


_MIXED = re.compile(r"^(?:(\d+)[ -])?(1/2|[13]/4|[1357]/8)\s*(\"|in|inch|inches|ft|feet|')?\.?$")


def _with_fraction(tidy: str) -> tuple[float, str] | None:
    """A number with a half, quarter or eighth (8 1/2, 10-3/4), or such a share alone (1/2)."""
    match = _MIXED.match(tidy)
    if not match:
        return None
    top, below = match[2].split("/")
    return int(match[1] or 0) + int(top) / int(below), headings.UNIT_WORDS.get(match[3] or "", "")


_FRACTION = re.compile(rf"^{_NUMBER}\s*/\s*{_NUMBER}\s*([a-z²0-9 ]*?)\.?$")
_RADIUS = re.compile(rf"^(?:r|radius|rad)\s*[=:]?\s*{_NUMBER}{_UNIT}$|^{_NUMBER}{_UNIT}\s*(?:radius|rad|r)$")


def plot_area(text: str) -> tuple[float, str] | None:
    """A plot size as (number, unit): 1/735, 0.1 ac, 4 m2, 4%, or an area in ac of "radius 3.7 ft"; None where it is
    none."""
    tidy = _plain(text)
    circle = _RADIUS.match(tidy)
    if circle:
        length, unit = float(circle[1] or circle[3]), headings.UNIT_WORDS.get(circle[2] or circle[4] or "", "")
        if not unit:
            return None
        radius = units.conversion(unit, "ft")(length)
        return math.pi * radius**2 / units.FT2_PER_ACRE, "ac"
    share = _FRACTION.match(tidy)
    if share and float(share[2]):
        unit = headings.UNIT_WORDS.get(share[3], "") if share[3] else "ac"
        return (float(share[1]) / float(share[2]), unit) if unit in ("ac", "ha") else None
    size = measure(tidy)
    return size if size and size[1] in ("", "ac", "ha", "m2", "ft2", "%") else None
