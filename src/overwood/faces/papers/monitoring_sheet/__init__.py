"""The monitoring sheet: how to count, what was seen last time, and a line for each plot."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

from overwood.faces.papers import language, press
from overwood.faces.papers.language import ENGLISH, Text, Words
from overwood.ground import measures, tables
from overwood.ground.figure import Figure
from overwood.ground.records import StandFile, Visit
from overwood.judgement.evidence.counting import plot_ac
from overwood.science import reproduction, survey

_BLANK_PLOTS = 40
# Figures of the last count, with the places they are printed to; a share is a percentage.
_LAST = {
    "oak_stems_3ft_ac": 0,
    "oak_stems_4_5ft_ac": 0,
    "oak_stocked_4_5ft_share": 0,
    "tallest_oak_ft": 1,
    "browse_share": 0,
}


def write(file: StandFile, figures: dict[str, Figure], on: dt.date, target: Path, tongue: str = ENGLISH) -> None:
    """Write the sheet as PDF."""
    press.set_pdf("monitoring_sheet/sheet.typ", content(file, figures, on, tongue), target)


def content(file: StandFile, figures: dict[str, Figure], on: dt.date, tongue: str = ENGLISH) -> dict[str, Any]:
    """Everything the template prints."""
    words = language.words("monitoring_sheet", tongue)
    visit = file.latest("reproduction")
    points = [point for point in file.points if visit is not None and point.visit == visit.visit]
    fence = [words.text("fence")] if any(point.fenced for point in points) else []
    free_pct = 100 * tables.constants(reproduction.TABLE)["competitive_height"]
    return words.frame(
        title=words.line("title", stand=file.stand.stand),
        heading=words.text("title", stand=file.stand.stand),
        subtitle=words.text("subtitle", name=file.stand.name or file.stand.stand, day=on),
        headings={name: words.text(f"head_{name}") for name in ("how", "last", "tally")},
        how=[_go(file, visit, words), words.text("count"), words.text("zero", pct=f"{free_pct:.0f}"), *fence],
        last=_last(figures, visit.visited_on if visit else None, words),
        cautions=[words.caution(name) for name in ("field", "snags")],
        heads=[_limits(head) for head in words.texts("heads")],
        plots=[f"{point.point} F" if point.fenced else point.point for point in points]
        or [str(n + 1) for n in range(_BLANK_PLOTS)],
    )


def _go(file: StandFile, visit: Visit | None, words: Words) -> Text:
    """Where to count, with the size of this stand's plots; that of the published rule where it was never counted."""
    area = plot_ac(file, visit)
    return words.text("go", part=f"{1 / area:.0f}", radius=f"{float(survey.plot_radius_ft(area)):.2f}")


def _last(figures: dict[str, Figure], day: dt.date | None, words: Words) -> list[Text]:
    if day is None:
        return [words.text("never")]
    measured = {name: figures[name] for name in _LAST if figures[name].measured}
    return [
        words.text("counted", day=day),
        *(words.text(name, value=_span(figure, _LAST[name])) for name, figure in measured.items()),
    ]


def _span(figure: Figure, places: int) -> str:
    """A figure with its interval; a share as a percentage."""
    scale = 100.0 if figure.unit == "share" else 1.0
    number, *ends = (
        measures.digits(scale * one, figure.unit, f",.{places}f")
        for one in (figure.number, figure.low, figure.high)
        if one is not None
    )
    span = f" ({ends[0]}-{ends[1]})" if len(ends) == 2 else ""
    return measures.with_unit(number, "%" if figure.unit == "share" else "", span)


def _limits(head: Text) -> Text:
    """The heading of a column; a height class by its limits in the system in force."""
    return measures.limits(head, "ft") if isinstance(head, str) and head[0].isdigit() else head
