"""All stands of a property on one page: what each is, the next step, when, why, how sure."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from overwood.faces.papers import press
from overwood.judgement.course import Advice

_TEMPLATE = "stand_table/table.typ"


def write(advices: Sequence[Advice], target: Path, not_judged: Sequence[str] = ()) -> None:
    """Write the table as PDF; stands that could not be judged are named on it."""
    press.set_pdf(_TEMPLATE, content(advices, not_judged), target)


def picture(advices: Sequence[Advice], target: Path) -> None:
    """Write the table as PNG."""
    press.set_png(_TEMPLATE, content(advices), target, ppi=130)


def content(advices: Sequence[Advice], not_judged: Sequence[str] = ()) -> dict[str, Any]:
    """Everything the template prints."""
    day = advices[0].on
    return {
        "title": "What each stand needs next",
        "subtitle": f"{day.day} {day:%B %Y}"
        + (f"; could not be judged: {', '.join(not_judged)}" if not_judged else ""),
        "footer": (
            f"Overwood, rulebook {advices[0].rulebook_version}. Reasons: the brief of each stand. Not an "
            "appraisal, not a promise."
        ),
        "rows": [
            {
                "stand": f"{advice.stand} {advice.name}",
                "what": advice.what_it_is,
                "step": advice.title,
                "window": str(advice.window) if advice.window else "",
                "why": advice.why_in_one_line,
                "sure": advice.firm.of_ten,
            }
            for advice in advices
        ],
    }
