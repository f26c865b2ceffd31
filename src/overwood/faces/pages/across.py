"""Oak and money across the property: for each stand the oak above and the oak below on one scale, and what stands
there by the price list."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from overwood.desk import answers, session, timber
from overwood.desk.answers import Question
from overwood.faces.pages import asking, coming
from overwood.ground.errors import OverwoodError
from overwood.ground.figure import Figure
from overwood.ground.records import Stand

_ANSWER = "across"
_OAK = ("oak_share", "oak_stocked_4_5ft_share", "needed_stocked_share")


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


@coming.at_once("Oak and money across the property", lambda _request, _given: (_ANSWER,))
def page(request: HttpRequest) -> HttpResponse:
    """One picture of every stand, with its numbers."""
    ask = asking.question()
    rows: list[Row] = asking.kept(_ANSWER, ask, lambda: [_row(stand, ask) for stand in session.stands()])
    totals = [row.total_usd for row in rows if row.total_usd is not None]
    most = max((row.worth.high or row.worth.number for row in rows if row.worth), default=0.0)
    context: dict[str, Any] = {
        "title": "Oak and money across the property",
        "rows": [(row, _money_places(row.worth, most)) for row in rows],
        "most_usd_ac": most,
        "has_prices": ask.prices is not None,
        "total_usd": round(sum(totals), -3) if totals else None,
        "valued": len(totals),
    }
    return render(request, "across.html", context)


def _row(stand: Stand, ask: Question) -> Row:
    try:
        figures = answers.advice(stand.stand, ask).figures
    except OverwoodError as fault:
        return Row(stand=stand, fault=str(fault))
    above, below, wanted = (figures[name] if figures[name].measured else None for name in _OAK)
    return Row(stand=stand, above=above, below=below, wanted=wanted, worth=_worth(stand.stand, ask))


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
