"""An office's own price list and what it found out of the law, as forms: written, checked as the program reads them,
then put in their place."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

from overwood.ground.errors import BadRule
from overwood.judgement import prices as price_lists
from overwood.judgement.fire import card
from overwood.judgement.fire.card import Law
from overwood.judgement.prices import PriceList
from overwood.judgement.rules import toml_file

# One line of a form, by column, as it was typed; and the lines of a form by their number on it.
Row = Mapping[str, str]
Rows = Mapping[int, Row]
PRICE_COLUMNS = ("product", "species", "grade", "low", "mean", "high", "unit", "note")
SHARE_COLUMNS = ("code", "work", "rate_usd_ac", "acres", "note")
CLOSED_COLUMNS = ("from", "to", "first_hour", "last_hour", "why")
_PRICE_TEXTS = ("date", "source", "log_rule", "note")
LAW_TEXTS = ("filled_by", "filled_on", "asked", "permit")
# A line that reads, to look at the head of a list alone.
_ANY_PRICE = {"product": "sawlog", "species": "other", "low": "0", "mean": "0", "high": "0", "unit": "US$/MBF"}
_MAY_BE_BLANK = frozenset({"grade", "acres", "note", "why"})
_Made = TypeVar("_Made")


@dataclass(frozen=True, kw_only=True)
class PriceForm:
    """A price list as it is typed: its head, its lines, its costs by name, its cost shares."""

    head: Row
    lines: Rows
    costs: Row
    shares: Rows


@dataclass(frozen=True, kw_only=True)
class LawForm:
    """What was found out of the law, as it is typed."""

    head: Row
    closed: Rows


def price_form(listed: PriceList | None) -> PriceForm:
    """A price list as the form shows it; an empty form without one."""
    if listed is None:
        return PriceForm(head={}, lines={}, costs={}, shares={})
    head = {name: str(getattr(listed, name)) for name in _PRICE_TEXTS}
    head |= {"tons_per_mbf": _shown(listed.tons_per_mbf), "weight_source": listed.weight_source}
    return PriceForm(
        head=head,
        lines=_numbered(
            {column: _shown(getattr(price, column)) for column in PRICE_COLUMNS} for price in listed.prices
        ),
        costs={name: _shown(cost) for name, cost in listed.costs.items()},
        shares=_numbered(
            {column: _shown(getattr(share, column)) for column in SHARE_COLUMNS} for share in listed.cost_shares
        ),
    )


def law_form(law: Law) -> LawForm:
    """What was found out of the law as the form shows it."""
    closed = ((one.first, one.last, one.first_hour, one.last_hour, one.why) for one in law.closed)
    return LawForm(
        head={name: getattr(law, name) for name in LAW_TEXTS},
        closed=_numbered(dict(zip(CLOSED_COLUMNS, map(_shown, values), strict=True)) for values in closed),
    )


def keep_prices(path: Path, form: PriceForm) -> PriceList:
    """Write the typed price list in place of the one that is there. Raises BadRule with the field of the form that
    cannot be taken; nothing is changed then."""
    head = {name: form.head.get(name, "") for name in _PRICE_TEXTS}
    weight = {"tons_per_mbf": form.head.get("tons_per_mbf", ""), "source": form.head.get("weight_source", "")}
    top = _lines(head, text=tuple(head)) + (
        ["", "[weight]", *_lines(weight, text=("source",))] if any(weight.values()) else []
    )
    costs = {name: value for name, value in form.costs.items() if value}
    tail = (["", "[cost]", *_lines(costs)] if costs else []) + _blocks(
        "cost_share", form.shares.values(), ("code", "work", "note")
    )
    text = ("product", "species", "grade", "unit", "note")
    _check([*top, *_blocks("price", [_ANY_PRICE], text)], price_lists.load, "", "")
    for number, row in form.lines.items():
        _check(
            [*top, *_blocks("price", [row], text)],
            price_lists.load,
            f"price.{number}.product",
            f"Price line {number}: ",
        )
    return send_in(path, _content([*top, *_blocks("price", form.lines.values(), text), *tail]), price_lists.load)


def keep_law(path: Path, form: LawForm) -> Law:
    """Write what was typed of the law in place of what is there. Raises BadRule with the field of the form that cannot
    be taken; nothing is changed then."""
    top = _lines(form.head, text=LAW_TEXTS)
    for number, row in form.closed.items():
        _check(
            _blocks("closed", [row], ("from", "to", "why")),
            card.load_law,
            f"closed.{number}.from",
            f"Line {number} of closed hours: ",
        )
    closed = _blocks("closed", form.closed.values(), ("from", "to", "why"))
    return send_in(path, _content([*top, *closed]), card.load_law)


def send_in(path: Path, content: bytes, load: Callable[[Path], _Made]) -> _Made:
    """Write a list beside, check as the program will read it, keep the one before under its own name, and put the new
    one in its place."""
    path.parent.mkdir(parents=True, exist_ok=True)
    beside = path.with_name(f".{path.name}.new")
    beside.write_bytes(content)
    try:
        made = load(beside)
        if path.exists():
            shutil.copy2(path, path.with_name(f"{path.stem}.before{path.suffix}"))
        os.replace(beside, path)
    except BadRule as fault:
        raise BadRule(_without_place(fault, beside), remedy=fault.remedy, field=fault.field) from None
    finally:
        beside.unlink(missing_ok=True)
    return made


def _numbered(rows: Iterable[Row]) -> Rows:
    return dict(enumerate(rows, start=1))


def _shown(value: Any) -> str:
    return "" if value is None else f"{value:.15g}" if isinstance(value, float) else str(value)


def _lines(values: Row, text: tuple[str, ...] = ()) -> list[str]:
    """Entries of a table; what is no number is written as text, so that the reader can refuse it by name."""
    written = {name: toml_file.as_text if name in text else toml_file.number_or_text for name in values}
    return [f"{name} = {written[name](value)}" for name, value in values.items()]


def _blocks(name: str, rows: Iterable[Row], text: tuple[str, ...]) -> list[str]:
    """One block a row; a blank that may be is left out."""
    lines = []
    for row in rows:
        lines += [
            "",
            f"[[{name}]]",
            *_lines({key: value for key, value in row.items() if value or key not in _MAY_BE_BLANK}, text),
        ]
    return lines


def _content(lines: list[str]) -> bytes:
    return ("\n".join(lines) + "\n").encode()


def _check(lines: list[str], load: Callable[[Path], Any], field: str, head: str) -> None:
    """Read a part alone, so that a fault is at its own line of the form."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "part.toml"
        path.write_bytes(_content(lines))
        try:
            load(path)
        except BadRule as fault:
            raise BadRule(head + _without_place(fault, path), remedy=fault.remedy, field=field) from None


def _without_place(fault: BadRule, path: Path) -> str:
    """What a fault says without name and line of a file that nobody knows."""
    said = str(fault.args[0])
    return said.partition(": ")[2] or said.removeprefix(path.name).strip() if said.startswith(path.name) else said
