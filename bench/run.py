"""Measures speed as ratios beside a plain baseline of the same work in the same run. Prints; asserts nothing."""

from __future__ import annotations

import dataclasses
import json
import math
import os
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "tests"))
import acorns
import from_above

import desk

ROWS, TREES_PER_POINT, POINTS_PER_VISIT = 1_000_000, 10, 10
STANDS = 100_000
OVERWOOD = [sys.executable, "-m", "overwood"]


def made_package(folder: Path) -> Path:
    """A data package of a million tally rows on ten thousand visits."""
    rng = np.random.default_rng(1)
    visits = ROWS // TREES_PER_POINT // POINTS_PER_VISIT
    folder.mkdir()
    (folder / "properties.csv").write_text("property,name\nP,Bench\n")
    (folder / "stands.csv").write_text("stand,property,area_ac\n" + "".join(f"T{n},P,20\n" for n in range(visits)))
    (folder / "visits.csv").write_text("visit,stand,kind,visited_on\n" + "".join(f"T{n}-c,T{n},cruise,2025-05-01\n" for n in range(visits)))
    (folder / "rings.csv").write_text("visit,layer,design,baf_ft2_ac\n" + "".join(f"T{n}-c,overstory,prism,10\n" for n in range(visits)))
    points = "".join(f"T{n}-c,{p}\n" for n in range(visits) for p in range(POINTS_PER_VISIT))
    (folder / "points.csv").write_text("visit,point\n" + points)
    species = rng.choice(["802", "833", "QUVE", "red maple", "YP"], size=ROWS)
    dbh = rng.uniform(5, 28, size=ROWS).round(1)
    with (folder / "trees.csv").open("w") as out:
        out.write("visit,point,tree,species,dbh_in,crown_class\n")
        row = 0
        for n in range(visits):
            for p in range(POINTS_PER_VISIT):
                for t in range(TREES_PER_POINT):
                    out.write(f"T{n}-c,{p},{t},{species[row]},{dbh[row]},codominant\n")
                    row += 1
    return folder


CHILD = """
import datetime as dt, json, resource, sys, time
from pathlib import Path
from overwood.desk import importing, session
session.open_book(Path(sys.argv[2]), create=True)
base = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
start = time.perf_counter()
report = importing.bring_in(Path(sys.argv[1]), today=dt.date.today())
took = time.perf_counter() - start
peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
print(json.dumps({"s": took, "trees": report.new["trees"], "faults": len(report.faults), "peak_mb": peak / 1024, "base_mb": base / 1024}))
"""
PLAIN = """
import json, resource, sqlite3, sys, time
import polars as pl
start = time.perf_counter()
frame = pl.read_csv(sys.argv[1] + "/trees.csv", infer_schema=False)
frame = frame.with_columns(pl.col("dbh_in").cast(pl.Float64))
book = sqlite3.connect(sys.argv[2])
book.execute("pragma journal_mode=wal")
book.execute("create table trees (id integer primary key, visit text, point text, tree text, species text, dbh_in real, crown_class text)")
book.execute("create index by_visit on trees (visit)")
book.executemany("insert into trees (visit, point, tree, species, dbh_in, crown_class) values (?, ?, ?, ?, ?, ?)", frame.rows())
book.commit()
print(json.dumps({"s": time.perf_counter() - start, "peak_mb": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024}))
"""


def _child(script: str, *words: str) -> dict[str, float]:
    done = subprocess.run([sys.executable, "-c", script, *words], capture_output=True, text=True, check=True)
    return json.loads(done.stdout)


def bench_import(folder: Path) -> None:
    package = made_package(folder / "package")
    plain = _child(PLAIN, str(package), str(folder / "plain.sqlite3"))
    ours = _child(CHILD, str(package), str(folder / "ours.sqlite3"))
    assert ours["trees"] == ROWS and not ours["faults"]
    rate, ratio = ROWS / ours["s"], ours["s"] / plain["s"]
    print(f"import of {ROWS:,} tally rows, checked and stored: {ours['s']:.1f} s, {rate:,.0f} rows/s, peak {ours['peak_mb']:.0f} MB")
    print(f"  plain polars read and sqlite insert, unchecked: {plain['s']:.1f} s, peak {plain['peak_mb']:.0f} MB; ratio {ratio:.1f}")


def random_stand(trees: int, side_m: float):
    from overwood.science.light.field import Crowns

    rng = np.random.default_rng(4)
    half = rng.uniform(2.5, 5.0, trees)
    place = (rng.random(trees) * side_m, rng.random(trees) * side_m)
    radii = (rng.uniform(1.5, 4.5, trees), rng.uniform(1.5, 4.5, trees))
    return Crowns(*place, half + rng.uniform(3, 14, trees), *radii, half, np.full(trees, 0.42))


def bench_light() -> None:
    import brute

    from overwood.science.light.field import light_field
    from overwood.science.light.ledger import Ledger
    from overwood.science.light.raster import Raster
    from overwood.science.light.shadow import LEVEL, pieces, seen
    from overwood.science.light.sky import sky_directions

    side, ways = math.sqrt(20 * 4046.86), sky_directions(420, "overcast")
    raster = Raster.near(side, side, side / 100)
    crowns = random_stand(8_000, side)
    light_field(crowns, ways, raster, edge="torus")
    runs = [_cpu(lambda: light_field(crowns, ways, raster, edge="torus")) for _ in range(5)]
    whole = min(runs)
    print(
        f"light of 20 acres, 8,000 trees, 10,000 points, 420 directions: {whole:.2f} CPU s, slowest of five {max(runs) / whole:.2f} times that"
    )
    ledger = Ledger(crowns, ways, raster, edge="torus")
    shadows, entries = 8_000 * len(ways.z), len(ledger.shadows.entries)
    table, towards, floor = pieces(crowns)[0], seen(ways, LEVEL), raster.floor("torus")
    assert brute.outlines(table, towards, floor) == entries
    root, outline = _root_s(), min(_cpu(lambda: brute.outlines(table, towards, floor)) for _ in range(5))
    print(
        f"  {1e9 * whole / shadows:.0f} ns a shadow of {entries / shadows:.1f} cells; the outlines of the shadows alone take {outline / whole:.0%} of it; "
        f"one square root a cell and nothing else would be {entries * root:.2f} CPU s, {whole / (entries * root):.0f} times less"
    )
    rng = np.random.default_rng(5)
    picked = rng.integers(0, 8_000, size=400)

    def changes() -> None:
        for tree in picked:
            ledger.flip(int(tree))

    takes = [_cpu(changes) / len(picked) for _ in range(5)]
    one = min(takes)
    # Each entry reads its way and depth (2 bytes each), and reads and writes the depth summed (2 each).
    least = entries / 8_000 * 8 / _bytes_a_s()
    print(
        f"  one tree's change: {1e6 * one:.0f} CPU us, slowest of five {max(takes) / one:.2f} times that; recomputing costs {whole / one:,.0f} times as much; "
        f"its bytes at the speed of a plain copy {1e6 * least:.0f} us, {one / least:.1f} times less; "
        f"shadows held {(sum(part.nbytes for part in ledger.shadows) + ledger.depth.nbytes) / 1e6:.0f} MB"
    )


def _root_s() -> float:
    """CPU seconds of one square root among many [s]."""
    values = np.random.default_rng(1).random(4_000)
    out = np.empty_like(values)
    return min(_cpu(lambda: [np.sqrt(values, out=out) for _ in range(500)]) for _ in range(5)) / (500 * len(values))


def _bytes_a_s() -> float:
    """Bytes read and written in a CPU second by a plain copy of an array too large for the caches."""
    values = np.ones(16_000_000)
    out = np.empty_like(values)
    return 2 * values.nbytes / min(_cpu(lambda: np.copyto(out, values)) for _ in range(5))


def bench_peers() -> None:
    """The field beside other ways to the same rays, all on one thread."""
    from overwood.science.light.field import light_field
    from overwood.science.light.raster import Raster
    from overwood.science.light.sky import sky_directions
    from plain_light import light_field_plain

    few, small = random_stand(200, 60.0), sky_directions(60, "overcast")
    block = Raster.near(60.0, 60.0, 3.0)
    light_field(few, small, block, edge="open")
    fast, slow = (
        min(_cpu(lambda path=path: path(few, small, block, edge="open")) for _ in range(3)) for path in (light_field, light_field_plain)
    )
    rays = block.rows * block.columns * len(small.z)
    print(f"  200 trees, {rays:,} rays: {1e9 * fast / rays:.0f} ns a ray; the plain numpy path that checks it {slow / fast:,.0f} times")
    _bench_peers(few, small, block, fast)


def _bench_peers(crowns, ways, block, ours: float) -> None:
    """Other ways to the same rays, what they build beforehand outside the clock: CPU and wall as ratios, and how far they are off."""
    import brute

    from overwood.science.light.field import light_field

    field = light_field(crowns, ways, block, edge="open")
    wall = min(_timed(lambda: light_field(crowns, ways, block, edge="open")) for _ in range(5))

    def row(name: str, work) -> None:
        off = 100 * (work() - field)
        cpu, took = min(_cpu(work) for _ in range(3)), min(_timed(work) for _ in range(3))
        rms, most = np.sqrt((off**2).mean()), np.abs(off).max()
        print(f"  {name}: {cpu / ours:.0f} times the CPU, {took / wall:.0f} times the wall; light rms {rms:.3f}, most {most:.2f} points")

    row("compiled brute force, every ray against every crown", lambda: brute.light(crowns, ways, block))
    try:
        from embree_peer import Scene, light_at_once, light_by_calls
    except ImportError:
        print("  Embree peer not installed here; left out")
        return
    for subdivisions in (2, 3):
        scene, facets = Scene.of(crowns, subdivisions), 20 * 4**subdivisions
        row(f"Embree, {facets} facets, one call for all rays", lambda scene=scene: light_at_once(scene, ways, block))
        row(f"Embree, {facets} facets, one call a direction", lambda scene=scene: light_by_calls(scene, ways, block))


def bench_marking(folder: Path) -> None:
    import datetime as dt

    from overwood.desk import answers, session
    from overwood.judgement import stem_map
    from overwood.judgement.marking import search as marking
    from overwood.judgement.marking.wants import default_wants

    session.open_book(folder / "demo.sqlite3")
    ask = answers.question(dt.date(2025, 10, 15))
    block, wants = stem_map.block_of(answers.stand_file("S2").as_of(ask.on), ask.rules), default_wants(ask.rules)
    marking.search(block, wants, ask.rules, marking.Effort(1, 10))
    alone, narrow = ask.rules.with_value("marking_quality_weight", 0.0), dataclasses.replace(wants, light_low_pct=35.0, light_high_pct=45.0)
    _bench_flip(block, wants, ask.rules)
    for moves, asked, rules in ((18_300, wants, ask.rules), (110_000, narrow, alone)):
        start, found = time.process_time(), []
        for seed in range(1, 13):
            stem_map._once.cache_clear()
            found.append(marking.search(block, asked, rules, marking.Effort(seed, moves)).light_after.share_in_band)
        took = (time.process_time() - start) / len(found)
        print(
            f"marking 5 acres for {asked.light_low_pct:g}-{asked.light_high_pct:g} % light, {moves:,} moves: {took:.2f} CPU s a search, "
            f"{np.mean(found):.1%} of the ground in it, {min(found):.1%} to {max(found):.1%} by twelve seeds"
        )


def _bench_flip(block, wants, rules) -> None:
    """A flip of the search with all its sums, beside one of the same trees and directions that keeps nothing of a tree's shadows."""
    import brute

    from overwood.judgement.marking import search as marking
    from overwood.science.light import annealing
    from overwood.science.light.shadow import pieces, seen

    state = marking.prepared(block, wants, rules)
    state.stand_as(marking.start(state, np.array([block.stems[place].must for place in state.trees])))
    terms = state.terms()
    now = state.standing(terms)
    annealing.look(terms, now)
    raster, ways = block.ground(rules)["raster"], seen(state.season, state.gradient)
    floor, depth = raster.floor("torus"), np.zeros((len(ways), raster.rows, raster.columns))
    light, trees = np.ones(raster.shape), np.flatnonzero(state.kept)[:60]
    tables = [pieces(block.crowns.taken(state.trees[[tree]]))[0] for tree in trees]

    def kept() -> None:
        brute.turn_all(terms.shadows, now.depth, now.light, trees)

    def summed() -> None:
        brute.flip_all(terms, now, trees)

    def anew() -> None:
        for sign in (1, -1):
            for table in tables:
                brute.flip_by_depth(table, ways, floor, depth, light, sign)

    ways_to = (kept, summed, anew)
    runs = np.array([[1e6 * _cpu(way) / (2 * len(trees)) for way in ways_to] for _ in range(41)])[1:]
    for name, place in (("", 0), (" with its sums", 1)):
        least, middle = runs[:, place].min(), np.median(runs[:, 2] / runs[:, place])
        print(
            f"a flip of the search{name}: {least:.1f} CPU us; one that keeps nothing of a tree's shadows {runs[:, 2].min():.0f} us, "
            f"{runs[:, 2].min() / least:.1f} times (median of 40 runs {middle:.1f} times)"
        )


def bench_marking_beside_highs(folder: Path, seconds: float = 120.0) -> None:
    """Light alone counts for both: how much of the ground lies in the light wanted, by the true field."""
    import datetime as dt

    from linear_light import solve

    from overwood.desk import answers, session
    from overwood.judgement import stem_map
    from overwood.judgement.marking import search as marking
    from overwood.judgement.marking.wants import default_wants

    session.open_book(folder / "demo.sqlite3")
    ask = answers.question(dt.date(2025, 10, 15))
    block, wants = stem_map.block_of(answers.stand_file("S2").as_of(ask.on), ask.rules), default_wants(ask.rules)
    for low, high in ((30.0, 50.0), (35.0, 45.0)):
        asked = dataclasses.replace(wants, light_low_pct=low, light_high_pct=high)
        rules = ask.rules.with_value("marking_quality_weight", 0.0)
        start = time.perf_counter()
        ours = marking.search(block, asked, rules, marking.Effort(1, 80_000))
        took = time.perf_counter() - start
        theirs = solve(block, asked, rules, seconds)
        shown = "nothing" if theirs is None else f"{theirs.share_in_band:.1%} (its linear light said {theirs.thought:.1%})"
        print(
            f"marking 5 acres for {low:g}-{high:g} % light: search {ours.light_after.share_in_band:.1%} in {took:.2f} s; "
            f"HiGHS on light made linear in three rounds {shown} in {seconds:g} s, {seconds / took:.0f} times as long"
        )


def bench_burn_days() -> None:
    """Ten years of hours, one stand, three techniques, beside a plain loop over the hours of one winter."""
    from overwood.ground.weather import Weather
    from overwood.judgement.fire import card, days
    from overwood.judgement.rules import load
    from overwood.science.fire.spread import surface_fire

    rng, hours = np.random.default_rng(7), np.arange("2015-01-01", "2025-01-01", dtype="datetime64[h]")
    n, clock = len(hours), np.arange(len(hours)) % 24
    warm = 55 + 22 * np.sin((np.arange(n) / 8766 - 0.3) * 2 * np.pi) + 9 * np.cos((clock - 15) * 2 * np.pi / 24) + rng.normal(0, 4, n)
    rain = np.where(rng.random(n) < 0.04, rng.gamma(0.7, 0.08, n), 0.0)
    wind = np.clip(rng.normal(8, 3, n), 0, 40)
    record = Weather(
        hours, warm, np.clip(rng.normal(55, 15, n), 15, 100), wind, np.full(n, np.nan),
        np.float64(10) * rng.integers(0, 36, n), np.full(n, np.nan), np.full(n, np.nan), rain, rain > 0, composite=False, file="made", notes=(),
    )  # fmt: skip
    rules, site, law = load(), days.Site(20, 120, 0.17), card.Law()
    days.burn_days(record, site, "FM9", rules, law)
    took = min(_cpu(lambda: days.burn_days(record, site, "FM9", rules, law)) for _ in range(5))
    window = days.in_window(record, rules, "window_burn")
    fine = np.full(int(window.sum()), 9.0)

    def fires(place: Any = slice(None)) -> None:
        surface_fire("FM9", moisture_1h_pct=fine[place], moisture_10h_pct=fine[place] + 1, moisture_100h_pct=fine[place] + 2, live_herb_pct=30,
                     live_woody_pct=70, midflame_mi_h=record.wind_mi_h[window][place] * 0.17, slope_pct=20)  # fmt: skip

    whole = min(_cpu(fires) for _ in range(5))
    part = 300

    def one_by_one() -> None:
        for hour in range(part):
            fires(hour)

    loop = _cpu(one_by_one) * len(fine) / part
    print(
        f"burn days of ten years ({n:,} hours, {len(fine):,} in the window), three techniques: {took:.2f} CPU s, moisture and drought included"
    )
    print(f"  fire of the window's hours at once {1000 * whole:.1f} ms; hour by hour in a plain loop {loop / whole:,.0f} times as long")


def _futures_setting() -> Any:
    """A made-up stand of 60 growing spaces with twelve courses."""
    from overwood.judgement.futures import courses, setting, start
    from overwood.judgement.rules import load
    from overwood.science import regeneration as science

    rng, plots = np.random.default_rng(8), 60
    shape = (plots, science.SLOTS)
    oak = np.where(rng.random(shape) < 0.25, rng.gamma(1.5, 1.0, shape), 0.0)
    rivals = rng.gamma(2, 2, (2, plots))
    values = (1 / 735, 20.0, 1.0, 1.0, 70.0, -1.0, 110.0, -1.0, 0.2)
    oaks = science.rows(np.array([[0.0, 55.0, 10.0, 0.0], [1.0, 35.0, 10.0, 0.0]]), science.OAK)
    counted = science.counted_of((oak > 0).astype(float), oak, np.ones(shape), np.zeros(shape), rivals)
    stand = dict(zip(science.STAND, values, strict=True))
    begun = start.Start("v", counted, plots, 1, (802, 833), oaks, stand, 1.0, ())
    return setting.Setting(begun, load(), courses.load()[:12])


def bench_futures() -> None:
    """Futures at three sizes, over 40 years or until the overwood goes."""
    import resource

    from overwood.judgement.futures import draws, start

    setting, rng = _futures_setting(), np.random.default_rng(9)

    def run_many(futures: int) -> tuple[float, float]:
        parameters = draws.draw_parameters(setting.rules, 1.0, futures, rng)
        drawn, seeds = start.drawn_spaces(setting.start, futures, rng), rng.integers(0, 2**31 - 1, futures)
        wall, cpu = time.perf_counter(), time.process_time()
        setting.simulate(parameters, drawn, seeds)
        return time.perf_counter() - wall, time.process_time() - cpu

    run_many(20)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    took = {futures: run_many(futures) for futures in (2_500, 5_000, 10_000)}
    sizes = ", ".join(f"{futures:,} in {wall:.1f} s ({cpu:.1f} CPU s)" for futures, (wall, cpu) in took.items())
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(
        f"futures x {len(setting.courses)} courses x {setting.start.spaces} spaces x 40 years: {sizes}; "
        f"process peak {peak:.0f} MB, {before:.0f} of it before the first"
    )


def _large_block(acres: int, rules: Any) -> Any:
    """A made-up stem map of 86 trees an acre whose opposite sides meet."""
    import datetime as dt

    from overwood.ground.records import Stand, StandFile, Stem, StemMap, Visit
    from overwood.judgement import stem_map

    rng, side = np.random.default_rng(6), math.sqrt(acres * 43_560)
    stems = tuple(
        Stem(visit="m", stem=str(n), species=int(rng.choice([802, 833, 837, 403, 316])), dbh_in=float(np.clip(rng.normal(14, 3.5), 8, 30)),
             east_ft=float(rng.random() * side), north_ft=float(rng.random() * side), crown_class="codominant")
        for n in range(round(86.05 * acres))
    )  # fmt: skip
    file = StandFile(
        stand=Stand(stand="B", property="P"),
        visits=(Visit(visit="m", stand="B", kind="stem map", visited_on=dt.date(2025, 9, 1)),),
        stem_maps=(StemMap(visit="m", width_ft=side, height_ft=side, edge="torus"),),
        stems=stems,
    )
    return stem_map.block_of(file, rules)


def bench_marking_large() -> None:
    """20 and 100 acres with moves as their trees; the peak of memory is that of the larger."""
    import resource

    from overwood.judgement.marking import search as marking
    from overwood.judgement.marking.wants import default_wants
    from overwood.judgement.rules import load

    rules, taken = load(), []
    for acres in (20, 100):
        block = _large_block(acres, rules)
        start = time.process_time()
        result = marking.search(block, default_wants(rules), rules, marking.Effort(1, 600 * acres))
        taken.append(time.process_time() - start)
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(
            f"marking {acres} acres, {len(block.stems):,} trees, {600 * acres:,} moves: {taken[-1]:.1f} CPU s, "
            f"{result.light_after.share_in_band:.1%} of the ground in the light wanted, process peak {peak:.0f} MB"
        )
    print(f"  100 acres cost {taken[1] / taken[0]:.1f} times 20 acres (5 is linear)")


def _cpu(work) -> float:
    start = time.process_time()
    work()
    return time.process_time() - start


def _timed(work) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def bench_commands(folder: Path) -> None:
    env = {key: value for key, value in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"}
    book = folder / "demo.sqlite3"
    subprocess.run([*OVERWOOD, "import", "demo/vesperlick", "--book", str(book)], check=True, env=env, stdout=subprocess.DEVNULL)

    def median_ms(*words: str) -> float:
        def work() -> None:
            subprocess.run([*words], check=True, env=env, stdout=subprocess.DEVNULL)

        work()
        return 1000 * statistics.median(_timed(work) for _ in range(7))

    bare = median_ms(sys.executable, "-c", "pass")
    print(f"bare interpreter start: {bare:.0f} ms")
    print(f"overwood --help: {median_ms(*OVERWOOD, '--help'):.0f} ms, whole process")
    advise = median_ms(*OVERWOOD, "advise", "S3", "--book", str(book), "--on", "2025-10-15")
    print(f"overwood advise S3: {advise:.0f} ms, whole process")
    print(f"overwood calc stocking: {median_ms(*OVERWOOD, 'calc', 'stocking', 'dbh_in=10', 'tpa=100'):.0f} ms, whole process")
    assert sqlite3.connect(book).execute("select count(*) from trees").fetchone()[0] > 0


def bench_first_run(folder: Path) -> None:
    """The first commands where nothing was ever compiled, by the clock: ask it of a machine that does nothing else."""

    def took(words: tuple[str, ...], compiled: Path) -> float:
        env = {**os.environ, "NUMBA_CACHE_DIR": str(compiled)}
        return _timed(lambda: subprocess.run([*OVERWOOD, *words], check=True, env=env, stdout=subprocess.DEVNULL))

    def until(compiled: Path, *functions: str) -> None:
        while any(not list(compiled.rglob(f"*.{function}-*.nbc")) for function in functions):
            time.sleep(0.1)

    for n in range(2):
        made, compiled = folder / f"first{n}", folder / f"compiled{n}"
        compiled.mkdir()
        begun = time.perf_counter()
        first = took(("demo", "--out", str(made)), compiled)
        until(compiled, "_block", "every_future", "many_pools")
        ready = time.perf_counter() - begun
        again = took(("demo", "--out", str(made)), compiled)
        print(f"first overwood demo {first:.1f} s; all compiled behind it {ready:.0f} s after its start; again {again:.1f} s")
        futures, bare = ("futures", "S1", "--book", str(made / "vesperlick.sqlite3"), "--on", "2025-10-15"), folder / f"bare{n}"
        bare.mkdir()
        first, again = took(futures, bare), took(futures, compiled)
        until(bare, "_block")
        print(f"first overwood futures S1 on a machine that never ran demo or import {first:.1f} s; again {again:.1f} s")


PARTS = {
    "first run": bench_first_run,
    "light": lambda _: bench_light(),
    "light beside peers": lambda _: bench_peers(),
    "burn days": lambda _: bench_burn_days(),
    "futures": lambda _: bench_futures(),
    "marking": bench_marking,
    "marking beside HiGHS": bench_marking_beside_highs,
    "marking 20 and 100 acres": lambda _: bench_marking_large(),
    "acorn checks": lambda _: acorns.bench_acorns(),
    "from above": lambda _: from_above.bench_from_above(),
    "light from above": lambda _: from_above.light_table(),
    "pages": lambda _: desk.bench_pages(),
    "kills": lambda _: desk.bench_kills(20),
}


def main() -> None:
    """Each part in a process of its own: threads and memory of one must not be counted to another."""
    if len(sys.argv) == 3:
        wall, cpu = time.perf_counter(), time.process_time()
        PARTS[sys.argv[1]](Path(sys.argv[2]))
        print(f"  ({sys.argv[1]}: {time.process_time() - cpu:.1f} CPU s, {time.perf_counter() - wall:.1f} s wall)", flush=True)
        return
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        bench_import(folder)
        bench_commands(folder)
        for part in PARTS:
            # Beside peers of one thread the field has one too.
            one_core = ["taskset", "-c", "0"] if part == "light beside peers" else []
            subprocess.run([*one_core, sys.executable, __file__, part, name], check=True)


if __name__ == "__main__":
    main()
