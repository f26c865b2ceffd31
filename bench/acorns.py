"""A property of many stands that each have an acorn check: opening it and judging one stand, as the number of stands grows."""

from __future__ import annotations

import datetime as dt
import tempfile
import time
from pathlib import Path

from overwood.desk import answers, importing, session

_ON = dt.date(2025, 10, 1)
_TREES, _JUDGED = 3, 20


def made_sheets(folder: Path, stands: int) -> Path:
    """Sheets of one property whose stands were all checked for acorns on one day."""
    folder.mkdir()
    rows = range(stands)
    bears = ("yes", "no", "yes")
    sheets = {
        "properties": ["property", "P"],
        "stands": ["stand,property,area_ac", *(f"S{row},P,20" for row in rows)],
        "visits": ["visit,stand,kind,visited_on", *(f"A{row},S{row},acorn,2025-09-10" for row in rows)],
        "acorn_trees": [
            "visit,tree,species,dbh_in,bearing",
            *(f"A{row},{tree},802,18,{bears[(row + tree) % 3]}" for row in rows for tree in range(_TREES)),
        ],
    }
    for name, lines in sheets.items():
        (folder / f"{name}.csv").write_text("\n".join(lines), encoding="utf-8")
    return folder


def bench_acorns() -> None:
    """Opening four times the stands should take about four times as long, and judging one stand about as long as before."""
    few, many = _measured(250), _measured(1_000)
    print("acorn checks, one a stand: 1,000 stands beside 250")
    print(f"  opening all: {few[0]:.2f} s -> {many[0]:.2f} s CPU, ratio {many[0] / few[0]:.1f} (4 is linear)")
    print(f"  judging one stand: {1e3 * few[1]:.0f} ms -> {1e3 * many[1]:.0f} ms CPU, ratio {many[1] / few[1]:.1f}")


def _measured(stands: int) -> tuple[float, float]:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        session.open_book(folder / "book.sqlite3", create=True)
        importing.bring_in(made_sheets(folder / "sheets", stands), today=dt.date(2026, 1, 15))
        ask = answers.question(_ON)
        answers.all_files()
        begun = time.process_time()
        files = list(answers.all_files().values())
        opened = time.process_time()
        answers.advice(files[0].stand.stand, ask)
        warm = time.process_time()
        for file in files[:_JUDGED]:
            answers.judge_file(file, ask)
        judged = (time.process_time() - warm) / _JUDGED
        session.close()
    return opened - begun, judged


if __name__ == "__main__":
    bench_acorns()
