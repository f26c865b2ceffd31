"""The desk in the browser on a big book: 500 stands, 20,000 plots, 1,000,000 tally rows; and killed while it writes.

Run by `make bench`; `python bench/desk.py kill 200` kills the server so many times.
"""

from __future__ import annotations

import http.client
import random
import re
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "tests"))
from pages.conftest import Served, start, stop

STANDS, POINTS, LINES = 500, 20, 50
OVERWOOD = [sys.executable, "-m", "overwood"]


def made_big(folder: Path) -> Path:
    """A data package: each stand with one cruise and one count of 20 points, 50 rows a point."""
    rng = np.random.default_rng(3)
    folder.mkdir()
    (folder / "properties.csv").write_text("property,name\nP,Bench\n")
    box = "POLYGON (({x} {y}, {x2} {y}, {x2} {y2}, {x} {y2}, {x} {y}))"
    outlines = (
        box.format(x=-50 + (n % 25) * 0.01, y=37 + n // 25 * 0.01, x2=-50 + (n % 25) * 0.01 + 0.008, y2=37 + n // 25 * 0.01 + 0.008)
        for n in range(STANDS)
    )
    rows = "".join(f'T{n},P,20,70,1930,"{outline}"\n' for n, outline in enumerate(outlines))
    (folder / "stands.csv").write_text("stand,property,area_ac,site_index_ft,birth_year,boundary_wkt\n" + rows)
    visits = "".join(f"T{n}-c,T{n},cruise,2025-05-01\nT{n}-r,T{n},reproduction,2025-09-01\n" for n in range(STANDS))
    (folder / "visits.csv").write_text("visit,stand,kind,visited_on\n" + visits)
    rings = "".join(f"T{n}-c,overstory,prism,10,\nT{n}-r,reproduction,fixed,,0.00136054\n" for n in range(STANDS))
    (folder / "rings.csv").write_text("visit,layer,design,baf_ft2_ac,plot_area_ac\n" + rings)
    points = "".join(f"T{n}-{kind},{p}\n" for n in range(STANDS) for kind in "cr" for p in range(POINTS))
    (folder / "points.csv").write_text("visit,point\n" + points)
    size = STANDS * POINTS * LINES
    species, dbh = rng.choice([802, 833, 837, 316, 621], size), rng.uniform(5, 28, size).round(1)
    heights, stems = rng.choice(["<0.5", "0.5-1", "1-3", "3-4.5", "4.5-10"], size), rng.integers(1, 4, size)
    with (folder / "trees.csv").open("w") as trees, (folder / "seedlings.csv").open("w") as seedlings:
        trees.write("visit,point,tree,species,dbh_in,crown_class\n")
        seedlings.write("visit,point,line,species,height_class,stems\n")
        at = 0
        for n in range(STANDS):
            for p in range(POINTS):
                for line in range(LINES):
                    trees.write(f"T{n}-c,{p},{line},{species[at]},{dbh[at]},codominant\n")
                    seedlings.write(f"T{n}-r,{p},{line},{species[at]},{heights[at]},{stems[at]}\n")
                    at += 1
    return folder


def _timed(served: Served, path: str) -> float:
    began = time.perf_counter()
    status, _, _ = served.ask(path)
    assert status == 200, path
    return time.perf_counter() - began


def bench_pages() -> None:
    """First page after the start, and the slowest twentieth of pages once each was opened."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        book = folder / "big.sqlite3"
        subprocess.run([*OVERWOOD, "import", str(made_big(folder / "big")), "--book", str(book)], check=True, stdout=subprocess.DEVNULL)
        began = time.perf_counter()
        served = start(book, "--on", "2025-10-15")
        served.ask(served.address)
        started = time.perf_counter() - began
        first = _timed(served, "/")
        everything = _until_known(served)
        stands = random.Random(1).sample(range(STANDS), 40)
        paths = ["/", "/?kind=cut", "/import/", "/records/", *(f"/stand/T{n}/" for n in stands)]
        cold = [_timed(served, path) for path in paths]
        warm = sorted(_timed(served, path) for path in paths * 5)
        stop(served)
    print(
        f"the desk on {STANDS} stands, {2 * STANDS * POINTS:,} plots, {2 * STANDS * POINTS * LINES:,} rows: ready in {started:.2f} s, first page in "
        f"{first:.2f} s, every stand judged after {everything:.1f} s; a stand's page at first {statistics.median(cold[4:]) * 1000:.0f} ms, "
        f"pages opened before p95 {warm[int(0.95 * len(warm))] * 1000:.0f} ms"
    )
    assets = Path(__file__).resolve().parent.parent / "src" / "overwood" / "faces" / "pages" / "static"
    size = sum(file.stat().st_size for file in assets.rglob("*") if file.is_file())
    print(f"  files a browser may load: {size / 1e6:.2f} MB")


def _until_known(served: Served) -> float:
    """Seconds until the property page has judged every stand."""
    began = time.perf_counter()
    while "still to be judged" in served.page("/"):
        time.sleep(0.25)
    return time.perf_counter() - began


def _killed(served: Served) -> None:
    """Kill the server and the process it serves from, at once."""
    subprocess.run(["pkill", "-9", "-P", str(served.process.pid)], check=False)
    served.process.kill()


def bench_kills(times: int) -> None:
    """Kill the server while it writes: every acknowledged record is there, none is half there, and the book opens."""
    rng, acknowledged, lost, half = random.Random(5), [], 0, 0
    with tempfile.TemporaryDirectory() as name:
        book = Path(name) / "killed.sqlite3"
        served = start(book)
        served.ask(served.address)
        served.send("/records/properties/", {"property": "P"})
        stop(served)
        for turn in range(times):
            served = start(book)
            served.ask(served.address)
            token = re.findall(r'name="csrfmiddlewaretoken" value="([^"]+)"', served.page("/records/stands/"))[0]
            killer = threading.Timer(rng.uniform(0.02, 0.5), _killed, args=(served,))
            killer.start()
            for number in range(1_000):
                stand = f"K{turn}-{number}"
                try:
                    status, _, body = served.send("/records/stands/", {"stand": stand, "property": "P", "area_ac": "1"}, token=token)
                except (OSError, http.client.HTTPException):
                    break
                if status == 200 and b"Written down" in body:
                    acknowledged.append(stand)
            killer.join()
            served.process.wait()
            served.process.stdout.close()
            served.process.stderr.close()
        link = sqlite3.connect(book)
        assert link.execute("pragma integrity_check").fetchone()[0] == "ok"
        there = {row[0] for row in link.execute("select stand from stands")}
        lost = len(set(acknowledged) - there)
        half = link.execute(
            "select count(*) from stands left join batch on batch.id = batch_id where batch.id is null or area_ac is null"
        ).fetchone()[0]
        served = start(book)
        served.ask(served.address)
        assert f"{len(there)} stands" in served.page("/")
        stop(served)
    print(f"killed {times} times while writing: {len(acknowledged)} records acknowledged, {lost} lost, {half} half written; the book opens")


if __name__ == "__main__":
    if sys.argv[1:2] == ["kill"]:
        bench_kills(int(sys.argv[2]))
    else:
        bench_pages()
