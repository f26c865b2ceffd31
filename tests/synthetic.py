"""Stands made up by a seed: every stage of the course, thin and thick cruises, counts of any size; for rules that must hold on all."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from pathlib import Path

import numpy as np

from overwood.ground.records import TABLES, AcornTree, Operation, Point, Property, Ring, Seedling, Stand, StandFile, Tree, Visit
from overwood.memory.exchange import parts

ON = dt.date(2025, 10, 15)
_CANOPY = (802, 833, 837, 832, 806, 621, 316, 318, 407)
_BELOW = (316, 318, 491, 531, 693, 701)
_FLOOR = (802, 833, 837, 316, 621, 693, 762)
_HEIGHTS = ("<0.5", "0.5-1", "1-3", "3-4.5", "4.5-10", "10+")
_CLASSES = ("dominant", "codominant", "intermediate", "overtopped", "")


def stand_file(seed: int) -> StandFile:
    """One made-up stand."""
    rng = np.random.default_rng(seed)
    parts: dict[str, list[object]] = {name: [] for name in ("visits", "rings", "points", "trees", "seedlings", "acorn_trees", "operations")}
    if rng.random() < 0.97:
        _cruise(rng, parts)
    if rng.random() < 0.9:
        _count(rng, parts)
    if rng.random() < 0.6:
        _acorns(rng, parts)
    _work(rng, parts)
    born = int(rng.integers(1890, 2000)) if rng.random() < 0.8 else None
    stand = Stand(
        stand="A",
        property="P",
        birth_year=born,
        site_index_ft=float(rng.integers(50, 95)),
        site_index_species=833,
        area_ac=float(rng.integers(3, 80)),
    )
    return StandFile(stand=stand, **{name: tuple(rows) for name, rows in parts.items()})  # type: ignore[arg-type]


def _day(rng: np.random.Generator, first: int, last: int, month: int) -> dt.date:
    return dt.date(int(rng.integers(first, last + 1)), month, int(rng.integers(1, 28)))


def _cruise(rng: np.random.Generator, parts: dict[str, list[object]]) -> None:
    parts["visits"].append(Visit(visit="c", stand="A", kind="cruise", visited_on=_day(rng, 2017, 2025, 6)))
    parts["rings"].append(Ring(visit="c", layer="overstory", design="prism", baf_ft2_ac=10.0, low_dbh_in=5.0))
    has_midstory = rng.random() < 0.8
    if has_midstory:
        ring = Ring(
            visit="c", layer="midstory", design="fixed", plot_area_ac=0.02, low_dbh_in=1.0, high_dbh_in=5.0, looked_for="oaks;other trees"
        )
        parts["rings"].append(ring)
    fullness, below = rng.uniform(1, 14), rng.uniform(0, 6)
    for point in map(str, range(1, int(rng.integers(1, 21)) + 1)):
        parts["points"].append(Point(visit="c", point=point))
        sizes = [*rng.normal(16, 4, rng.poisson(fullness)).clip(5.0, 34.0), *rng.uniform(1, 4.9, rng.poisson(below) if has_midstory else 0)]
        for number, dbh in enumerate(sizes, start=1):
            species = int(rng.choice(_CANOPY if dbh >= 5 else _BELOW))
            crown = str(rng.choice(_CLASSES)) if dbh >= 5 else ""
            dieback = float(rng.integers(0, 70)) if rng.random() < 0.3 else None
            tree = Tree(
                id=f"t{point}.{number}", visit="c", point=point, tree=str(number), species=species, dbh_in=round(float(dbh), 1),
                crown_class=crown, dieback_pct=dieback,
            )  # fmt: skip
            parts["trees"].append(tree)


def _count(rng: np.random.Generator, parts: dict[str, list[object]]) -> None:
    parts["visits"].append(
        Visit(visit="r", stand="A", kind="reproduction", visited_on=_day(rng, 2025 if rng.random() < 0.9 else 2022, 2025, 8))
    )
    area = float(rng.choice([0.00136054, 0.00136054, 0.00136054, 0.01, 1 / 300]))
    parts["rings"].append(Ring(visit="r", layer="reproduction", design="fixed", plot_area_ac=area, low_height_ft=0.0))
    richness, tallness = rng.gamma(2.0, 2.0), rng.uniform(0, 5)
    for point in map(str, range(1, int(rng.integers(3, 61)) + 1)):
        parts["points"].append(Point(visit="r", point=point))
        for number in range(1, rng.poisson(richness) + 1):
            height = _HEIGHTS[int(min(5, max(0, round(rng.normal(tallness, 1.2)))))]
            stems = int(rng.integers(1, 6))
            browsed = int(rng.integers(0, stems + 1)) if rng.random() < 0.4 else None
            diameter = round(float(rng.uniform(0.2, 1.6)), 2) if rng.random() < 0.4 else None
            line = Seedling(
                id=f"s{point}.{number}", visit="r", point=point, line=str(number), species=int(rng.choice(_FLOOR)), height_class=height,
                stems=stems, browsed=browsed, basal_diameter_in=diameter, place=str(rng.choice(["free", "overtopped", ""])),
            )  # fmt: skip
            parts["seedlings"].append(line)


def _acorns(rng: np.random.Generator, parts: dict[str, list[object]]) -> None:
    parts["visits"].append(Visit(visit="a", stand="A", kind="acorn", visited_on=_day(rng, 2023, 2025, 9)))
    chance = rng.random()
    for number in map(str, range(1, int(rng.integers(3, 60)) + 1)):
        species = int(rng.choice([802, 833, 837, 832]))
        parts["acorn_trees"].append(
            AcornTree(id=f"a{number}", visit="a", tree=number, species=species, bearing=bool(rng.random() < chance))
        )


def _work(rng: np.random.Generator, parts: dict[str, list[object]]) -> None:
    for kind, chance, month in (("injection", 0.3, 10), ("seed cut", 0.25, 1), ("removal cut", 0.1, 1), ("burn", 0.2, 3)):
        if rng.random() < chance:
            day = _day(rng, 2012, 2024, month)
            dead = float(rng.uniform(0.5, 1)) if kind == "injection" and rng.random() < 0.5 else None
            parts["operations"].append(Operation(operation=kind, stand="A", kind=kind, state="done", started_on=day, dead_share=dead))


def write_part(folder: Path, seeds: Iterable[int]) -> dict[str, StandFile]:
    """A part of made-up stands, each of a property of its own; the files as they are read back, by name."""
    tables: dict[str, list[tuple[object, ...]]] = {name: [] for name in TABLES}
    for seed in seeds:
        file = stand_file(seed)
        tables["properties"].append(_cells("properties", Property(property=f"P{seed}")))
        tables["stands"].append(_cells("stands", file.stand, stand=f"A{seed:04d}", property=f"P{seed}"))
        for name in ("visits", "rings", "points", "trees", "seedlings", "acorn_trees", "operations"):
            for row in getattr(file, name):
                own = {key: f"{getattr(row, key)}{seed}" for key in ("visit", "operation") if hasattr(row, key)}
                tables[name].append(_cells(name, row, **own, **({"stand": f"A{seed:04d}"} if hasattr(row, "stand") else {})))
    parts.write(folder, {name: rows for name, rows in tables.items() if rows}, len(tables["stands"]))
    return parts.files_of(parts.frames(parts.parts_of(folder)[0], ON))


def _cells(table: str, row: object, **changed: object) -> tuple[object, ...]:
    return tuple(changed.get(name, getattr(row, name)) for name in TABLES[table].columns)
