"""The user's own price list and costs: a TOML file with its date, source and log rule, checked line by line."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from overwood.ground import plausible
from overwood.ground import species as species_room
from overwood.ground.errors import BadRule
from overwood.ground.vocabulary import QUALITIES, TREE_GRADES
from overwood.judgement.rules import toml_file
from overwood.science.timber import BOARD_RULES

UNITS = ("US$/MBF", "US$/ton", "US$/cord")
# Units each product may be priced in. Logs by the ton need a stated weight; pulpwood and firewood carry both of theirs.
_LOGS, _STACKS = ("US$/MBF", "US$/ton"), ("US$/ton", "US$/cord")
PRODUCT_UNITS = {"veneer": _LOGS, "stave": _LOGS, "sawlog": _LOGS, "pulpwood": _STACKS, "firewood": _STACKS}
_WEIGHTS = (
    "published are 8 (Arkansas) and 9 (Texas) green tons for hardwood logs by Doyle; the true weight turns on "
    "log size and rule"
)
COSTS = (
    "injection",
    "burn",
    "marking",
    "cruise",
    "count",
    "weeding",
    "planting_per_tree",
    "fence_per_ft",
    "road_each",
    "sale_fee_share",
    "mobilisation_each",
)
SHARED_WORK = ("injection", "burn", "weeding")
SHARES = ("sale_fee_share",)
_GROUPS = ("other", "hickory", "white oaks", "red oaks")
_TOP = ("date", "source", "log_rule", "price", "cost", "cost_share", "weight", "note")
_OF_PRICE = ("product", "species", "low", "mean", "high", "unit")
_OF_COST_SHARE = ("code", "work", "rate_usd_ac", "acres", "note")
_PRODUCTS = tuple(quality for quality in QUALITIES if quality != "cull")


@dataclass(frozen=True)
class Price:
    """One line of the list."""

    product: str
    species: str
    low: float
    mean: float
    high: float
    unit: str
    grade: str = ""
    note: str = ""


@dataclass(frozen=True)
class CostShare:
    """One cost-share practice of the user's own table."""

    code: str
    work: str
    rate_usd_ac: float
    acres: float | None = None
    note: str = ""

    def on(self, area_ac: float) -> float:
        """US$ an acre of a stand of so many acres: the practice may cover a part of them."""
        return self.rate_usd_ac * (1.0 if self.acres is None else min(self.acres / area_ac, 1.0))


# Works that somebody must come for: each pays its part of the cost of coming at all.
_COMES_FOR = ("injection", "burn", "weeding")


@dataclass(frozen=True)
class PriceList:
    """Prices and costs of one day and place."""

    date: dt.date
    source: str
    log_rule: str
    prices: tuple[Price, ...]
    costs: dict[str, float] = field(default_factory=dict)
    cost_shares: tuple[CostShare, ...] = ()
    tons_per_mbf: float | None = None
    weight_source: str = ""
    note: str = ""

    def cost(self, name: str, area_ac: float) -> float:
        """Cost of a work by its own unit, with the cost of coming at all spread over the acres of the stand."""
        rate = self.costs.get(name, 0.0)
        comes = self.costs.get("mobilisation_each", 0.0) / area_ac if name in _COMES_FOR and rate else 0.0
        return rate + comes

    def find(self, product: str, spcd: int, grade: str) -> tuple[Price | None, str]:
        """The line for a log, and what stands in where it has none of its own: the species, its kind, then other."""
        lines = [price for price in self.prices if price.product == product]
        names = _names(spcd)
        for wanted in (*names, "other"):
            for exact in (grade, ""):
                for price in lines:
                    if species_room.normal(price.species) == species_room.normal(wanted) and price.grade == exact:
                        return price, "" if wanted == names[0] else f"priced as {wanted}"
        return None, "no price"


def unit_refused(product: str, unit: str, where: str = "the price list") -> BadRule:
    """The fault for a price whose unit the product is not sold in."""
    return BadRule(
        f"{where}: the price of {product} is in {unit}; expected {' or '.join(PRODUCT_UNITS.get(product, UNITS))}.",
        remedy="Give the price in the unit the product is measured in.",
    )


def _weight(file: toml_file.TomlFile) -> tuple[float | None, str]:
    """Tons of a thousand board feet as the list states them, with where they come from."""
    plain = file.plain.get("weight")
    if not plain:
        return None, ""
    tons, source = (plain.get(key) for key in ("tons_per_mbf", "source")) if isinstance(plain, dict) else (None, None)
    least, most = plausible.span("prices", "tons_per_mbf")
    if isinstance(tons, bool) or not isinstance(tons, int | float) or not least <= tons <= most:
        raise BadRule(
            f"{file.where('weight')}: [weight] tons_per_mbf is {tons!r}.",
            remedy=f"A number from {least:g} to {most:g}; {_WEIGHTS}.",
        )
    if not source:
        raise BadRule(f"{file.where('weight')}: [weight] names no source.", remedy="Write where the weight comes from.")
    return float(tons), str(source)


def _check_weights(prices: list[Price], tons_per_mbf: float | None, name: str) -> None:
    by_ton = sorted(
        {price.product for price in prices if price.unit == "US$/ton" and "US$/MBF" in PRODUCT_UNITS[price.product]}
    )
    if by_ton and tons_per_mbf is None:
        raise BadRule(
            f"{name}: {', '.join(by_ton)} is priced in US$/ton, but logs are measured in board feet; "
            "expected US$/MBF, or a stated weight.",
            remedy=f'Price it in US$/MBF, or add [weight] with tons_per_mbf = ... and source = "..."; {_WEIGHTS}.',
        )


def _names(spcd: int) -> tuple[str, ...]:
    entry = species_room.by_code(spcd)
    kind = "hickory" if entry.is_hickory else f"{entry.oak_group} oaks" if entry.oak_group else ""
    return tuple(name for name in (entry.common_name, kind) if name)


def load(path: Path) -> PriceList:
    """Read a price list. Raises BadRule naming the entry and the line."""
    file = toml_file.read(path, what="price list")
    file.known_keys(file.plain, _TOP)
    prices = [_price(file, number, entry) for number, entry in enumerate(file.tables("price"))]
    if not prices:
        raise BadRule(f"{file.name} holds no [[price]].", remedy="Give product, species, low, mean, high and unit.")
    _no_line_twice(file, prices)
    rule = file.plain.get("log_rule", "")
    if rule not in BOARD_RULES:
        raise BadRule(
            f"{file.where('log_rule')}: log_rule is {rule!r}.", remedy=f"Use one of {', '.join(BOARD_RULES)}."
        )
    if not file.plain.get("source"):
        raise BadRule(f"{file.name} names no source.", remedy="Write where the prices come from.")
    tons, weight_source = _weight(file)
    _check_weights(prices, tons, file.name)
    shares = tuple(_cost_share(file, number, entry) for number, entry in enumerate(file.tables("cost_share")))
    source, note = (str(file.plain.get(key, "")) for key in ("source", "note"))
    return PriceList(_date(file), source, rule, tuple(prices), _costs(file), shares, tons, weight_source, note)


def _amount(file: toml_file.TomlFile, value: Any, *path: str | int, most: float = math.inf) -> float:
    """A finite number of 0 or more, at most ``most``."""
    number = not isinstance(value, bool) and isinstance(value, int | float)
    if not number or not math.isfinite(value) or not 0 <= value <= most:
        limit = "a number of 0 or more" if math.isinf(most) else f"a share from 0 to {most:g}"
        raise BadRule(
            f"{file.where(*path)}: the {'cost ' if path[0] == 'cost' else ''}{path[-1]} is {value!r}.",
            remedy=f"Give {limit}.",
        )
    return float(value)


def _date(file: toml_file.TomlFile) -> dt.date:
    value = file.plain.get("date")
    try:
        if isinstance(value, dt.datetime):
            return value.date()
        return value if isinstance(value, dt.date) else dt.date.fromisoformat(str(value))
    except ValueError as fault:
        remedy = "Write it as 2025-09-01; a price without its date is none."
        raise BadRule(f"{file.where('date')}: date is {value!r}.", remedy=remedy) from fault


def _price(file: toml_file.TomlFile, number: int, entry: dict[str, Any]) -> Price:
    here = ("price", number)
    for key in _OF_PRICE:
        if key not in entry:
            raise BadRule(f"{file.where(*here)}: a price has no {key}.", remedy=f"A price has {', '.join(_OF_PRICE)}.")
    file.known_keys(entry, (*_OF_PRICE, "grade", "note"), *here)
    for key, allowed in (("product", _PRODUCTS), ("unit", UNITS), ("grade", ("", *TREE_GRADES))):
        if str(entry.get(key, "")) not in allowed:
            remedy = f"Use one of {', '.join(word for word in allowed if word)}."
            raise BadRule(f"{file.where(*here, key)}: {key} is {entry[key]!r}.", remedy=remedy)
    if entry["unit"] not in PRODUCT_UNITS[entry["product"]]:
        raise unit_refused(str(entry["product"]), str(entry["unit"]), file.where(*here, "unit"))
    low, mean, high = (_amount(file, entry[key], *here, key) for key in ("low", "mean", "high"))
    if not low <= mean <= high:
        what = f"{file.where(*here)}: low {low:g}, mean {mean:g} and high {high:g} are not in order."
        raise BadRule(what, remedy="0 <= low <= mean <= high.")
    species = _species(file, str(entry["species"]), number)
    grade, note = (str(entry.get(key, "")) for key in ("grade", "note"))
    return Price(str(entry["product"]), species, low, mean, high, str(entry["unit"]), grade, note)


def _species(file: toml_file.TomlFile, written: str, number: int) -> str:
    """A group as it is written, a species by its common name."""
    if written in _GROUPS:
        return written
    known = species_room.match(written)
    if known.spcd is None:
        hint = f"The nearest is {known.nearest!r}." if known.nearest else f"Groups: {', '.join(_GROUPS)}."
        raise BadRule(f"{file.where('price', number, 'species')}: species is {written!r}.", remedy=hint)
    return species_room.by_code(known.spcd).common_name


def _no_line_twice(file: toml_file.TomlFile, prices: list[Price]) -> None:
    """Two prices for one thing have two answers."""
    first: dict[tuple[str, str, str], int] = {}
    for number, price in enumerate(prices):
        key = (price.product, price.species, price.grade)
        if key in first:
            words = " ".join(word for word in key if word)
            what = (
                f"{file.where('price', number)}: a price for {words} stands in line "
                f"{file.line_of('price', first[key])} already."
            )
            raise BadRule(what, remedy="Keep one of them.")
        first[key] = number


def _costs(file: toml_file.TomlFile) -> dict[str, float]:
    plain = file.plain.get("cost", {})
    if not isinstance(plain, dict):
        raise BadRule(f"{file.where('cost')}: cost is no table.", remedy="Head the costs with [cost].")
    for key in plain:
        if key not in COSTS:
            raise BadRule(f"{file.where('cost', key)}: there is no cost {key!r}.", remedy=f"Known: {', '.join(COSTS)}.")
    return {
        key: _amount(file, value, "cost", key, most=1.0 if key in SHARES else math.inf) for key, value in plain.items()
    }


def _cost_share(file: toml_file.TomlFile, number: int, entry: dict[str, Any]) -> CostShare:
    here = ("cost_share", number)
    file.known_keys(entry, _OF_COST_SHARE, *here)
    if entry.get("work") not in SHARED_WORK:
        remedy = f"Use one of {', '.join(SHARED_WORK)}."
        raise BadRule(f"{file.where(*here, 'work')}: a cost_share is for {entry.get('work')!r}.", remedy=remedy)
    if "rate_usd_ac" not in entry:
        raise BadRule(
            f"{file.where(*here)}: cost_share {entry.get('code')!r} has no rate_usd_ac.", remedy="Give US$ an acre."
        )
    rate = _amount(file, entry["rate_usd_ac"], *here, "rate_usd_ac")
    acres = _amount(file, entry["acres"], *here, "acres") if "acres" in entry else None
    return CostShare(str(entry.get("code", "")), str(entry["work"]), rate, acres, str(entry.get("note", "")))
