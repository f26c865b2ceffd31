"""The user's own price list and costs: a TOML file with its date, source and log rule, checked line by line."""

from __future__ import annotations

import datetime as dt
import re
import tomllib
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from overwood.ground import species as species_room
from overwood.ground.errors import BadRule
from overwood.ground.records import QUALITIES
from overwood.science.timber import BOARD_RULES

UNITS = ("US$/MBF", "US$/ton", "US$/cord")
# Units each product may be priced in. Logs by the ton need a stated weight; pulpwood and firewood carry both of theirs.
_LOGS, _STACKS = ("US$/MBF", "US$/ton"), ("US$/ton", "US$/cord")
PRODUCT_UNITS = {"veneer": _LOGS, "stave": _LOGS, "sawlog": _LOGS, "pulpwood": _STACKS, "firewood": _STACKS}
_WEIGHTS = "published are 8 (Arkansas) and 9 (Texas) green tons for hardwood logs by Doyle; the true weight turns on log size and rule"
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
_LEAST_TONS, _MOST_TONS = 4, 20
SHARED_WORK = ("injection", "burn", "weeding")
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


@dataclass(frozen=True)
class CostShare:
    """One cost-share practice of the user's own table."""

    code: str
    work: str
    rate_usd_ac: float
    acres: float | None = None


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


def _weight(plain: Any, name: str) -> tuple[float | None, str]:
    """Tons of a thousand board feet as the list states them, with where they come from."""
    if not plain:
        return None, ""
    tons, source = (plain.get(key) for key in ("tons_per_mbf", "source")) if isinstance(plain, dict) else (None, None)
    if isinstance(tons, bool) or not isinstance(tons, int | float) or not _LEAST_TONS <= tons <= _MOST_TONS:
        raise BadRule(f"{name}: [weight] tons_per_mbf is {tons!r}.", remedy=f"A number from {_LEAST_TONS} to {_MOST_TONS}; {_WEIGHTS}.")
    if not source:
        raise BadRule(f"{name}: [weight] names no source.", remedy="Write where the weight comes from.")
    return float(tons), str(source)


def _check_weights(prices: list[Price], tons_per_mbf: float | None, name: str) -> None:
    by_ton = sorted({price.product for price in prices if price.unit == "US$/ton" and "US$/MBF" in PRODUCT_UNITS[price.product]})
    if by_ton and tons_per_mbf is None:
        raise BadRule(
            f"{name}: {', '.join(by_ton)} is priced in US$/ton, but logs are measured in board feet; expected US$/MBF, or a stated weight.",
            remedy=f'Price it in US$/MBF, or add [weight] with tons_per_mbf = ... and source = "..."; {_WEIGHTS}.',
        )


def _names(spcd: int) -> tuple[str, ...]:
    entry = species_room.by_code(spcd)
    kind = "hickory" if "hickory" in entry.common_name else f"{entry.oak_group} oaks" if entry.oak_group else ""
    return tuple(name for name in (entry.common_name, kind) if name)


def load(path: Path) -> PriceList:
    """Read a price list.

    Raises
    ------
    BadRule
        naming the entry and the line.
    """
    try:
        text = path.read_text(encoding="utf-8")
        plain = tomllib.loads(text)
    except OSError as fault:
        raise BadRule(f"the price list {path} cannot be read: {fault.strerror}.", remedy="See `overwood prices --help`.") from fault
    except tomllib.TOMLDecodeError as fault:
        raise BadRule(f"{path.name} is not readable TOML: {fault}.") from fault
    places = [text[: found.start()].count("\n") + 1 for found in re.finditer(r"^\[\[price\]\]", text, flags=re.MULTILINE)]
    prices = [_price(entry, f"{path.name} line {line}") for entry, line in zip(plain.get("price", []), places, strict=False)]
    if not prices:
        raise BadRule(f"{path.name} holds no [[price]].", remedy="Give product, species, low, mean, high and unit.")
    rule = str(plain.get("log_rule", ""))
    if rule not in BOARD_RULES:
        raise BadRule(f"{path.name}: log_rule is {rule!r}.", remedy=f"Use one of {', '.join(BOARD_RULES)}.")
    if not plain.get("source"):
        raise BadRule(f"{path.name} names no source.", remedy="Write where the prices come from.")
    tons_per_mbf, weight_source = _weight(plain.get("weight"), path.name)
    _check_weights(prices, tons_per_mbf, path.name)
    return PriceList(
        _date(plain.get("date"), path.name),
        str(plain["source"]),
        rule,
        tuple(prices),
        _costs(plain.get("cost", {}), path.name),
        _cost_shares(plain.get("cost_share", []), path.name),
        tons_per_mbf,
        weight_source,
    )


def _date(value: Any, name: str) -> dt.date:
    try:
        return value if isinstance(value, dt.date) else dt.date.fromisoformat(str(value))
    except ValueError as fault:
        raise BadRule(f"{name}: date is {value!r}.", remedy="Write it as 2025-09-01; a price without its date is none.") from fault


def _price(entry: dict[str, Any], where: str) -> Price:
    for key in ("product", "species", "low", "mean", "high", "unit"):
        if key not in entry:
            raise BadRule(f"{where}: a price has no {key}.")
    if entry["product"] not in _PRODUCTS:
        raise BadRule(f"{where}: product is {entry['product']!r}.", remedy=f"Use one of {', '.join(_PRODUCTS)}.")
    if entry["unit"] not in UNITS:
        raise BadRule(f"{where}: unit is {entry['unit']!r}.", remedy=f"Use one of {', '.join(UNITS)}.")
    if entry["unit"] not in PRODUCT_UNITS[entry["product"]]:
        raise unit_refused(str(entry["product"]), str(entry["unit"]), where)
    known = species_room.match(str(entry["species"]))
    groups = ("other", "hickory", "white oaks", "red oaks")
    if known.spcd is None and str(entry["species"]) not in groups:
        hint = f"The nearest is {known.nearest!r}." if known.nearest else f"Groups: {', '.join(groups)}."
        raise BadRule(f"{where}: species is {entry['species']!r}.", remedy=hint)
    try:
        low, mean, high = (float(entry[key]) for key in ("low", "mean", "high"))
    except (TypeError, ValueError) as fault:
        raise BadRule(f"{where}: low, mean and high must be numbers.") from fault
    if not 0 <= low <= mean <= high:
        raise BadRule(f"{where}: low {low:g}, mean {mean:g} and high {high:g} are not in order.", remedy="0 <= low <= mean <= high.")
    name = str(entry["species"]) if known.spcd is None or entry["species"] in groups else species_room.by_code(known.spcd).common_name
    return Price(str(entry["product"]), name, low, mean, high, str(entry["unit"]), str(entry.get("grade", "")))


def _costs(plain: dict[str, Any], name: str) -> dict[str, float]:
    for key, value in plain.items():
        if key not in COSTS:
            raise BadRule(f"{name}: there is no cost {key!r}.", remedy=f"Known: {', '.join(COSTS)}.")
        if isinstance(value, bool) or not isinstance(value, int | float) or value < 0:
            raise BadRule(f"{name}: the cost {key} is {value!r}.", remedy="A number of 0 or more.")
    return {key: float(value) for key, value in plain.items()}


def _cost_shares(plain: list[dict[str, Any]], name: str) -> tuple[CostShare, ...]:
    found = []
    for entry in plain:
        if entry.get("work") not in SHARED_WORK:
            raise BadRule(f"{name}: a cost_share is for {entry.get('work')!r}.", remedy=f"Use one of {', '.join(SHARED_WORK)}.")
        rate, acres = entry.get("rate_usd_ac"), entry.get("acres")
        if isinstance(rate, bool) or not isinstance(rate, int | float) or rate < 0:
            raise BadRule(f"{name}: cost_share {entry.get('code')!r} has rate_usd_ac {rate!r}.", remedy="A number of 0 or more.")
        found.append(CostShare(str(entry.get("code", "")), str(entry["work"]), float(rate), None if acres is None else float(acres)))
    return tuple(found)
