"""Hold the rules of docs/consistency.md on two thousand made-up stands, and write what came of it at the end of the page.

Run by hand from the root of the repository: `python docs/consistency.py FOLDER [PART]`. What is held lies in FOLDER, a file a
part, so that parts may run one after the other or side by side; without PART the parts that lack are run and the page is written.
All parts take about twenty minutes of one processor.
"""

from __future__ import annotations

import json
import sys
import time
from collections import Counter
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / "tests"))
_MARK = "## The last run"
_STANDS, _PARTS, _ORDER_EACH, _LIGHT_EACH = 2_000, 16, 4, 20


def hold(part: int) -> dict[str, object]:
    """The stands of one part held against every rule, those of money and forecast on each: branches, and what was broken."""
    import rooms
    import synthetic
    from overwood.judgement import prices as price_lists
    from overwood.judgement.course import advise
    from overwood.judgement.rules import load

    rules, prices, branches, broken = load(), price_lists.load(ROOT / "demo" / "prices.toml"), Counter[str](), []
    seeds, begun = range(part, _STANDS, _PARTS), time.process_time()
    for seed in seeds:
        file, index = synthetic.stand_file(seed), seed // _PARTS
        asked = {"order": index % _ORDER_EACH == 0, "light": index % _LIGHT_EACH == 0, "prices": prices}
        broken += [f"stand {seed}: {words}" for words in rooms.disagreements(file, rules, synthetic.ON, **asked)]
        branches[advise(file, rules, synthetic.ON).branch] += 1
    return {"stands": len(seeds), "branches": branches, "broken": broken, "seconds": time.process_time() - begun}


def write(parts: list[dict]) -> None:
    """The page's table, from all parts."""
    branches = sum((Counter(part["branches"]) for part in parts), Counter[str]())
    stands, seconds = (sum(part[name] for part in parts) for name in ("stands", "seconds"))
    rows = "\n".join(f"| {name} | {count:,} |" for name, count in branches.most_common())
    broken = "\n".join(f"- {words}" for part in parts for words in part["broken"]) or "No rule was broken."
    held = (
        f"{stands:,} made-up stands (seeds 0 to {stands - 1:,}), money, leading oaks and forecast on every one, the injection order on\n"
        f"every {_ORDER_EACH}th of a part, light room by room on every {_LIGHT_EACH}th; {seconds / 60:.0f} minutes of one processor. {broken}"
    )
    page = ROOT / "docs" / "consistency.md"
    before = page.read_text(encoding="utf-8").partition(_MARK)[0].rstrip()
    page.write_text(f"{before}\n\n{_MARK}\n\n{held}\n\n| branch | stands |\n| --- | --- |\n{rows}\n", encoding="utf-8")


def main(folder: Path, part: int | None = None) -> None:
    """Hold one part, or those that lack and write the page."""
    folder.mkdir(parents=True, exist_ok=True)
    files = [folder / f"part_{one}.json" for one in range(_PARTS)]
    for one in range(_PARTS) if part is None else [part]:
        if not files[one].exists():
            files[one].write_text(json.dumps(hold(one)), encoding="utf-8")
    if part is None:
        write([json.loads(file.read_text(encoding="utf-8")) for file in files])


if __name__ == "__main__":
    main(Path(sys.argv[1]), *map(int, sys.argv[2:]))
