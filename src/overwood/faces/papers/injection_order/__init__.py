"""The work order for an injection crew, with its tally sheet."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from overwood.desk.fire import INJECTION_CAUTIONS
from overwood.faces.papers import language, outline, press
from overwood.faces.papers.language import ENGLISH, Text, Words
from overwood.ground import measures
from overwood.ground.records import StandFile
from overwood.judgement.injection import Order, Row, Span
from overwood.judgement.net_ground import kept_out

_HEADINGS = ("work", "stems", "never", "species", "accepted", "applicator", "tally")


def write(
    order: Order,
    file: StandFile,
    on: dt.date,
    target: Path,
    tongue: str = ENGLISH,
    warnings: Sequence[str] = (),
) -> None:
    """Write the order as PDF."""
    press.set_pdf("injection_order/order.typ", content(order, file, on, tongue, warnings), target)


def content(
    order: Order, file: StandFile, on: dt.date, tongue: str = ENGLISH, warnings: Sequence[str] = ()
) -> dict[str, Any]:
    """Everything the template prints."""
    words = language.words("injection_order", tongue)
    shape, scale = outline.of_stand(file)
    return words.frame(
        title=words.line("title", stand=order.stand),
        heading=words.text("title", stand=order.stand),
        subtitle=words.text("subtitle", visit=order.visit, day=on),
        warning=words.text("warning"),
        headings={name: words.text(f"title_{name}") for name in _HEADINGS},
        work=_work(order, words),
        map=shape,
        map_words=words.text("map", scale=scale),
        map_says=words.line("map_says"),
        heads=words.texts("heads"),
        rows=[_row(row, words) for row in order.rows],
        never=[words.sentence(made) for made in (*kept_out(file), *order.never)],
        exceptions=[words.sentence(made) for made in (*order.exceptions, order.left_alive_text)],
        accepted=[words.text("accepted", pct=f"{100 * order.dead_share_wanted:.0f}"), words.text("again")],
        cautions=[
            *map(words.sentence, warnings),
            *map(words.caution, INJECTION_CAUTIONS),
            _in_words(words, "dead", years=order.snags_yr),
        ],
        blanks=words.texts("blanks"),
        tally=words.texts("tally"),
    )


def _row(row: Row, words: Words) -> list[Text]:
    return [
        words.species(row.species),
        measures.limits(row.dbh_class_in, "in."),
        measures.digits(row.stems_ac, "stems/ac"),
        measures.digits(row.cuts_ac, "cuts/ac", ",.0f"),
        measures.digits(row.solution_ml_ac, "ml/ac", ",.0f"),
    ]


def _in_words(words: Words, key: str, places: int = 0, **spans: Span) -> Text:
    """A text whose values are spans."""
    return words.text(key, **{name: _span(span, places) for name, span in spans.items()})


def _span(span: Span, places: int = 0, unit: str = "") -> str:
    """Low and high with a dash, which every language reads; one number where there is nothing to doubt."""
    ends = [measures.digits(end, unit, f",.{places}f") for end in (span.low, span.high)]
    return ends[0] if ends[0] == ends[1] else "-".join(ends)


def _work(order: Order, words: Words) -> list[Text]:
    named = {"product": order.product.active} if order.product else {}
    return [
        words.text("area", acres=f"{round(order.area_ac, 1):g}") if order.area_ac else words.text("area_unknown"),
        *_totals(order, words),
        words.text("density", stems=f"{order.stems_ac.number:.0f}", ba=f"{order.ba_ft2_ac.number:.0f}"),
        words.text(
            "cuts_named" if named else "cuts",
            inches=order.spacing,
            cuts=f"{order.cuts_ac:,.0f}",
            gallons=f"{order.solution_gal_ac:.2f}",
            product_gal=_span(order.product_gal_ac, 2, "gal/ac"),
            water=_span(order.water_gal_ac, 2, "gal/ac"),
            **named,
        ),
        words.framed("yearly", order.yearly_limit),
        words.text("labor", hours=_span(order.hours_ac, 1, "hours/ac"), cost=_span(order.cost_usd_ac, 0, "US$/ac")),
        words.text("season", first=order.windows[0], second=order.windows[1]),
        words.text(
            "light",
            before=f"{order.light_before_pct.number:.0f}",
            after=_span(order.light_after_pct),
            years=_span(order.light_lasts_yr),
        ),
    ]


def _totals(order: Order, words: Words) -> list[Text]:
    """Stems, cuts, gallons and days of the whole stand; nothing where its area is not known."""
    whole = order.totals
    if whole is None:
        return []
    days = "; ".join(f"{crew}: {_span(span, 1)}" for crew, span in whole.crew_days.items())
    return [
        words.text(
            "totals", stems=f"{whole.stems:,.0f}", cuts=f"{whole.cuts:,.0f}", gallons=f"{whole.solution_gal:,.1f}"
        ),
        words.text("days", days=days),
    ]
