"""How a file is read, what is asked of it and what would come of it, as its page shows it."""

from __future__ import annotations

from typing import Any

from overwood.desk import importing
from overwood.faces import readings, reviews
from overwood.faces.pages import fields

SHOWN_FAULTS = 200
_SHOWN_CHANGES = 200
# Parts of an answer, by the beginning of the names of their fields; the kinds of question in the same order.
FIELDS = {"settings": "set.", "codes": "code.", "tables": "holds.", "columns": "as.", "units": "in."}
_FIELD_OF_KIND = {"set": "set.", "code": "code.", "table": "holds.", "map": "as.", "unit": "in."}
# Questions that take none but the answers listed, beside those that say so themselves.
_LISTED = (
    "stand",
    "property",
    "slope",
    "stand_in_plot",
    "borderline",
    "day_order",
    "day_numbers",
    "blank_species",
    "blank_count",
    "commas",
    "more_diameters",
    "bites",
    "columns_left",
    "empty_plots",
    "plot_parts",
    "same_plots",
)


def shown(look: importing.FileLook, answers: importing.Answers) -> dict[str, Any]:
    """All that the page shows of a file that is only looked at."""
    return {"look": look, "may": {"forester": True}} | _headings(look, answers) | _review(look)


def _headings(look: importing.FileLook, answers: importing.Answers) -> dict[str, Any]:
    """Each sheet with its headings as they may be changed, and each question with its fields."""
    sheets = look.proposal.sheets if look.proposal else ()
    reading = look.report.reading if look.report else ()
    shown = [
        {
            "sheet": one,
            "read": readings.of_sheet(reading, one),
            "headings": [_heading(one, use, answers, reading) for use in one.headings],
            "may_be": importing.columns_of(one.table) if one.table else (),
            "holds": answers.tables.get(one.sheet, ""),
        }
        for one in sheets
    ]
    questions = [
        _question(number, one, answers) for number, one in enumerate(look.proposal.questions if look.proposal else ())
    ]
    more = [one for one in questions if not one["question"].needed]
    return {
        "sheets": shown,
        "needed": [one for one in questions if one["question"].needed],
        "more": more,
        "more_said": any(field["value"] for one in more for field in one["fields"]),
        "tables": importing.foreign_tables(),
    }


def _heading(
    one: importing.SheetProposal, use: Any, answers: importing.Answers, reading: tuple[Any, ...]
) -> dict[str, Any]:
    named = f"{one.sheet}.{use.heading}"
    unit = f"{one.sheet}.{use.column}"
    return {
        "use": use,
        "comes_to": readings.of_sheet(reading, one)["comes_to"].get(use.heading) or ", ".join(use.such_as),
        "column_field": f"as.{named}",
        "column": answers.columns.get(named, answers.columns.get(use.heading, "")),
        "unit_field": f"in.{unit}",
        "unit": answers.units.get(unit, answers.units.get(use.column, "")),
    }


def _question(number: int, one: importing.Question, answers: importing.Answers) -> dict[str, Any]:
    """A question with a field for each key that answers it, what was answered, and the evidence."""
    part = next(name for name, start in FIELDS.items() if start == _FIELD_OF_KIND[one.kind])
    said = getattr(answers, part)
    plain = [key.rpartition(".")[2] for key in (one.key, *one.also)]
    asked = [
        {
            "name": f"{_FIELD_OF_KIND[one.kind]}{key}",
            "label": fields.as_asked(label),
            "value": said.get(key) or said.get(label) or (one.answer if place == 0 else ""),
            "listed": place == 0 and (label in _LISTED or one.is_closed) and bool(one.choices),
        }
        for place, (key, label) in enumerate(zip((one.key, *one.also), plain, strict=True))
    ]
    return {"number": number, "question": one, "fields": asked, "choices": one.choices}


def _review(look: importing.FileLook) -> dict[str, Any]:
    report = look.report
    if report is None or report.review is None:
        return {"review": None, "faults": fields.of_file(report.faults[:SHOWN_FAULTS]) if report else []}
    review = report.review
    visits = [
        {
            "seen": seen,
            "state": reviews.state(seen.state),
            "before": reviews.totals(seen.before),
            "after": reviews.totals(seen.after),
            "doubt": reviews.overfull(seen),
            "changes": seen.changes[:_SHOWN_CHANGES],
            "more": max(0, len(seen.changes) - _SHOWN_CHANGES),
            "asks": seen.visit in review.replaces,
            "stays": reviews.staying(seen),
        }
        for seen in review.visits
    ]
    others = [
        {"seen": seen, "state": reviews.state(seen.state), "asks": seen.mark in review.replaces}
        for seen in review.others
        if seen.state != "same"
    ]
    return {
        "review": review,
        "visits": visits,
        "others": others,
        "sums": reviews.sums(review.sums, written=False) if review.sums else "",
        "faults": fields.of_file(report.faults[:SHOWN_FAULTS]),
        "fault_count": len(report.faults),
        "notes": report.warnings[:SHOWN_FAULTS],
    }
