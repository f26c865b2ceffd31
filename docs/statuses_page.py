"""The page that says how many of the program's numbers were seen in print, and how many were not."""

from __future__ import annotations

import csv
from collections import Counter
from pathlib import Path

CHECKS = Path(__file__).resolve().parent.parent / "tests/published"
# The two columns of the species table that have a status of their own.
_COLUMNS = ("tolerance", "stand_role", "sprouting")
_INTRO = """# What was seen in print

Every constant carries a status. *published*: seen in print, in the place named beside it. *memory*: recalled from the
publication named and not seen again. *practice*: common practice, no published source. *assumption*: nobody published it
that we know of; it has a range. This page is counted from the tables and the books of rules themselves.
"""
_PLACES = """
## Where the published rules were read

A table or a text is the publication itself or a copy of it; an abstract carries less, a summary by others least.

"""
_CHECKS_HEAD = """
## What the checks against the outside rest on

Rows of `tests/published`. *found* was seen in print; *memory* is a value recalled; *computed* is arithmetic done apart from
the program; *practice* is the trade's habit; *assumption* only holds the program to what it said it assumes.

"""


def _row(label: str, count: Counter[str], names: tuple[str, ...]) -> str:
    # Shares and a rounded sum: a row added anywhere need not make the page stale.
    total = sum(count.values())
    cells = " | ".join(f"{count[name] / total:.0%}" for name in names)
    return f"| {label} | {cells} | {float(f'{total:.2g}'):,.0f} |"


def _table(head: str, counts: dict[str, Counter[str]], names: tuple[str, ...]) -> str:
    top = f"| {head} | {' | '.join(names)} | of about |\n|---|{'---|' * (len(names) + 1)}\n"
    everything = sum(counts.values(), Counter())
    lines = [_row(label, count, names) for label, count in counts.items()]
    return top + "\n".join([*lines, _row("**all**", everything, names)]) + "\n"


def constants() -> dict[str, Counter[str]]:
    """Constants by status, for each floor of tables and each book of rules."""
    from overwood.ground import sources, species, tables
    from overwood.judgement import rules

    counts: dict[str, Counter[str]] = {}
    for name in tables.table_names():
        if name != sources.TABLE:
            floor = f"tables of `{name.split('/')[0]}`"
            counts.setdefault(floor, Counter()).update(row["status"] for row in tables.rows(name))
    listed = tables.rows(species.TABLE)
    for column in _COLUMNS:
        counts[f"`{column}` of a species"] = Counter(row[f"{column}_status"] for row in listed if row[f"{column}_status"])
    for rule in rules.defaults().entries.values():
        # The limits of an import stand in a table of their own, which is counted above.
        if rule.book == rules.LIMITS:
            continue
        counts.setdefault(rule.book, Counter())[rule.status] += 1
    return counts


def places() -> str:
    """The published rules, each with the place where its value was read."""
    from overwood.judgement import rules

    published = [rule for rule in rules.defaults().entries.values() if rule.status == "published"]
    lines = [f"| `{rule.name}` | {rule.source} | {rule.place} |" for rule in published]
    return "| entry | source | place |\n|---|---|---|\n" + "\n".join(lines) + "\n"


def checks() -> dict[str, Counter[str]]:
    """Rows of the check tables by status."""
    counts = {}
    for file in sorted(CHECKS.glob("*.csv")):
        with file.open(encoding="utf-8", newline="") as stream:
            counts[f"`{file.name}`"] = Counter(row["status"] for row in csv.DictReader(stream))
    return counts


def page(note: str) -> str:
    """The whole page."""
    from overwood.ground.tables import STATUSES

    checked = checks()
    kinds = tuple(sorted(sum(checked.values(), Counter())))
    body = _table("where", constants(), STATUSES)
    return f"{note}\n{_INTRO}\n{body}{_PLACES}{places()}{_CHECKS_HEAD}{_table('table', checked, kinds)}"
