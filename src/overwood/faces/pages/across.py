"""Oak and money across the property: for each stand the oak above and the oak below on one scale, and what stands
there by the price list."""

from __future__ import annotations

import functools
import math
import time
from dataclasses import dataclass

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.template.loader import render_to_string

from overwood.desk import timber
from overwood.desk.answers import Question
from overwood.faces.pages import asking, coming, judging
from overwood.ground import measures
from overwood.ground.errors import OverwoodError
from overwood.ground.figure import Figure
from overwood.ground.records import Stand

_WORTH, _DRAWN = "worth", "across drawn"
# How long one request works on what the stands that are left are worth.
_TURN_S = 1.0


@dataclass(frozen=True, kw_only=True)
class Row:
    """A stand: shares of the basal area and of the plots that are oak, the plots wanted, and its worth an acre; None
    where one is not measured, and the reason where the stand cannot be judged."""

    stand: Stand
    above: Figure | None = None
    below: Figure | None = None
    wanted: Figure | None = None
    worth: Figure | None = None
    fault: str = ""

    @property
    def total_usd(self) -> float | None:
        """What the whole stand is worth by the list; None without an area or a worth."""
        return self.worth.number * self.stand.area_ac if self.worth and self.stand.area_ac else None


def page(request: HttpRequest) -> HttpResponse:
    """One picture of every stand, with its numbers: opened in a browser it comes at once with the stands that are
    worked out, and fetches the rest some at a time; only who asks to wait waits for all."""
    ask = asking.question()
    if coming.waits(request):
        standing, budget_s = judging.standing(ask, judging.WHOLE_WITHIN_S), math.inf
    else:
        standing, budget_s = judging.standing(ask, judging.WAIT_S), 0.0 if coming.opens(request) else _TURN_S
    made = _worked_out(standing, ask, budget_s)
    rests_on = (tuple(made), ask.prices is None)
    context = {
        "title": "Oak and money across the property",
        "drawn": asking.DESK.kept.once((_DRAWN, measures.system()), rests_on, lambda: _drawn(made, ask)),
        "count": len(made),
        "stopped": standing.is_stopped,
        "left": len(standing.stands) - len(made),
    }
    return render(request, "across.html", context)


def _worked_out(standing: judging.Standing, ask: Question, budget_s: float) -> list[Row]:
    """The stands that are judged and whose worth is known or can be worked out in the time: anew only when the records
    of one change, or the day, the rules or the prices."""
    until, rows = time.monotonic() + budget_s, []
    for stand in standing.stands:
        name = stand.stand
        if name in standing.faults:
            rows.append(Row(stand=stand, fault=standing.faults[name]))
        if name not in standing.known:
            continue
        key, rests_on = (name, _WORTH, measures.system()), standing.marks[name]
        held = asking.DESK.judged.get(key)
        if (held is None or held[0] != rests_on) and time.monotonic() >= until:
            continue
        worth = asking.DESK.judged.once(key, rests_on, functools.partial(_worth, name, ask))
        figures = standing.known[name].advice.figures
        above, below, wanted = (figures[which] if figures[which].measured else None for which in judging.FIGURES)
        rows.append(Row(stand=stand, above=above, below=below, wanted=wanted, worth=worth))
    return rows


def _drawn(rows: list[Row], ask: Question) -> str:
    """The picture and its table."""
    totals = [row.total_usd for row in rows if row.total_usd is not None]
    most = max((row.worth.high or row.worth.number for row in rows if row.worth), default=0.0)
    context = {
        "rows": [(row, _money_places(row.worth, most)) for row in rows],
        "most_usd_ac": most,
        "has_prices": ask.prices is not None,
        "total_usd": round(sum(totals), -3) if totals else None,
        "valued": len(totals),
    }
    return render_to_string("across_rows.html", context)


def _worth(name: str, ask: Question) -> Figure | None:
    """What an acre is worth by the list, with its error; None where nothing was cruised or nothing has a price."""
    if ask.prices is None:
        return None
    try:
        worth: Figure | None = timber.timber(name, ask, ask.prices, "").valued.value_usd_ac
    except OverwoodError:
        return None
    return worth if worth is not None and worth.measured else None


def _money_places(worth: Figure | None, most: float) -> dict[str, float]:
    """Places in percent of the scale from 0 to the most."""
    if worth is None or most <= 0:
        return {}
    ends = {"at": worth.number, "low": worth.low, "high": worth.high}
    return {name: round(100 * (worth.number if end is None else end) / most, 1) for name, end in ends.items()}
