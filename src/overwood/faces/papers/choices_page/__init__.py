"""One page for the owner: what each choice pays, what it turns on, and what is not known of the oak."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

from overwood.faces.papers import press
from overwood.faces.papers.owner_brief import sentence
from overwood.ground import measures
from overwood.judgement.course.steps import caution
from overwood.judgement.money.choices import GROWN_BY, Choices


def write(choices: Choices, on: dt.date, target: Path) -> None:
    """Write the page as PDF."""
    press.set_pdf("choices_page/choices.typ", content(choices, on), target)


def content(choices: Choices, on: dt.date) -> dict[str, Any]:
    """Everything the template prints."""
    return {
        "title": f"Stand {choices.stand}: what each choice pays",
        "subtitle": (
            f"For the owner, {on.day} {on:%B %Y}. {measures.unit_word('US$ an acre')}, in today's money, worth "
            f"now at {choices.rate:.0%} a year above inflation."
        ),
        "footer": f"Overwood. Prices: {choices.price_list}. Not an appraisal and not a promise.",
        "lead": (f"{sentence(choices.too_old)} " if choices.too_old else "")
        + (
            f"About {measures.amount(choices.value_now_usd_ac, 'US$ an acre', ',.0f')} stands here now, growing "
            f"{choices.growth_share_yr:.1%} a year.{_gap(choices)} Oak itself has no price in these figures; you "
            "weigh it."
        ),
        "rate": f"{choices.rate:.0%}",
        "area": measures.unit_word("an acre"),
        "chart": press.svg(chart(choices)),
        "rows": [
            {
                "name": c.name,
                "npv": _usd(c.npv[choices.rate]),
                "low": _usd(c.low),
                "high": _usd(c.high),
                "land": _usd(c.land_after_npv),
                "oak": c.oak,
            }
            for c in choices.choices
        ],
        "turns": _turns(choices),
        "notes": [
            f"{GROWN_BY}. They are priced by your list.",
            "Sale fees, marking, injection and counts are taken from your list; what the list lacks is counted as free"
            + (f": {', '.join(choices.missing_costs)}." if choices.missing_costs else "; here nothing is lacking."),
            "Land after is the worth now of bare land when the last tree is sold, an assumption.",
        ],
        "cautions": [caution("money"), caution("forecast")],
    }


def _usd(value_ac: float) -> str:
    return measures.digits(value_ac, "US$/ac", ",.0f")


def _gap(choices: Choices) -> str:
    """What a shelterwood in two cuts costs against cutting all now, where it is open."""
    worth = {c.code: c.worth for c in choices.choices}
    if "two_cuts" not in worth:
        return ""
    less = worth["cut_now"] - worth["two_cuts"]
    amount = measures.amount(abs(less), "US$ an acre", ",.0f")
    if less < 0:
        return f" The two-cut shelterwood is worth {amount} more than cutting all now."
    return f" The two-cut shelterwood is worth {amount} less than cutting all now: that is the price of oak's chance."


def _turns(choices: Choices) -> list[str]:
    lines = [
        f"A year of waiting costs about {measures.amount(choices.waiting_usd_ac, 'US$ an acre', ',.0f')} at "
        f"{choices.rate:.0%}."
    ]
    for c in choices.choices:
        if c.tried.crop_fails is not None:
            rates = ", ".join(f"{_usd(value)} at {rate:.0%}" for rate, value in c.npv.items())
            lines.append(
                f"{c.name[:1].upper()}{c.name[1:]}: {rates}; {_usd(c.tried.crop_fails)} if the acorns fail three "
                f"years; {_usd(c.tried.costs_doubled)} if costs double."
            )
    return lines


def _chart_usd(value_ac: float) -> float:
    return measures.convert(value_ac, "US$/ac")


def chart(choices: Choices) -> dict[str, Any]:
    """Present value of each choice with its price range."""
    rows = [
        {"choice": c.name, "npv": _chart_usd(c.npv[choices.rate]), "low": _chart_usd(c.low), "high": _chart_usd(c.high)}
        for c in choices.choices
    ]
    y = {"field": "choice", "type": "nominal", "sort": None, "axis": {"title": None}}
    return {
        "width": 420,
        "height": 150,
        "data": {"values": rows},
        "layer": [
            {
                "mark": {"type": "rule", "strokeWidth": 5, "color": press.LOOK["other"]},
                "encoding": {
                    "y": y,
                    "x": {"field": "low", "type": "quantitative", "axis": {"title": measures.unit_word("US$ an acre")}},
                    "x2": {"field": "high"},
                },
            },
            {
                "mark": {"type": "point", "filled": True, "size": 90, "opacity": 1, "color": press.LOOK["oak"]},
                "encoding": {"y": y, "x": {"field": "npv", "type": "quantitative"}},
            },
        ],
    }
