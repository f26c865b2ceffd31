"""Photos of sheets of boxes made by program and read: how many are taken, how many boxes are wrong or asked back.

python bench/ticks.py --photos 24
python bench/ticks.py --photos 500 --bent
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(ROOT / "tests"), str(ROOT / "tests" / "memory" / "exchange")]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--photos", type=int, default=24)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--bent", action="store_true", help="Every sheet is bent, by 1 to 3 mm.")
    asked = parser.parse_args()
    bends_mm = (1, 2, 3) if asked.bent else (0, 0, 1, 2, 3)
    import test_tick_photo as made

    import tick_photos
    from overwood.ground.errors import OverwoodError
    from overwood.memory.exchange import tick_photo

    sheet, taken, boxes, wrong, unclear, began = made.SHEET, 0, 0, 0, 0, time.process_time()
    with tempfile.TemporaryDirectory() as folder:
        paper = tick_photos.printed(made.content(), Path(folder))
    for n in range(asked.photos):
        rng = np.random.default_rng(asked.seed + n)
        stems, looked = tick_photos.some_boxes(sheet, rng)
        marked = tick_photos.marked(paper, [*stems, *looked], tick_photos.HANDS[n % 4], rng)
        photo = tick_photos.photographed(marked, rng, bend_mm=bends_mm[n % len(bends_mm)], longest=(2400, 1800)[n % 2])
        try:
            read, _ = tick_photo.read("photo.jpg", photo)
        except OverwoodError as fault:
            print(f"photo {n}: refused, {fault.args[0]}")
            continue
        found = [*read["boxes"], *read["looked"]]
        wanted = [*made.wanted(sheet.boxes, set(stems)), *made.wanted(sheet.looked, set(looked))]
        taken, boxes = taken + 1, boxes + len(found)
        unclear += found.count(tick_photo.ASKED)
        wrong += sum(one not in (want, tick_photo.ASKED) for one, want in zip(found, wanted, strict=True))
    spent = (time.process_time() - began) / asked.photos
    print(f"{taken} of {asked.photos} photos taken; of {boxes} boxes {wrong} wrong, {unclear} asked back; {spent:.1f} CPU s a photo")


if __name__ == "__main__":
    main()
