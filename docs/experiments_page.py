"""The page of published experiments beside the program, from the tables that the program writes, and its picture."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Any

import experiments_run as experiments

from overwood.ground import tables
from overwood.judgement.futures import proof
from overwood.judgement.rules import load

HERE = Path(__file__).resolve().parent
_MET = HERE.parent / "src" / "overwood" / proof.TABLE


def write_table() -> None:
    """Run every experiment and write the table of what the program says."""
    _MET.write_text(experiments.met_table(experiments.all_of(load())), encoding="utf-8")


def _met() -> dict[str, dict[str, str]]:
    with _MET.open(encoding="utf-8", newline="") as stream:
        return {row["id"]: row for row in csv.DictReader(stream)}


def page(note: str) -> str:
    """Every experiment, its start, what was reported, what the program says, and what is left wrong."""
    met, rows = _met(), tables.rows(experiments.TABLE)
    by = {kind: [row for row in rows if row["kind"] == kind] for kind in ("number", "direction", "not simulated")}
    hits = {kind: sum(met[row["id"]]["agrees"] == "yes" for row in by[kind]) for kind in ("number", "direction")}
    aside = [row for row in by["number"] if row["used_to_set"] == "no"]
    told = len(by["number"]) + len(by["not simulated"])
    aside_hits = sum(met[row["id"]]["agrees"] == "yes" for row in aside)
    lines = [
        "# The program against published experiments\n",
        note,
        f"One set of parameters with its ranges is run through {len(rows)} published outcomes. A number agrees where the program's nine in ten "
        f"(over {experiments.DRAWS} draws of what is not known) meets what was reported. **{hits['number']} of {len(by['number'])} numbers agree, "
        f"{hits['direction']} of {len(by['direction'])} directions are right;** {len(by['not simulated'])} outcomes are not simulated: of all "
        f"{told} that carry a number {hits['number']} agree ({hits['number'] / told:.0%}). Some outcomes "
        f"helped to set the parameters; of the {len(aside)} numbers that did not, {aside_hits} agree. Starts are partly taken where abstracts do not "
        "give them; what is taken stands in `judgement/futures/experiments.csv`. Spans are wide because the studies differ: meeting a number is "
        "weaker proof than a narrow span would be.\n",
        "![The program's nine in ten beside what was reported](pictures/experiments.svg)\n",
        "| | study | start and treatment | years | outcome | reported | program (nine in ten) | agrees | left wrong |",
        "|---|---|---|---|---|---|---|---|---|",
    ]
    lines.extend(_line(row, met.get(row["id"])) for row in rows)
    return "\n".join(lines) + "\n"


def _line(row: dict[str, str], met: dict[str, str] | None) -> str:
    says = "" if met is None or not met["middle"] else f"{met['middle']} ({met['five']} to {met['ninety_five']})"
    agrees = "not simulated" if met is None else met["agrees"]
    used = " (helped to set it)" if row["used_to_set"] == "yes" else ""
    memory = " (memory)" if row["status"] == "memory" else ""
    cells = (
        row["id"], row["source"] + memory + used, f"{row['start']}; {row['treatment']}", row["years"], row["outcome"], row["reported"], says,
        agrees, row["left_wrong"],
    )  # fmt: skip
    return "| " + " | ".join(cell.replace("|", "/") for cell in cells) + " |"


def picture() -> dict[str, Any]:
    """The program's span over the middle of what was reported, one line an outcome."""
    values = []
    for row in _met().values():
        if row["kind"] == "number":
            middle = (float(row["low"]) + float(row["high"])) / 2
            five, most = (max(float(row[name]) / middle, 0.05) for name in ("five", "ninety_five"))
            values.append({"id": int(row["id"]), "five": five, "ninety five": min(most, 20), "agrees": row["agrees"]})
    y = {"field": "id", "type": "ordinal", "axis": {"title": "experiment"}}
    x = {"type": "quantitative", "scale": {"type": "log", "domain": [0.05, 20]}, "axis": {"title": "program over reported"}}
    colour = {"field": "agrees", "type": "nominal", "scale": {"domain": ["yes", "no"], "range": ["#3E6B48", "#B5533C"]}}
    bar = {
        "mark": {"type": "rule", "strokeWidth": 4},
        "encoding": {"y": y, "x": x | {"field": "five"}, "x2": {"field": "ninety five"}, "color": colour},
    }
    line = {"mark": {"type": "rule", "strokeDash": [3, 3]}, "encoding": {"x": {"datum": 1}}}
    return {"width": 420, "height": {"step": 11}, "data": {"values": values}, "layer": [bar, line]}
