"""The figures of the page on plans: quotes of the demo's plan, and the table that bench/plan.py measured."""

from __future__ import annotations

import csv
import re
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
_HEAD = "| property | columns | largest opening | gap | CPU s, rows and search | peak memory |\n|---|---|---|---|---|---|\n"


def refreshed(text: str, ask: Any) -> str:
    """The page with its quotes from the plan of the demo under the limits it shows, and its table as it was measured. The demo's book is open."""
    quotes = iter(_quotes(text, ask))
    told = re.sub(r"^> .*$", lambda _: f"> {next(quotes)}", text, flags=re.MULTILINE)
    rows = "\n".join(f"| {' | '.join(row)} |" for row in csv.reader((HERE / "plan_measured.csv").open(encoding="utf-8")))
    return re.sub(re.escape(_HEAD) + r"(\|.*\n)+", f"{_HEAD}{rows}\n", told)


def _quotes(text: str, ask: Any) -> list[str]:
    """One line for each quote of the page, in its order."""
    from overwood.desk import plan
    from overwood.faces.telling import planned
    from overwood.judgement.plan.answer import Plan
    from overwood.judgement.plan.limits import parse

    limits = re.search(r"```toml\n(.*?)```", text, flags=re.DOTALL)
    assert limits is not None
    made = plan.make(plan.PlanAsked(limits=parse(limits[1], ask.rules)), ask, lambda done, note: True)
    assert isinstance(made, Plan)
    acres, gap, value, over = planned.head(made)
    stand = next(row for row in planned.stands(made) if row[2].startswith("fence"))
    order = planned.orders(made)[0]
    later = next(row for row in planned.later(made) if row[0] == "S2")
    return [
        acres,
        gap,
        re.sub(r" \(.*\)\.$", ".", value),
        over.split(". ")[0] + ".",
        f"{stand[0]}, {stand[1]} acres, {stand[2]}, begins {stand[3]}, chance of an oak stand {stand[4]}",
        f"{order[0]}, {order[1]}, {order[3]}: {order[6]}",
        f"The advice names another step now. {planned.differing(made)[-1]}",
        f"{later[0]}, {later[1]}, most likely {later[2]}, chance then {later[3]}, {later[4]}",
        planned.settled(made)[0],
    ]
