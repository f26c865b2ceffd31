"""What is said of a sheet that was read: rows and columns that were left out, blanks that were filled."""

from __future__ import annotations

from collections.abc import Container, Mapping, Sequence

from overwood.memory.exchange import headings
from overwood.memory.exchange.layout import Layout
from overwood.memory.exchange.proposal import RowFate
from overwood.memory.exchange.straighten import Lines


def of_rows(fates: Sequence[RowFate]) -> list[str]:
    """Rows that hold no line, by what they are."""
    notes = []
    for fate, word in (
        ("total", "Left out as totals"),
        ("note", "Left out as notes"),
        ("empty", "Looked at, nothing counted"),
    ):
        rows = [one for one in fates if one.fate == fate]
        if rows:
            shown = ", ".join(f"row {one.row}" + (f" ({one.why})" if one.why else "") for one in rows[:6])
            notes.append(f"{word}: {shown}{f' and {len(rows) - 6} more' if len(rows) > 6 else ''}.")
    return notes


def of_filled(lines: Lines) -> list[str]:
    """The columns whose blanks took the value above."""
    return [f"Blank cells and ditto marks of {', '.join(lines.filled)} take the value above."] if lines.filled else []


def of_legend(words: Mapping[str, str]) -> list[str]:
    """Codes that the sheet itself explains."""
    shown = ", ".join(f"{code} is {meaning}" for code, meaning in list(words.items())[:12])
    if words:
        return [f"Codes are read as the sheet explains them: {shown}{' and more' if len(words) > 12 else ''}."]
    return []


def of_unused(layout: Layout, used: Container[int]) -> list[str]:
    """Columns that are not read, with and without a heading."""
    left = [cell for place, cell in enumerate(layout.headings) if cell and place not in used]
    width = max((len(cells) for _, cells in layout.body), default=0)
    bare = [place for place in range(width) if place >= len(layout.headings) or not layout.headings[place]]
    filled = [
        place
        for place in bare[: headings.MOST_HEADINGS]
        if any(place < len(cells) and cells[place].strip() for _, cells in layout.body)
    ]
    an_acre = [cell for cell in left if headings.is_per_area(cell)]
    notes = [f"{', '.join(an_acre)} is an amount an acre, no count, and is not read."] if an_acre else []
    notes += [f"Not used: {', '.join(left[:20])}{' and more' if len(left) > 20 else ''}."] if left else []
    return notes + ([f"{len(filled)} columns have values and no heading; they are left out."] if filled else [])
