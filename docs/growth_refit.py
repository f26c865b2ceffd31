"""Refits death and growth over several sites from growth_evidence.csv and writes the two tables of the science floor.

Deaths: the shape over diameter comes from the one site with counts by size; the level of a species is pooled over sites,
ln rate = species + site + site within species + sampling, with site effects drawn (restricted maximum likelihood). Growth:
one equation a species from one site, its level pooled with a second site by group. Run it after the evidence changes.
"""

from __future__ import annotations

import csv
import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

HERE = Path(__file__).resolve().parent
EVIDENCE = HERE / "growth_evidence.csv"
TABLES = HERE.parent / "src/overwood/science/tables"

CLASSES = ((1.0, 4.5), (4.5, 11.0), (11.0, 16.0), (16.0, 60.0))
# Basal area in larger trees usual for each class in a closed stand [ft2/ac]; where crowding is usual the rate is as pooled.
USUAL_LARGER = (100, 80, 40, 20)
# What shares of the trees of 4.5 in. and larger a printed rate over all sizes is taken to speak for (an assumption).
COMPOSITION = (0.0, 0.45, 0.30, 0.25)
# Sampling error of a printed rate without a count, as sd of its logarithm (an assumption).
PRINTED_SD = 0.2
Z90 = 1.645

WHITE, RED, HICKORY, POPLAR, WEAK, OTHER = "white oaks", "red oaks", "hickories", "yellow-poplar", "failing species", "others"
GROUP = {802: WHITE, 832: WHITE, 833: RED, 837: RED, 806: RED, 402: HICKORY, 403: HICKORY, 409: HICKORY, 412: HICKORY}
GROUP |= {621: POPLAR, 491: WEAK, 541: WEAK, 931: WEAK, 975: WEAK, 316: OTHER, 531: OTHER, 602: OTHER, 693: OTHER}
ANY = 999


@dataclass(frozen=True, kw_only=True)
class Level:
    """Death rate of a species over all trees of 4.5 in. and larger at one site, on the log scale."""

    site: str
    spcd: int
    log_rate: float
    variance: float


@dataclass(frozen=True, kw_only=True)
class Pool:
    """Levels of all species at a site of the middle, and how far sites lie apart."""

    log_rate: dict[int, float]
    error: dict[int, float]
    site_sd: float
    rest_sd: float

    def spread(self, spcd: int) -> float:
        """Standard deviation of the logarithm for a site nobody looked at."""
        return math.sqrt(self.site_sd**2 + self.rest_sd**2 + self.error[spcd] ** 2)


def evidence(measure: str) -> list[dict[str, str]]:
    """Rows of the evidence of one measure."""
    with EVIDENCE.open(encoding="utf-8", newline="") as stream:
        return [row for row in csv.DictReader(stream) if row["measure"] == measure]


def counts() -> dict[int, NDArray[np.float64]]:
    """Deaths and tree-years by species, shape (4, 2)."""
    found: dict[int, NDArray[np.float64]] = {}
    for row in evidence("deaths"):
        number = [low for low, _ in CLASSES].index(float(row["low_in"]))
        found.setdefault(int(row["spcd"]), np.zeros((4, 2)))[number] = float(row["value"]), float(row["exposure"])
    return found


def shapes() -> dict[str, NDArray[np.float64]]:
    """Rate of each class over that of the mix of COMPOSITION, by group; one death at the group's rate is added to each class."""
    result = {}
    for group in dict.fromkeys(GROUP.values()):
        cells = sum(cell for spcd, cell in counts().items() if GROUP[spcd] == group)
        mean = cells[:, 0].sum() / cells[:, 1].sum()
        rates = (cells[:, 0] + 1) / (cells[:, 1] + 1 / mean)
        result[group] = rates / float(np.dot(COMPOSITION, rates))
    return result


def levels() -> list[Level]:
    """Every level in the evidence."""
    shape = shapes()
    found = []
    for spcd, cells in counts().items():
        deaths, expected = cells[:, 0].sum(), float((cells[:, 1] * shape[GROUP[spcd]]).sum())
        found.append(Level(site="Virginia", spcd=spcd, log_rate=math.log(deaths / expected), variance=1 / deaths))
    for row in evidence("death rate"):
        rate = math.log(float(row["value"]) / 100)
        found.append(Level(site=row["site"], spcd=int(row["spcd"]), log_rate=rate, variance=PRINTED_SD**2))
    return found


def pool(seen: list[Level]) -> Pool:
    """Species fixed, sites drawn, by restricted maximum likelihood."""
    species, sites = sorted({one.spcd for one in seen}), sorted({one.site for one in seen})
    design = np.array([[one.spcd == spcd for spcd in species] for one in seen], dtype=float)
    same_site = np.array([[one.site == other.site for other in seen] for one in seen], dtype=float)
    y, own = np.array([one.log_rate for one in seen]), np.diag([one.variance for one in seen])

    def parts(logs: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
        site, rest = np.exp(2 * logs)
        inverse = np.linalg.inv(own + site * same_site + rest * np.eye(len(y)))
        covariance = np.linalg.inv(design.T @ inverse @ design)
        return inverse, covariance, covariance @ design.T @ inverse @ y

    def misfit(logs: NDArray[np.float64]) -> float:
        inverse, covariance, means = parts(logs)
        left = y - design @ means
        return float(left @ inverse @ left - np.linalg.slogdet(inverse)[1] - np.linalg.slogdet(covariance)[1])

    best = minimize(misfit, np.log([0.3, 0.4]), method="Nelder-Mead", bounds=[(-4, 1)] * 2) if len(sites) > 1 else None
    logs = np.log([0.3, 0.4]) if best is None else best.x
    _, covariance, means = parts(logs)
    errors = np.sqrt(np.diag(covariance))
    return Pool(
        log_rate=dict(zip(species, means, strict=True)),
        error=dict(zip(species, errors, strict=True)),
        site_sd=float(np.exp(logs[0])),
        rest_sd=float(np.exp(logs[1])),
    )


def left_out() -> list[tuple[Level, float, float]]:
    """Each level seen, with what the other sites together say of it and the standard deviation of that."""
    seen, result = levels(), []
    for site in sorted({one.site for one in seen}):
        rest = [one for one in seen if one.site != site]
        known = pool(rest)
        for one in seen:
            if one.site == site and one.spcd in known.log_rate:
                result.append((one, known.log_rate[one.spcd], math.hypot(known.spread(one.spcd), math.sqrt(one.variance))))
    return result


def names() -> dict[int, str]:
    """Common names by code."""
    from overwood.ground.species import by_code

    return {spcd: by_code(spcd).common_name for spcd in GROUP} | {ANY: "any other species"}


def death_table() -> list[dict[str, object]]:
    """Rows of mortality.csv."""
    seen, shape, name = levels(), shapes(), names()
    fitted = pool(seen)
    healthy = [spcd for spcd in fitted.log_rate if GROUP[spcd] == OTHER]
    entries = [(spcd, rate, fitted.spread(spcd), GROUP[spcd]) for spcd, rate in fitted.log_rate.items()]
    middle = float(np.mean([fitted.log_rate[spcd] for spcd in healthy]))
    apart = float(np.std([fitted.log_rate[spcd] for spcd in healthy], ddof=1))
    entries.append((ANY, middle, math.hypot(apart, max(fitted.spread(spcd) for spcd in healthy)), OTHER))
    rows: list[dict[str, object]] = []
    for spcd, log_rate, spread, group in entries:
        sites = sorted({one.site for one in seen if one.spcd == spcd}) or ["Virginia"]
        for (low, high), times, larger in zip(CLASSES, shape[group], USUAL_LARGER, strict=True):
            rate = math.exp(log_rate) * float(times)
            rows.append(
                {"spcd": spcd, "species": name[spcd], "low_in": f"{low:g}", "high_in": f"{high:g}", "rate_yr": f"{rate:.5f}"}
                | {"low": f"{rate * math.exp(-Z90 * spread):.5f}", "high": f"{min(rate * math.exp(Z90 * spread), 0.5):.5f}"}
                | {"spread_ln": f"{spread:.3f}", "larger_ft2_ac": larger, "sites": len(sites), "source": "pooled_deaths"}
                | {"status": "assumption", "note": f"level: {', '.join(sites)}; shape over diameter: Virginia, {group}"}
            )
    return rows


def growth_levels() -> tuple[dict[str, float], float]:
    """Pooled level of growth over the Virginia equation by group, and how far sites lie apart (sd of the logarithm)."""
    rows = [row for row in evidence("growth over the Virginia equation") if not row["low_in"]]
    logs = {GROUP[int(row["spcd"])]: math.log(float(row["value"])) for row in rows}
    site_sd = math.sqrt(sum(value**2 / 2 for value in logs.values()) / len(logs))
    return {group: math.exp(value / 2) for group, value in logs.items()}, site_sd


def growth_spread(group: str) -> float:
    """Standard deviation of the logarithm of a level for a site nobody looked at."""
    pooled, site_sd = growth_levels()
    return site_sd * math.sqrt(1 + (1 / 2 if group in pooled else 1))


def growth_table() -> list[dict[str, object]]:
    """Rows of diameter_growth.csv with the pooled level; the equations stay as they are."""
    pooled, _ = growth_levels()
    with (TABLES / "diameter_growth.csv").open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    return [_levelled(row, GROUP.get(int(row["spcd"]), OTHER), pooled) for row in rows]


def _levelled(row: dict[str, str], group: str, pooled: dict[str, float]) -> dict[str, object]:
    # What holds for red maple is not carried over to the species it was once asked to stand for.
    own = group in pooled and (group != OTHER or int(row["spcd"]) == 316)
    kept = {key: row[key] for key in ("spcd", "species", "b1", "b2", "b3", "b4", "rse_in_yr", "n")}
    return (
        kept
        | {"level": f"{pooled[group] if own else 1.0:.3f}", "level_spread_ln": f"{growth_spread(group if own else ''):.3f}"}
        | {"sites": 2 if own else 1, "source": row["source"], "status": row["status"], "note": row["note"]}
    )


def any_other_equation() -> dict[str, object]:
    """An equation through the class means of the species that are neither oak, hickory nor yellow-poplar."""
    rows = [row for row in evidence("mean growth") if GROUP.get(int(row["spcd"]), OTHER) in (OTHER, WEAK)]
    dbh = np.array([(float(row["low_in"]) + float(row["high_in"])) / 2 for row in rows])
    grown, trees = (np.array([float(row[key]) for row in rows]) for key in ("value", "exposure"))
    larger = np.interp(dbh, [2.75, 7.75, 13.5, 20.0], USUAL_LARGER)
    b4 = 0.003
    sides = np.column_stack([np.ones(len(dbh)), np.log(dbh)]) * np.sqrt(trees)[:, None]
    (b1, b2), *_ = np.linalg.lstsq(sides, (np.log(grown) + b4 * larger) * np.sqrt(trees), rcond=None)
    scatter = float(np.sqrt(np.average((grown - np.exp(b1) * dbh**b2 * np.exp(-b4 * larger)) ** 2, weights=trees)))
    return {"spcd": ANY, "species": "any other species", "b1": f"{math.exp(b1):.5f}", "b2": f"{b2:.4f}", "b3": "0.0"} | {
        "b4": f"{b4}",
        "rse_in_yr": f"{max(scatter, 0.05):.4f}",
        "n": int(trees.sum()),
        "source": "scbi",
        "status": "assumption",
        "note": "through the class means of 11 species; for every species without a row",
    }


def write(name: str, rows: list[dict[str, object]]) -> None:
    """A table of the science floor."""
    with (TABLES / name).open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


if __name__ == "__main__":
    write("mortality.csv", death_table())
    written = growth_table()
    if not any(int(str(row["spcd"])) == ANY for row in written):
        other = {key: str(value) for key, value in any_other_equation().items()}
        written.append(_levelled(other, "", growth_levels()[0]))
    write("diameter_growth.csv", written)
