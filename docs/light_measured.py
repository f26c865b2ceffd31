"""The picture of measured light beside the light field: published points with their spans, and blocks drawn from a demo cruise."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from overwood.desk import answers
from overwood.faces.papers import press
from overwood.ground import tables
from overwood.judgement.drawn_stand import drawn_light

TABLE = "science/tables/light_measured.csv"
RESIDUALS = (20.0, 30.0, 45.0, 60.0, 75.0, 90.0)
FT2_AC_PER_M2_HA = 10.7639 / 2.47105
# Measurements that give no basal area are drawn beyond the end of the others.
NOT_GIVEN = 160.0


def _measured() -> list[dict[str, Any]]:
    rows = []
    for row in tables.rows(TABLE):
        ba = float(row["ba_m2_ha"]) * FT2_AC_PER_M2_HA if row["ba_m2_ha"] else NOT_GIVEN
        rows.append({"ba": round(ba, 1), "low": float(row["light_low_pct"]), "high": float(row["light_high_pct"]), "who": f"measured: {row['source']}"})
    return rows


def _modelled(stand: str, ask: answers.Question) -> list[dict[str, Any]]:
    found = drawn_light(answers.stand_file(stand).as_of(ask.on), ask.rules, RESIDUALS, seed=1)
    return [{"ba": d.ba_ft2_ac, "mean": d.mean_pct, "low": d.low_pct, "high": d.high_pct, "who": f"light field: 12 blocks of {stand}"} for d in found]


def write(stand: str, ask: answers.Question, target: Path) -> None:
    """Write the picture as SVG."""
    x = {"field": "ba", "type": "quantitative", "axis": {"title": "basal area standing, ft²/ac (160: not given)"}, "scale": {"domain": [0, 165]}}
    y = {"field": "low", "type": "quantitative", "axis": {"title": "light on the floor, % of full sun"}}
    colour = {"field": "who", "type": "nominal", "legend": {"title": None, "orient": "top", "columns": 2}, "scale": {"scheme": "tableau10"}}
    colour["scale"] = {"range": ["#0072B2", "#D55E00", "#009E73", "#CC79A7"]}
    model = {"data": {"values": _modelled(stand, ask)}}
    layers = [
        {**model, "mark": {"type": "rule", "strokeWidth": 2}, "encoding": {"x": x, "y": y, "y2": {"field": "high"}, "color": colour}},
        {
            **model,
            "mark": {"type": "point", "filled": True, "size": 60, "shape": "square"},
            "encoding": {"x": x, "y": {"field": "mean", "type": "quantitative"}, "color": colour},
        },
        {
            "data": {"values": _measured()},
            "mark": {"type": "rule", "strokeWidth": 6, "strokeCap": "round", "opacity": 0.8},
            "encoding": {"x": x, "y": y, "y2": {"field": "high"}, "color": colour},
        },
    ]
    target.write_text(press.svg({"width": 520, "height": 300, "layer": layers}), encoding="utf-8")
