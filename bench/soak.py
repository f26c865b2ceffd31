"""Many people at one desk for a while: how long answers take, what fails, whether anything that was confirmed is lost, and memory.

    python bench/soak.py --users 50 --seconds 600

The desk is started as an office starts it, on a copy of the demo; with DATABASE_URL set, on that (empty) database. Each person reads pages
seven times in ten and writes a visit three times in ten, with a second's thought between. A confirmed write that is not in the book after
the desk was stopped is lost. Exit status 1 where one is lost, or an answer is a fault of the program (500); where others hold the book too long, 503 says so.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from dataclasses import dataclass, field
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / "tests"))
from pages.conftest import Served, start_office, stop  # noqa: E402

PASSWORD = "four brown acorns fell"
PAGES = (
    "/",
    "/stand/S1/",
    "/stand/S3/",
    "/records/",
    "/due.ics",
    "/api/stands",
    "/api/stands/S3/advice",
    "/light/S2/",
    "/rules/",
    "/papers/S1/brief.pdf",
)
WRITES, THOUGHT_S = 0.3, 1.0
OVERWOOD = [sys.executable, "-m", "overwood"]


@dataclass
class Seen:
    """What all people saw together."""

    took_s: list[float] = field(default_factory=list)
    statuses: dict[int, int] = field(default_factory=dict)
    confirmed: set[str] = field(default_factory=set)
    faults: list[str] = field(default_factory=list)
    lock: threading.Lock = field(default_factory=threading.Lock)

    def add(self, took_s: float, status: int) -> None:
        with self.lock:
            self.took_s.append(took_s)
            self.statuses[status] = self.statuses.get(status, 0) + 1


def _person(served: Served, name: str, number: int, until: float, seen: Seen) -> None:
    draw = random.Random(number)
    browser = served.logged_in(name, PASSWORD)
    browser.page("/account/")
    written = 0
    while time.monotonic() < until:
        began, path = time.monotonic(), "a write" if draw.random() < WRITES else draw.choice(PAGES)
        try:
            written += path == "a write"
            status = _write(browser, f"SOAK-{number}-{written}", seen) if path == "a write" else browser.ask(path)[0]
            seen.add(time.monotonic() - began, status)
        except OSError as fault:
            with seen.lock:
                seen.faults.append(f"{path}: {type(fault).__name__}: {fault}")
        time.sleep(draw.uniform(0, 2 * THOUGHT_S))


def _write(browser: Served, visit: str, seen: Seen) -> int:
    row = {"visit": visit, "stand": "S1", "kind": "acorn", "visited_on": "2025-10-01"}
    headers = {"X-CSRFToken": browser.cookies["overwood_form"], "Referer": browser.base + "/", "Content-Type": "application/json"}
    status = browser.ask("/api/records/visits", method="POST", body=json.dumps({"row": row}), headers=headers)[0]
    if status == 200:
        with seen.lock:
            seen.confirmed.add(visit)
    return status


def _memory_mb(parent: int) -> float:
    """Resident memory of the server and its workers; 0 where the system does not say."""
    try:
        rows = [line.split() for line in subprocess.check_output(["ps", "-eo", "pid,ppid,rss"], text=True).splitlines()[1:]]
    except OSError:
        return 0.0
    ours = {parent}
    for _ in range(3):
        ours |= {int(pid) for pid, above, _ in rows if int(above) in ours}
    return sum(int(rss) for pid, _, rss in rows if int(pid) in ours) / 1_000


def _kept(book: Path | None) -> set[str]:
    """The visits of the book after the desk was stopped, read by the command."""
    place = ["--book", str(book)] if book else []
    with tempfile.TemporaryDirectory() as folder:
        subprocess.run([*OVERWOOD, "export", f"{folder}/out", *place], check=True, stdout=subprocess.DEVNULL)
        lines = (Path(folder) / "out" / "visits.csv").read_text(encoding="utf-8").splitlines()
    return {line.split(",")[0] for line in lines}


def run(users: int, seconds: float) -> int:
    """Let so many people work for so long; returns 1 where something was lost or broke."""
    with tempfile.TemporaryDirectory() as folder:
        database = os.environ.get("DATABASE_URL", "")
        book = None if database else Path(folder) / "book.sqlite3"
        os.environ.setdefault("HOME", folder)
        place = ["--book", str(book)] if book else []
        subprocess.run([*OVERWOOD, "import", str(ROOT / "demo" / "vesperlick"), *place], check=True, stdout=subprocess.DEVNULL)
        served = start_office(book, "--on", "2025-10-15", database=database)
        seen, memory = Seen(), []
        try:
            served.send(served.address, {"name": "admin", "password": PASSWORD})
            admin = served.logged_in("admin", PASSWORD)
            for number in range(users):
                admin.send("/office/", {"act": "add", "name": f"person{number}", "role": "forester", "password": PASSWORD})
            admin.judged()
            until = time.monotonic() + seconds
            people = [threading.Thread(target=_person, args=(served, f"person{number}", number, until, seen)) for number in range(users)]
            for person in people:
                person.start()
            while time.monotonic() < until:
                memory.append(_memory_mb(served.process.pid))
                time.sleep(min(5.0, seconds / 10))
            for person in people:
                person.join()
        finally:
            stop(served)
        return _told(users, seconds, seen, memory, seen.confirmed - _kept(book))


def _told(users: int, seconds: float, seen: Seen, memory: list[float], lost: set[str]) -> int:
    cuts = statistics.quantiles(seen.took_s, n=100)
    broken = seen.statuses.get(500, 0)
    print(f"{users} people for {seconds:.0f} s: {len(seen.took_s):,} requests, by status {seen.statuses}, {len(seen.faults)} broken off.")
    print(f"p50 {cuts[49]:.2f} s, p95 {cuts[94]:.2f} s, p99 {cuts[98]:.2f} s.")
    tenths = [max(memory[len(memory) * tenth // 10 : len(memory) * (tenth + 1) // 10] or memory[-1:]) for tenth in range(10)]
    print(
        f"{len(seen.confirmed):,} writes confirmed, {len(lost)} lost. Most memory in each tenth of the time, MB: {', '.join(f'{mb:.0f}' for mb in tenths)}."
    )
    for fault in sorted(set(seen.faults)):
        print(f"  {seen.faults.count(fault)} x {fault}")
    return 1 if lost or broken else 0


if __name__ == "__main__":
    asked = argparse.ArgumentParser(description="Many people at one desk.")
    asked.add_argument("--users", type=int, default=50)
    asked.add_argument("--seconds", type=float, default=600)
    told = asked.parse_args()
    sys.exit(run(told.users, told.seconds))
