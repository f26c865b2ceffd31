"""Measured light beside the planning curve and the light field, as a page and a picture: every published stand, none left out."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from overwood.desk import answers
from overwood.faces.papers import press
from overwood.ground import tables
from overwood.judgement.evidence.light import midstory_share
from overwood.judgement.light.drawn_stand import DrawnLight, drawn_light
from overwood.science.light import from_basal_area_pct

TABLE = "science/tables/light_measured.csv"
RESIDUALS = (20.0, 30.0, 45.0, 60.0, 75.0, 90.0)
FT2_AC_PER_M2_HA = 10.7639 / 2.47105
# Measurements that give no basal area are drawn beyond the end of the others.
NOT_GIVEN = 160.0


def _measured() -> list[dict[str, Any]]:
    rows = []
    for row in tables.rows(TABLE):
        ba = float(row["ba_m2_ha"]) * FT2_AC_PER_M2_HA if row["ba_m2_ha"] else NOT_GIVEN
        rows.append(
            {
                "ba": round(ba, 1),
                "low": float(row["light_low_pct"]),
                "high": float(row["light_high_pct"]),
                "who": f"measured: {row['source']}",
            }
        )
    return rows


def _modelled(stand: str, ask: answers.Question) -> list[dict[str, Any]]:
    found = drawn_light(answers.stand_file(stand).as_of(ask.on), ask.rules, RESIDUALS, seed=1)
    return [
        {"ba": d.ba_ft2_ac, "mean": d.mean_pct, "low": d.low_pct, "high": d.high_pct, "who": f"light field: 12 blocks of {stand}"}
        for d in found
    ]


_PAGE = """{note}
# Light measured

Every stand of `science/tables/light_measured.csv` beside the planning curve, with its band. Beside both is the light field of {draws} one-acre blocks drawn from {stand} of the
demo and brought to that basal area by the leave rule: mean, and the span nine in ten blocks fall in. The curve's level and slope are a least-squares fit to the
seven cut stands; `crown_radius_scale` and `crown_push_most` were fitted to all of them, so agreement is no proof. What disagrees is shown, not left out.

| study | state | ft²/ac | measured, % | curve, % | field, % | field off by, points |
|---|---|---|---|---|---|---|
{rows}

The field is off by {rms:.0f} points rms, {mean:+.1f} in the mean. Furthest off: {worst}. Two studies read 33% and 14% at nearly one basal area: no curve by basal area can meet both.
"""
# States of a drawn block that belong to a measured state of no known basal area.
_STATES = {"uncut": "as cruised", "midstory out": "midstory out"}


def _field_of(row: dict[str, str], drawn: dict[str, DrawnLight]) -> DrawnLight:
    if row["state"] in _STATES and (row["state"] == "uncut" or not row["ba_m2_ha"]):
        return drawn[_STATES[row["state"]]]
    return drawn[f"marked to {_ba(row):g} ft2/ac"]


def _ba(row: dict[str, str]) -> float:
    return round(float(row["ba_m2_ha"]) * FT2_AC_PER_M2_HA, 1)


def _curve(row: dict[str, str], ask: answers.Question) -> str:
    """The curve with its band where the basal area below the midstory is known."""
    if not row["ba_m2_ha"]:
        return "-"
    below = ask.rules.number("light_midstory_ba_ft2_ac") if row["state"] == "uncut" else 0.0
    value = float(from_basal_area_pct(_ba(row) - below, midstory_multiplier=midstory_share(below, ask.rules)))
    error = ask.rules.number("light_curve_error_share")
    return f"{value:.0f} ({value * (1 - error):.0f} to {min(100, value * (1 + error)):.0f})"


def page(stand: str, ask: answers.Question, note: str) -> str:
    """The page that sets every measured stand beside the curve and the field."""
    rows = tables.rows(TABLE)
    wanted = sorted({_ba(row) for row in rows if row["ba_m2_ha"] and row["state"] != "uncut"})
    drawn = {d.state: d for d in drawn_light(answers.stand_file(stand).as_of(ask.on), ask.rules, wanted, seed=1)}
    lines, off = [], {}
    for row in rows:
        low, high, field = float(row["light_low_pct"]), float(row["light_high_pct"]), _field_of(row, drawn)
        measured = f"{low:g}" if low == high else f"{low:g} to {high:g}"
        name = f"{row['source']}, {row['state']}" + (f" at {_ba(row):.0f} ft²/ac" if row["ba_m2_ha"] else "")
        off[name] = field.mean_pct - (low + high) / 2
        lines.append(
            f"| {row['source']} | {row['state']} | {_ba(row) if row['ba_m2_ha'] else 'not given'} | {measured} | {_curve(row, ask)} | "
            f"{field.mean_pct:.0f} ({field.low_pct:.0f} to {field.high_pct:.0f}), {field.ba_ft2_ac:.0f} ft²/ac | {off[name]:+.0f} |"
        )
    worst = sorted(off, key=lambda name: -abs(off[name]))[:3]
    shown = "; ".join(f"{name} ({off[name]:+.0f})" for name in worst)
    rms, mean = (sum(v * v for v in off.values()) / len(off)) ** 0.5, sum(off.values()) / len(off)
    draws = next(iter(drawn.values())).draws
    return _PAGE.format(note=note, draws=draws, stand=stand, rows="\n".join(lines), rms=rms, mean=mean, worst=shown)


def write(stand: str, ask: answers.Question, target: Path) -> None:
    """Write the picture as SVG."""
    x = {
        "field": "ba",
        "type": "quantitative",
        "axis": {"title": "basal area standing, ft²/ac (160: not given)"},
        "scale": {"domain": [0, 165]},
    }
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
