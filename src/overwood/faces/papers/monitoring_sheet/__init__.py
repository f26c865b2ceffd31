"""The monitoring sheet: how to count, what was found last time, and a line for each plot."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

from overwood.faces.papers import press
from overwood.ground import tables
from overwood.ground.figure import Figure
from overwood.ground.records import StandFile, Visit
from overwood.judgement.course.steps import caution
from overwood.judgement.evidence.counting import count_of
from overwood.science import reproduction, survey

_BLANK_PLOTS = 40
_SHOWN = ("oak_stems_3ft_ac", "oak_stems_4_5ft_ac", "oak_stocked_4_5ft_share", "tallest_oak_ft", "browse_share")


def write(file: StandFile, figures: dict[str, Figure], on: dt.date, target: Path) -> None:
    """Write the sheet as PDF."""
    press.set_pdf("monitoring_sheet/sheet.typ", content(file, figures, on), target)


def content(file: StandFile, figures: dict[str, Figure], on: dt.date) -> dict[str, Any]:
    """Everything the template prints."""
    visit = file.latest("reproduction")
    plots = [
        f"{point.point} (fence)" if point.fenced else point.point
        for point in file.points
        if visit is not None and point.visit == visit.visit
    ] or [str(n + 1) for n in range(_BLANK_PLOTS)]
    return {
        "title": f"Monitoring sheet, stand {file.stand.stand}",
        "subtitle": f"{file.stand.name or file.stand.stand}, printed {on.day} {on:%B %Y}; day of the count and who counts: ____________________",
        "footer": "Overwood. The same plots, the same weeks, every time.",
        "how": [
            f"Go to the same hidden stakes, late August to September, before leaf fall; {_plot_words(file, visit)}.",
            "Count every oak by height; a stem of exactly 3 ft belongs to 3-4.5. Measure the tallest oak and its collar at the ground, and the tallest rival.",
            "A plot without oak is a zero: write it down. Note bitten tips, and whether the best oak is free (80 % of the rival's height or more).",
        ],
        "last": _last(figures, visit.visited_on if visit else None),
        "cautions": [caution(name) for name in ("field", "snags")],
        "plots": plots,
    }


def _plot_words(file: StandFile, visit: Visit | None) -> str:
    """The radius of this stand's plots; that of the published rule where it was never counted."""
    count = count_of(file, visit) if visit else None
    area = count.plot_ac if count else 1 / tables.constants(reproduction.TABLE)["plots_per_acre"]
    return f"plots of 1/{1 / area:.0f} acre have a radius of {float(survey.plot_radius_ft(area)):.2f} ft"


def _last(figures: dict[str, Figure], day: dt.date | None) -> list[str]:
    if day is None:
        return ["This stand was never counted: set 30 or more plots on a grid with a random start."]
    found = [f"counted {day.day} {day:%B %Y}"]
    for name in _SHOWN:
        figure = figures[name]
        if not figure.measured:
            continue
        scale, unit = (100.0, "%") if figure.unit == "share" else (1.0, figure.unit)
        span = "" if figure.low is None or figure.high is None else f" ({scale * figure.low:,.0f} to {scale * figure.high:,.0f})"
        found.append(f"{name.replace('_', ' ')}: {scale * figure.number:,.0f}{span} {unit}")
    return found
