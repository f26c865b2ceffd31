"""The owner's brief of one stand, on two pages at most: the decision first, in plain words, with its figures, doubts
and cautions.

Each figure stands once, with its one span. The forester's reasons in full and the sources are a third page, for who
asks for them.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from overwood.desk.answers import Brief
from overwood.faces.papers import charts, press
from overwood.faces.telling.figures import labels
from overwood.ground import measures, tables
from overwood.ground.figure import Figure
from overwood.ground.sources import all_sources, cite
from overwood.judgement.course import Advice
from overwood.judgement.course.conflicts import Conflict
from overwood.judgement.course.steps import caution

_WITH_US = ("overwood_ba_ft2_ac", "overwood_qmd_in")
_AHEAD_DAYS = 3 * 365
# Letters that two pages hold at the usual size of type; more are set smaller.
_ROOMY_LETTERS, _TYPE_PT, _SMALL_TYPE_PT = 5_200, 9.4, 8.2
# What fits on two pages beside the longest words of every branch: lines of each list, and letters of what a person
# wrote.
_MOST_DUE, _MOST_WORK, _MOST_DOUBTS, _MOST_CONFLICTS, _MOST_LETTERS = 6, 6, 6, 3, 110
_GLOSSARY = (
    "Basal area: the cross-section of all stems at breast height, {square feet an acre}; a measure of crowding.",
    "Stocking: how fully the trees use the ground; 100% is full, near 58% they just use it all.",
    "Advance reproduction: young trees already standing under the old ones.",
    "Overwood: the old trees that stand over the young ones. Midstory: the layer of small shade-loving trees between.",
    "Likely between: 9 times of 10 the true figure lies in such a span, of {these acres}. Of young oaks it is the "
    "span a rule judges by, each end of which errs 1 time in 10.",
)


def _words() -> dict[str, dict[str, str]]:
    return tables.words("faces/papers/owner_brief/words.toml")


def gate_words() -> dict[str, dict[str, str]]:
    """The owner's sentence for each answer of each gate."""
    return tables.words("faces/papers/owner_brief/gates.toml")


def lead(advice: Advice) -> str:
    """The decision in the owner's words; what cannot be taken back and is not firm is no decision yet."""
    words = _words()[advice.step]
    return words["not_firm"] if advice.cut_in_doubt else words["lead"]


def write(brief: Brief, target: Path, *, with_sources: bool = False) -> None:
    """Write the brief as PDF: two pages at most, and a third with the forester's reasons and the sources where it is
    asked for."""
    press.set_pdf("owner_brief/brief.typ", content(brief, with_sources=with_sources), target)


def picture(brief: Brief, target: Path) -> None:
    """Write the first page as PNG."""
    press.set_png("owner_brief/brief.typ", content(brief), target)


def content(brief: Brief, *, with_sources: bool = False) -> dict[str, Any]:
    """Everything the template prints, as plain text and numbers."""
    said = _two_pages(brief)
    letters = len(press.words_of_the_signer()) + sum(map(len, _texts(said)))
    size = _TYPE_PT if letters <= _ROOMY_LETTERS else _SMALL_TYPE_PT
    return {
        **said,
        "charts": _charts(brief),
        "size_pt": size,
        "for_the_forester": _for_the_forester(brief) if with_sources else None,
    }


def _texts(said: Any) -> list[str]:
    """Every text in lists and tables of it."""
    if isinstance(said, str):
        return [said]
    return [text for part in (said.values() if isinstance(said, dict) else said) for text in _texts(part)]


def _two_pages(brief: Brief) -> dict[str, Any]:
    """The words and numbers of the two pages."""
    advice = brief.advice
    return {
        **_decision(brief),
        "figures": [
            row for name, label in labels().items() if label["brief"] and (row := _row(advice.figures[name], label))
        ],
        "showed": [gate_words()[gate.name][gate.answer] for gate in advice.gates],
        "doubts": _few([sentence(text) for text in own_doubts(brief)], _MOST_DOUBTS),
        "conflicts": _few([_conflict(one) for one in advice.conflicts], _MOST_CONFLICTS),
        "set_aside": ", ".join(choice for choice, _ in advice.set_aside),
        "due": [
            {"when": str(e.window), "what": e.what}
            for e in brief.due
            if (e.window.start - advice.on).days < _AHEAD_DAYS
        ][:_MOST_DUE],
        "work": _work(brief),
        "paid": _paid(brief),
        "waiting": sentence(brief.waiting),
        "cautions": [*advice.cautions, caution("forecast")]
        if caution("forecast") not in advice.cautions
        else list(advice.cautions),
        "words": [measures.prose(text) for text in _GLOSSARY],
    }


def _decision(brief: Brief) -> dict[str, Any]:
    """The head of the brief: what to do, when, how firm, and what happens if nothing is done."""
    advice, stand, words, owner = brief.advice, brief.file.stand, _words()[brief.advice.step], brief.file.property
    place = f"Stand {advice.stand} of {owner.name if owner else stand.property}"
    acres = f", {measures.with_us(advice.area_ac, 'acres', 'g')}" if advice.area_ac else ""
    return {
        "title": f"{advice.name}: what to do next",
        "subtitle": f"{place}{acres}. For the owner, {advice.on.day} {advice.on:%B %Y}.",
        "footer": (
            f"Overwood, records {brief.data_version}, rulebook {advice.rulebook_version}. Not an appraisal and "
            "not a promise."
        ),
        "step": advice.title,
        "when": _when(brief),
        "lead": lead(advice),
        "nothing": words["nothing"].format(rivals=brief.rivals),
        "sure": sentence(advice.firm.words),
        "what_it_is": sentence(advice.what_it_is),
        "objective": _cut(owner.objective) if owner else "",
    }


def own_doubts(brief: Brief) -> list[str]:
    """Doubts that neither a gate's sentence nor the head of the brief tells already."""
    return [doubt.words for doubt in brief.advice.doubts if not doubt.gate and not doubt.code.startswith("not_firm")]


def _conflict(one: Conflict) -> str:
    left = f"; {one.days_left} days are left" if one.days_left is not None else ""
    return sentence(f"{one.what}: here {one.ours}; against it {one.theirs}{left}")


def _few(lines: list[str], most: int) -> list[str]:
    """The first lines, and a line that says how many more there are."""
    if len(lines) <= most:
        return lines
    return [*lines[: most - 1], f"{len(lines) - most + 1} more stand on the page with the forester's reasons."]


def _for_the_forester(brief: Brief) -> dict[str, Any]:
    """The third page: reasons, doubts and gates in full, and the sources."""
    advice = brief.advice
    return {
        "why": [sentence(text) for text in advice.why],
        "doubts": [sentence(doubt.words) for doubt in advice.doubts] + [_conflict(one) for one in advice.conflicts],
        "would_change": [sentence(text) for text in advice.would_change],
        "set_aside": [
            {"choice": sentence(choice), "because": sentence(because)} for choice, because in advice.set_aside
        ],
        "gates": [
            {"answer": g.answer.capitalize(), "question": g.question, "why": sentence(g.why)} for g in advice.gates
        ],
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


def sentence(made: object) -> str:
    """The text, or the words of a reason, with a capital and a full stop."""
    text = str(made).strip()
    return f"{text[:1].upper()}{text[1:]}" + ("" if text.endswith((".", "?", "!")) else ".")


def _cut(text: str) -> str:
    return text if len(text) <= _MOST_LETTERS else text[:_MOST_LETTERS].rsplit(" ", 1)[0] + " ..."


def _row(figure: Figure, told: dict[str, str]) -> dict[str, str] | None:
    if not figure.measured:
        return None
    places = int(told["places"])
    scale = 100 if figure.unit == "share" else 1
    value, low, high = (
        "" if one is None else measures.digits(scale * one, figure.unit, f",.{places}f")
        for one in (figure.number, figure.low, figure.high)
    )
    mark = {"assumption": " *"}.get(figure.status, "")
    return {
        "what": measures.prose(told["brief"]) + mark,
        "value": value + _in_us(figure, places),
        "span": f"{low} to {high}" if low and high else "",
        "n": f"{figure.n} {_looked_at(figure.name)}" if figure.n else "",
    }


def _in_us(figure: Figure, places: int) -> str:
    """In metric, basal area and diameter stand in US units too, for those who cut and buy."""
    if not measures.is_metric() or figure.name not in _WITH_US:
        return ""
    return f" ({figure.number:,.{places}f} {figure.unit})"


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
            "alt": "Bar chart of young stems by height class, oak and other species",
        })  # fmt: skip
    return made


def _work(brief: Brief) -> list[dict[str, str]]:
    """What was done last, with what was paid."""
    rows = []
    for row in sorted(brief.file.operations, key=lambda entry: entry.started_on)[-_MOST_WORK:]:
        sums = (("cost", row.cost_usd), ("income", row.income_usd))
        money = ", ".join(f"{what} US$ {usd:,.0f}" for what, usd in sums if usd)
        rows.append(
            {
                "when": f"{row.started_on:%b %Y}",
                "what": f"{row.kind} ({row.state})",
                "money": money,
                "note": _cut(row.note),
            }
        )
    return rows


def _paid(brief: Brief) -> str:
    """What all work that was done has cost and brought; work that was only planned is left out."""
    done = [row for row in brief.file.operations if row.state == "done"]
    cost, income = sum(row.cost_usd or 0 for row in done), sum(row.income_usd or 0 for row in done)
    if not cost and not income:
        if done:
            return "No cost and no income is written down for the work done so far."
        return "No work has been done so far."
    return f"By the file, all work done so far has cost US$ {cost:,.0f} and brought US$ {income:,.0f}."


def sources_of(figures: dict[str, Figure]) -> list[str]:
    """The publications behind the figures measured."""
    keys = dict.fromkeys(key for figure in figures.values() if figure.measured for key in figure.sources)
    return [
        cite(key).rstrip(".")
        for key in keys
        if key in all_sources() and key not in ("field", "assumed", "geometry", "practice")
    ]
