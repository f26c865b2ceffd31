"""Writes the invented demo property as a data package. Seeded: the same bytes every time.

The counts that carry a verdict are fixed (how many plots are stocked), and draws far from the truth table are drawn
again, so that the demo shows what its answer key says. It is a stage, not evidence.
"""

from __future__ import annotations

import datetime as dt
import math
from pathlib import Path

import numpy as np
import truth

from overwood.ground.records import TABLES
from overwood.ground.species import by_code
from overwood.ground.units import FT2_PER_ACRE
from overwood.ground.vocabulary import HEIGHT_CLASSES
from overwood.memory.exchange.package import write_package
from overwood.science import overstory, reproduction

SEED = 20251015
SPLIT_IN = 5.0
NEST_AC = 0.02
BAF = 10.0
CLASSES = tuple(HEIGHT_CLASSES)
HERE = Path(__file__).resolve().parent
OBSERVERS = ("Cruiser A", "Cruiser B")
BIASED = "S3-2024-count"  # Cruiser B reads heights 12 % tall


def layer(text: str) -> list[tuple[int, float, float, float]]:
    parts = [part.split() for part in text.split(";")]
    return [(truth.SPECIES[code], float(n), float(mean), float(sd)) for code, n, mean, sd in parts]


def diameters(rng: np.random.Generator, mean: float, sd: float, low: float, size: int) -> np.ndarray:
    drawn = rng.normal(mean, sd, size=4 * size + 50)
    return drawn[drawn >= low][:size]


class Rows:
    """Collects rows of every table in the order of the contract."""

    def __init__(self) -> None:
        self.tables: dict[str, list[tuple]] = {name: [] for name in TABLES}

    def add(self, table: str, **values: object) -> None:
        names = TABLES[table].columns
        assert set(values) <= set(names), set(values) - set(names)
        self.tables[table].append(tuple(values.get(name, "" if names[name].kind == "text" else None) for name in names))


def outline(index: int, acres: float) -> str:
    """A made-up rectangle on a made-up grid in mid ocean."""
    width_m, height_m = math.sqrt(acres * 4046.86 * 1.4), math.sqrt(acres * 4046.86 / 1.4)
    lat0, lon0 = 37.5 + (index // 3) * 0.006, -50.0 + (index % 3) * 0.0065
    dlon, dlat = width_m / (111_320 * math.cos(math.radians(lat0))), height_m / 110_990
    corners = ((lon0, lat0), (lon0 + dlon, lat0), (lon0 + dlon, lat0 + dlat), (lon0, lat0 + dlat), (lon0, lat0))
    return "POLYGON ((" + ", ".join(f"{x:.6f} {y:.6f}" for x, y in corners) + "))"


def tally(rng: np.random.Generator, upper: str, lower: str, points: int) -> list[list[tuple[int, float]]]:
    """Trees taken in at each point: thick ones by prism, thin ones on the nest."""
    found: list[list[tuple[int, float]]] = [[] for _ in range(points)]
    for spcd, per_ac, mean, sd in layer(upper) + layer(lower):
        pool = diameters(rng, mean, sd, 1.0, 4000)
        for point in range(points):
            thick, thin = pool[pool >= SPLIT_IN], pool[pool < SPLIT_IN]
            if len(thick):
                weight = thick**2
                wanted = per_ac * len(thick) / len(pool) * float(overstory.basal_area_ft2(thick).mean()) / BAF
                chosen = rng.choice(thick, size=rng.poisson(wanted), p=weight / weight.sum())
                found[point] += [(spcd, float(d)) for d in chosen]
            if len(thin):
                chosen = rng.choice(thin, size=rng.poisson(per_ac * len(thin) / len(pool) * NEST_AC))
                found[point] += [(spcd, float(d)) for d in chosen]
    return found


def upper_ba(text: str) -> float:
    return sum(n * (mean**2 + sd**2) * 0.005454154 for _, n, mean, sd in layer(text))


def sprouts(points: list[list[tuple[int, float]]]) -> float:
    total = 0.0
    for spcd, dbh in (tree for point in points for tree in point):
        if by_code(spcd).is_oak and dbh >= SPLIT_IN:
            total += float(reproduction.stump_sprout_share(spcd, dbh, shade_multiplier=1)) * BAF / (0.005454154 * dbh**2)
    return total / len(points)


def near_truth(visit: str, points: list[list[tuple[int, float]]], upper: str) -> bool:
    seen = BAF * sum(dbh >= SPLIT_IN for point in points for _, dbh in point) / len(points)
    if visit == "S7-2025-cruise" and abs(sprouts(points) - 33.7) > 2:
        return False
    return abs(seen / upper_ba(upper) - 1) < 0.10 or (visit == "S1-2025-cruise" and abs(seen / 122 - 1) < 0.08)


def cruises(rng: np.random.Generator, rows: Rows) -> None:
    apart = np.random.default_rng(SEED + 1)
    for visit, (stand, day, n, upper, lower) in truth.CRUISES.items():
        points = tally(rng, upper, lower, n)
        for _ in range(2000):
            if near_truth(visit, points, upper):
                break
            points = tally(rng, upper, lower, n)
        else:
            raise SystemExit(f"{visit}: no draw near the truth")
        rows.add("visits", visit=visit, stand=stand, kind="cruise", visited_on=day, observer=OBSERVERS[n % 2])
        rows.add("rings", visit=visit, layer="overstory", design="prism", baf_ft2_ac=BAF, low_dbh_in=SPLIT_IN)
        rows.add("rings", visit=visit, layer="midstory", design="fixed", plot_area_ac=NEST_AC, low_dbh_in=1.0, high_dbh_in=SPLIT_IN)
        for number, trees in enumerate(points, start=1):
            rows.add("points", visit=visit, point=str(number))
            for tree, (spcd, dbh) in enumerate(trees, start=1):
                log = butt_log(apart, spcd, round(dbh, 1))
                rows.add("trees", visit=visit, point=str(number), tree=str(tree), species=spcd, stems=1, edge_count=1,
                         **tree_notes(rng, stand, spcd, dbh, upper), **log)  # fmt: skip


def tree_notes(rng: np.random.Generator, stand: str, spcd: int, dbh: float, upper: str) -> dict[str, object]:
    mean = max(m for _, _, m, _ in layer(upper))
    ratio = dbh / mean
    crown = "overtopped" if dbh < SPLIT_IN else "intermediate" if ratio < 0.65 else "dominant" if ratio > 1.15 else "codominant"
    notes: dict[str, object] = {"dbh_in": round(dbh, 1), "crown_class": crown}
    if dbh >= SPLIT_IN:
        code = next(code for code, number in truth.SPECIES.items() if number == spcd)
        sick = rng.random() < truth.DIEBACK.get(stand, {}).get(code, 0.05)
        notes["dieback_pct"] = int(rng.integers(35, 80)) if sick else int(rng.integers(0, 20))
        if rng.random() < 0.25:
            notes["height_ft"] = round(4.5 + 100 * (1 - math.exp(-0.13 * dbh)) ** 1.7 + rng.normal(0, 5))
    return notes


def butt_log(rng: np.random.Generator, spcd: int, dbh: float) -> dict[str, object]:
    """Logs, grade and best use of a tree of sawlog size; drawn apart so that the tally itself stays as it was."""
    if dbh < 11:
        return {}
    logs = float(np.clip(np.round(2 * (0.4 + 0.11 * dbh + rng.normal(0, 0.35))) / 2, 1, 4 if dbh >= 16 else 2.5))
    first = rng.random()
    grade = "below" if first < 0.1 else "1" if dbh >= 16 and first > 0.62 else "2" if dbh >= 13 and first > 0.35 else "3"
    oak = spcd in (802, 833, 837, 806, 832)
    quality = "cull" if grade == "below" and rng.random() < 0.3 else "sawlog"
    if oak and grade == "1" and dbh >= 18 and rng.random() < 0.12:
        quality = "veneer"
    elif spcd == 802 and grade in ("1", "2") and dbh >= 15 and rng.random() < 0.4:
        quality = "stave"
    return {"logs": logs, "grade": grade, "quality": quality, "defect_pct": float(rng.choice([0, 0, 5, 10, 15]))}


def tall_counts(rng: np.random.Generator, oak: tuple, k: float, n: int, area: float, stocked: int | None) -> np.ndarray:
    """Oaks of 3 ft and more on each plot by class c, d, e; with the wanted number of plots stocked at 4.5 ft."""
    per_plot = np.array(oak[3:]) * area
    mean, wanted = per_plot.sum(), np.round(np.array(oak[3:]) * area * n)
    if mean == 0:
        return np.zeros((n, 3), dtype=int)
    for _ in range(400_000):
        total = rng.poisson(mean * rng.gamma(k, 1 / k, size=n))
        if abs(total.sum() - wanted.sum()) > max(0.5, 0.03 * wanted.sum()):
            continue
        variance = total.var(ddof=1)
        seen_k = total.mean() ** 2 / (variance - total.mean()) if variance > total.mean() else 99.0
        if total.sum() > 10 and not 0.8 < seen_k / k < 1.25:
            continue
        split = np.array([rng.multinomial(count, per_plot / mean) for count in total])
        if stocked is None or int((split[:, 1:].sum(axis=1) > 0).sum()) == stocked:
            return split
    raise SystemExit(f"no draw with {stocked} of {n} plots stocked")


def height_in(rng: np.random.Generator, label: str, stand: str) -> float:
    low, high = HEIGHT_CLASSES[label]
    if high > 20:
        return round(float(rng.uniform(10.0, 14.0 if stand == "S5" else 11.1)), 1)
    return min(round(float(low + (high - low) * rng.beta(1, 1.6)), 1), high - 0.1)


def counts(rng: np.random.Generator, rows: Rows) -> None:
    for visit, (stand, day, oak, k, n, maple, poplar, browsed, stocked) in truth.COUNTS.items():
        area = truth.SMALL_PLOTS.get(visit, 1 / 735)
        rows.add("visits", visit=visit, stand=stand, kind="reproduction", visited_on=day,
                 observer="Cruiser B" if visit == BIASED else "Cruiser A")  # fmt: skip
        rows.add("rings", visit=visit, layer="reproduction", design="fixed", plot_area_ac=round(area, 8), low_height_ft=0.0,
                 looked_for="oaks; other trees; invasives")  # fmt: skip
        tall = tall_counts(rng, oak, k, n, area, stocked)
        crowd = rng.gamma(0.3, 1 / 0.3, size=n)
        free_left = 1 if stand == "S5" else n
        for plot in range(n):
            rows.add("points", visit=visit, point=str(plot + 1))
            free_left = plot_lines(
                rng, rows, visit, stand, plot, tall[plot], oak, maple, poplar, browsed / 100, area, crowd[plot], free_left
            )
        if stand == "S4" and visit == "S4-2025-count":
            set_tallest(rows, visit, 11.2)


def set_tallest(rows: Rows, visit: str, height: float) -> None:
    """The tallest oak of the visit is given its height in the answer key."""
    names = list(TABLES["seedlings"].columns)
    at, first = names.index("height_ft"), names.index("visit")
    lines = [i for i, row in enumerate(rows.tables["seedlings"]) if row[first] == visit and row[at] and row[3] == 802]
    best = max(lines, key=lambda i: rows.tables["seedlings"][i][at])
    row = list(rows.tables["seedlings"][best])
    row[at], row[names.index("height_class")] = height, "10+"
    rows.tables["seedlings"][best] = tuple(row)


def plot_lines(rng, rows, visit, stand, plot, tall, oak, maple, poplar, browsed, area, crowd, free_left) -> int:
    lines: list[dict[str, object]] = []
    for label, per_ac, origin in zip(CLASSES[:3], oak[:3], ("germinant", "seedling", "seedling sprout"), strict=True):
        stems = int(rng.poisson(per_ac * area * rng.gamma(1.2, 1 / 1.2)))
        if stems:
            lines.append({"species": 802 if rng.random() < 0.6 else 833, "height_class": label, "stems": stems,
                          "origin": origin, "browsed": int(rng.binomial(stems, browsed if label != "<0.5" else browsed / 2))})  # fmt: skip
    for label, stems in zip(CLASSES[3:], tall, strict=True):
        for _ in range(int(stems)):
            height = height_in(rng, label, stand)
            if visit == BIASED:
                height = min(round(1.12 * height, 1), HEIGHT_CLASSES[label][1] - 0.1)
            collar = math.exp(-1.05 + 0.75 * math.log(height) + rng.normal(0, 0.25))
            lines.append({"species": 802 if rng.random() < 0.6 else 837, "height_class": label, "height_ft": height, "stems": 1,
                          "basal_diameter_in": round(collar, 2), "origin": "seedling sprout",
                          "browsed": int(rng.random() < browsed * 0.8)})  # fmt: skip
    rivals = [(316, label, per_ac) for label, per_ac in zip(("0.5-1", "1-3", "3-4.5", "tall"), maple, strict=True)]
    rivals += [(621, label, per_ac) for label, per_ac in zip(("0.5-1", "1-3", "3-4.5", "tall"), poplar, strict=True)]
    for spcd, label, per_ac in rivals:
        stems = int(rng.poisson(per_ac * area * (crowd if label in ("3-4.5", "tall") else 1.0)))
        if stems:
            named = ("10+" if stand == "S5" else "4.5-10") if label == "tall" else label
            lines.append({"species": spcd, "height_class": named, "stems": stems})
    if stand == "S5":
        free_left = mark_places(lines, free_left)
    for number, line in enumerate(lines, start=1):
        rows.add("seedlings", visit=visit, point=str(plot + 1), line=str(number), **line)
    return free_left


def recount(rows: Rows) -> None:
    """Cruiser B counts twelve plots of S3 again: she misses some small stems and reads heights tall."""
    rng, visit, names = np.random.default_rng(SEED + 7), "S3-2025-recount", list(TABLES["seedlings"].columns)
    rows.add("visits", visit=visit, stand="S3", kind="recount", visited_on="2025-09-24", observer="Cruiser B")
    rows.add("rings", visit=visit, layer="reproduction", design="fixed", plot_area_ac=round(1 / 735, 8), low_height_ft=0.0)
    for plot in range(1, 13):
        rows.add("points", visit=visit, point=str(plot))
    for row in list(rows.tables["seedlings"]):
        line = dict(zip(names, row, strict=True))
        if line["visit"] != "S3-2025-count" or int(line["point"]) > 12 or rng.random() < 0.1:
            continue
        if line["height_ft"]:
            line["height_ft"] = min(round(1.12 * line["height_ft"], 1), HEIGHT_CLASSES[line["height_class"]][1] - 0.1)
        rows.add("seedlings", **(line | {"visit": visit}))


def fence(rows: Rows) -> None:
    """Eight plots inside a deer fence in S3: more oaks get past the browse line, few are bitten."""
    rng, visit = np.random.default_rng(SEED + 8), "S3-2025-count"
    for plot in range(1, 9):
        rows.add("points", visit=visit, point=f"F{plot}", fenced=True)
        for number in range(1, 1 + int(rng.poisson(2.4))):
            height = round(float(rng.uniform(1.2, 6.5)), 1)
            label = next(name for name, (low, high) in HEIGHT_CLASSES.items() if low <= height < high)
            rows.add("seedlings", visit=visit, point=f"F{plot}", line=str(number), species=802 if rng.random() < 0.6 else 837, height_class=label,
                     height_ft=height, stems=1, origin="seedling sprout", browsed=int(rng.random() < 0.06))  # fmt: skip


def mark_places(lines: list[dict[str, object]], free_left: int) -> int:
    """In the failed stand only one best oak of all plots stands free."""
    oaks = [line for line in lines if line["species"] in (802, 837) and line["height_class"] in ("4.5-10", "10+")]
    for line in oaks:
        line["place"] = "overtopped"
    if oaks and free_left:
        max(oaks, key=lambda line: line["height_ft"])["place"] = "free"
        return free_left - 1
    return free_left


def acorn_checks(rng: np.random.Generator, rows: Rows) -> None:
    lasting = {stand: rng.normal(0, 1.0, size=60) for stand in ("S2", "S3")}
    for year, (white, red) in truth.CROPS.items():
        day = dt.date(year, 9, 8 + (year * 7) % 11)
        if year < 2023:
            one_check(rng, rows, f"S4-{year}-acorns", "S4", day, (50, 50), (white, red), None)
        else:
            for stand, effect in lasting.items():
                one_check(rng, rows, f"{stand}-{year}-acorns", stand, day, (35, 25), (white, red), effect)
    one_check(rng, rows, "S7-2024-acorns", "S7", dt.date(2024, 11, 9), (25, 25), (5, 42), None)
    one_check(rng, rows, "S6-2025-acorns", "S6", dt.date(2025, 9, 12), (8, 4), (68, 50), None)


def one_check(rng, rows, visit, stand, day, sizes, shares, effect) -> None:
    rows.add("visits", visit=visit, stand=stand, kind="acorn", visited_on=day.isoformat(), observer="Cruiser A")
    number = 0
    for size, share, species in zip(sizes, shares, ((802, 832), (833, 837)), strict=True):
        tree_effect = effect[number : number + size] if effect is not None else rng.normal(0, 1.0, size=size)
        score = tree_effect + rng.normal(0, 0.6, size=size)
        bearing = set(np.argsort(-score)[: round(size * share / 100)].tolist())
        for index in range(size):
            number += 1
            code = species[0] if (number * 13) % 10 < 7 else species[1]
            acorns = int(np.clip(np.exp(2.4 + 0.9 * score[index]), 1, 400)) if index in bearing else 0
            rows.add("acorn_trees", visit=visit, tree=str(number), species=code, bearing="yes" if acorns else "no",
                     acorns=acorns, method="timed", seconds=30, dbh_in=round(float(18 + 3 * tree_effect[index]), 1))  # fmt: skip


def other_visits(rng: np.random.Generator, rows: Rows) -> None:
    rows.add("visits", visit="S2-2025-crowns", stand="S2", kind="crown", visited_on="2025-06-10", observer="Cruiser A")
    sides = [f"radius_{side}_ft" for side in ("north", "east", "south", "west")]
    for tree in range(1, 41):
        code = (802, 802, 802, 837, 833)[tree % 5]
        dbh = float(np.clip(rng.normal(18.5, 3.2), 11, 28))
        vigour = 0.55 if tree % 8 == 0 else 1.0
        mean = float(overstory.crown_width_ft(code, dbh, crown_ratio_pct=40, hopkins_index=0)) / 2 * vigour * rng.normal(1, 0.08)
        radii = np.maximum(rng.normal(mean, 0.15 * mean, size=4), 1)
        rows.add("crowns", visit="S2-2025-crowns", tree=str(tree), species=code, dbh_in=round(dbh, 1),
                 **dict(zip(sides, radii.round(1).tolist(), strict=True)))  # fmt: skip
    for stand, mean in (("S2", 14), ("S3", 36)):
        visit = f"{stand}-2025-light"
        rows.add("visits", visit=visit, stand=stand, kind="light", visited_on="2025-07-08", observer="Cruiser A", note="overcast")
        for point in range(1, 21):
            light = float(np.clip(rng.normal(mean, 0.3 * mean), 2, 90))
            rows.add("light_readings", visit=visit, point=str(point), light_pct=round(light, 1), device="paired sensors", height_ft=4.5)
    for stand, (_, _, _, _, _, site, born, _, _) in truth.STANDS.items():
        if stand in ("S5", "S8"):
            continue
        visit = f"{stand}-2025-cores"
        rows.add("visits", visit=visit, stand=stand, kind="site", visited_on="2025-06-24", observer="Cruiser A")
        for tree in range(1, 6):
            age = 2025 - born + int(rng.integers(-3, 4))
            height = float(overstory.dominant_height_ft(837, min(age, 100), site + rng.normal(0, 3)))
            dbh = round(float(rng.normal(19, 2)), 1) if age > 70 else 11.5
            rows.add("site_trees", visit=visit, tree=str(tree), species=837, dbh_in=dbh, age_yr=age, height_ft=round(height))


def stem_map(rows: Rows) -> None:
    """Five acres of S2, 305 trees of the main canopy, no two nearer than 6 ft; drawn apart from the rest."""
    rng, side = np.random.default_rng(SEED + 2), math.sqrt(5 * FT2_PER_ACRE)
    visit = "S2-2025-map"
    rows.add("visits", visit=visit, stand="S2", kind="stem map", visited_on="2025-09-20", observer="Forester")
    rows.add("stem_maps", visit=visit, width_ft=round(side, 1), height_ft=round(side, 1), edge="torus",
             longitude_deg=-49.9930, latitude_deg=37.5003)  # fmt: skip
    places: list[tuple[float, float]] = []
    while len(places) < 305:
        x, y = rng.random(2) * side
        if all(math.hypot(x - u, y - v) >= 6 for u, v in places):
            places.append((float(x), float(y)))
    upper = layer(truth.CRUISES["S2-2025-cruise"][3])
    number = 0
    for spcd, per_ac, mean, sd in upper:
        for dbh in diameters(rng, mean, sd, 8.0, round(5 * per_ac)):
            x, y = places[number]
            number += 1
            notes = tree_notes(rng, "S2", spcd, round(float(dbh), 1), truth.CRUISES["S2-2025-cruise"][3])
            log = butt_log(rng, spcd, round(float(dbh), 1))
            acorns = round(float(rng.lognormal(2.2, 1.0)), 1) if spcd in (802, 833, 837, 806, 832) else None
            rows.add("stems", visit=visit, stem=str(number), species=spcd, dbh_in=notes["dbh_in"], east_ft=round(x, 1), north_ft=round(y, 1),
                     crown_class=notes["crown_class"], dieback_pct=notes.get("dieback_pct"), grade=log.get("grade", ""), acorns=acorns)  # fmt: skip


def marking_check(rows: Rows) -> None:
    """Fifteen prism points in S2 while a crew marks: only trees to be left, drawn apart from the rest."""
    rng, visit = np.random.default_rng(SEED + 3), "S2-2025-marking"
    rows.add("visits", visit=visit, stand="S2", kind="marking check", visited_on="2025-10-10", observer="Crew lead")
    rows.add("rings", visit=visit, layer="overstory", design="prism", baf_ft2_ac=BAF, low_dbh_in=SPLIT_IN)
    for point in range(1, 16):
        rows.add("points", visit=visit, point=str(point))
        for tree in range(1, 1 + int(np.clip(rng.poisson(6.0), 4, 8))):
            species = int(rng.choice([802, 802, 802, 833, 837, 403]))
            crown = str(rng.choice(["dominant", "codominant", "codominant"]))
            rows.add("trees", visit=visit, point=str(point), tree=str(tree), species=species, dbh_in=round(float(rng.normal(18, 2.5)), 1),
                     stems=1, edge_count=1, crown_class=crown)  # fmt: skip


def residual_check(rows: Rows) -> None:
    """Twenty prism points in S3 after its seed cut: what stands, and what the logging hurt, drawn apart from the rest."""
    rng, visit = np.random.default_rng(SEED + 4), "S3-2022-residual"
    rows.add("visits", visit=visit, stand="S3", kind="residual check", visited_on="2022-05-12", observer="Forester")
    rows.add("rings", visit=visit, layer="overstory", design="prism", baf_ft2_ac=BAF, low_dbh_in=SPLIT_IN)
    for point in range(1, 21):
        rows.add("points", visit=visit, point=str(point))
        for tree in range(1, 1 + int(np.clip(rng.poisson(6.0), 3, 9))):
            species = int(rng.choice([802, 802, 833, 837, 403]))
            rows.add("trees", visit=visit, point=str(point), tree=str(tree), species=species, dbh_in=round(float(rng.normal(18, 2.5)), 1),
                     stems=1, edge_count=1, damage=str(rng.choice(["none", "slight", "severe"], p=[0.8, 0.16, 0.04])))  # fmt: skip


def fire_records(rows: Rows) -> None:
    """A look at the fuel of S7, and the check of the injection of S2 in its first summer, drawn apart from the rest."""
    rng = np.random.default_rng(SEED + 5)
    rows.add("visits", visit="S7-2025-fuel", stand="S7", kind="fuel", visited_on="2025-09-24", observer="Forester")
    for point in range(1, 11):
        looked = int(rng.integers(4, 8))
        rows.add("fuels", visit="S7-2025-fuel", point=str(point), fuel_model=str(rng.choice(["FM9", "FM9", "TL6"])),
                 litter_in=round(float(rng.normal(2.2, 0.4)), 1), duff_in=round(float(rng.normal(1.0, 0.3)), 1),
                 oak_leaf_pct=int(rng.integers(50, 90)), leave_trees=looked, leave_trees_with_debris=int(rng.binomial(looked, 0.15)))  # fmt: skip
    visit = "S2-2023-injected"
    rows.add("visits", visit=visit, stand="S2", kind="injection check", visited_on="2023-07-11", observer="Forester")
    for point in range(1, 15):
        rows.add("points", visit=visit, point=str(point))
        for tree in range(1, 4 + int(rng.integers(0, 4))):
            dbh = round(float(np.clip(rng.normal(3.2, 1.4), 1.5, 7.9)), 1)
            rows.add("trees", visit=visit, point=str(point), tree=str(tree), species=int(rng.choice([316, 316, 318, 531, 693])), dbh_in=dbh,
                     stems=1, edge_count=1, status=str(rng.choice(["dead", "live"], p=[0.95, 0.05])))  # fmt: skip


def weather(target: Path) -> None:
    """Three invented winters, hour by hour: a daily swing, fronts, rain behind them; local standard time, US units."""
    rng, lines = np.random.default_rng(SEED + 6), ["time,temp_f,rh_pct,wind_mph,gust_mph,wind_dir,rain_in"]
    for year in (2023, 2024, 2025):
        hours = np.arange(f"{year}-01-01", f"{year}-04-01", dtype="datetime64[h]")
        n, clock = len(hours), np.arange(len(hours)) % 24
        front = np.repeat(np.cumsum(rng.normal(0, 5, n // 72 + 1)) * 0.6, 72)[:n]
        wave = np.interp(np.arange(n), np.arange(0, n, 36), rng.normal(0, 8, len(np.arange(0, n, 36))))
        temp = 41 + 14 * np.arange(n) / n + 9 * np.cos((clock - 15) * 2 * np.pi / 24) + wave + np.clip(front, -8, 8)
        wet = np.repeat(rng.random(n // 9 + 1) < 0.09, 9)[:n]
        rain = np.where(wet, np.round(rng.gamma(0.7, 0.05, n), 2), 0.0)
        dew = temp - np.clip(17 - 0.5 * wave + 7 * np.cos((clock - 15) * 2 * np.pi / 24) + rng.normal(0, 2, n), 1, 40)
        rh = np.where(wet, np.clip(94 + rng.normal(0, 3, n), 80, 100), np.clip(100 - 2.6 * (temp - dew), 14, 100))
        wind = np.clip(8 + 3 * np.cos((clock - 14) * 2 * np.pi / 24) + np.repeat(rng.normal(0, 3, n // 12 + 1), 12)[:n], 0, 35)
        gust, way = np.where(wind > 11, wind * 1.5, np.nan), np.repeat(rng.integers(0, 36, n // 12 + 1) * 10, 12)[:n]
        for i in range(n):
            blow = "" if np.isnan(gust[i]) else f"{gust[i]:.0f}"
            lines.append(f"{str(hours[i]).replace('T', ' ')}:00,{temp[i]:.0f},{rh[i]:.0f},{wind[i]:.0f},{blow},{way[i]},{rain[i]:g}")
    target.write_text("\n".join(lines) + "\n", encoding="utf-8")


def ledger(rows: Rows) -> None:
    rows.add("properties", property="Vesperlick", name="Vesperlick Tract",
             objective="An oak forest again for whoever comes next, some income on the way, and deer to watch.",
             latitude_deg=37.5, longitude_deg=-50.0, note="invented; the place lies in mid ocean on purpose")  # fmt: skip
    for index, (stand, (name, acres, aspect, slope, position, site, born, reserve, note)) in enumerate(truth.STANDS.items()):
        rows.add("stands", stand=stand, property="Vesperlick", name=name, area_ac=acres, slope_pct=slope, aspect_deg=aspect,
                 slope_position=position, site_index_ft=site, site_index_species=837, birth_year=born, reserve=reserve,
                 boundary_wkt=outline(index, acres), note=note)  # fmt: skip
    names = list(TABLES["operations"].columns)
    for operation, values in truth.OPERATIONS.items():
        rows.add("operations", operation=operation, **dict(zip(names[1:], values, strict=True)))
    names = list(TABLES["decisions"].columns)
    for decision, values in truth.DECISIONS.items():
        rows.add("decisions", decision=decision, **dict(zip(names[1:], values, strict=True)))
    names = list(TABLES["sightings"].columns)
    for sighting, values in truth.SIGHTINGS.items():
        rows.add("sightings", sighting=sighting, **dict(zip(names[1:], values, strict=True)))


def build(target: Path) -> None:
    rng, rows = np.random.default_rng(SEED), Rows()
    ledger(rows)
    cruises(rng, rows)
    counts(rng, rows)
    recount(rows)
    fence(rows)
    acorn_checks(rng, rows)
    other_visits(rng, rows)
    stem_map(rows)
    marking_check(rows)
    residual_check(rows)
    fire_records(rows)
    write_package(target, rows.tables)


if __name__ == "__main__":
    build(HERE / "vesperlick")
    weather(HERE / "weather.csv")
    size = sum(file.stat().st_size for file in (HERE / "vesperlick").iterdir())
    print(f"demo/vesperlick: {size / 1e6:.2f} MB")
