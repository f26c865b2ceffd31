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


def write(found: Order, file: StandFile, on: dt.date, target: Path) -> None:
    """Write the order as PDF."""
    press.set_pdf("injection_order/order.typ", content(found, file, on), target)


def content(found: Order, file: StandFile, on: dt.date) -> dict[str, Any]:
    """Everything the template prints."""
    shape, scale = outline.drawn(file.stand.boundary_wkt)
    return {
        "title": f"Injection order, stand {found.stand}",
        "subtitle": f"From the cruise {found.visit}, {on.day} {on:%B %Y}",
        "footer": "Overwood. The label of the product on site is the law.",
        "warning": "The label is the law and goes before anything printed here. Licensed people only; wear what the label asks.",
        "work": _work(found),
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
            for row in found.rows
        ],
        "never": list(found.never),
        "exceptions": [*found.exceptions, found.left_alive_text],
        "accepted": [
            "next summer, 1/100-acre plots, two or more for every five acres: nine tenths or more of the treated stems dead or dying, no crop tree hurt",
            "missed stems are treated again, only those, before the account is closed",
        ],
        "cautions": [
            *injection_cautions(),
            f"Stems treated stand dead for {_words(found.snags_yr)} years: later orders for this stand must say so.",
        ],
        "blanks": list(_BLANKS),
    }


def _words(span: Span, places: int = 0) -> str:
    if span.low == span.high:
        return f"{span.low:,.{places}f}"
    return f"{span.low:,.{places}f} to {span.high:,.{places}f}"


def _work(found: Order) -> list[str]:
    area = f"{found.area_ac:g} acres" if found.area_ac else "acreage to be completed"
    days = f"; {_words(found.crew_days, 1)} crew days" if found.crew_days else ""
    product = found.product.active if found.product else "product"
    whole = found.totals
    return [
        area,
        *([f"in all {whole.stems:,.0f} stems, {whole.cuts:,.0f} cuts, {whole.solution_gal:,.1f} gallons of solution"] if whole else []),
        f"{found.stems_ac.number:.0f} stems an acre, {found.ba_ft2_ac.number:.0f} square feet of basal area an acre",
        f"one cut for each {found.spacing_in:g} in. of dbh: {found.cuts_ac:,.0f} cuts and {found.solution_gal_ac:.2f} gallons of solution an acre, "
        f"{_words(found.product_gal_ac, 2)} gallons of {product} and {_words(found.water_gal_ac, 2)} of water in it, by the label",
        f"yearly limit of the label: {found.yearly_limit}",
        f"labour {_words(found.hours_ac, 1)} hours an acre{days}; about {_words(found.cost_usd_ac)} US$ an acre",
        f"season {found.windows[0]}, or {found.windows[1]}",
        f"floor light from about {found.light_before_pct.number:.0f} to {_words(found.light_after_pct)} % of full sun, for {_words(found.light_lasts_yr)} years",
    ]
