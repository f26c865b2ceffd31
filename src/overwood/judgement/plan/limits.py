"""The owner's limits of a plan, from plan.toml or a form: checked entry by entry, with the line where one is wrong."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from overwood.ground.errors import BadRule
from overwood.ground.nearest import nearest
from overwood.judgement.rules import Rules, toml_file
from overwood.judgement.rules.toml_file import TomlFile

FEWEST_YEARS, MOST_YEARS, USUAL_YEARS = 5, 20, 10
_KNOWN = ("years", "crew", "burn", "money", "openings", "old", "begin_together", "pin", "leave_alone")
_KEYS = {
    "crew": ("days_a_year",),
    "burn": ("days_a_year",),
    "money": ("spend_usd_a_year", "value_at_least_usd"),
    "openings": ("apart_yr", "largest_ac", "chance", "touching_ft", "neighbors"),
    "old": ("share", "age_yr"),
}

# An empty file of limits to fill in; it is a form, read as it lies.
TEMPLATE = Path(__file__).with_name("limits.toml").read_text(encoding="utf-8")


@dataclass(frozen=True, kw_only=True)
class Pin:
    """What is settled for a stand: a course ("" for any), the calendar year it begins in (None for any)."""

    stand: str
    course: str = ""
    begin: int | None = None

    @property
    def words(self) -> str:
        parts = [f"course {self.course!r}"] if self.course else []
        return f"{self.stand}: " + " ".join([*parts, *([f"begins {self.begin}"] if self.begin is not None else [])])


@dataclass(frozen=True, kw_only=True)
class Limits:
    """What binds a plan. A tuple of days or money has one entry a year; an empty one does not bind."""

    years: int = USUAL_YEARS
    crew_days: tuple[float, ...] = ()
    burn_days: tuple[float, ...] = ()
    spend_usd: tuple[float, ...] = ()
    value_at_least_usd: float | None = None
    apart_yr: int = 0
    largest_ac: float = 0
    opening_chance: float = 0
    touching_ft: float = 0
    neighbors: tuple[tuple[str, str], ...] = ()
    old_share: float = 0
    old_age_yr: float = 0
    begin_together: tuple[tuple[str, ...], ...] = ()
    pins: tuple[Pin, ...] = ()
    left_alone: tuple[str, ...] = ()

    @property
    def needs_prices(self) -> bool:
        return bool(self.spend_usd) or self.value_at_least_usd is not None

    def stands(self) -> tuple[str, ...]:
        """Every stand a limit names."""
        named = [*self.left_alone, *(pin.stand for pin in self.pins)]
        named += [stand for group in (*self.begin_together, *self.neighbors) for stand in group]
        return tuple(dict.fromkeys(named))


def load(path: Path | None, rules: Rules, *, years: int | None = None) -> Limits:
    """The limits of a file; without one nothing binds. ``years`` goes before those of the file; what it leaves open is
    the rules'. Raises BadRule with file and line of the entry that cannot be used."""
    file = TomlFile("plan.toml", "", {}) if path is None else toml_file.read(path, what="plan file")
    return _limits(file if years is None else TomlFile(file.name, file.text, {**file.plain, "years": years}), rules)


def parse(text: str, rules: Rules, name: str = "plan.toml") -> Limits:
    """The limits of a text, as a form sends it. Raises BadRule with the line of the entry that cannot be used."""
    try:
        return _limits(TomlFile(name, text, tomllib.loads(text)), rules)
    except tomllib.TOMLDecodeError as fault:
        raise BadRule(f"{name} is not readable TOML: {fault}.", remedy="Mend that line.") from fault


def _limits(file: TomlFile, rules: Rules) -> Limits:
    file.known_keys(file.plain, _KNOWN)
    for name, known in _KEYS.items():
        file.known_keys(_table(file, name), known, name)
    years = int(_number(file, file.plain.get("years", USUAL_YEARS), ("years",), FEWEST_YEARS, MOST_YEARS))
    openings, old = _table(file, "openings"), _table(file, "old")
    return Limits(
        years=years,
        crew_days=_by_year(file, years, "crew", "days_a_year", 10_000),
        burn_days=_by_year(file, years, "burn", "days_a_year", 366),
        spend_usd=_by_year(file, years, "money", "spend_usd_a_year", 1e9),
        value_at_least_usd=_optional(file, "money", "value_at_least_usd", -1e9, 1e9),
        apart_yr=int(_number(file, openings.get("apart_yr", 0), ("openings", "apart_yr"), 0, MOST_YEARS)),
        largest_ac=_largest_ac(file, openings),
        opening_chance=_number(
            file, openings.get("chance", rules.number("plan_opening_chance")), ("openings", "chance"), 0, 1
        ),
        touching_ft=_number(
            file, openings.get("touching_ft", rules.number("plan_touching_ft")), ("openings", "touching_ft"), 0, 2_000
        ),
        neighbors=tuple(_pair(file, pair, number) for number, pair in enumerate(openings.get("neighbors", []))),
        old_share=_number(file, old.get("share", 0.0), ("old", "share"), 0, 1),
        old_age_yr=_number(file, old.get("age_yr", rules.number("mature_age_yr")), ("old", "age_yr"), 0, 400),
        begin_together=tuple(_group(file, entry, number) for number, entry in enumerate(file.tables("begin_together"))),
        pins=tuple(_pin(file, entry, number) for number, entry in enumerate(file.tables("pin"))),
        left_alone=_names(file, file.plain.get("leave_alone", []), ("leave_alone",)),
    )


def _largest_ac(file: TomlFile, openings: dict[str, Any]) -> float:
    """The largest opening, which needs the years within which stands that touch are one; 0 for none."""
    largest = _number(file, openings.get("largest_ac", 0), ("openings", "largest_ac"), 0, 100_000)
    if largest and not openings.get("apart_yr"):
        raise BadRule(
            f"{file.where('openings', 'largest_ac')}: the largest opening names no years.",
            remedy="Give apart_yr too: stands that touch and are opened within fewer years are one opening.",
        )
    return largest


def _table(file: TomlFile, name: str) -> dict[str, Any]:
    table = file.plain.get(name, {})
    if not isinstance(table, dict):
        raise BadRule(f"{file.where(name)}: {name} is no table.", remedy=f"Head it with [{name}].")
    return table


def _number(file: TomlFile, value: Any, path: tuple[str | int, ...], low: float, high: float) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
        raise BadRule(
            f"{file.where(*path)}: {path[-1]} is {value!r}.", remedy=f"Give a number from {low:g} to {high:g}."
        )
    return float(value)


def _optional(file: TomlFile, table: str, key: str, low: float, high: float) -> float | None:
    number = _table(file, table)
    return _number(file, number[key], (table, key), low, high) if key in number else None


def _by_year(file: TomlFile, years: int, table: str, key: str, most: float) -> tuple[float, ...]:
    """One number a year; the last of a shorter list goes on."""
    entries = _table(file, table)
    if key not in entries:
        return ()
    listed = entries[key] if isinstance(entries[key], list) else [entries[key]]
    if not listed or len(listed) > years:
        raise BadRule(
            f"{file.where(table, key)}: {key} has {len(listed)} entries.", remedy=f"Give one number, or up to {years}."
        )
    numbers = [_number(file, value, (table, key), 0, most) for value in listed]
    return tuple([*numbers, *[numbers[-1]] * (years - len(numbers))])


def _names(file: TomlFile, value: Any, path: tuple[str | int, ...]) -> tuple[str, ...]:
    if not isinstance(value, list) or not all(isinstance(name, str) and name for name in value):
        raise BadRule(f"{file.where(*path)}: {path[-1]} is no list of stands.", remedy='Write it as ["S1", "S2"].')
    return tuple(dict.fromkeys(value))


def _pair(file: TomlFile, pair: Any, number: int) -> tuple[str, str]:
    names = _names(file, pair, ("openings", "neighbors"))
    if len(names) != 2:
        raise BadRule(
            f"{file.where('openings', 'neighbors')}: pair {number + 1} of neighbors is {pair!r}.",
            remedy="Name two stands.",
        )
    return names[0], names[1]


def _group(file: TomlFile, entry: dict[str, Any], number: int) -> tuple[str, ...]:
    here = ("begin_together", number)
    file.known_keys(entry, ("stands",), *here)
    names = _names(file, entry.get("stands", []), (*here, "stands"))
    if len(names) < 2:
        raise BadRule(f"{file.where(*here)}: fewer than two stands begin together.", remedy="Name two or more.")
    return names


def _pin(file: TomlFile, entry: dict[str, Any], number: int) -> Pin:
    here = ("pin", number)
    file.known_keys(entry, ("stand", "course", "begin"), *here)
    stand, course, begin = entry.get("stand"), entry.get("course", ""), entry.get("begin")
    if not isinstance(stand, str) or not stand:
        raise BadRule(f"{file.where(*here)}: a pin names no stand.", remedy='Write stand = "S4".')
    if not isinstance(course, str) or (begin is not None and (isinstance(begin, bool) or not isinstance(begin, int))):
        raise BadRule(
            f"{file.where(*here)}: the pin of {stand} cannot be read.",
            remedy="Give a course's name, a calendar year, or both.",
        )
    if not course and begin is None:
        raise BadRule(
            f"{file.where(*here)}: the pin of {stand} settles nothing.",
            remedy="Give a course's name, a calendar year, or both.",
        )
    return Pin(stand=stand, course=course, begin=begin)


def check_stands(limits: Limits, known: Sequence[str]) -> None:
    """Refuse limits that name a stand the plan does not know, or that settle one stand twice. Raises BadRule naming the
    stand and the nearest one."""
    for name in limits.stands():
        if name not in known:
            near = nearest(name, known)
            hint = f"The nearest is {near!r}. " if near else ""
            raise BadRule(
                f"the plan file names {name!r}, which cannot be planned.", remedy=f"{hint}Planned: {', '.join(known)}."
            )
    settled = [*(pin.stand for pin in limits.pins), *limits.left_alone]
    twice = next((name for name in settled if settled.count(name) > 1), None)
    if twice:
        raise BadRule(f"the plan file settles {twice} twice.", remedy="Leave one pin, or leave the stand alone.")


def periods(years: int) -> tuple[tuple[int, int], ...]:
    """First and last year (from 0) of each period of a plan: single for six years, then two at a time."""
    single = [(year, year) for year in range(min(years, 6))]
    return (*single, *((year, min(year + 1, years - 1)) for year in range(6, years, 2)))


def over(amounts: Iterable[float], period: tuple[int, int]) -> float:
    """Sum of yearly amounts over a period."""
    return sum(list(amounts)[period[0] : period[1] + 1])
