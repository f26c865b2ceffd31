"""The work order for an injection crew, with its tally sheet."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

from overwood.desk.fire import injection_cautions
from overwood.faces.papers import outline, press
from overwood.ground.records import StandFile
from overwood.judgement.injection import Order, Span

_BLANKS = (
    "Applicator and licence",
    "Product, strength, registration number",
    "Label copy on site, read by",
    "First and last day",
    "Weather on the days",
    "Gallons used, stems treated",
    "Signature",
)


def write(order: Order, file: StandFile, on: dt.date, target: Path) -> None:
    """Write the order as PDF."""
    press.set_pdf("injection_order/order.typ", content(order, file, on), target)


def content(order: Order, file: StandFile, on: dt.date) -> dict[str, Any]:
    """Everything the template prints."""
    shape, scale = outline.drawn(file.stand.boundary_wkt)
    return {
        "title": f"Injection order, stand {order.stand}",
        "subtitle": f"From the cruise {order.visit}, {on.day} {on:%B %Y}",
        "footer": "Overwood. The label of the product on site is the law.",
        "warning": "The label is the law and goes before anything printed here. Licensed people only; wear what the label asks.",
        "work": _work(order),
        "map": shape,
        "scale": scale,
        "rows": [
            {
                "species": row.species,
                "dbh": row.dbh_class_in,
                "stems": f"{row.stems_ac:.0f}",
                "cuts": f"{row.cuts_ac:,.0f}",
                "ml": f"{row.solution_ml_ac:,.0f}",
            }
            for row in order.rows
        ],
        "never": list(order.never),
        "exceptions": [*order.exceptions, order.left_alive_text],
        "accepted": [
            "next summer, 1/100-acre plots, two or more for every five acres: nine tenths or more of the treated stems dead or dying, no crop tree hurt",
            "missed stems are treated again, only those, before the account is closed",
        ],
        "cautions": [
            *injection_cautions(),
            f"Stems treated stand dead for {_words(order.snags_yr)} years: later orders for this stand must say so.",
        ],
        "blanks": list(_BLANKS),
    }


def _words(span: Span, places: int = 0) -> str:
    if span.low == span.high:
        return f"{span.low:,.{places}f}"
    return f"{span.low:,.{places}f} to {span.high:,.{places}f}"


def _work(order: Order) -> list[str]:
    area = f"{order.area_ac:g} acres" if order.area_ac else "acreage to be completed"
    days = f"; {_words(order.crew_days, 1)} crew days" if order.crew_days else ""
    product = order.product.active if order.product else "product"
    whole = order.totals
    return [
        area,
        *([f"in all {whole.stems:,.0f} stems, {whole.cuts:,.0f} cuts, {whole.solution_gal:,.1f} gallons of solution"] if whole else []),
        f"{order.stems_ac.number:.0f} stems an acre, {order.ba_ft2_ac.number:.0f} square feet of basal area an acre",
        f"one cut for each {order.spacing_in:g} in. of dbh: {order.cuts_ac:,.0f} cuts and {order.solution_gal_ac:.2f} gallons of solution an acre, "
        f"{_words(order.product_gal_ac, 2)} gallons of {product} and {_words(order.water_gal_ac, 2)} of water in it, by the label",
        f"yearly limit of the label: {order.yearly_limit}",
        f"labour {_words(order.hours_ac, 1)} hours an acre{days}; about {_words(order.cost_usd_ac)} US$ an acre",
        f"season {order.windows[0]}, or {order.windows[1]}",
        f"floor light from about {order.light_before_pct.number:.0f} to {_words(order.light_after_pct)} % of full sun, for {_words(order.light_lasts_yr)} years",
    ]
