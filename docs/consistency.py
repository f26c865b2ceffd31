"""Hold the rules of docs/consistency.md on two thousand made-up stands, and write what came of it at the end of the page.

Run it by hand, from the root of the repository: python docs/consistency.py (some fifteen minutes of one processor).
"""

from __future__ import annotations

import sys
from collections import Counter
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / "tests"))
_MARK = "## The last run"
_STANDS, _LIGHT_EACH, _MONEY_EACH = 2_000, 20, 10


def main() -> None:
    """Hold the rules and write the table."""
    import rooms
    import synthetic
    from overwood.judgement import prices as price_lists
    from overwood.judgement.course import advise
    from overwood.judgement.rules import load

    rules, prices, branches, broken = load(), price_lists.load(ROOT / "demo" / "prices.toml"), Counter[str](), []
    for seed in range(_STANDS):
        file = synthetic.stand_file(seed)
        broken += [
            f"stand {seed}: {words}"
            for words in rooms.disagreements(
                file, rules, synthetic.ON, light=seed % _LIGHT_EACH == 0, prices=None if seed % _MONEY_EACH else prices
            )
        ]
        branches[advise(file, rules, synthetic.ON).branch] += 1
    rows = "\n".join(f"| {name} | {count:,} |" for name, count in branches.most_common())
    said = "\n".join(f"- {words}" for words in broken) or "No rule was broken."
    text = f"{_MARK}\n\n{_STANDS:,} made-up stands (seeds 0 to {_STANDS - 1:,}), light on every {_LIGHT_EACH}th, money and forecast on every {_MONEY_EACH}th. {said}\n\n| branch | stands |\n| --- | --- |\n{rows}\n"
    page = ROOT / "docs" / "consistency.md"
    page.write_text(page.read_text(encoding="utf-8").partition(_MARK)[0].rstrip() + "\n\n" + text, encoding="utf-8")


if __name__ == "__main__":
    main()
