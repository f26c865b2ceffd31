"""First paint of every page on the demo: work of the page's own thread, when nothing is known yet and when it was opened before.

The work is counted in milliseconds of the processor, so that a busy machine changes little. ``python bench/pages.py``.
"""

from __future__ import annotations

import datetime as dt
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
DAY = "2025-10-15"
PLACES = (
    "/", "/due/", "/compare/?stand=S1&stand=S2&stand=S4", "/stand/S1/", "/stand/S2/", "/stand/S8/", "/light/S1/", "/light/S2/", "/fire/S1/",
    "/fire/S7/", "/futures/S2/", "/money/S1/", "/money/S2/", "/papers/S2/", "/owner-walk/S3/", "/canopy/S1/", "/tally/S1/", "/records/",
    "/records/trees/", "/import/", "/work/", "/rules/", "/words/", "/calc/", "/sources/",
)  # fmt: skip
# A page that takes longer than this must come before its numbers do.
MOST_MS = 300


def bench() -> None:
    from django.core import signing
    from django.test import Client

    from overwood.desk import importing, session
    from overwood.faces.pages import asking, guard, judging
    from overwood.faces.served.serving import Told, web_settings

    with tempfile.TemporaryDirectory() as folder:
        book = Path(folder) / "book.sqlite3"
        told = Told(book=str(book), on=DAY, prices=str(ROOT / "demo" / "prices.toml"))
        session.open_book(book, create=True, web={**web_settings(told), "ALLOWED_HOSTS": ["testserver"]})
        importing.bring_in(session.invented() / "vesperlick", today=dt.date.fromisoformat(DAY))
        asking.begin(told)
        client = Client()
        client.cookies[guard.COOKIE] = signing.dumps("owner", salt=guard.COOKIE)
        client.get("/words/")
        print("| page | first opening, ms | again, ms |\n|---|---|---|")
        slow = [place for place in PLACES if _row(client, place)]
        judging.whole(asking.question())
        print(f"\nover {MOST_MS} ms at first: {', '.join(slow) or 'none'}")


def _row(client: object, place: str) -> bool:
    """Print a page's row; whether its first opening took too long."""
    first, *again = (_work_ms(client, place) for _ in range(4))
    print(f"| {place} | {first:.0f} | {sorted(again)[1]:.0f} |", flush=True)
    return first > MOST_MS


def _work_ms(client: object, place: str) -> float:
    began = time.thread_time()
    # As a browser asks for a page, which may then come before its numbers.
    answer = client.get(place, headers={"Sec-Fetch-Mode": "navigate"})  # type: ignore[attr-defined]
    spent = time.thread_time() - began
    if answer.status_code != 200:
        print(f"{place}: {answer.status_code}", file=sys.stderr)
    return 1000 * spent


if __name__ == "__main__":
    bench()
