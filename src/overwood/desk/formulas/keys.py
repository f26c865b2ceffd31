"""What an input of a formula may be, and how it is read from text."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, ClassVar

from overwood.ground import measures, species
from overwood.ground.errors import Misuse
from overwood.judgement.rules import load

Values = dict[str, Any]
Wrong = Callable[[str], Misuse]
_WORDS = {
    "number": "a number",
    "whole": "a whole number",
    "list": "numbers separated by commas",
    "species": "a species by FIA code, PLANTS symbol or common name",
    "share or yes": "yes, no, or a share",
    "date": "a day as year-month-day",
    "text": "the name of a csv file",
    "text name": "a fuel model such as FM9 or TL6",
    "aspect": "a compass direction such as NE, or degrees",
}


@dataclass(frozen=True, kw_only=True)
class Key:
    """One input of a formula: what it is, its unit, and the values it may take."""

    kind: str
    unit: str = ""
    low: float | None = None
    high: float | None = None
    above: float | None = None
    optional: bool = False
    default: Any = None
    choices: tuple[str, ...] = ()

    @property
    def domain(self) -> str:
        """The allowed values in words."""
        if self.choices:
            return "one of " + ", ".join(self.choices)
        words = _WORDS[self.kind]
        if self.above is not None:
            words += f" above {self._said(self.above)}"
        if self.low is not None:
            words += f" from {self._said(self.low)}"
        if self.high is not None:
            words += f" to {self._said(self.high)}" if self.low is not None else f", at most {self._said(self.high)}"
        return measures.with_unit(words, measures.unit_word(self.unit))

    def _said(self, end: float) -> str:
        return measures.digits(end, self.unit, "g")


@dataclass(frozen=True, kw_only=True)
class Formula:
    """One row of the desk."""

    name: str
    about: str
    keys: dict[str, Key] = field(metadata={"inner": True})
    units: dict[str, str]
    equation: str
    sources: tuple[str, ...]
    status: str
    compute: Callable[..., Values] = field(metadata={"inner": True})
    notes: Callable[..., list[str]] = field(metadata={"inner": True})
    DERIVED: ClassVar = ("inputs",)

    @property
    def inputs(self) -> dict[str, str]:
        """What may be given for each key, in words."""
        return {key: spec.domain + ("; may be left out" if spec.optional else "") for key, spec in self.keys.items()}


def formula(
    name: str, row: dict[str, Any], compute: Callable[..., Values], notes: Callable[..., list[str]] | None
) -> Formula:
    """A formula by its row of a room's TOML file; a note that the row has is said whatever is given."""
    keys = {
        key: Key(**{"kind": "number", **spec, "choices": tuple(spec.get("choices", ()))})
        for key, spec in row["keys"].items()
    }
    said: list[str] = row.get("notes", [])
    return Formula(
        name=name, about=row["about"], keys=keys, units=row["units"], equation=row["equation"],
        sources=tuple(row["sources"]), status=row["status"], compute=compute, notes=notes or (lambda **_: said),
    )  # fmt: skip


@dataclass(frozen=True)
class Computed:
    """What a formula gives: its values with their units, what they were made of, and what they rest on."""

    name: str
    values: Values
    units: dict[str, str]
    inputs: Values
    equation: str
    sources: tuple[str, ...]
    status: str
    notes: tuple[str, ...]


def read(name: str, key: str, spec: Key, text: str) -> Any:
    """The value of a key from its text. Raises Misuse saying which key, what was expected, and the domain."""

    def wrong(why: str = "") -> Misuse:
        return Misuse(
            f"{name}: {key}={text}{f' {why}' if why else ''} cannot be taken.", remedy=f"Expected {spec.domain}."
        )

    if spec.kind == "species":
        return _species(name, text)
    if spec.kind == "share or yes" and text.lower() in ("yes", "no"):
        return _share(key, text.lower())
    return _READERS.get(spec.kind, _number)(text, spec, wrong)


def _species(name: str, text: str) -> int:
    try:
        return species.find(text).spcd
    except KeyError as fault:
        raise Misuse(f"{name}: {fault.args[0]}.") from fault


def _date(text: str, spec: Key, wrong: Wrong) -> dt.date:
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        raise wrong("") from None


def _choice(text: str, spec: Key, wrong: Wrong) -> str:
    if text.lower() not in spec.choices:
        raise wrong("")
    return text.lower()


def _list(text: str, spec: Key, wrong: Wrong) -> list[float]:
    return [_number(part, spec, wrong) for part in text.strip().strip("[]").split(",")]


def _whole(text: str, spec: Key, wrong: Wrong) -> int:
    value = _number(text, spec, wrong)
    if value != int(value):
        raise wrong("")
    return int(value)


def _share(key: str, word: str) -> float:
    """Of shade the word says what is left of sprouting; of all else, all or nothing."""
    if key != "shade":
        return 1.0 if word == "yes" else 0.0
    return load().number("sprout_shade_multiplier") if word == "yes" else 1.0


def _number(text: str, spec: Key, wrong: Wrong) -> float:
    return _checked(_float(text, wrong), spec, wrong)


def _float(text: str, wrong: Wrong) -> float:
    try:
        value = float(text)
    except ValueError:
        raise wrong("") from None
    if not math.isfinite(value):
        raise wrong("is not a finite number and")
    return value


def _checked(value: float, spec: Key, wrong: Wrong) -> float:
    outside = (
        (spec.low is not None and value < spec.low)
        or (spec.high is not None and value > spec.high)
        or (spec.above is not None and value <= spec.above)
    )
    if outside:
        raise wrong("is outside the domain and")
    return value


_COMPASS = ("N", "NE", "E", "SE", "S", "SW", "W", "NW")


def _degrees(text: str, spec: Key, wrong: Wrong) -> float:
    if text.upper() in _COMPASS:
        return 45.0 * _COMPASS.index(text.upper())
    try:
        value = float(text)
    except ValueError as fault:
        raise wrong("") from fault
    if not 0 <= value <= 360:
        raise wrong("")
    return value


_READERS: dict[str, Callable[[str, Key, Wrong], Any]] = {
    "text": lambda text, spec, wrong: text,
    "text name": lambda text, spec, wrong: text,
    "aspect": _degrees,
    "date": _date,
    "choice": _choice,
    "list": _list,
    "whole": _whole,
}


def same_length(**lists: list[float]) -> None:
    """Raise Misuse where lists that belong together differ in length."""
    if len({len(values) for values in lists.values()}) > 1:
        sizes = ", ".join(f"{name} has {len(values)}" for name, values in lists.items())
        raise Misuse(f"the lists differ in length: {sizes}.", remedy="Give one value of each for every class.")


def stand_in(spcd: int, table: str) -> list[str]:
    """A note where a table has no row of a species and that of another serves."""
    used = species.serving(table, spcd)
    names = [species.by_code(code).common_name for code in (spcd, used)]
    return [] if used == spcd else [f"nothing of its own for {names[0]}: {names[1]} stands in"]
