"""The rulebook (thresholds of advice), the assumptions (parameters nobody published) and the limits of plausibility
that an import asks by, with an office's overlay.

Nothing of this kind is written inside code. An overlay changes values; every change is checked against the entry's
range and printed as a difference from the defaults.
"""

from __future__ import annotations

import functools
import hashlib
import json
import math
import re
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any

from overwood.ground import measures, plausible, tables
from overwood.ground.copies import with_fields
from overwood.ground.errors import BadRule
from overwood.ground.sources import all_sources
from overwood.ground.tables import STATUSES
from overwood.judgement.rules import toml_file

_FOLDER = Path(__file__).resolve().parent
_BOOKS = ("rulebook", "assumptions")
# Entries that decide what an import asks, and no answer about a stand.
LIMITS = "plausible"
_NEEDED = ("value", "unit", "status", "source", "note")


@dataclass(frozen=True, kw_only=True)
class Rule:
    """One threshold or parameter."""

    name: str
    book: str
    value: Any
    unit: str
    status: str
    source: str
    note: str
    low: float | None = None
    high: float | None = None
    # The note with its quantities marked, as the book has it: {3 ft}.
    marked_note: str = field(default="", metadata={"inner": True})
    # Where in the source a published value was read: table, page, abstract, or a summary of it.
    place: str = ""
    # What a limit is of, in a few words for a sentence: 'oaks of {3 ft} wanted'.
    short: str = ""

    @property
    def number(self) -> float:
        return float(self.value)

    @property
    def span(self) -> tuple[float, float, float]:
        """Low, value and high; an end that is not given is the value."""
        return (
            (self.number if self.low is None else self.low),
            self.number,
            (self.number if self.high is None else self.high),
        )

    @property
    def words(self) -> str:
        """The note in the system of units in force."""
        return measures.prose(self.marked_note or self.note)

    @property
    def is_share(self) -> bool:
        """Whether its values are shares of one, told as percents."""
        return self.unit.startswith("share")

    def said(self, value: float) -> str:
        """A value of the rule in words: '50 stems/ac', or '60%' where it is a share."""
        return f"{value:.0%}" if self.is_share else measures.amount(value, self.unit, "g")

    @property
    def window(self) -> tuple[str, str]:
        first, last = self.value
        return str(first), str(last)


@dataclass(frozen=True)
class Difference:
    """One entry an office changed."""

    name: str
    default: Any
    office: Any
    note: str


@dataclass(frozen=True)
class Rules:
    """Both books together, with the version that a decision records."""

    entries: dict[str, Rule]
    version: str
    differences: tuple[Difference, ...] = ()

    def __getitem__(self, name: str) -> Rule:
        return self.entries[name]

    def number(self, name: str) -> float:
        return self.entries[name].number

    @property
    def own_limits(self) -> dict[str, float]:
        """The limits of plausibility that the office changed."""
        return {one.name: float(one.office) for one in self.differences if self.entries[one.name].book == LIMITS}

    def with_value(self, name: str, value: Any) -> Rules:
        """The same rules with one entry changed, for trying what would change the answer."""
        return self.with_values({name: value})

    def with_values(self, values: Mapping[str, Any]) -> Rules:
        """The same rules with some entries changed."""
        tried = {name: with_fields(self.entries[name], value=value) for name, value in values.items()}
        return with_fields(self, entries=self.entries | tried, version=f"{self.version}+tried")


@functools.cache
def defaults() -> Rules:
    """The books as the program ships them."""
    entries, versions = {}, []
    for book in _BOOKS:
        regional = tables.region_file(f"judgement/rules/{book}.toml")
        for path in (_FOLDER / f"{book}.toml", *([regional] if regional else [])):
            file = toml_file.read(path, what="rulebook")
            versions.append(str(file.plain["version"]))
            for name, fields in file.plain.items():
                if name != "version":
                    entries[name] = _checked(name, book, fields, functools.partial(file.where, name))
    return Rules(entries | _limits(), "/".join(dict.fromkeys(versions)))


def _limits() -> dict[str, Rule]:
    """The limits beyond which an import asks or doubts, as entries; one without a range has none."""
    return {
        row["name"]: Rule(
            name=row["name"], book=LIMITS, value=float(row["value"]), unit=row["unit"], status=row["status"],
            source=row["source"],
            note=measures.in_us(row["note"]), marked_note=row["note"], low=float(row["low"]) if row["low"] else None,
            high=float(row["high"]) if row["high"] else None,
        )
        for row in tables.rows(plausible.TABLE)
    }  # fmt: skip


def _checked(name: str, book: str, fields: dict[str, Any], where: Callable[[], str]) -> Rule:
    missing = [key for key in _NEEDED if key not in fields]
    if missing:
        raise BadRule(f"{where()}: entry {name!r} has no {missing[0]}.")
    if fields["status"] not in STATUSES:
        raise BadRule(
            f"{where()}: entry {name!r} has status {fields['status']!r}.", remedy=f"Use {', '.join(STATUSES)}."
        )
    if fields["source"] not in all_sources():
        raise BadRule(f"{where()}: entry {name!r} names the unknown source {fields['source']!r}.")
    rule = Rule(
        name=name,
        book=book,
        **{key: fields[key] for key in (*_NEEDED, "low", "high", "place", "short") if key in fields},
    )
    rule = replace(rule, note=measures.in_us(rule.note), marked_note=rule.note)
    _check_value(rule, where)
    return rule


def _check_value(rule: Rule, where: Callable[[], str]) -> None:
    if isinstance(rule.value, list):
        if len(rule.value) != 2 or not all(_is_month_day(str(day)) for day in rule.value):
            raise BadRule(f"{where()}: {rule.name!r} is {rule.value}; expected two days as month-day, such as 10-01.")
        return
    if isinstance(rule.value, bool) or not isinstance(rule.value, int | float) or not math.isfinite(rule.value):
        raise BadRule(f"{where()}: {rule.name!r} is {rule.value!r}; expected a number.")
    low = rule.low if rule.low is not None else float("-inf")
    high = rule.high if rule.high is not None else float("inf")
    if not low <= rule.value <= high:
        value, least, most = (measures.limit(number, rule.unit) for number in (rule.value, low, high))
        expected = measures.with_unit(f"{least} to {most}", measures.unit_word(rule.unit))
        raise BadRule(f"{where()}: {rule.name!r} is {value}; expected {expected}.")


def _is_month_day(text: str) -> bool:
    match = re.fullmatch(r"(\d{2})-(\d{2})", text)
    return match is not None and 1 <= int(match[1]) <= 12 and 1 <= int(match[2]) <= 31


def load(overlay: Path | None = None) -> Rules:
    """The rules in force: the defaults, or an office's overlay of them. Raises BadRule naming the entry and the line of
    the overlay."""
    base = defaults()
    if overlay is None:
        return base
    file = toml_file.read(overlay, what="overlay")
    plain = dict(file.plain)
    office = str(plain.pop("office", overlay.stem))
    entries, differences = dict(base.entries), []
    for name, fields in plain.items():
        where = functools.partial(file.where, name)
        entries[name] = _overlaid(name, fields, base, where)
        if entries[name].value != base[name].value:
            note = str(fields.get("note", ""))
            differences.append(Difference(name, base[name].value, entries[name].value, note))
    judging = [asdict(d) for d in differences if base[d.name].book != LIMITS]
    mark = hashlib.sha256(json.dumps(judging, sort_keys=True).encode()).hexdigest()[:8]
    version = f"{base.version}+{office}.{mark}" if judging else base.version
    return Rules(entries, version, tuple(differences))


def _overlaid(name: str, fields: Any, base: Rules, where: Callable[[], str]) -> Rule:
    if name not in base.entries:
        import difflib

        near = difflib.get_close_matches(name, base.entries, n=1)
        hint = f"The nearest is {near[0]!r}." if near else "See `overwood rules`."
        raise BadRule(f"{where()}: there is no entry {name!r}.", remedy=hint)
    if not isinstance(fields, dict) or "value" not in fields:
        raise BadRule(f"{where()}: entry {name!r} has no value.", remedy="Write it as [name] and value = ... below.")
    unknown = set(fields) - {"value", "note", "source"}
    if unknown:
        raise BadRule(
            f"{where()}: entry {name!r} has {sorted(unknown)[0]!r}.", remedy="An overlay sets value and note."
        )
    rule = replace(
        base[name],
        value=fields["value"],
        note=str(fields.get("note", base[name].note)),
        marked_note=str(fields.get("note", base[name].marked_note)),
    )
    _check_value(rule, where)
    return rule
