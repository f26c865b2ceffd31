"""The management plan of a property: its stands at a glance, what is due when, and the prescription of each, bound in
one paper."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from overwood.desk.management_plan import ManagementPlan
from overwood.faces.papers import prescription, press, stand_table
from overwood.ground import measures

_NO_AIM = "No aim of the owner is written down: ask, and write it down, before this is signed."


def write(plan: ManagementPlan, target: Path) -> None:
    """Write the plan as PDF."""
    press.set_pdf("management_plan/plan.typ", content(plan), target)


def content(plan: ManagementPlan) -> dict[str, Any]:
    """Everything the template prints."""
    land, day = plan.land, plan.on
    acres = sum(advice.area_ac or 0.0 for advice in plan.stands)
    missing = [advice.stand for advice in plan.stands if not advice.area_ac]
    return {
        "title": f"Management plan, {land.name or land.property}" if land else "Management plan",
        "subtitle": f"{len(plan.stands)} stands, {measures.amount(acres, 'acres', ',.0f')}"
        + (f" without {', '.join(missing)}, whose acreage is not noted" if missing else "")
        + f"; {day.day} {day:%B %Y}",
        "footer": (
            f"Overwood, rulebook {plan.rulebook_version}. A draft until it is signed; not an appraisal and not "
            "a promise."
        ),
        "objective": land.objective if land and land.objective else _NO_AIM,
        "stands": stand_table.content(plan.stands)["rows"] if plan.stands else [],
        "calendar": [
            {"stand": row.stand, "what": row.what, "when": str(row.window), "why": row.why} for row in plan.calendar
        ],
        "without": [f"{name}: {why}" for name, why in plan.without.items()],
        "prescriptions": [prescription.content(one.answer, day) | {"named": one.words} for one in plan.prescriptions],
        "cautions": list(dict.fromkeys(text for advice in plan.stands for text in advice.cautions)),
    }
