"""What a file would come to, in the words that the command and the page both use."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from overwood.ground import measures

if TYPE_CHECKING:
    from overwood.desk.importing import RowSums
    from overwood.desk.review import Change, RecordReview, Review, VisitReview, VisitTotals

_STATES = {
    "new": "new",
    "adds": "adds to it",
    "replaces": "replaces values",
    "grows": "adds stems to points that have a tally",
    "same": "there already",
    "conflict": "is in dispute with what is there",
}


def state(code: str) -> str:
    """What a file does to a visit or a record."""
    return _STATES.get(code, code)


def totals(seen: VisitTotals | None) -> str:
    """Points, stems, basal area and trees per acre of a visit; what a kind of visit has none of is left out."""
    if seen is None:
        return ""
    parts = [f"{seen.points:,} points", f"{seen.stems:,} stems"]
    if seen.ba_ft2_ac is not None:
        parts.append(f"{measures.amount(seen.ba_ft2_ac, 'ft2/ac', ',.1f')} basal area")
    if seen.trees_ac is not None:
        parts.append(f"{measures.amount(seen.trees_ac, 'trees/ac', ',.0f')}")
    if seen.stocking_pct is not None:
        parts.append(f"{seen.stocking_pct:.0f}% stocked")
    return ", ".join(parts)


def visit(seen: VisitReview) -> str:
    """One visit of a review in a line."""
    rows = ", ".join(f"{count:,} {table}" for table, count in seen.rows.items() if count)
    said = f"{seen.visit} ({seen.kind} of {seen.stand}, {seen.visited_on}): {state(seen.state)}"
    before = f"; now {totals(seen.before)}; then {totals(seen.after)}" if seen.before else f"; {totals(seen.after)}"
    grown = f" (points {_some(seen.grown)})" if seen.grown else ""
    stays = f"; {staying(seen)}" if seen.stays else ""
    same = f"; {seen.same:,} rows are there already" if seen.same else ""
    doubt = f"; DOUBT: {overfull(seen)}" if seen.overfull_pct is not None else ""
    return said + grown + (f"; {rows} come in" if rows else "") + same + stays + before + doubt


def staying(seen: VisitReview) -> str:
    """What the book holds at points of a file that the file does not have; "" where there is nothing."""
    return f"not in this file and still in the book at its points: {_some(seen.stays)}" if seen.stays else ""


def _some(names: tuple[str, ...], most: int = 8) -> str:
    return ", ".join(names[:most]) + (f" and {len(names) - most} more" if len(names) > most else "")


def overfull(seen: VisitReview) -> str:
    """Why a cruise is doubted before it is stored; "" where it is not."""
    if seen.overfull_pct is None:
        return ""
    return (
        f"{totals(seen.after)} is {seen.overfull_pct:.0f}% stocked, more than stands are; "
        "look at the basal area factor or plot size, at the unit of the diameters and at the points that were empty"
    )


def change(one: Change) -> str:
    """An old value beside the new one."""
    return f"{one.table} {one.key}: {one.column} {one.before or 'blank'} -> {one.after or 'blank'}"


def record(one: RecordReview) -> str:
    """A property, stand or operation of a review in a line."""
    return f"{one.table} {one.key}: {state(one.state)}"


def replacements(review: Review, said: Callable[[Change], str] = change) -> list[str]:
    """Everything that would be replaced or withdrawn, old beside new."""
    lines = []
    for seen in review.visits:
        lines += [said(one) for one in seen.changes] + [f"{row}: withdrawn" for row in seen.withdrawn]
        lines += [f"{row}: another record of it is there; both would be in dispute" for row in seen.clashes]
    for other in review.others:
        lines += [said(one) for one in other.changes]
    return lines


def sums(rows: RowSums, *, written: bool) -> str:
    """Rows of a file by what became of them, or would, where nothing was ``written``; the parts add up, and it is said
    where they do not."""
    word = "stored" if written else "to store"
    parts = (
        f"{rows.rows:,} rows = {rows.stored:,} {word} + {rows.empty_plots:,} empty plots + {rows.notes:,} "
        f"headings, totals and notes + {rows.refused:,} refused + {rows.already:,} already there"
    )
    return parts if rows.closes else f"{parts}: THESE DO NOT ADD UP, tell us"
