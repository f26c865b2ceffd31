"""First paint of every page on the demo: work of the page's own thread, when nothing is known yet and when it was opened before.

The work is counted in milliseconds of the processor, so that a busy machine changes little. ``python bench/first_paint.py``;
``python bench/first_paint.py big`` asks a property of 500 stands.
"""

from __future__ import annotations

import datetime as dt
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from django.test import Client

ROOT = Path(__file__).resolve().parent.parent
DAY = "2025-10-15"
PLACES = (
    "/", "/due/", "/compare/?stand=S1&stand=S2&stand=S4", "/stand/S1/", "/stand/S2/", "/stand/S8/", "/light/S1/", "/light/S2/", "/fire/S1/",
    "/fire/S7/", "/futures/S2/", "/money/S1/", "/money/S2/", "/papers/S2/", "/owner-walk/S3/", "/canopy/S1/", "/tally/S1/", "/records/",
    "/records/trees/", "/import/", "/work/", "/rules/", "/words/", "/calc/", "/sources/",
)  # fmt: skip
# A page that takes longer than this must come before its numbers do.
MOST_MS = 300
STANDS = 500
_WORK = {"HX-Request": "true", "HX-Target": "section#coming"}


def bench() -> None:
    """Every page of the demo: first paint, the work beside it, and again."""
    with tempfile.TemporaryDirectory() as folder:
        client = _opened(Path(folder), ROOT / "demo" / "vesperlick")
        client.get("/words/")
        print("| page | first paint, ms | worked out beside it, ms | again, ms |\n|---|---|---|---|")
        slow = [place for place in PLACES if _row(client, place)]
        print(f"\nover {MOST_MS} ms at first: {', '.join(slow) or 'none'}")


def bench_big() -> None:
    """Pages opened before, on a property of 500 stands: the slowest twentieth."""
    from overwood.faces.pages import asking, judging

    with tempfile.TemporaryDirectory() as folder:
        # Made by another process: what makes it brings the settings of the tests with it.
        make = "import desk, pathlib, sys; desk.POINTS, desk.LINES = 3, 4; desk.made_big(pathlib.Path(sys.argv[1]))"
        subprocess.run([sys.executable, "-c", make, f"{folder}/big"], check=True, cwd=ROOT / "bench")
        client = _opened(Path(folder), Path(folder) / "big")
        began = time.process_time()
        judging.whole(asking.question())
        print(f"{STANDS} stands judged with {time.process_time() - began:.0f} s of the processor")
        stands = [f"/stand/T{number}/" for number in range(0, STANDS, 25)]
        for name, places in (("property", ["/"]), ("filtered", ["/?kind=cut&text=t1"]), ("due", ["/due/"]), ("stands", stands)):
            cold = sorted(_work_ms(client, place) for place in places)
            warm = sorted(_work_ms(client, place) for place in places * 5)
            print(f"{name}: first {cold[len(cold) // 2]:.0f} ms, again p95 {warm[int(0.95 * (len(warm) - 1))]:.0f} ms", flush=True)


def _opened(folder: Path, package: Path) -> Client:
    """The pages of a book with this package in it, asked in this process."""
    from django.core import signing
    from django.test import Client

    from overwood.desk import importing, session
    from overwood.faces.pages import asking, guard
    from overwood.faces.served.serving import Told, web_settings

    told = Told(book=str(folder / "book.sqlite3"), on=DAY, prices=str(ROOT / "demo" / "prices.toml"))
    session.open_book(folder / "book.sqlite3", create=True, web={**web_settings(told), "ALLOWED_HOSTS": ["testserver"]})
    importing.bring_in(package, today=dt.date.fromisoformat(DAY))
    asking.begin(told)
    client = Client()
    client.cookies[guard.COOKIE] = signing.dumps("owner", salt=guard.COOKIE)
    return client


def _row(client: Client, place: str) -> bool:
    """Print a page's row; whether its first paint took too long."""
    first, beside = _work_ms(client, place), _work_ms(client, place, _WORK)
    again = sorted(_work_ms(client, place) for _ in range(3))[1]
    print(f"| {place} | {first:.0f} | {beside if beside > MOST_MS else 0:.0f} | {again:.0f} |", flush=True)
    return first > MOST_MS


def _work_ms(client: Client, place: str, headers: dict[str, str] | None = None) -> float:
    began = time.thread_time()
    # As a browser asks for a page, which may then come before its numbers.
    answer = client.get(place, headers=headers or {"Sec-Fetch-Mode": "navigate"})
    spent = time.thread_time() - began
    if answer.status_code != 200:
        print(f"{place}: {answer.status_code}", file=sys.stderr)
    return 1000 * spent


if __name__ == "__main__":
    (bench_big if "big" in sys.argv else bench)()
