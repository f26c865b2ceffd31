"""Free words of a sheet (titles, notes, remarks) that may change what its lines are, and of which nothing is read.

Days, places, factors and sums that are understood are set aside; what holds another number or a telling word is not.
"""

from __future__ import annotations

import functools
import re
from collections.abc import Iterator, Sequence

from overwood.memory.exchange import headings
from overwood.memory.exchange.design import NAMED_FACTOR, NAMED_PLOT
from overwood.memory.exchange.draft import Draft
from overwood.memory.exchange.straighten import Lines

_MONTHS = "jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec"
_DAYS = (
    r"\b\d{1,4}[/.-]\d{1,2}[/.-]\d{1,4}\b",
    rf"\b\d{{1,2}}(?:st|nd|rd|th)?[ -]*(?:{_MONTHS})[a-z]*\.?",
    rf"\b(?:{_MONTHS})[a-z]*\.?[ -]*\d{{1,2}}(?:st|nd|rd|th)?\b",
    r"\b(?:19|20)\d\d\b|'\d\d\b",
    r"\b\d{1,2}:\d\d(?: ?[ap]m)?\b",
)
# Plots that are named or counted, acres of a stand, degrees, codes with their meanings, names such as K1 and T12N.
_PLACES = (
    r"\b(?:plots?|points?|pts?|plt|stations?|lines?|transects?)\b[^\d.;]{0,20}\d+(?:\s*(?:,|and|-|to|&|thru)\s*\d+)*"
    r"\b(?![./]\d)(?!\s*(?:m2|m\u00b2|m\b|ha\b|ac|ft|feet|'|sq|%|cm))",
    r"\b\d+\s*(?:[a-z]+ )?(?:plots|points|pts|stations|milacres)\b",
    r"\b\d+(?:\.\d+)?[ -]*ac(?:res?)?\b(?! *plot)",
    r"-?\b\d{1,3}\.\d{3,}\b|\b\d+ ?(?:\u00b0|deg)[a-z]*",
    r"\b\w{1,4}\s*=\s*[a-z][a-z ./-]*",
    r"\b(?!x\d)[a-z]+[-_]?\d+[a-z]?\b",
)
# Half logs and plots without trees are read where they are understood.
_UNDERSTOOD = (
    r"\b\d+(?:\.\d+)?[ -]*(?:ft|foot|')?\.?[ -]*(?:half[ -]*)?logs?\b",
    r"\bwithout (?:trees?|stems?|regen\w*|seedlings?)\b",
)
# Factors and plots in passing are held against those that the sheet is read with.
_NAMED = (NAMED_FACTOR.pattern, re.sub(r"\?P<\w+>", "", NAMED_PLOT.pattern))
_LABELED = r"\b(?:{})\b[\s.:#]*(?:no\.?|number)?[\s.:#]*\d+[a-z]?\b(?!\.\d)(?: of \d+)?"
_SIZED = r"\b(?:{})\s*[:=]\s*[\d./]+"
_SENTENCE = re.compile(r"\S\s*[=:]\s*\S|\w+\W+\w+\W+\w+")
_FEET = r"\b\d+(?:\.\d+)?\s*(?:-|to)?\s*(?:\d+\s*)?(?:ft\b|feet\b|'|%|logs?\b)"


def of_titles(draft: Draft, lines: Lines, known: Sequence[re.Pattern[str]]) -> dict[str, list[int]]:
    """Titles and notes that hold a number or a telling word which nothing reads, with their rows; ``known`` are sums
    that are held against the lines."""
    texts: dict[str, list[int]] = {}
    for row, text in _texts(draft, lines):
        if _is_odd(text, "telling_title", [one.pattern for one in known], _plain()):
            texts.setdefault(text, []).append(row)
    return texts


def of_remark(text: str, known: Sequence[str] = ()) -> bool:
    """Whether a remark beside a line holds a number or a telling word; ``known`` are patterns of what a column says."""
    return _is_odd(text, "telling_remark", known, (*_plain(), _FEET))


def _texts(draft: Draft, lines: Lines) -> Iterator[tuple[int, str]]:
    layout = draft.layout
    if layout is None:
        return
    # Rows that were left out for a reason of their own were asked about.
    told = {one.row: one.why for one in lines.fates if one.fate == "note"}
    notes = [(row, cells) for row, cells in layout.body if row in told and " ".join(_filled(cells))[:80] == told[row]]
    # Words in the row of headings, over a column that holds nothing.
    for at, cell in enumerate(layout.headings):
        is_empty = at not in draft.used and not any(at < len(cells) and cells[at].strip() for _, cells in layout.body)
        if _SENTENCE.search(cell) and is_empty:
            yield max(layout.heading_rows, default=0), cell
    for row, cells in (*layout.titles, *layout.beside, *notes):
        if filled := _filled(cells):
            yield row, " ".join(dict.fromkeys(filled))


def _filled(cells: Sequence[str]) -> list[str]:
    return [cell.strip() for cell in cells if cell.strip()]


@functools.cache
def _plain() -> tuple[str, ...]:
    """What is understood, or says nothing of the lines: days, places, factors, sums."""
    named = {word for kind in ("stand", "point", "date") for word in headings.words(f"section_{kind}")}
    named |= {*headings.words("aside_if_one"), *headings.words("aside"), *headings.words("note")}
    named |= {"sheet", "map", "file", "team", "block", "lot", "no", "#"}
    sized = headings.words("section_baf") | headings.words("section_plot_area")
    labels, sizes = ("|".join(sorted(map(re.escape, some), key=len, reverse=True)) for some in (named, sized))
    return (*_DAYS, *_NAMED, _LABELED.format(labels), _SIZED.format(sizes), *_PLACES)


def _is_odd(text: str, kind: str, known: Sequence[str], plain: Sequence[str]) -> bool:
    """Whether words tell, or a number is left, once what is known is set aside; numbers that say nothing are plain."""
    bare = _without(text.lower(), (*known, *_UNDERSTOOD))
    return bool(_telling(kind).search(bare)) or any(map(str.isdigit, _without(bare, plain)))


def _without(text: str, patterns: Sequence[str]) -> str:
    for pattern in patterns:
        text = re.sub(pattern, " ", text, flags=re.IGNORECASE)
    return text


@functools.cache
def _telling(kind: str) -> re.Pattern[str]:
    return re.compile(rf"\b(?:{'|'.join(map(re.escape, sorted(headings.words(kind))))})\b")
