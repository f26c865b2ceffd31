"""What is due as a calendar: month by month, each season as a bar across the months ahead."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.template.loader import render_to_string
from django.utils.safestring import SafeString

from overwood.faces.pages import asking, judging, property
from overwood.ground import measures
from overwood.judgement.course.due import Due
from overwood.judgement.gates.windows import Window

MONTHS = 18


@dataclass(frozen=True, kw_only=True)
class Line:
    """The same work in the same season: its stands, and its bar across the months, in percents."""

    what: str
    window: Window
    why: str
    stands: tuple[tuple[str, str], ...]
    cautions: tuple[str, ...]
    days_left: int | None
    x: float
    wide: float


def page(request: HttpRequest) -> HttpResponse:
    """All that is due in the months ahead; of one stand where the address names it."""
    ask, only = asking.question(), request.GET.get("stand", "")
    standing = judging.standing(ask, judging.WAIT_S)
    # A page of many stands is drawn anew only when one was judged anew.
    rests_on = (ask.on, standing.stands, tuple(standing.marks.items()))
    months = asking.DESK.drawn.once(("due", only, measures.system()), rests_on, lambda: _months(standing, ask.on, only))
    context = {
        "title": "What is due",
        "months": months,
        "left": standing.left,
        "stopped": standing.is_stopped,
        "stands": standing.stands,
        "only": only,
        "again": request.get_full_path(),
    }
    return render(request, "due.html", context)


def _months(standing: judging.Standing, on: dt.date, only: str) -> SafeString | str:
    """The months ahead in which something is due, drawn; nothing where there is none."""
    first, last = _first_of(on, 0), _first_of(on, MONTHS) - dt.timedelta(days=1)
    names = {one.stand: one.name for one in standing.stands}
    coming = [one for one in property.due(standing, on, (last - on).days) if only in ("", one.stand)]
    months: dict[dt.date, list[Line]] = {}
    for line in lines(coming, names, Window(first, last)):
        months.setdefault(_first_of(max(line.window.start, on), 0), []).append(line)
    axis = [(_first_of(on, number), round(100 * number / MONTHS, 2)) for number in range(0, MONTHS, 3)]
    context = {"months": sorted(months.items()), "axis": axis, "today": _place(on, Window(first, last)), "day": on}
    return render_to_string("due_months.html", context) if months else ""


def lines(coming: list[Due], names: dict[str, str], span: Window) -> list[Line]:
    """What is due, the same work in the same season once, in the order of the calendar."""
    groups: dict[tuple[str, Window, tuple[str, ...]], list[Due]] = {}
    for one in coming:
        groups.setdefault((one.what, one.window, one.cautions), []).append(one)
    return [_line(group, names, span) for group in groups.values()]


def _line(group: list[Due], names: dict[str, str], span: Window) -> Line:
    one = group[0]
    x, end = _place(one.window.start, span), _place(one.window.end + dt.timedelta(days=1), span)
    return Line(
        what=one.what,
        window=one.window,
        why="; ".join(dict.fromkeys(each.why for each in group)),
        stands=tuple((each.stand, names.get(each.stand) or "") for each in group),
        cautions=one.cautions,
        days_left=min((each.days_left for each in group if each.days_left is not None), default=None),
        x=x,
        wide=max(round(end - x, 2), 0.6),
    )


def _place(day: dt.date, span: Window) -> float:
    share = (day - span.start).days / ((span.end - span.start).days + 1)
    return round(100 * min(max(share, 0.0), 1.0), 2)


def _first_of(day: dt.date, months: int) -> dt.date:
    """The first day of the month so many months on."""
    number = day.year * 12 + day.month - 1 + months
    return dt.date(number // 12, number % 12 + 1, 1)
