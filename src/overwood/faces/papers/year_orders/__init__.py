"""The orders of a plan's first year, stand by stand, with what to mind and where to sign."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from overwood.faces.papers import press
from overwood.faces.telling import planned
from overwood.judgement.course.steps import said
from overwood.judgement.plan.answer import Plan, YearOrder
from overwood.judgement.plan.orders import HELD, ORDERED, UNNAMED, WAITS

_PARTS = (
    ((ORDERED, UNNAMED), "Orders"),
    ((WAITS,), "Only if the gate opens"),
    ((HELD,), "Held: the advice names another step first"),
)
_BLANKS = ("Work given to", "Done on", "Signature")


def write(plan: Plan, target: Path) -> None:
    """Write the orders as PDF."""
    press.set_pdf("year_orders/orders.typ", content(plan), target)


def content(plan: Plan) -> dict[str, Any]:
    """Everything the template prints."""
    return {
        "title": f"Orders for {plan.seasons[0]}",
        "subtitle": f"From the plan of {len(plan.stands)} stands made {plan.on.day} {plan.on:%B %Y}",
        "footer": "Overwood. A plan on simulated futures: the label, the permit and the person in charge go before it.",
        "headings": [word[:1].upper() + word[1:] for word in planned.headings(planned.ORDERS)],
        "head": planned.head(plan),
        "parts": [part for states, name in _PARTS if (part := _part(plan, states, name))["rows"]],
        "differing": planned.differing(plan),
        "loads": [list(row[:5]) for row in planned.loads(plan) if row[1] == plan.seasons[0]],
        "cautions": list(
            dict.fromkeys([*(said(text) for order in plan.orders for text in order.cautions), *planned.cautions(plan)])
        ),
        "blanks": list(_BLANKS),
    }


def _part(plan: Plan, states: tuple[str, ...], name: str) -> dict[str, Any]:
    chosen = {(order.stand, order.operation) for order in plan.orders if order.state in states}
    rows = [row for order, row in zip(plan.orders, planned.orders(plan), strict=True) if _key(order) in chosen]
    return {"name": name, "rows": [list(row) for row in rows]}


def _key(order: YearOrder) -> tuple[str, str]:
    return order.stand, order.operation
