"""How a measured value is said: in US customary units or, where the reader asked for it, in metric ones.

Nothing stored or computed changes. A value is turned before it is worded, never read back out of a sentence. Board feet
by a log rule have no cubic meters: they stay board feet, and only the acre below them becomes a hectare.
"""

from __future__ import annotations

import functools
import math
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from typing import Any, TypeVar

from overwood.ground.units import ACRE_PER_HA, FT_PER_M, IN_PER_CM, LB_PER_KG, LB_PER_TON, ML_PER_GAL

US, METRIC = "US", "metric"
SYSTEMS = (US, METRIC)
T = TypeVar("T")
_SYSTEM: ContextVar[str] = ContextVar("system of units", default=US)
# A chain is 66 ft; the international table Btu is 1055.05585262 J (NIST SP 811, 2008, B.8).
_M_PER_CHAIN, _KJ_PER_BTU = 66 / FT_PER_M, 1.05505585262


@dataclass(frozen=True)
class Turn:
    """A unit in metric: its word, and ``metric = US * factor + offset``."""

    word: str
    factor: float
    offset: float = 0.0


def many(count: int, one: str, several: str = "") -> str:
    """A number with its noun, and what follows it: "1 line has", "2 lines have"; an s is added where none is given."""
    return f"{count} {one if count == 1 else several or one + 's'}"


_CM, _M, _HA, _L = 1 / IN_PER_CM, 1 / FT_PER_M, 1 / ACRE_PER_HA, ML_PER_GAL / 1000
_M2_HA = ACRE_PER_HA / FT_PER_M**2
_C = (5 / 9, -160 / 9)
_TURNS: dict[str, Turn] = {
    "in": Turn("cm", _CM),
    "in.": Turn("cm", _CM),
    "inches": Turn("centimeters", _CM),
    "in. of rain": Turn("mm of rain", 10 * _CM),
    "in. of bark": Turn("mm of bark", 10 * _CM),
    "hundredths of an inch": Turn("mm", _CM / 10),
    "ft": Turn("m", _M),
    "feet": Turn("meters", _M),
    # Spanish of the crew's papers.
    "pie": Turn("m", _M),
    "pies": Turn("m", _M),
    "pulg": Turn("cm", _CM),
    "pulgadas": Turn("centímetros", _CM),
    "pies²/acre": Turn("m²/ha", _M2_HA),
    "pies cuadrados de área basal por acre": Turn("metros cuadrados de área basal por hectárea", _M2_HA),
    "galones": Turn("litros", _L),
    "Galones": Turn("Litros", _L),
    "ft a year": Turn("m a year", _M),
    "in. a year": Turn("cm a year", _CM),
    "ft/yr": Turn("m/yr", _M),
    "ft at 50 years": Turn("m at 50 years", _M),
    "ft at 50 yr": Turn("m at 50 yr", _M),
    "mi/h at 20 ft": Turn("km/h at 6.1 m", 5.28 / FT_PER_M),
    "in of dbh a cut": Turn("cm of dbh a cut", _CM),
    "in dbh a cut": Turn("cm dbh a cut", _CM),
    "in a day": Turn("cm a day", _CM),
    "in/yr": Turn("cm/yr", _CM),
    "miles": Turn("km", 5.28 / FT_PER_M),
    "mi/h": Turn("km/h", 5.28 / FT_PER_M),
    "a foot": Turn("a meter", 1 / _M),
    "An acre": Turn("A hectare", 1 / _HA),
    "ac": Turn("ha", _HA),
    "acre": Turn("hectare", _HA),
    # The size of a plot, which in metric is told in square meters.
    "ac of a plot": Turn("m2", _HA * 10_000),
    "acres": Turn("hectares", _HA),
    "these acres": Turn("these hectares", _HA),
    "acres of oak stand": Turn("hectares of oak stand", _HA),
    "Acres of oak stand": Turn("Hectares of oak stand", _HA),
    "Acres": Turn("Hectares", _HA),
    "ft2": Turn("m2", _M**2),
    "in2": Turn("cm2", _CM**2),
    "ft2/ac": Turn("m2/ha", _M2_HA),
    "ft²/ac": Turn("m²/ha", _M2_HA),
    "square feet an acre": Turn("square meters a hectare", _M2_HA),
    "square feet of stem an acre": Turn("square meters of stem a hectare", _M2_HA),
    "square feet of basal area an acre": Turn("square meters of basal area a hectare", _M2_HA),
    "ft3": Turn("m3", _M**3),
    "ft3/ac": Turn("m3/ha", _M**3 * ACRE_PER_HA),
    "square foot": Turn("square meter", _M**2),
    # What a crew does in a day, and slopes of fitted curves; a slope by the logarithm of a size keeps its number.
    "ac/crew day": Turn("ha/crew day", _HA),
    "ac/burn day": Turn("ha/burn day", _HA),
    "ft/crew day": Turn("m/crew day", _M),
    "16-ft logs": Turn("logs of 4.88 m", 1.0),
    "16-ft logs per in": Turn("logs of 4.88 m per cm", 1 / _CM),
    "ft per in.": Turn("m per cm", _M / _CM),
    "green tons per MBF": Turn("green t per MBF", LB_PER_TON / LB_PER_KG / 1000),
    "logit per 10 ft": Turn("logit per 10 m", 1 / _M),
    "logit per ln ft": Turn("logit per ln m", 1.0),
    "logit per ln in": Turn("logit per ln cm", 1.0),
    "ln a ft2/ac": Turn("ln a m2/ha", 1 / _M2_HA),
    "root of stems/ac": Turn("root of stems/ha", ACRE_PER_HA**0.5),
    "degF": Turn("degC", *_C),
    "F": Turn("C", *_C),
    "ch/h": Turn("m/min", _M_PER_CHAIN / 60),
    "chains/h": Turn("m/min", _M_PER_CHAIN / 60),
    "Btu/ft/s": Turn("kW/m", _KJ_PER_BTU * FT_PER_M),
    "gal": Turn("L", _L),
    "gallons": Turn("liters", _L),
    "Gallons": Turn("Liters", _L),
    "gal/ac": Turn("L/ha", _L * ACRE_PER_HA),
    "lb": Turn("kg", 1 / LB_PER_KG),
    "ton": Turn("t", LB_PER_TON / LB_PER_KG / 1000),
    "tons": Turn("t", LB_PER_TON / LB_PER_KG / 1000),
    "tons/ac": Turn("t/ha", LB_PER_TON / LB_PER_KG / 1000 * ACRE_PER_HA),
    # A cord is 128 cubic feet of stacked wood.
    "cords": Turn("m3 stacked", 128 * _M**3),
    "US$/cord": Turn("US$/m3 stacked", 1 / (128 * _M**3)),
    "US$/ton": Turn("US$/t", LB_PER_KG * 1000 / LB_PER_TON),
}
# What is counted, grown or paid on an area, by the endings of its unit.
_BY_AREA = (
    ("/ac", "/ha"),
    (" an acre", " a hectare"),
    ("/ac/yr", "/ha/yr"),
    (" por acre", " por hectárea"),
    (" por acre y año", " por hectárea y año"),
)
# What is marked in the words of a data file: {4 ft}, {60 to 80 ft2/ac}; {50| ft2/ac} for the number alone; {1/735
# acre}; {square feet an acre}.
_SIZE_OR_UNIT = re.compile(r"\{(?:(1/([0-9]+) (?:de )?acre)|([A-Za-z][^{}]*))\}")
_MARK = re.compile(r"\{([+-]?[0-9][0-9.,]*)(?: (to|and|a) ([0-9][0-9.,]*))?(\|)? ([^{}]+)\}")


@contextmanager
def in_units(system: str) -> Iterator[None]:
    """What is worded within is said in this system. Raises ValueError when there is no such system."""
    if system not in SYSTEMS:
        raise ValueError(f"{system!r} is no system of units; there are {', '.join(SYSTEMS)}")
    token = _SYSTEM.set(system)
    try:
        yield
    finally:
        _SYSTEM.reset(token)


def once_each(make: Callable[[], T]) -> Callable[[], T]:
    """What is made once in each system of units in which it is asked for."""
    made = functools.cache(lambda _: make())
    return lambda: made(_SYSTEM.get())


def kept_in_us(make: Callable[[], T], refusal: type[Exception]) -> T:
    """What is made to be kept, in US units; where it is refused, the refusal in the units in force."""
    try:
        with in_units(US):
            return make()
    except refusal:
        if is_metric():
            make()
        raise


def use(system: str) -> None:
    """Say values in this system until the block of ``in_units`` around it ends."""
    _SYSTEM.set(system)


def system() -> str:
    """The system in force."""
    return _SYSTEM.get()


def is_metric() -> bool:
    """Whether values are said in metric units now."""
    return _SYSTEM.get() == METRIC


def metric_of(unit: str) -> Turn | None:
    """The metric unit in place of this one; None where it has none (shares, years, board feet, counts)."""
    if unit in _TURNS:
        return _TURNS[unit]
    for ending, word in _BY_AREA:
        if unit.endswith(ending) or unit == ending.strip():
            head = unit.removesuffix(ending.strip())
            of_head = _TURNS.get(head.strip(), Turn(head.strip(), 1.0))
            return Turn(head.replace(head.strip(), of_head.word) + word.strip(), of_head.factor * ACRE_PER_HA)
    return None


def convert(value: float, unit: str) -> float:
    """A value given in the US ``unit``, in the system in force."""
    turn = metric_of(unit) if is_metric() else None
    return value if turn is None else value * turn.factor + turn.offset


def back(value: float, unit: str) -> float:
    """A value typed in the metric unit, in the US ``unit``, to ten digits: far more than anybody types."""
    turn = metric_of(unit)
    return value if turn is None else float(f"{(value - turn.offset) / turn.factor:.10g}")


def unit_word(unit: str) -> str:
    """The unit in the system in force: 'ft2/ac' or 'm2/ha'."""
    turn = metric_of(unit) if is_metric() else None
    return unit if turn is None else turn.word


def for_script(unit: str) -> dict[str, Any]:
    """How a script of a page turns a US value: its factor, how many more decimals it shows, and the unit's word."""
    turn = metric_of(unit) if is_metric() else None
    word = (unit if turn is None else turn.word).replace("ft2", "ft²").replace("m2", "m²")
    if turn is None:
        return {"factor": 1.0, "more": 0, "word": word}
    return {"factor": turn.factor, "more": _more(turn), "word": word}


def _more(turn: Turn) -> int:
    """Decimals that metric needs beyond those of the US value, so that it leads back to it."""
    return math.ceil(-math.log10(turn.factor) - 1e-9)


def digits(value: float, unit: str, form: str = ".0f") -> str:
    """The number alone. ``form`` is that of the US value; in metric it gets the fewest decimals that lead back to the
    same US number."""
    text, turn = format(value, form), metric_of(unit) if is_metric() else None
    if turn is None or not math.isfinite(value):
        return text
    decimals = len(text.partition(".")[2])
    places = max(0, decimals + _more(turn))
    flags = ("+" if "+" in form else "") + ("," if "," in form else "")
    turned = format(value * turn.factor + turn.offset, f"{flags}.{places}f")
    return turned.rstrip("0").rstrip(".") if form.endswith("g") and "." in turned else turned


def limit(value: float, unit: str) -> str:
    """A limit alone: to five digits in metric, so that what is typed as it is shown does not pass it."""
    turn = metric_of(unit) if is_metric() else None
    return f"{value:g}" if turn is None else f"{float(f'{convert(value, unit):.5g}'):.12g}"


def with_unit(number: str, unit: str, after: str = "") -> str:
    """A number in words before its unit in words: '72 ft2/ac', '62%'; what stands ``after`` the number, such as its
    span, comes before a unit and behind a percent sign."""
    return f"{number}{unit}{after}" if unit.startswith("%") else f"{number}{after} {unit}".rstrip()


def amount(value: float, unit: str, form: str = ".0f") -> str:
    """A value with its unit: '72 ft2/ac' or '16.5 m2/ha'; ``form`` as for ``digits``."""
    return with_unit(digits(value, unit, form), unit_word(unit))


def span(low: float, high: float, unit: str, form: str = ".0f") -> str:
    """Two ends with their unit: '50 to 70 ft2/ac' or '11.5 to 16.1 m2/ha'."""
    return f"{digits(low, unit, form)} to {amount(high, unit, form)}"


def log_rule_words(rule: str) -> str:
    """A log rule as people write it: 'Doyle', 'International 1/4'."""
    return rule.replace("-", " ").title()


def with_us(value: float, unit: str, form: str = ".0f") -> str:
    """A key figure on paper: in metric the US value stands in brackets behind it."""
    text = amount(value, unit, form)
    return f"{text} ({format(value, form)} {unit})" if is_metric() and metric_of(unit) else text


def plot_size(area_ac: float, joint: str = " ") -> str:
    """The size of a small plot: '1/735 acre' (with a hyphen as ``joint`` before a noun), or '5.51 m2'."""
    if not is_metric():
        return f"1/{1 / area_ac:.0f}{joint}acre"
    return f"{float(f'{area_ac * 10_000 / ACRE_PER_HA:.3g}'):g} m2"


def plot_sizes(least_ac: float, most_ac: float) -> str:
    """Plots of several sizes: '1/1000 to 1/735 acre', or '4.05 to 5.51 m2'."""
    if not is_metric():
        return f"1/{1 / most_ac:.0f} to 1/{1 / least_ac:.0f} acre"
    return f"{plot_size(least_ac).removesuffix(' m2')} to {plot_size(most_ac)}"


def limits(label: str, unit: str) -> str:
    """A class by its code, '2-4' or '12+', with its limits turned: '5-10' or '30+'."""
    if not is_metric():
        return label
    low, joint, high = label.rstrip("+").partition("-")
    ends = [digits(float(end), unit, "g") for end in (low, high) if end]
    return joint.join(ends) + ("+" if label.endswith("+") else "")


def class_words(low: float, high: float, unit: str) -> str:
    """A class of heights: '1-3 ft', 'under 0.3 m', '3 m or taller'; no upper limit where ``high`` is infinite."""
    if low <= 0:
        return f"under {amount(high, unit, 'g')}"
    if math.isinf(high):
        return f"{amount(low, unit, 'g')} or taller"
    return f"{digits(low, unit, 'g')}-{amount(high, unit, 'g')}"


def prose(text: str) -> str:
    """Words of a data file with each marked quantity, as in '{4 ft} from the stem', in the system in force."""
    if "{" not in text:
        return text
    return _MARK.sub(_marked, _SIZE_OR_UNIT.sub(_sized, text))


def in_us(text: str) -> str:
    """Words of a data file with each marked quantity in US units, whatever is in force."""
    with in_units(US):
        return prose(text)


def _sized(mark: re.Match[str]) -> str:
    size, parts, unit = mark.groups()
    if unit:
        return unit_word(unit)
    return plot_size(1 / float(parts)) if is_metric() else str(size)


def _marked(mark: re.Match[str]) -> str:
    low, joint, high, alone, unit = mark.groups()
    number = f"{_turned(low, unit)} {joint} {_turned(high, unit)}" if joint else _turned(low, unit)
    return number if alone else with_unit(number, unit_word(unit))


def _turned(number: str, unit: str) -> str:
    """A number as it is written, turned; thousands keep their commas, and as many decimals as are known."""
    form = f"{',' if ',' in number else ''}.{len(number.partition('.')[2])}f"
    return digits(float(number.replace(",", "")), unit, form)
