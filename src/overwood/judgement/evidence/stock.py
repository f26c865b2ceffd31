"""The standing trees part by part: by species, class and layer, the stand-and-stock table, and the stumps that would
sprout."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from overwood.ground.figure import Figure
from overwood.ground.records import StandFile
from overwood.ground.species import by_code
from overwood.judgement.evidence.layers import midstory_mask, oak_mask, overwood_mask
from overwood.judgement.evidence.overstory import mean_of, sprout_shares
from overwood.judgement.evidence.tally import Cruise, cruise_of
from overwood.judgement.rules import Rules
from overwood.science import overstory as science

DBH_CLASS_IN = 2
_GROUPS: dict[str, Callable[[Cruise, Rules], list[str]]] = {
    "species": lambda cruise, rules: [by_code(int(code)).common_name for code in cruise.spcd],
    "species group": lambda cruise, rules: [_species_group(int(code)) for code in cruise.spcd],
    "dbh class": lambda cruise, rules: [f"{_dbh_class(dbh)} in" for dbh in cruise.dbh_in],
    "crown class": lambda cruise, rules: [str(name) or "not noted" for name in cruise.crown_class],
    "layer": lambda cruise, rules: _layer_names(cruise, rules),  # noqa: PLW0108
}
BREAKDOWNS = tuple(_GROUPS)


def _dbh_class(dbh: float) -> int:
    return int(DBH_CLASS_IN * np.floor((dbh + DBH_CLASS_IN / 2) / DBH_CLASS_IN))


def _species_group(code: int) -> str:
    entry = by_code(code)
    if entry.oak_group:
        return f"{entry.oak_group} oaks"
    if entry.is_oak:
        return "oaks, group unknown"
    if entry.is_hickory:
        return "hickories"
    return entry.common_name if entry.spcd in (316, 318, 621, 531) else "other"


def _layer_names(cruise: Cruise, rules: Rules) -> list[str]:
    midstory, overwood = midstory_mask(cruise, rules), overwood_mask(cruise, rules)
    return ["midstory" if m else "overwood" if o else "sapling" for m, o in zip(midstory, overwood, strict=True)]


def breakdown(file: StandFile, rules: Rules, by: str) -> dict[str, tuple[Figure, Figure]]:
    """Basal area and trees per acre of each group, with errors; groups by :data:`BREAKDOWNS`, largest first."""
    visit = file.latest("cruise")
    if visit is None:
        return {}
    cruise = cruise_of(file, visit)
    names = np.array(_GROUPS[by](cruise, rules), dtype=np.str_)
    each, one = science.basal_area_ft2(cruise.dbh_in), np.ones(len(cruise.trees))
    shares = {}
    for name in sorted(set(names.tolist())):
        mask = names == name
        ba = mean_of(cruise, rules, f"ba of {name}", "ft2/ac", each, mask, "basal area of the group")
        trees = mean_of(cruise, rules, f"trees of {name}", "trees/ac", one, mask, "trees of the group")
        shares[name] = (ba, trees)
    if by == "dbh class":
        return dict(sorted(shares.items(), key=lambda item: int(item[0].split()[0])))
    return dict(sorted(shares.items(), key=lambda item: -item[1][0].number))


@dataclass(frozen=True)
class StockRow:
    """One species of a stand-and-stock table: trees an acre by dbh class in the order of the table, and its sums with
    their errors."""

    species: str
    trees_ac: tuple[float, ...]
    all_trees_ac: Figure
    ba_ft2_ac: Figure


@dataclass(frozen=True)
class StockTable:
    """Trees an acre by species and dbh class [in., the low end of each]."""

    visit: str
    classes_in: tuple[int, ...]
    rows: tuple[StockRow, ...]


def stand_and_stock(file: StandFile, rules: Rules, class_in: int = 4) -> StockTable | None:
    """Trees an acre by species and dbh class of the latest cruise, most basal area first; classes by their low end.
    None without a cruise."""
    visit = file.latest("cruise")
    if visit is None:
        return None
    cruise = cruise_of(file, visit)
    low = (np.floor(cruise.dbh_in / class_in) * class_in).astype(int)
    classes, one = sorted(set(low.tolist())), np.ones(len(cruise.trees))

    def row(species: str, sums: tuple[Figure, Figure]) -> StockRow:
        mine = np.array([by_code(int(code)).common_name == species for code in cruise.spcd])
        cells = (
            mean_of(cruise, rules, "cell", "trees/ac", one, mine & (low == size), "trees of the cell").number
            for size in classes
        )
        return StockRow(species, tuple(cells), sums[1], sums[0])

    rows = tuple(row(species, sums) for species, sums in breakdown(file, rules, "species").items())
    return StockTable(visit.visit, tuple(classes), rows)


def oaks_by_species(file: StandFile, rules: Rules) -> dict[int, tuple[float, float]]:
    """Basal area of each oak species of the overwood [ft2/ac], and its stumps expected to sprout [1/ac]; none without a
    cruise."""
    visit = file.latest("cruise")
    if visit is None:
        return {}
    cruise = cruise_of(file, visit)
    oaks, each, shares = (
        overwood_mask(cruise, rules) & oak_mask(cruise),
        science.basal_area_ft2(cruise.dbh_in),
        sprout_shares(cruise),
    )
    by_number = {}
    for code in sorted({int(one) for one in cruise.spcd[oaks]}):
        mine, name = oaks & (cruise.spcd == code), by_code(code).common_name
        by_number[code] = (
            mean_of(cruise, rules, name, "ft2/ac", each, mine, "basal area").number,
            mean_of(cruise, rules, f"sprouts of {name}", "stumps/ac", shares, mine, "stumps that sprout").number,
        )
    return by_number


def sprouts_by_species(file: StandFile, rules: Rules) -> dict[str, Figure]:
    """Oak stumps expected to sprout by species and published dbh class, if all were cut now."""
    visit = file.latest("cruise")
    if visit is None:
        return {}
    cruise = cruise_of(file, visit)
    oaks, shares = overwood_mask(cruise, rules) & oak_mask(cruise), sprout_shares(cruise)
    labels = [
        f"{by_code(int(code)).common_name}, {_sprout_class(dbh)}"
        for code, dbh in zip(cruise.spcd, cruise.dbh_in, strict=True)
    ]
    names = np.array(labels, dtype=np.str_)
    figures = {}
    for name in sorted(set(names[oaks].tolist())):
        method = "trees times the share of stumps that sprout"
        sums = (f"sprouts of {name}", "stumps/ac", shares, oaks & (names == name), method)
        figures[name] = mean_of(cruise, rules, *sums, sources=("sander1977",), status="memory")
    return figures


def _sprout_class(dbh: float) -> str:
    whole = int(np.floor(dbh + 0.5))
    return next(
        label
        for label, high in (("2-5 in", 5), ("6-11 in", 11), ("12-16 in", 16), ("17 in or larger", 999))
        if whole <= high
    )
