"""Timber and choices: what stands there, what it is worth by the user's list, what each choice pays."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from overwood.desk import timber
from overwood.faces.pages import asking, coming
from overwood.ground import measures
from overwood.ground.errors import NotFound
from overwood.judgement.course.steps import caution
from overwood.judgement.evidence.timber import Line, Valued
from overwood.judgement.money.choices import Choices


def answers_of(name: str) -> tuple[str, ...]:
    """The answers that a stand's money is made of."""
    return (f"timber {name}", *((f"choices {name}",) if asking.price_path() else ()))


@coming.at_once("Money", lambda _request, given: answers_of(given["name"]), "money")
def page(request: HttpRequest, name: str) -> HttpResponse:
    """Volume, value and choices; choices need a price list."""
    ask, listed = asking.question(), asking.prices()
    context: dict[str, Any] = {
        "title": f"Money, {name}",
        "name": name,
        "cautions": [caution("money")],
        "prices": listed,
        "found": None,
        "choices": None,
        "missing": "",
    }
    try:
        context["found"] = asking.kept(f"timber {name}", ask, lambda: timber.timber(name, ask, listed, ""))
        if listed is not None:
            answer = asking.kept(f"choices {name}", ask, lambda: timber.choices_answer(name, ask, listed))
            context |= {"choices": answer.answer, "choices_named": answer.words}
    except NotFound as fault:
        context["missing"] = str(fault)
    if context["found"]:
        context |= _standing(context["found"].valued)
    if context["choices"]:
        context |= _ranked(context["choices"])
    return render(request, "money.html", context)


def _standing(valued: Valued) -> dict[str, Any]:
    """Sums by species and product, the most worth first."""
    sums: dict[tuple[str, str, str], list[Line]] = {}
    for line in valued.lines:
        sums.setdefault((line.species, line.product, line.volume.unit.removesuffix("/ac")), []).append(line)
    rows = [_summed(*key, lines) for key, lines in sums.items()]
    rows.sort(key=lambda row: (-(row["value"] or 0.0), -row["volume"]))
    return {
        "sums": rows,
    }


def _summed(species: str, product: str, unit: str, lines: list[Line]) -> dict[str, Any]:
    worths = [line.value.number for line in lines if line.value is not None and line.value.measured]
    volume = sum(line.volume.number for line in lines if line.volume.measured)
    # A few tons an acre are not rounded to whole ones.
    says = f"{measures.digits(volume, f'{unit}/ac', ',.0f' if volume >= 10 else '.1f')} {measures.unit_word(unit)}"
    return {
        "species": species,
        "product": product,
        "says": says,
        "volume": volume,
        "value": sum(worths) if worths else None,
    }


def _ranked(choices: Choices) -> dict[str, Any]:
    """The choices, the best first, each with its places in percent on one scale."""
    low = min(0.0, *(row.low for row in choices.choices))
    high = max(1.0, *(row.high for row in choices.choices))

    def place(value: float) -> float:
        return round(100.0 * (value - low) / (high - low), 1)

    rows = [
        {
            "choice": row,
            "at": place(row.worth),
            "low": place(row.low),
            "high": place(row.high),
            "over_years": any(flow.year > 0 for flow in row.flows),
        }
        for row in sorted(choices.choices, key=lambda row: -row.worth)
    ]
    return {"ranked": rows, "scale": {"low": low, "high": high}}
