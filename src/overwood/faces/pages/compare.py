"""Stands side by side: what each needs, how firm that is, its numbers against their limits, light and money, in one
table."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from overwood.desk import session, timber
from overwood.desk.answers import Brief, Question
from overwood.faces.pages import asking, coming, drawn, money, stand
from overwood.faces.papers import owner_brief
from overwood.ground import measures
from overwood.ground.errors import Misuse, NotFound
from overwood.ground.figure import Figure
from overwood.ground.measures import many

FEWEST, MOST = 2, 4
_ESTIMATES = (
    ("floor_light_pct", "Light on the forest floor"),
    ("overwood_ba_ft2_ac", "Basal area"),
    ("overwood_stocking_pct", "Stocking"),
    ("oak_share", "Oak in the main canopy"),
    ("age_yr", "Age"),
)


def _chosen(request: HttpRequest) -> list[str]:
    """The stands asked for, each once, in the order of the address."""
    return list(dict.fromkeys(request.GET.getlist("stand")))


def _answers(request: HttpRequest, given: dict[str, Any]) -> tuple[str, ...]:
    names = _chosen(request)
    if not FEWEST <= len(names) <= MOST:
        return ()
    return tuple(answer for name in names for answer in (f"brief {name}", *money.answers_of(name)))


@coming.at_once("Side by side", _answers)
def page(request: HttpRequest) -> HttpResponse:
    """Two to four stands in one table; with another number of them, the choice."""
    names = _chosen(request)
    context: dict[str, Any] = {"title": "Side by side", "stands": session.stands(), "names": names, "most": MOST}
    if names and not FEWEST <= len(names) <= MOST:
        context["refusal"] = f"{many(len(names), 'stand')} chosen. Choose {FEWEST} to {MOST}."
    elif names:
        context |= _table([stand.brief_of(name, asking.question()) for name in names])
    return render(request, "compare.html", context)


def _table(briefs: list[Brief]) -> dict[str, Any]:
    """The columns, and the rows of what is compared."""
    ask = asking.question()
    gauges = [drawn.gauges(one.advice, ask.rules) for one in briefs]
    headings = list(dict.fromkeys(gauge.heading for row in gauges for gauge in row))
    by_heading = [{gauge.heading: gauge for gauge in row} for row in gauges]
    valued = [_money(one, ask) for one in briefs]
    return {
        "columns": [
            {"advice": one.advice, "lead": owner_brief.lead(one.advice), "dots": stand.dots(one.advice.firm.stays)}
            for one in briefs
        ],
        "limits": [(heading, [row.get(heading) for row in by_heading]) for heading in headings],
        "estimates": [(label, [one.advice.figures[name] for one in briefs]) for name, label in _ESTIMATES],
        "money": [(label, [row[label] for row in valued]) for label in valued[0]],
    }


def _money(brief: Brief, ask: Question) -> dict[str, Figure | str]:
    """Volume, value and the best choice of a stand; in words where there is none."""
    name, listed = brief.advice.stand, asking.prices()
    try:
        valued = asking.kept(f"timber {name}", ask, lambda: timber.timber(name, ask, listed, "")).valued
    except (NotFound, Misuse) as fault:
        return dict.fromkeys(("Sawtimber", "Worth now", "Pays best"), Exception.__str__(fault))
    worth: Figure | str = valued.value_usd_ac if valued.value_usd_ac is not None else "no prices"
    return {"Sawtimber": valued.sawtimber_bf_ac, "Worth now": worth, "Pays best": _best(name, ask)}


def _best(name: str, ask: Question) -> str:
    listed = asking.prices()
    if listed is None:
        return "no prices"
    compared = asking.kept(f"choices {name}", ask, lambda: timber.choices_answer(name, ask, listed)).answer
    best = max(compared.choices, key=lambda row: row.worth)
    return (
        f"{best.name}: {measures.amount(best.worth, 'US$/ac', ',.0f')} "
        f"({measures.digits(best.low, 'US$/ac', ',.0f')} to {measures.digits(best.high, 'US$/ac', ',.0f')})"
    )
