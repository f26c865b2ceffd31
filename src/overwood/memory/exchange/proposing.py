"""Foreign spreadsheets: what each sheet holds is proposed with its questions, and read once they are answered.

The stages: :mod:`reading` (bytes to cells), :mod:`layout` (headings), :mod:`straighten` (fates of rows), :mod:`shape`
(wide to long), :mod:`body` (units, codes, days), :mod:`asking` (what no sheet says), :mod:`applying` (tables of the
contract).
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import itertools
from collections.abc import Mapping, Sequence

from overwood.ground.errors import BadRecords, Misuse, Problem
from overwood.ground.records import TABLES
from overwood.memory.exchange import (
    applying,
    below,
    dates,
    headings,
    layout,
    legend,
    sheets,
    strays,
    together,
    watching,
)
from overwood.memory.exchange import asking as ask
from overwood.memory.exchange.draft import Draft
from overwood.memory.exchange.headings import columns_of, signature, tables
from overwood.memory.exchange.measures import units_of
from overwood.memory.exchange.proposal import (
    Answers,
    Applied,
    Known,
    Proposal,
    Question,
)
from overwood.memory.exchange.proposal import (
    Mapping as Kept,
)
from overwood.memory.exchange.reading import Sheet
from overwood.memory.exchange.said import Said

__all__ = ["apply", "columns_of", "is_contract", "propose", "signature", "sort_out", "tables", "units_of"]


# Rows of sheets with headings of their own in one file; the largest cruises seen have some ten thousand: our own limit.
MOST_ROWS = 200_000
# Where nobody says which day it is, no day is too late.
_FAR = dt.date(9000, 1, 1)


def is_contract(sheet: Sheet) -> bool:
    """Whether a sheet is written as the contract asks: a known name, its first key, no heading a mapping would better
    read."""
    table = TABLES.get(sheet.name.strip().lower())
    first = next(iter(sheet.rows()), (0, []))[1]
    names = [cell.strip().lower() for cell in first if cell.strip()]
    if table is None or not names:
        return False
    known = set(names) & set(table.columns)
    if len(known) < min(2, len(names)):
        return False
    if table.name not in headings.tables():
        return True
    if table.key[0] not in known:
        return not set(headings.DEFINING[table.name]) & set(headings.exact_columns(table.name, names))
    strays = [name for name in names if name not in table.columns]
    lost = set(headings.exact_columns(table.name, strays)) & set(table.columns) - known
    return "visit" in known or not lost


def sort_out(given: Sequence[Sheet]) -> tuple[list[Sheet], list[Sheet]]:
    """Sheets of the contract, and sheets with headings of their own. Raises BadRecords when every sheet is empty below
    its headings."""
    contract = [sheet for sheet in given if is_contract(sheet)]
    strange = [sheet for sheet in given if not is_contract(sheet)]
    if contract and not any(sheets.has_rows(sheet) for sheet in contract):
        strange = [sheet for sheet in strange if layout.of(sheet) is not None and not sheets.is_guide(sheet)]
        if not strange:
            raise sheets.all_empty(contract)
    return contract, [sheet for sheet in strange if not sheets.is_guide(sheet)]


def _refuse_long(given: Sequence[Sheet]) -> None:
    """Refuse more rows than can be understood while a person waits: each takes a quarter of a millisecond, and a
    kilobyte."""
    rows = itertools.chain.from_iterable(sheet.rows() for sheet in given)
    count = sum(1 for _ in itertools.islice(rows, MOST_ROWS + 1))
    watching.tell(watching.COUNTED, count)
    if count > MOST_ROWS:
        problem = Problem(
            what=f"Sheets with headings of their own hold more than {MOST_ROWS:,} rows.",
            file=given[0].file,
            remedy="Send them in parts, or under the headings of `overwood template`, which are read faster.",
        )
        raise BadRecords(f"{given[0].file} is too long to be understood row by row.", (problem,))


def propose(
    given: Sequence[Sheet],
    answers: Answers | None = None,
    remembered: Mapping[str, Kept] | None = None,
    known: Known | None = None,
) -> Proposal:
    """How every sheet is read, with the questions a person must answer. Raises Misuse when something was said of a
    heading, column, unit, code, key or sheet that is not there; BadRecords when a file breaks off as a table, or is too
    long to be understood row by row."""
    _refuse_long(given)
    given = [part for sheet in given for part in below.apart(sheet)]
    answers, known = answers or Answers(), known or Known()
    drafts = sheets.drafts(given, answers, remembered or {}, known)
    words = legend.of(given)
    order, numbers, asked = _days(drafts, answers)
    in_file = frozenset(
        name for draft in drafts if draft.table == "stands" and draft.lines for name in draft.lines.values("stand")
    )
    made = [sheets.read(draft, order=order, numbers=numbers, words=words, in_file=in_file) for draft in drafts]
    made = together.with_plots_apart(together.with_counts_alike(together.with_rings_apart(made)))
    made = [_asking(one, asked) if one.ready and "visited_on" in one.ready.lines.columns else one for one in made]
    proposal = Proposal(
        file=given[0].file if given else "",
        today=known.today,
        sheets=tuple(dataclasses.replace(one.proposal, body=one) for one in made),
    )
    if proposal.understood:
        strays.refuse(proposal, answers, [one.read for one in made if one.read], drafts)
    return proposal


def _days(drafts: Sequence[Draft], answers: Answers) -> tuple[str, bool, tuple[Question, ...]]:
    """The order of day and month in the whole file, whether numbers are days, and what must be asked of either."""
    days = [cell for draft in drafts if draft.lines for cell in draft.lines.values("visited_on") if cell]
    said, order, questions = Said(answers=answers, sheet=""), dates.order(days), []
    both_ways = sorted({day for day in days if dates.is_open(day)})
    if both_ways and not order:
        asked = ask.day_order(said, both_ways)
        order = asked.value
        questions.append(asked.question)
    numbers = sorted({day for day in days if dates.counted(day)})
    counted = ask.day_numbers(said, numbers) if numbers else None
    questions += [counted.question] if counted else []
    return order, counted is not None and counted.value == "yes", tuple(questions)


def _asking(one: sheets.Read, questions: tuple[Question, ...]) -> sheets.Read:
    shown = dataclasses.replace(one.proposal, questions=(*questions, *one.proposal.questions))
    return dataclasses.replace(one, proposal=shown)


def apply(proposal: Proposal) -> Applied:
    """The sheets as tables of the contract, with the fate of every row. Raises Misuse when a question that needs an
    answer has none; all of them are named."""
    still = proposal.open_questions
    if still:
        raise Misuse("The mapping still has open questions. " + " ".join(f"{one.text} Say {one.how}." for one in still))
    reads = [sheet.body for sheet in proposal.sheets if sheet.body is not None]
    ready = [one.ready for one in reads if one.ready is not None]
    problems = tuple(problem for one in reads for problem in one.problems)
    fates = tuple(fate for sheet in proposal.sheets for fate in sheet.fates)
    return Applied(parts=applying.parts(ready, proposal.today or _FAR), fates=fates, problems=problems)
