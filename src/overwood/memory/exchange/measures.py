"""Numbers of foreign sheets: their unit (named, or asked with both results shown), decimal commas, tally strokes."""

from __future__ import annotations

import re
import statistics
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from overwood.ground import plausible, units
from overwood.ground.errors import Misuse
from overwood.ground.records import TABLES
from overwood.memory.exchange import classes, headings
from overwood.memory.exchange.proposal import Choice, Question
from overwood.memory.exchange.said import Said

# Columns that belong to a point or a place and so stand in no table of the tally: their units.
_BESIDE = {"azimuth_deg": "deg", "distance_ft": "ft"}
_DECIMAL_COMMA = re.compile(r"^-?\d+,(\d{1,2}|\d{4,})$")
_TEN = 10
# Numbers of a column that must be in a unit where one is not.
_FEWEST = 4
_ANY_COMMA = re.compile(r"^-?\d+,\d+$")
# Units a column without a unit word may be in; the first is the trade's own. Below, the limit of the median from which
# a unit is a possible one.
_CANDIDATES = {"in": ("in", "cm", "mm", "0.1 in"), "ft": ("ft", "m", "in", "cm"), "ac": ("ac", "ha")}
_MEDIANS = {
    ("dbh_in", "mm"): "dbh_mm_median_least",
    ("dbh_in", "0.1 in"): "dbh_mm_median_least",
    ("seedlings", "in"): "seedling_median_least",
    ("seedlings", "cm"): "seedling_median_least",
}
_TITLE_WORDS = {
    "in": r"\b(inches)\b", "cm": r"\b(cm|centimet(?:er|re)s?)\b", "mm": r"\b(mm|millimet(?:er|re)s?)\b",
    "ft": r"\b(feet|ft)\b", "m": r"\b(met(?:er|re)s)\b|\bin m\b", "ac": r"\b(acres)\b", "ha": r"\b(hectares|ha)\b",
}  # fmt: skip


@dataclass(frozen=True)
class Reading:
    """How the numbers of a column are read: the unit ("" where it has none or it is open), and the question, if any."""

    unit: str
    question: Question | None = None
    note: str = ""


def unit_of(table: str, column: str) -> str:
    """The unit the record keeps a column in; "" where it has none."""
    if column == "height_class":
        return "ft"
    columns = TABLES[table].columns
    return columns[column].unit if column in columns else _BESIDE.get(column, "")


def units_of(table: str, column: str) -> tuple[str, ...]:
    """Units a column may be read in, the contract's first; none for what has no unit."""
    wanted = unit_of(table, column)
    return units.units_into(wanted) if wanted else ()


def decimal_commas(cells: Sequence[str], delimiter: str) -> bool:
    """Whether the numbers of a sheet have decimal commas: some plainly do, and none has a point."""
    commas = [cell for cell in cells if _ANY_COMMA.match(cell)]
    plainly = any(_DECIMAL_COMMA.match(cell) for cell in commas)
    points = any(re.match(r"^-?\d+\.\d+$", cell) for cell in cells)
    return bool(commas) and not points and (plainly or delimiter == ";")


def with_point(cell: str) -> str:
    """A number with a decimal comma as one with a point; anything else unchanged."""
    return cell.replace(",", ".") if _ANY_COMMA.match(cell) else cell


def read(
    table: str, column: str, heading: str, title: str, values: Sequence[str], said: Said, shown: Callable[[str], str]
) -> Reading:
    """The unit of a column: as told, as named in the heading, in the cells or the title, else asked about.

    ``shown`` tells in words what the sheet comes to when the column is read in a unit.
    """
    possible, told = units_of(table, column), said.unit(column)
    if not possible:
        return Reading("")
    if told and told not in possible:
        raise Misuse(f"{column} cannot be read in {told!r}.", remedy=f"It can be in {', '.join(possible)}.")
    named = _named(heading, possible) or (
        "8-ft logs" if column == "logs" and headings.are_half_logs(heading, title) else ""
    )
    if column == "height_class":
        return _class_unit(values, told or named or _in_title(title, ("ft", "in", "cm", "m")), said, heading)
    numbers = [size for value in values if (size := classes.measure(value)) is not None]
    bare = [number for number, unit in numbers if not unit]
    titled = _in_title(title, _CANDIDATES.get(possible[0], ()))
    # A unit of the heading, the title or another file that hardly a value can be in is asked about.
    taken = told or named or titled
    if not said.told_unit(column) and _is_odd(table, column, taken, bare):
        sizes = [number for number in bare if number > 0]
        odd = (
            _shares(column, heading, bare, said)
            if taken == "%"
            else _by_values(table, column, heading, sizes, said, shown, taken)
        )
    else:
        odd = _of_two(column, heading, ("" if told else named, titled), said, shown)
    if odd.question or odd.note:
        return odd
    if told or named or not bare:
        return Reading(told or named or possible[0], _told_question(column, told, said, heading))
    wanted = possible[0]
    if wanted == "%":
        return _shares(column, heading, bare, said)
    if wanted not in _CANDIDATES:
        return Reading(wanted)
    if titled:
        return Reading(titled, note=f"{heading} is read in {titled}, as the title says.")
    return _by_values(table, column, heading, bare, said, shown)


def _of_two(
    column: str, heading: str, units_named: tuple[str, str], said: Said, shown: Callable[[str], str]
) -> Reading:
    """The question which of two units diameters are in, where the heading names one and the title another."""
    named, titled = units_named
    if column != "dbh_in" or not named or titled in ("", named):
        return Reading("")
    ways = tuple(Choice(unit, shown(unit)) for unit in units_named)
    text = f"{heading!r} names {named}, and the title {titled}: which are its values in?"
    return Reading("", Question(key=said.key("dbh_in"), kind="unit", text=text, choices=ways, sheet=said.sheet))


def _is_odd(table: str, column: str, unit: str, numbers: Sequence[float]) -> bool:
    """Whether hardly a number can be in a unit; a cell that a spreadsheet shows as 10% holds 0.1."""
    sizes = [number for number in numbers if number > 0]
    if unit == "%" or not sizes:
        return bool(sizes) and max(sizes) <= 1 and any(number % 1 for number in sizes)
    return bool(unit) and unit_of(table, column) in _CANDIDATES and not _plausible(table, column, unit, sizes)


def _named(heading: str, possible: Sequence[str]) -> str:
    unit = headings.unit_in(heading) or headings.UNIT_WORDS.get(headings.plain(heading), "")
    return unit if unit in possible else ""


def _in_title(title: str, candidates: Sequence[str]) -> str:
    """The one unit of the candidates that the title names in words; "" where it names none or several."""
    lowered = title.lower()
    named = [unit for unit in candidates if re.search(_TITLE_WORDS.get(unit, r"(?!)"), lowered)]
    return named[0] if len(named) == 1 else ""


def unit_in_title(column: str, title: str) -> str:
    """The unit a title names for the values of a column of trees; "" where it names none or several."""
    return _in_title(title, _CANDIDATES.get(unit_of("trees", column) or unit_of("seedlings", column), ()))


def _told_question(column: str, told: str, said: Said, heading: str) -> Question | None:
    if not told:
        return None
    return Question(
        key=said.key(column), kind="unit", text=f"{heading!r} is read in {told}.", answer=told, sheet=said.sheet
    )


def _shares(column: str, heading: str, numbers: Sequence[float], said: Said) -> Reading:
    """Percents, or shares of 1 where no value exceeds it: a crown of less than 1% there is not, of the others one is
    asked."""
    if max(numbers) > 1 or not any(numbers):
        return _tens(column, heading, numbers, said)
    if column == "crown_ratio_pct":
        return Reading("share", note=f"{heading} is read as shares of 1: no value exceeds 1.")
    choices = (
        Choice("share", f"{max(numbers):g} is {100 * max(numbers):g}%"),
        Choice("%", f"{max(numbers):g} is {max(numbers):g}%"),
    )
    text = f"No value of {heading!r} exceeds 1: are they shares or percents?"
    return Reading("", Question(key=said.key(column), kind="unit", text=text, choices=choices, sheet=said.sheet))


def _tens(column: str, heading: str, numbers: Sequence[float], said: Said) -> Reading:
    """Percents; or tens of percents where every value is one digit, as many a cruiser writes them: that is asked."""
    most = max(numbers)
    if not 1 < most < _TEN or any(number % 1 for number in numbers):
        return Reading("%")
    choices = (Choice("tens of %", f"{most:g} is {_TEN * most:g}%"), Choice("%", f"{most:g} is {most:g}%"))
    text = f"Every value of {heading!r} is a single digit: are they percents, or tens of percents?"
    return Reading("", Question(key=said.key(column), kind="unit", text=text, choices=choices, sheet=said.sheet))


def _by_values(
    table: str,
    column: str,
    heading: str,
    numbers: Sequence[float],
    said: Said,
    shown: Callable[[str], str],
    named: str = "",
) -> Reading:
    """The only unit that the values can be in, where that is the trade's own; otherwise a question with all results, as
    where ``named`` is the heading's unit and hardly a value can be in it."""
    wanted = unit_of(table, column)
    fits = [unit for unit in _CANDIDATES[wanted] if _plausible(table, column, unit, numbers)]
    if fits == [wanted] and not named:
        return Reading(wanted, note=f"{heading} names no unit; its values can only be {wanted}.")
    if named and not fits:
        return Reading(named)
    low, middle, high = min(numbers), statistics.median(numbers), max(numbers)
    ways = dict.fromkeys((*(fits or _CANDIDATES[wanted]), *((named,) if named else ())))
    choices = tuple(Choice(unit, shown(unit)) for unit in ways)
    evidence = f"{len(numbers)} values from {low:g} to {high:g}, half of them below {middle:g}"
    says = f"is taken as {named}, and hardly a value can be" if named else "names no unit"
    text = f"{heading!r} {says}: are its values in {_or([one.value for one in choices])}?"
    question = Question(
        key=said.key(column), kind="unit", text=text, evidence=(evidence,), choices=choices, sheet=said.sheet
    )
    return Reading("", question)


def _plausible(table: str, column: str, unit: str, numbers: Sequence[float]) -> bool:
    low, high = plausible.span(table, column)
    change = units.conversion(unit, unit_of(table, column))
    inside = sum(low <= change(number) <= high for number in numbers)
    named = _MEDIANS.get((column, unit)) or _MEDIANS.get((table, unit))
    if column == "height_ft" and table != "seedlings" and unit in ("in", "cm"):
        return False
    is_large_enough = named is None or statistics.median(numbers) >= plausible.limit(named)
    # One slip of a decimal point makes no other unit of a short column.
    least = min(plausible.limit("unit_share") * len(numbers), max(_FEWEST, len(numbers) - 1))
    return inside >= least and is_large_enough


def _class_unit(values: Sequence[str], named: str, said: Said, heading: str) -> Reading:
    """The unit of height classes: named, or feet where all fit the classes of the record, else asked."""
    spans = [given for value in dict.fromkeys(values) if (given := classes.span(value)) is not None and not given.unit]
    if named or not spans:
        return Reading(named or "ft", _told_question("height_class", said.unit("height_class"), said, heading))
    fits = [unit for unit in ("ft", "in", "cm", "m") if all(classes.height_classes(given, unit) for given in spans)]
    if "ft" in fits or not fits:
        return Reading("ft")
    choices = tuple(Choice(unit, f"every class fits one of the record in {unit}") for unit in fits)
    text = f"The height classes name no unit: are they in {_or(fits)}?"
    question = Question(key=said.key("height_class"), kind="unit", text=text, choices=choices, sheet=said.sheet)
    return Reading("", question)


def _or(words: Sequence[str]) -> str:
    return f"{', '.join(words[:-1])} or {words[-1]}" if len(words) > 1 else "".join(words)


def converted(table: str, column: str, cell: str, unit: str) -> str:
    """A cell in the record's unit, as text; what is no number is handed on as it stands, for the check to name."""
    wanted, size = unit_of(table, column), classes.measure(cell)
    if wanted == "deg" and size is None:
        turn = classes.compass(cell)
        return "" if cell.lower() in headings.words("level") else cell if turn is None else f"{turn:g}"
    if not cell or size is None or not wanted:
        return cell
    number, own = size
    source = own if own in units_of(table, column) else unit or wanted
    if source != wanted:
        return repr(round(units.conversion(source, wanted)(number), 4))
    return f"{number!r}".removesuffix(".0")


def counted(cell: str) -> str:
    """A count as digits: strokes and dots of a tally are added up, commas of thousands left out; anything else is
    handed on as it stands."""
    if re.fullmatch(r"\d{1,3}(,\d{3})+", cell):
        return cell.replace(",", "")
    number = classes.strokes(cell)
    return str(number) if number is not None else cell
