"""The foot of a tally sheet: counts and sums made in the woods against what was typed, so that a slip of typing is
seen.

A line dropped or doubled, a plot left out and a digit swapped change a count or a sum. A wrong species or class does
not.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal, InvalidOperation

from overwood.desk.comparing import blanks_of
from overwood.desk.tally_forms import Form
from overwood.ground.errors import Problem
from overwood.ground.records import TABLES

LINES, PLOTS = "lines", "plots"


def names(form: Form) -> tuple[str, ...]:
    """What stands at the foot of a sheet of this form: its lines, its plots where empty ones count, a sum under each
    number."""
    if not form.table:
        return ()
    return (LINES, *((PLOTS,) if form.plotted else ()), *form.summed)


def problems(form: Form, lines: Sequence[Mapping[str, str]], plots: int, foot: Mapping[str, str]) -> list[Problem]:
    """Faults where the foot of the sheet and what was typed differ; none where the foot was left blank as a whole.

    ``lines`` are the typed cells by column, ``plots`` is the number of plots named, ``foot`` what the sheet says by
    name.
    """
    said = {name: foot.get(name, "").strip() for name in names(form)}
    if not any(said.values()):
        return []
    wrong = []
    for name, text in said.items():
        typed = Decimal(len(lines) if name == LINES else plots) if name in (LINES, PLOTS) else _sum(form, lines, name)
        wrong += _differences(form, name, text, typed)
    return wrong


def _sum(form: Form, lines: Sequence[Mapping[str, str]], name: str) -> Decimal | None:
    """The sum of a column, a blank cell as the contract takes it; nothing where a cell is no number."""
    blank = blanks_of(TABLES[form.table]).get(name, 0)
    cells = [line.get(name, "").strip() or str(blank) for line in lines]
    numbers = [_number(cell) for cell in cells]
    return None if None in numbers else sum((one for one in numbers if one is not None), Decimal(0))


def _number(text: str) -> Decimal | None:
    try:
        value = Decimal(text)
    except InvalidOperation:
        return None
    return value if value.is_finite() else None


def _differences(form: Form, name: str, text: str, typed: Decimal | None) -> list[Problem]:
    if not text and typed == 0 and name not in (LINES, PLOTS):
        return []
    said = _number(text)

    def fault(what: str, remedy: str, expected: str = "") -> list[Problem]:
        return [Problem(what=what, sheet=form.table, column=name, found=text, expected=expected, remedy=remedy)]

    if typed is None:
        return fault(f"The column {name} cannot be summed: a cell is no number.", "Write each as a plain number.")
    if said is None:
        what = f"The foot of the sheet has no {name}." if not text else f"The {name} at the foot is no number."
        return fault(what, "Sum what the sheet says, not what was typed; or leave the whole foot blank.", "a number")
    if said == typed:
        return []
    what = f"The foot of the sheet says {name} {said:f}, and what was typed comes to {typed:f}."
    return fault(what, "Look for a line dropped, doubled or misread.")
