"""How long the look at every stand takes at ten thousand, a hundred thousand and a million made-up stands, and whether it is linear.

    python bench/region.py [--stands 10000 100000 1000000] [--workers 2] [--look screen] [--equal 2000] [--cluster 60000]

Each stand has a cruise of 10 prism points with a midstory ring, most a count of 30 plots and an acorn check of 24 oaks: about
245 rows. Prints a line for each size: seconds of the clock and of the processor, stands a second, and the most memory of a process.
"""

from __future__ import annotations

import argparse
import datetime as dt
import os
import resource
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import polars as pl

ON = dt.date(2025, 10, 15)
_STANDS_A_PART = 5_000
# Parts made up before they are repeated under other names.
_DIFFERENT = 20
_CANOPY = np.array([802, 833, 837, 832, 806, 621, 316, 318, 407])
_BELOW = np.array([316, 318, 491, 531, 693, 701])
_FLOOR = np.array([802, 833, 837, 316, 621, 693, 762])
_HEIGHTS = np.array(["<0.5", "0.5-1", "1-3", "3-4.5", "4.5-10", "10+"])
_CLASSES = np.array(["dominant", "codominant", "intermediate", "overtopped", ""])
_POINTS, _PLOTS, _OAKS = 10, 30, 24


def write_parts(folder: Path, stands: int, seed: int = 1) -> int:
    """Parts of made-up stands; returns how many rows they hold."""
    rows = 0
    for number, first in enumerate(range(0, stands, _STANDS_A_PART)):
        n, target = min(_STANDS_A_PART, stands - first), folder / f"part-{number:04d}"
        if number < _DIFFERENT or n < _STANDS_A_PART:
            rows += write_part(target, first, n, np.random.default_rng((seed, number)))
        else:
            rows += _renamed(folder / f"part-{number % _DIFFERENT:04d}", target, f"{number:04d}-")
    return rows


def _renamed(source: Path, target: Path, prefix: str) -> int:
    """The stands of a part once more under other names, which is quicker than making others up; returns how many rows."""
    target.mkdir(parents=True)
    rows = 0
    for file in source.glob("*.parquet"):
        frame = pl.read_parquet(file)
        names = [name for name in ("property", "stand", "visit", "operation") if name in frame.columns]
        frame.with_columns((prefix + pl.col(name)).alias(name) for name in names).write_parquet(target / file.name)
        rows += frame.height
    return rows


def write_part(target: Path, first: int, n: int, rng: np.random.Generator) -> int:
    """One part of ``n`` stands, numbered from ``first``."""
    target.mkdir(parents=True)
    names = pl.Series("stand", np.arange(first, first + n)).cast(pl.String).str.zfill(7)
    counted, checked = rng.random(n) < 0.9, rng.random(n) < 0.6
    tables = {
        "properties": pl.DataFrame({"property": "P" + names}),
        "stands": _stands(names, rng),
        "visits": _visits(names, counted, checked, rng),
        "rings": _rings(names, counted),
        "operations": _operations(names, rng),
        **_cruises(names, rng),
        **_counts(names, counted, rng),
        **_acorns(names, checked, rng),
    }
    points = tables.pop("plots")
    tables["points"] = pl.concat([tables["points"], points])
    for name, frame in tables.items():
        frame.write_parquet(target / f"{name}.parquet")
    return sum(frame.height for frame in tables.values())


def _stands(names: pl.Series, rng: np.random.Generator) -> pl.DataFrame:
    n = len(names)
    return pl.DataFrame(
        {
            "stand": names,
            "property": "P" + names,
            "area_ac": rng.uniform(3, 80, n).round(1),
            "site_index_ft": rng.uniform(50, 95, n).round(),
            "birth_year": rng.integers(1890, 2000, n),
        }
    )


def _days(rng: np.random.Generator, n: int, first: int, last: int, month: int) -> list[dt.date]:
    years, days = rng.integers(first, last + 1, n).tolist(), rng.integers(1, 28, n).tolist()
    return [dt.date(year, month, day) for year, day in zip(years, days, strict=True)]


def _visits(names: pl.Series, counted: np.ndarray, checked: np.ndarray, rng: np.random.Generator) -> pl.DataFrame:
    parts = [("c", "cruise", np.ones(len(names), bool), (2017, 2025, 6)), ("r", "reproduction", counted, (2025, 2025, 8))]
    parts.append(("a", "acorn", checked, (2024, 2025, 9)))
    frames = []
    for letter, kind, has, span in parts:
        own = names.filter(pl.Series(has))
        frames.append(pl.DataFrame({"visit": own + letter, "stand": own, "kind": kind, "visited_on": _days(rng, len(own), *span)}))
    return pl.concat(frames)


def _rings(names: pl.Series, counted: np.ndarray) -> pl.DataFrame:
    own = names.filter(pl.Series(counted))
    schema = {"visit": pl.String, "layer": pl.String, "design": pl.String, "baf_ft2_ac": pl.Float64, "plot_area_ac": pl.Float64}
    schema |= {"low_dbh_in": pl.Float64, "high_dbh_in": pl.Float64, "low_height_ft": pl.Float64}
    rows = [
        (names + "c", {"layer": "overstory", "design": "prism", "baf_ft2_ac": 10.0, "low_dbh_in": 5.0}),
        (names + "c", {"layer": "midstory", "design": "fixed", "plot_area_ac": 0.02, "low_dbh_in": 1.0, "high_dbh_in": 5.0}),
        (own + "r", {"layer": "reproduction", "design": "fixed", "plot_area_ac": 0.00136054, "low_height_ft": 0.0}),
    ]
    return pl.concat(
        [pl.DataFrame({"visit": visits, **{k: row.get(k) for k in schema if k != "visit"}}, schema=schema) for visits, row in rows]
    )


def _operations(names: pl.Series, rng: np.random.Generator) -> pl.DataFrame:
    frames = []
    for kind, chance, month in (("injection", 0.3, 10), ("seed cut", 0.25, 1), ("removal cut", 0.1, 1)):
        own = names.filter(pl.Series(rng.random(len(names)) < chance))
        days = _days(rng, len(own), 2012, 2024, month)
        frames.append(pl.DataFrame({"operation": f"{kind} " + own, "stand": own, "kind": kind, "state": "done", "started_on": days}))
    return pl.concat(frames)


def _numbers(n: int) -> np.ndarray:
    return np.array([str(number) for number in range(1, n + 1)])


def _within(counts: np.ndarray) -> np.ndarray:
    """1, 2, 3 ... within each of some groups of rows."""
    ends = np.cumsum(counts)
    return np.arange(1, ends[-1] + 1) - np.repeat(ends - counts, counts)


def _cruises(names: pl.Series, rng: np.random.Generator) -> dict[str, pl.DataFrame]:
    n = len(names)
    point = np.tile(_numbers(_POINTS), n)
    visit = (names + "c").to_numpy().repeat(_POINTS)
    big, small = rng.poisson(rng.uniform(1, 14, n).repeat(_POINTS)), rng.poisson(rng.uniform(0, 6, n).repeat(_POINTS))
    counts = big + small
    place, is_big = np.repeat(np.arange(n * _POINTS), counts), _within(counts) <= np.repeat(big, counts)
    dbh = np.where(is_big, rng.normal(16, 4, len(place)).clip(5, 34), rng.uniform(1, 4.9, len(place))).round(1)
    trees = {
        "visit": visit[place], "point": point[place], "tree": _within(counts).astype(str), "dbh_in": dbh, "stems": 1, "edge_count": 1,
        "species": np.where(is_big, rng.choice(_CANOPY, len(place)), rng.choice(_BELOW, len(place))),
        "crown_class": np.where(is_big, rng.choice(_CLASSES, len(place)), ""), "status": "live",
    }  # fmt: skip
    return {"points": pl.DataFrame({"visit": visit, "point": point}), "trees": pl.DataFrame(trees)}


def _counts(names: pl.Series, counted: np.ndarray, rng: np.random.Generator) -> dict[str, pl.DataFrame]:
    own = names.filter(pl.Series(counted))
    n = len(own)
    visit, point = (own + "r").to_numpy().repeat(_PLOTS), np.tile(_numbers(_PLOTS), n)
    counts = rng.poisson(rng.gamma(2.0, 1.5, n).repeat(_PLOTS))
    place = np.repeat(np.arange(n * _PLOTS), counts)
    height = np.clip(np.round(rng.normal(rng.uniform(0, 5, n).repeat(_PLOTS)[place], 1.2)), 0, 5).astype(int)
    lines = {
        "visit": visit[place], "point": point[place], "line": _within(counts).astype(str), "species": rng.choice(_FLOOR, len(place)),
        "height_class": _HEIGHTS[height], "stems": rng.integers(1, 6, len(place)),
        "place": np.array(["free", "overtopped", ""])[rng.integers(0, 3, len(place))],
    }  # fmt: skip
    return {"plots": pl.DataFrame({"visit": visit, "point": point}), "seedlings": pl.DataFrame(lines)}


def _acorns(names: pl.Series, checked: np.ndarray, rng: np.random.Generator) -> dict[str, pl.DataFrame]:
    own = names.filter(pl.Series(checked))
    n = len(own)
    bears = rng.random(n * _OAKS) < rng.random(n).repeat(_OAKS)
    trees = {"visit": (own + "a").to_numpy().repeat(_OAKS), "tree": np.tile(_numbers(_OAKS), n)}
    return {"acorn_trees": pl.DataFrame({**trees, "species": rng.choice(_CANOPY[:4], n * _OAKS), "bearing": bears})}


def _run(folder: Path, look: str, workers: int) -> tuple[float, float, float]:
    """Seconds of the clock, of the processor, and the most memory of one process [MB] of a run of the command."""
    before, wall = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    words = ["region", str(folder), "--look", look, "--workers", str(workers), "--on", ON.isoformat()]
    subprocess.run([sys.executable, "-m", "overwood", *words], check=True, stdout=subprocess.DEVNULL)
    took, after = time.perf_counter() - wall, resource.getrusage(resource.RUSAGE_CHILDREN)
    cpu = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return took, cpu, after.ru_maxrss / 1024


def bench_sizes(sizes: list[int], workers: int, look: str) -> None:
    """A line for each size, with what each stand beyond the size before cost, and what of that is left at no stand: the start of processes."""
    runs: list[tuple[int, float]] = []
    for stands in sizes:
        with tempfile.TemporaryDirectory() as place:
            rows = write_parts(Path(place) / "parts", stands)
            took, cpu, peak = _run(Path(place), look, workers)
        further = ""
        if runs:
            each = (cpu - runs[-1][1]) / (stands - runs[-1][0])
            further = f"each further stand {1000 * each:.3f} ms, {cpu - stands * each:.1f} s at no stand, "
        runs.append((stands, cpu))
        print(
            f"{look} of {stands:,} stands ({rows:,} rows), {workers} workers: {took:.1f} s, {cpu:.1f} CPU s, {stands / cpu:,.0f} stands a CPU s, "
            f"{further}largest process {peak:.0f} MB",
            flush=True,
        )


def check_equal(stands: int) -> None:
    """Gates, branch and maturity by columns beside the full advice, on so many stands made up by ``tests/synthetic.py``."""
    import synthetic
    from overwood.desk import part_screen
    from overwood.desk.question import question
    from overwood.judgement.course import advise
    from overwood.memory.exchange import parts

    ask, names = question(synthetic.ON, None), ("cruise fresh", "midstory shades", "crop good", "oak enough")
    plain = wrong = 0
    for first in range(0, stands, 500):
        with tempfile.TemporaryDirectory() as place:
            files = synthetic.write_part(Path(place), range(first, min(first + 500, stands)))
            screen = part_screen.screened(parts.frames(parts.parts_of(Path(place))[0], ask.on), ask, set())
            table = part_screen.table(screen, "", ask, [])
        for row in table.iter_rows(named=True):
            advice = advise(files[row["stand"]], ask.rules, ask.on)
            answers = {gate.name: gate.answer for gate in advice.gates}
            told = [*(row[f"gate_{name.replace(' ', '_')}"] for name in names), row["branch"], row["maturity"]]
            same = told == [*(answers[name] for name in names), advice.branch, advice.maturity.verdict]
            plain, wrong = plain + 1, wrong + (not same)
    print(
        f"{stands:,} made-up stands: {plain:,} told by columns, {stands - plain} by their full advice; {wrong} differ from the full advice"
    )


def check_cluster(stands: int) -> None:
    """The files of a local Dask cluster, one of whose workers is ended in mid-run, beside those of one process."""
    import psutil

    from overwood.desk import part_advice

    ask = part_advice.Ask(ON, None, None, part_advice.BY_COLUMNS)
    ended: list[int] = []

    def end_one(done: int, of: int) -> None:
        workers = [child for child in psutil.Process().children() if "spawn_main" in " ".join(child.cmdline())]
        if done >= of // 3 and workers and not ended:
            ended.append(max(workers, key=lambda child: sum(child.cpu_times()[:2])).pid)
            os.kill(ended[0], signal.SIGKILL)

    with tempfile.TemporaryDirectory() as place:
        write_parts(Path(place) / "parts", stands)
        alone = part_advice.run(Path(place), ask)
        files = {file.name: file.read_bytes() for file in sorted(Path(alone.folder).iterdir())}
        for file in Path(alone.folder).iterdir():
            file.unlink()
        found = part_advice.run(Path(place), ask, part_advice.Hands(2, "local"), end_one)
        same = files == {file.name: file.read_bytes() for file in sorted(Path(alone.folder).iterdir())}
        again = part_advice.run(Path(place), ask, part_advice.Hands(2, "local")).parts_now
    print(
        f"local Dask cluster, {found.parts} parts of {stands:,} stands, {len(ended)} worker ended in mid-run: {found.parts_now} parts worked out, "
        f"files {'equal byte for byte' if same else 'DIFFER'}; run again: {again} parts worked out"
    )


def main() -> None:
    """Run what the command line asks for."""
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("--stands", type=int, nargs="+", default=[10_000, 100_000])
    asked.add_argument("--workers", type=int, default=2)
    asked.add_argument("--look", default="screen")
    asked.add_argument("--equal", type=int, default=0, help="how many made-up stands to hold against their full advice")
    asked.add_argument(
        "--cluster", type=int, default=0, help="how many stands to work on a local Dask cluster, one worker ended in mid-run"
    )
    words = asked.parse_args()
    if words.cluster:
        check_cluster(words.cluster)
    if words.equal:
        check_equal(words.equal)
    if not (words.equal or words.cluster):
        bench_sizes(words.stands, words.workers, words.look)


if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "tests"))
    main()
