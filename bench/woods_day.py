"""A day in the woods on a phone without signal, tallied by its buttons in a browser that is killed again and again.

    python bench/woods_day.py --kills 50

Thirty points of a cruise with ten trees each, then 100 young oaks, all while the desk is off. The browser is killed (SIGKILL, every process)
in the middle of taps and the page is loaded anew. Then the desk comes back, three in five sends are lost (half before, half after the desk had
them), and the same tally goes as a file and as codes too. Exit status 1 where a record that the screen answered is not in the book, or one is
there twice. Prints how long a cold start without a desk and a tap take, the latter with 5,000 records on the phone.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import signal
import statistics
import subprocess
import sys
import tempfile
import time
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / "tests"))
from pages.conftest import CHROMIUM, Served, start, stop  # noqa: E402

DAY = "2025-10-15"
POINTS, TREES_A_POINT, YOUNG_OAKS, HELD_BEFORE, TAPS_TIMED = 30, 10, 100, 5000, 200
OVERWOOD = [sys.executable, "-m", "overwood"]
FLAGS = [
    "--headless=new", "--no-sandbox", "--disable-gpu", "--no-first-run", "--remote-debugging-port=0", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
]  # fmt: skip
SPECIES, CLASSES = ("white oak", "red maple"), ("under ½ ft", "½ to 1 ft", "1 to 3 ft", "3 to 4.5", "4.5 to 10")
# Ends the page's own wait for a record: from the tap to the screen that says it is kept.
TIMED_TAP = """async (label) => { const button = [...document.querySelectorAll('button')].find((one) => one.textContent.startsWith(label));
  const unsent = () => document.getElementById('unsent')?.textContent; const before = unsent(); const begun = performance.now(); button.click();
  while (unsent() === before) await new Promise((go) => setTimeout(go, 1)); return performance.now() - begun; }"""
FILL = """async ([walk, visit, count]) => { const store = await import('/woods/store.js');
  const row = (place) => ({ visit, point: String(1000 + Math.floor(place / 50)), tree: String(place % 50), species: '802', dbh_in: '14' });
  for (let done = 0; done < count; done += 500) await store.add(walk, Array.from({ length: 500 }, (_, at) => ({ act: 'add', table: 'trees', row: row(done + at) }))); }"""


@dataclass
class Phone:
    """A browser with a profile of its own, which may be killed and started again."""

    player: Any
    profile: Path
    base: str
    process: Any = None
    page: Any = None
    cold_starts_ms: list[float] = field(default_factory=list)
    home: Path | None = None

    def start(self) -> Any:
        """Open the kit anew; the time from the address to the first screen is a cold start of the page."""
        (self.profile / "DevToolsActivePort").unlink(missing_ok=True)
        command = [CHROMIUM, *FLAGS, f"--user-data-dir={self.profile}", "about:blank"]
        env = {**os.environ, "HOME": str(self.home)} if self.home else None
        self.process = subprocess.Popen(command, stderr=subprocess.PIPE, text=True, start_new_session=True, env=env)
        address = next(line.split("listening on ")[1].strip() for line in self.process.stderr if "listening on " in line)
        self.page = self.player.chromium.connect_over_cdp(address).contexts[0].new_page()
        self.page.set_viewport_size({"width": 360, "height": 740})
        self.page.set_default_timeout(120_000)
        begun = time.perf_counter()
        self.page.goto(self.base + "/woods/")
        self.page.wait_for_selector("#head h1")
        self.cold_starts_ms.append(1000 * (time.perf_counter() - begun))
        self.page.wait_for_selector("html[data-ready]")
        return self.page

    def kill(self) -> None:
        """End every process of the browser at once."""
        os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait()
        self.process.stderr.close()

    def tap(self, label: str, exact: bool = False) -> None:
        self.page.get_by_role("button", name=label, exact=exact).first.click()

    def unsent(self) -> int:
        return int(self.page.locator("#unsent").inner_text().split()[0])

    def taps(self, walk: str) -> list[dict[str, Any]]:
        """Every tap that the phone holds."""
        return self.page.evaluate("async (walk) => (await import('/woods/store.js')).taps(walk)", walk)


@dataclass
class Day:
    """What the screen answered, and what is left to do."""

    phone: Phone
    kills_left: int
    chance: random.Random
    answered: Counter[tuple[str, ...]] = field(default_factory=Counter)
    killed: int = 0
    reloaded: int = 0

    def record(self, label: str, what: tuple[str, ...], left: int) -> bool:
        """Tap the button that keeps a record; False where the browser was killed in the middle of it."""
        if self.kills_left and self.chance.random() < self.kills_left / max(left, 1):
            self.kills_left -= 1
            self.killed += 1
            self.phone.page.evaluate(
                "(label) => { [...document.querySelectorAll('button')].find((one) => one.textContent.startsWith(label)).click(); }", label
            )
            time.sleep(self.chance.uniform(0, 0.02))
            self.phone.kill()
            return False
        before = self.phone.unsent()
        self.phone.tap(label)
        self.phone.page.wait_for_function("(before) => parseInt(document.getElementById('unsent').textContent) > before", arg=before)
        self.answered[what] += 1
        return True


def on_screen(phone: Phone, table: str, walk: str) -> Counter[str]:
    """How many records of a kind stand at each point, as the phone keeps them."""
    taps = phone.taps(walk)
    back = {tap["of"] for tap in taps if tap["act"] == "take back"}
    return Counter(tap["row"]["point"] for tap in taps if tap["table"] == table and tap["id"] not in back)


def at_point(day: Day, kind: str, point: int) -> None:
    """Open a plot; after a kill the kit is started again, without any desk."""
    if day.phone.process.poll() is not None:
        day.phone.start()
    else:
        day.phone.page.goto(day.phone.base + "/woods/")
        day.phone.page.wait_for_selector("html[data-ready]")
    day.phone.tap(kind)
    day.phone.page.get_by_role("button", name="Show the way").wait_for()
    day.phone.page.locator("main .rows button").nth(point - 1).click()
    day.phone.page.get_by_role("heading", name="This plot").wait_for()


def cruise(day: Day, walk: str) -> None:
    """Ten trees at each point, the number of inches tapped digit by digit; the page is loaded anew in the middle."""
    for point in range(1, POINTS + 1):
        at_point(day, "cruise", point)
        held = on_screen(day.phone, "trees", walk)[str(point)]
        while held < TREES_A_POINT:
            species, dbh = day.chance.choice(SPECIES), str(day.chance.randint(6, 28))
            day.phone.tap(species)
            for digit in dbh:
                day.phone.tap(digit, exact=True)
            left = (POINTS - point) * TREES_A_POINT + TREES_A_POINT - held + YOUNG_OAKS
            if day.record("Live tree", ("trees", str(point), species, dbh), left):
                held += 1
                continue
            at_point(day, "cruise", point)
            held = on_screen(day.phone, "trees", walk)[str(point)]
        if point == POINTS // 2:
            day.phone.page.reload()
            day.phone.page.wait_for_selector("html[data-ready]")
            day.reloaded += 1


def young_oaks(day: Day, walk: str, per_point: int = 10) -> None:
    """One tap a stem."""
    for point in range(1, YOUNG_OAKS // per_point + 1):
        at_point(day, "reproduction", point)
        held = on_screen(day.phone, "seedlings", walk)[str(point)]
        day.phone.tap("white oak")
        while held < per_point:
            label = day.chance.choice(CLASSES)
            left = YOUNG_OAKS - (point - 1) * per_point - held
            if day.record(label, ("seedlings", str(point), "white oak", label), left):
                held += 1
                continue
            at_point(day, "reproduction", point)
            held = on_screen(day.phone, "seedlings", walk)[str(point)]
            day.phone.tap("white oak")


def lossy(page: Any, chance: random.Random, tries: Counter[str]) -> None:
    """Three in five sends are lost: half before the desk has them, half after."""

    def way(route: Any) -> None:
        fate = chance.random()
        if fate < 0.3:
            tries["lost before"] += 1
            route.abort()
        elif fate < 0.6:
            tries["lost after"] += 1
            route.fetch()
            route.abort()
        else:
            tries["arrived"] += 1
            route.continue_()

    page.route("**/woods/up", way)


def send_all(phone: Phone, chance: random.Random) -> Counter[str]:
    """Tap Send until nothing is unsent."""
    tries: Counter[str] = Counter()
    lossy(phone.page, chance, tries)
    phone.tap("Send or save")
    while phone.unsent():
        phone.tap("Send to the desk")
        phone.page.wait_for_timeout(400)
    return tries


def told(*words: str, book: Path) -> Any:
    done = subprocess.run([*OVERWOOD, *words, "--json", "--book", str(book)], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    return json.loads(done.stdout)


def by_other_ways(phone: Phone, walk: dict[str, Any], folder: Path, book: Path) -> int:
    """The same tally as a file, twice, and as the texts of its codes: how many taps were new to the desk."""
    script = """async (walk) => { const carry = await import('/woods/carry.js'); const codes = await import('/woods/codes.js');
      return [await (await carry.file(walk)).text(), (await codes.series(walk)).reverse().join('\\n')]; }"""
    new = 0
    for name, text in zip(("day.tally.json", "codes.txt"), phone.page.evaluate(script, walk), strict=True):
        (folder / name).write_text(text, encoding="utf-8")
        for _ in range(2):
            new += told("woods", "take", str(folder / name), book=book)["new"]
    return new


def in_book(book: Path, walk: dict[str, Any]) -> dict[str, list[tuple[str, ...]]]:
    """Identifier, point and content of the records of the walk's visits, as the book has them in force."""
    from overwood.desk import session
    from overwood.desk.answers import stand_file
    from overwood.ground.species import by_code

    session.open_book(book)
    file, visits = stand_file(walk["stands"][0]["stand"]), {visit["visit"] for visit in walk["stands"][0]["visits"]}
    trees: list[tuple[str, ...]] = [
        (row.id, row.point, by_code(row.species).common_name, f"{row.dbh_in:g}") for row in file.trees if row.visit in visits
    ]
    young: list[tuple[str, ...]] = [
        (row.id, row.point, by_code(row.species).common_name, row.height_class) for row in file.seedlings if row.visit in visits
    ]
    return {"trees": trees, "seedlings": young}


def lost_and_doubled(day: Day, phone_taps: list[dict[str, Any]], book: dict[str, list[tuple[str, ...]]]) -> list[str]:
    """What the screen answered and the book lacks; what is there twice; what is there that the phone does not hold."""
    named = dict(zip(CLASSES, ("<0.5", "0.5-1", "1-3", "3-4.5", "4.5-10"), strict=True))
    wanted: Counter[tuple[str, ...]] = Counter(
        (table, point, species, named.get(value, value)) for table, point, species, value in day.answered.elements()
    )
    there = Counter((table, *row[1:]) for table, rows in book.items() for row in rows)
    ids = [row[0] for rows in book.values() for row in rows]
    on_phone = {tap["id"] for tap in phone_taps if tap["table"] in book}
    faults = [f"answered and not in the book: {what} x {count}" for what, count in (wanted - there).items()]
    faults += [f"twice in the book: {one}" for one, count in Counter(ids).items() if count > 1]
    faults += [f"in the book and not on the phone: {one}" for one in set(ids) - on_phone]
    faults += [f"on the phone and not in the book: {one}" for one in on_phone - set(ids)]
    if [tap["seq"] for tap in phone_taps] != list(range(1, len(phone_taps) + 1)):
        faults.append("the phone's numbers do not run on")
    return faults


def timed_taps(phone: Phone, walk: dict[str, Any]) -> list[float]:
    """From the tap to the answer in ms, with 5,000 records more on the phone."""
    visit = walk["stands"][0]["visits"][1]["visit"]
    phone.page.evaluate(FILL, [walk["walk"], visit, HELD_BEFORE])
    phone.page.goto(phone.base + "/woods/")
    phone.page.wait_for_selector("html[data-ready]")
    phone.tap("reproduction")
    phone.tap("Next: plot")
    phone.tap("white oak")
    return sorted(phone.page.evaluate(TIMED_TAP, "1 to 3 ft") for _ in range(TAPS_TIMED))


def demo_book(folder: Path) -> Path:
    """A new book with the demo, and nothing else."""
    book = folder / "book.sqlite3"
    subprocess.run([*OVERWOOD, "import", str(ROOT / "demo" / "vesperlick"), "--book", str(book)], check=True, stdout=subprocess.DEVNULL)
    return book


def with_walk(phone: Phone, desk: Served, walk: dict[str, Any]) -> None:
    """Log in, load the walk from its file, and wait until the kit starts without a desk."""
    phone.start()
    phone.page.goto(desk.base + desk.address)
    phone.page.goto(desk.base + "/woods/")
    phone.page.wait_for_selector("html[data-offline=ready]")
    phone.tap("Load a walk")
    content = json.dumps(walk).encode()
    phone.page.set_input_files("#walk-file", {"name": "w.walk.json", "mimeType": "application/json", "buffer": content})
    phone.page.get_by_text("is on the phone").wait_for()
    phone.cold_starts_ms.clear()


def run(kills: int, seed: int, folder: Path) -> int:
    from playwright.sync_api import sync_playwright

    book = demo_book(folder)
    kinds = ("--kind", "cruise", "--kind", "reproduction", "--new-plots", "--points", str(POINTS), "--days", "60")
    walk = told("woods", "walk", "S3", *kinds, book=book)
    desk, chance = start(book, "--on", DAY), random.Random(seed)
    with sync_playwright() as player:
        phone = Phone(player, folder / "profile", desk.base)
        with_walk(phone, desk, walk)
        stop(desk)
        day, begun = Day(phone, kills, chance), time.perf_counter()
        cruise(day, walk["walk"])
        young_oaks(day, walk["walk"])
        minutes, cold = (time.perf_counter() - begun) / 60, sorted(phone.cold_starts_ms)
        desk = start(book, "--on", DAY, "--port", str(desk.port))
        phone.page.goto(desk.base + desk.address)
        phone.page.goto(desk.base + "/woods/")
        phone.page.wait_for_selector("html[data-ready]")
        tries = send_all(phone, chance)
        new = by_other_ways(phone, walk, folder, book)
        told("woods", "write", walk["walk"], book=book)
        told("woods", "write", walk["walk"], book=book)
        taps, stored = phone.taps(walk["walk"]), in_book(book, walk)
        taps_ms = timed_taps(phone, walk)
        phone.kill()
    stop(desk)
    faults = lost_and_doubled(day, taps, stored)
    print(f"{len(stored['trees'])} trees, {len(stored['seedlings'])} young oaks, {len(taps)} taps; {minutes:.0f} minutes of tapping")
    print(f"killed {day.killed} times, loaded anew {day.reloaded} times; answered by the screen {day.answered.total()}")
    print(f"sends: {dict(tries)}; new to the desk by file and codes after that: {new}")
    print(f"lost, doubled or strange: {len(faults)}", *faults[:20], sep="\n  ")
    if cold:
        print(f"cold start without a desk, {len(cold)} times: median {statistics.median(cold):.0f} ms, worst {cold[-1]:.0f} ms")
    print(f"tap to answer with {HELD_BEFORE + len(taps):,} taps on the phone: median {statistics.median(taps_ms):.0f} ms, "
          f"95 % under {taps_ms[int(0.95 * len(taps_ms))]:.0f} ms; load of the machine {os.getloadavg()[0]:.1f}")  # fmt: skip
    return 1 if faults or new else 0


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("--kills", type=int, default=50)
    asked.add_argument("--seed", type=int, default=1)
    given = asked.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        sys.exit(run(given.kills, given.seed, Path(folder)))


if __name__ == "__main__":
    main()
