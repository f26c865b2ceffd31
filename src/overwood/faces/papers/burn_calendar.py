"""The calendar of burn days: one row a year, one cell a day, hours inside the card as colour."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import numpy as np

from overwood.desk.fire import Burn
from overwood.faces.papers import press
from overwood.judgement.fire.days import BurnDays


def write_picture(burn: Burn, target: Path) -> None:
    """Write the calendars of all fuel models as SVG."""
    target.parent.mkdir(parents=True, exist_ok=True)
    target.write_text(press.svg({"vconcat": [chart(block) for block in burn.days]}), encoding="utf-8")


def chart(block: BurnDays) -> dict[str, Any]:
    """The calendar of one fuel model as a Vega-Lite chart; a burn day carries a dot."""
    hours, burn = block.hours, {day.day for season in block.seasons for day in season.days}
    inside, days = hours.inside, np.unique(hours.day)
    order = sorted(
        {_label(day.astype(dt.date)) for day in days}, key=lambda text: dt.datetime.strptime(f"2000 {text}", "%Y %d %b")
    )
    values = [
        {
            "day": _label(day.astype(dt.date)),
            "year": str(day.astype(dt.date).year),
            "hours": int(inside[hours.day == day].sum()),
            "burn": day.astype(dt.date) in burn,
        }
        for day in days
    ]
    x = {
        "field": "day",
        "type": "ordinal",
        "sort": order,
        "axis": {"title": None, "labelAngle": -90, "labelFontSize": 8},
    }
    y = {"field": "year", "type": "ordinal", "axis": {"title": None}}
    colour = {
        "field": "hours",
        "type": "quantitative",
        "scale": {"scheme": "cividis", "domain": [0, 7]},
        "legend": {"title": "hours inside", "orient": "right"},
    }
    return {
        "title": {"text": f"{block.fuel}: {block.mean_days:.1f} burn days a season (dots)", "fontSize": 12},
        "width": {"step": 12},
        "height": {"step": 16},
        "data": {"values": values},
        "layer": [
            {"mark": {"type": "rect", "stroke": "#FFFFFF"}, "encoding": {"x": x, "y": y, "color": colour}},
            {
                "transform": [{"filter": "datum.burn"}],
                "mark": {"type": "point", "filled": True, "color": press.LOOK["need"], "size": 40, "opacity": 1},
                "encoding": {"x": x, "y": y},
            },
        ],
    }


def _label(day: dt.date) -> str:
    return f"{day:%d %b}"
