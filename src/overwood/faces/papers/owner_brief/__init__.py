"""The owner's brief of one stand: the decision first, in plain words, with its figures, doubts and cautions."""

from __future__ import annotations

import functools
import tomllib
from pathlib import Path
from typing import Any

from overwood.desk.answers import Brief
from overwood.faces.papers import charts, press
from overwood.ground.figure import Figure
from overwood.ground.sources import all_sources, cite
from overwood.judgement.course.steps import caution

_HERE = Path(__file__).resolve().parent
_KEY_FIGURES = (
    ("overwood_ba_ft2_ac", "Main canopy, square feet of stem an acre", 0),
    ("overwood_trees_ac", "Main canopy, trees an acre", 0),
    ("overwood_qmd_in", "Mean diameter, in.", 1),
    ("overwood_stocking_pct", "Stocking of the main canopy, %", 0),
    ("oak_share", "Oak share of the main canopy, %", 0),
    ("midstory_stems_ac", "Shade-loving small trees, an acre", 0),
    ("floor_light_pct", "Light on the floor, % of full sun", 0),
    ("oak_stems_1ft_ac", "Young oaks of 1 ft and more, an acre", 0),
    ("oak_stems_3ft_ac", "Young oaks of 3 ft and more, an acre", 0),
    ("oak_stocked_4_5ft_share", "Plots with an oak of 4.5 ft and more, %", 0),
    ("needed_stocked_share", "Such plots needed before the last cut, %", 0),
    ("crop_bearing_share", "Oaks bearing acorns this autumn, %", 0),
    ("browse_share", "Young oaks browsed by deer, %", 0),
    ("dominants_at_20_ac", "Oaks leading at age 20 if cut now, an acre", 0),
)
_AHEAD_DAYS = 3 * 365
_GLOSSARY = (
    "Basal area: the cross-section of all stems at breast height, square feet an acre; a measure of crowding.",
    "Stocking: how fully the trees use the ground; 100 % is full, near 58 % they just use it all.",
    "Advance reproduction: young trees already standing under the old ones.",
    "Overwood: the old trees that stand over the young ones. Midstory: the layer of small shade-loving trees between.",
    "Likely between: 9 times of 10 the true figure lies in such a span, of these acres. A rule is judged by a one-sided bound instead, "
    "which errs 1 time in 10 on its one side; the reasons then say one-sided.",
)


@functools.cache
def _words() -> dict[str, dict[str, str]]:
    return tomllib.loads((_HERE / "words.toml").read_text(encoding="utf-8"))


def lead(step: str) -> str:
    """The decision of a step in the owner's words."""
    return _words()[step]["lead"]


def write(brief: Brief, target: Path) -> None:
    """Write the brief as PDF."""
    press.set_pdf("owner_brief/brief.typ", content(brief), target)


def picture(brief: Brief, target: Path) -> None:
    """Write the first page as PNG."""
    press.set_png("owner_brief/brief.typ", content(brief), target)


def content(brief: Brief) -> dict[str, Any]:
    """Everything the template prints, as plain text and numbers."""
    advice, stand, words = brief.advice, brief.file.stand, _words()[brief.advice.step]
    owner = brief.file.property
    return {
        "title": f"{advice.name}: what to do next",
        "subtitle": f"Stand {advice.stand} of {owner.name if owner else stand.property}"
        + (f", {advice.area_ac:g} acres" if advice.area_ac else "")
        + f". For the owner, {advice.on.day} {advice.on:%B %Y}.",
        "footer": f"Overwood, records {brief.data_version}, rulebook {advice.rulebook_version}. Not an appraisal and not a promise.",
        "step": advice.title,
        "when": _when(brief),
        "lead": words["lead"],
        "nothing": words["nothing"].format(rivals=brief.rivals, waiting=sentence(brief.waiting)),
        "sure": sentence(advice.firm.words),
        "what_it_is": sentence(advice.what_it_is),
        "objective": owner.objective if owner else "",
        "figures": [row for name, what, places in _KEY_FIGURES if (row := _row(advice.figures[name], what, places))],
        "charts": _charts(brief),
        "why": [sentence(text) for text in advice.why],
        "doubts": [sentence(text) for text in advice.doubts],
        "would_change": [sentence(text) for text in advice.would_change],
        "conflicts": [
            sentence(
                f"{c.what}: here {c.ours}; against it {c.theirs}" + (f"; {c.days_left} days are left" if c.days_left is not None else "")
            )
            for c in advice.conflicts
        ],
        "set_aside": [{"choice": sentence(choice), "because": sentence(because)} for choice, because in advice.set_aside],
        "due": [
            {"when": str(e.window), "what": e.what, "why": sentence(_cut(e.why))}
            for e in brief.due
            if (e.window.start - advice.on).days < _AHEAD_DAYS
        ],
        "work": _work(brief),
        "gates": [{"answer": g.answer.capitalize(), "question": g.question, "why": sentence(g.why)} for g in advice.gates],
        "cautions": [*advice.cautions, caution("forecast")] if caution("forecast") not in advice.cautions else list(advice.cautions),
        "words": list(_GLOSSARY),
        "sources": sources_of(advice.figures),
    }


def _looked_at(name: str) -> str:
    """What the sample of a figure was made of."""
    if name == "crop_bearing_share":
        return "oaks"
    if name == "browse_share":
        return "stems"
    return "plots" if name.startswith("oak_st") or name == "dominants_at_20_ac" else "points"


def _when(brief: Brief) -> str:
    if brief.advice.window is None:
        return ""
    second = f", or {brief.advice.second_window}" if brief.advice.second_window else ""
    return f"{brief.advice.window}{second}"


def sentence(text: str) -> str:
    """The text with a capital and a full stop."""
    text = text.strip()
    return f"{text[:1].upper()}{text[1:]}" + ("" if text.endswith((".", "?", "!")) else ".")


def _cut(text: str) -> str:
    return text if len(text) < 110 else text[:110].rsplit(" ", 1)[0] + " ..."


def _row(figure: Figure, what: str, places: int) -> dict[str, str] | None:
    if not figure.measured:
        return None
    scale = 100 if figure.unit == "share" else 1
    span = (
        f"{scale * figure.low:,.{places}f} to {scale * figure.high:,.{places}f}"
        if figure.low is not None and figure.high is not None
        else ""
    )
    mark = {"assumption": " *"}.get(figure.status, "")
    return {
        "what": what + mark,
        "value": f"{scale * figure.number:,.{places}f}",
        "span": span,
        "n": f"{figure.n} {_looked_at(figure.name)}" if figure.n else "",
    }


def _charts(brief: Brief) -> list[dict[str, str]]:
    made = []
    if brief.classes:
        made.append({
            "svg": press.svg(charts.diameters(brief.classes)),
            "caption": "Old trees by size, with the likely span",
            "alt": "Bar chart of basal area by diameter class with intervals",
        })  # fmt: skip
    if brief.floor:
        made.append({
            "svg": press.svg(charts.floor(brief.floor)),
            "caption": "Young trees by height, oak beside all others, with the likely span for oak",
            "alt": "Bar chart of young stems an acre by height class, oak and other species",
        })  # fmt: skip
    return made


def _work(brief: Brief) -> list[dict[str, str]]:
    rows = []
    for row in sorted(brief.file.operations, key=lambda entry: entry.started_on):
        money = ", ".join(
            part
            for part in (
                f"cost {row.cost_usd:,.0f} $" if row.cost_usd else "",
                f"income {row.income_usd:,.0f} $" if row.income_usd else "",
            )
            if part
        )
        rows.append({"when": f"{row.started_on:%b %Y}", "what": f"{row.kind} ({row.state})", "money": money, "note": row.note})
    return rows


def sources_of(figures: dict[str, Figure]) -> list[str]:
    """The publications behind the figures measured."""
    keys = dict.fromkeys(key for figure in figures.values() if figure.measured for key in figure.sources)
    return [cite(key).rstrip(".") for key in keys if key in all_sources() and key not in ("field", "assumed", "geometry", "practice")]
