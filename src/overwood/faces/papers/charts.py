"""Charts that page and print share: diameters of the stand, and the floor by height class with its errors."""

from __future__ import annotations

from typing import Any

from overwood.faces.papers import press
from overwood.ground import measures
from overwood.ground.figure import Figure
from overwood.ground.vocabulary import height_class_words


def diameters(classes: dict[str, tuple[Figure, Figure]]) -> dict[str, Any]:
    """Basal area by 2-in. dbh class with its interval."""
    rows = [
        {
            "dbh": int(measures.digits(float(name.split()[0]), "in.", "g")),
            "ba": measures.convert(ba.number, "ft2/ac"),
            "low": measures.convert(ba.number if ba.low is None else ba.low, "ft2/ac"),
            "high": measures.convert(ba.number if ba.high is None else ba.high, "ft2/ac"),
        }
        for name, (ba, _) in classes.items()
    ]
    x = {
        "field": "dbh",
        "type": "ordinal",
        "axis": {"title": f"dbh class, {measures.unit_word('in.')}", "labelAngle": 0},
    }
    area = f"basal area, {measures.unit_word('ft²/ac')}"
    return {
        "width": 300,
        "height": 130,
        "data": {"values": rows},
        "layer": [
            {
                "mark": {"type": "bar", "color": press.LOOK["oak"]},
                "encoding": {"x": x, "y": {"field": "ba", "type": "quantitative", "axis": {"title": area}}},
            },
            {
                "mark": {"type": "rule", "color": press.LOOK["pencil"]},
                "encoding": {"x": x, "y": {"field": "low", "type": "quantitative"}, "y2": {"field": "high"}},
            },
        ],
    }


def floor(classes: dict[str, dict[str, Figure]]) -> dict[str, Any]:
    """Stems per acre of oak and of all other species from 1 ft up, by height class, on a scale from zero: bars may be
    compared by eye."""
    rows = []
    for label in ("1-3", "3-4.5", "4.5-10", "10+"):
        oak = classes.get("oak", {}).get(label)
        rivals = [measures.convert(group[label].number, "stems/ac") for name, group in classes.items() if name != "oak"]
        rows.append(
            {
                "height": height_class_words(label),
                "who": "oak",
                "stems": measures.convert(oak.number, "stems/ac") if oak else 0.0,
                "low": measures.convert(oak.low or 0.0, "stems/ac") if oak else 0.0,
                "high": measures.convert(oak.high or 0.0, "stems/ac") if oak else 0.0,
            }
        )
        total = sum(rivals)
        rows.append(
            {"height": height_class_words(label), "who": "other species", "stems": total, "low": total, "high": total}
        )
    x = {"field": "height", "type": "ordinal", "sort": None, "axis": {"title": "height", "labelAngle": 0}}
    offset = {"field": "who", "type": "nominal", "sort": ["oak", "other species"]}
    return {
        "width": 300,
        "height": 130,
        "data": {"values": rows},
        "layer": [
            {
                "mark": "bar",
                "encoding": {
                    "x": x,
                    "xOffset": offset,
                    "y": {
                        "field": "stems",
                        "type": "quantitative",
                        "axis": {"title": measures.unit_word("stems an acre")},
                    },
                    "color": {
                        "field": "who",
                        "type": "nominal",
                        "scale": {
                            "domain": ["oak", "other species"],
                            "range": [press.LOOK["oak"], press.LOOK["rival"]],
                        },
                    },
                },
            },
            {
                "transform": [{"filter": "datum.who == 'oak'"}],
                "mark": {"type": "rule", "color": press.LOOK["pencil"]},
                "encoding": {
                    "x": x,
                    "xOffset": offset,
                    "y": {"field": "low", "type": "quantitative"},
                    "y2": {"field": "high"},
                },
            },
        ],
    }
