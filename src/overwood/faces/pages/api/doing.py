"""What the API changes: records, files, decisions, papers, outlines, the office's own numbers."""

from __future__ import annotations

import datetime as dt
import json
from typing import Any

from django.http import HttpRequest
from ninja import File, Form, Status
from ninja.files import UploadedFile

from overwood.desk import answers, conflicts, entering, importing, outlines, undoing
from overwood.faces.pages import asking, papers, records
from overwood.faces.pages import importing as importing_pages
from overwood.faces.pages import rules as rules_pages
from overwood.faces.pages.api.reading import FAULTS, router
from overwood.faces.pages.api.shapes import (
    ConflictOut,
    DecisionIn,
    DrawingIn,
    EnteredOut,
    NumberOut,
    ReportOut,
    RowIn,
    RuleIn,
    SettleIn,
    VisitIn,
    VisitOut,
    WordsIn,
)
from overwood.faces.telling import plain
from overwood.ground.errors import Misuse
from overwood.judgement.course.steps import all_steps


@router.post("/records/{table}", response={200: EnteredOut, 409: ConflictOut, **FAULTS})
def record(request: HttpRequest, table: str, asked: RowIn) -> Any:
    """Write one record, checked as a file is. A correction names in ``replaces`` the record that it saw.

    Where the book has another value under the key, or ``replaces`` is no longer the newest, nothing is written: 409
    with both.
    """
    records.known_table(table)
    records.check_may_write(request, table)
    row = asked.row | ({"record_replaces": asked.replaces} if asked.replaces else {})
    yes = entering.ALL if asked.replaces else frozenset()
    report = entering.enter({table: [row]}, today=dt.date.today(), name=f"typed {table}", replace=yes, ask_species=True)
    asking.note(request, records.told(report))
    if report.clashes or report.needs_consent:
        conflict = {
            "what": "The book has another value of this record.",
            "remedy": "Nothing was written. Look at both; to correct it name the record that stands in replaces.",
            "conflicts": plain(report.clashes) or _replaced(report),
        }
        return Status(409, conflict)
    if report.faults:
        raise Misuse("; ".join(str(fault) for fault in report.faults), remedy="Nothing was written.")
    return {"entry": report.batch, "new": report.new, "corrected": report.corrected}


def _replaced(report: entering.Report) -> list[dict[str, Any]]:
    """What would be replaced, record by record, in the fields that differ."""
    review = report.review
    visits, others = (review.visits, review.others) if review else ((), ())
    changes = [change for one in visits for change in one.changes] + [
        change for one in others for change in one.changes
    ]
    replaced: dict[tuple[str, str], dict[str, Any]] = {}
    for change in changes:
        empty = {"table": change.table, "key": change.key, "row": change.row, "stored": {}, "came": {}}
        one = replaced.setdefault((change.table, change.key), empty)
        one["stored"][change.column], one["came"][change.column] = change.before, change.after
    return list(replaced.values())


@router.post("/visit", response={200: VisitOut, **FAULTS})
def visit(request: HttpRequest, asked: VisitIn) -> Any:
    """Store a whole visit, or nothing of it. Sent again it is stored once.

    Rows from two makers that differ go in side by side: ``in_dispute`` names them, and no figure uses them until a
    person settles them.
    """
    tables = {table: [{"record_device": asked.device} | row for row in rows] for table, rows in asked.tables.items()}
    name = entering.visit_of(tables)
    report = entering.enter(tables, today=dt.date.today(), name=f"visit {name}", synced=True)
    asking.note(request, records.told(report))
    if report.faults:
        raise Misuse("; ".join(str(fault) for fault in report.faults), remedy="Nothing was written.")
    disputed = [f"{one.table} {one.key}" for one in conflicts.open_conflicts() if name in one.key.split()]
    return {
        "entry": report.batch,
        "new": report.new,
        "same": report.same,
        "corrected": report.corrected,
        "in_dispute": disputed,
    }


@router.post("/conflicts/{table}/{row}", response={200: NumberOut, **FAULTS})
def settle_conflict(request: HttpRequest, table: str, row: str, asked: SettleIn) -> Any:
    """Let one of the rival records stand; the number given back takes the settlement back as an undo is taken back."""
    records.known_table(table)
    number = conflicts.settle(table, row, because=asked.because)
    asking.note(request, f"{table} {row} settled, ruling {number}")
    return {"number": number}


@router.post("/import", response={200: ReportOut, **FAULTS})
def bring_in(
    request: HttpRequest,
    file: File[UploadedFile],
    accept: Form[bool] = False,
    answers: Form[str] = "{}",
    settings: Form[str] = "{}",
    codes: Form[str] = "{}",
    replace: Form[str] = "",
) -> Any:
    """Bring a file in: csv, xlsx, xls, ods or zip. With faults nothing changes, and the file waits.

    A sheet with headings of its own is only looked at (``written`` is false, with its questions and what would come in)
    until it is sent with ``accept``. ``answers`` is a JSON object of settings, codes, units, columns and tables;
    ``settings`` and ``codes`` may be given alone. ``replace`` names the visits and records, parted by commas, whose
    stored values the file may change; ``*`` is every one.
    """
    sent = importing.FileSent(name=importing_pages.file_name(file.name, file.size), content=file.read())
    said = _answers(answers, {"settings": _texts(settings, "settings"), "codes": _texts(codes, "codes")})
    consent = frozenset(mark.strip() for mark in replace.split(",") if mark.strip())
    try:
        report = importing.bring_in(
            sent, today=dt.date.today(), answers=said, accept=accept, replace=consent, rules=asking.question().rules
        )
    except importing.NeedsAnswers:
        look = importing.consider(sent, today=dt.date.today(), answers=said, rules=asking.question().rules)
        return _report(look.report or entering.Report(sent.name)) | plain(look)
    asking.note(request, importing_pages.told(report))
    return _report(report)


def _answers(text: str, more: dict[str, dict[str, str]]) -> importing.Answers:
    try:
        kept = json.loads(text or "{}")
        said = importing.Answers.from_json(kept)
    except (ValueError, TypeError, AttributeError):
        raise Misuse(
            "answers is no JSON object of objects.", remedy='Write it as {"settings": {"baf_ft2_ac": "10"}}.'
        ) from None
    return importing.Answers(
        settings={**said.settings, **more["settings"]},
        codes={**said.codes, **more["codes"]},
        units=said.units,
        columns=said.columns,
        tables=said.tables,
    )


def _texts(text: str, name: str) -> dict[str, str]:
    try:
        plain = json.loads(text or "{}")
    except ValueError:
        plain = None
    if not isinstance(plain, dict):
        raise Misuse(f"{name} is no JSON object.", remedy='Write it as {"baf_ft2_ac": "10"}.')
    return {str(key): str(value) for key, value in plain.items()}


def _report(report: entering.Report) -> dict[str, Any]:
    return {
        "file": report.file,
        "entry": report.batch,
        "written": bool(report.batch) and not report.already,
        "already": report.already,
        "new": report.new,
        "same": report.same,
        "corrected": report.corrected,
        "needs_consent": list(report.needs_consent),
        "review": plain(report.review),
        "reading": plain(report.reading),
        "waits_as": report.quarantine,
        "problems": plain(report.problems),
    }


@router.post("/import/waiting/{int:number}", response={200: ReportOut, **FAULTS})
def settle(request: HttpRequest, number: int, release: bool = True) -> Any:
    """Take the good rows of a waiting file; with ``release`` false set it aside."""
    if release:
        report = importing.release(number, today=dt.date.today(), rules=asking.question().rules)
        asking.note(request, importing_pages.told(report))
        return _report(report)
    importing.discard(number)
    asking.note(request, f"{number} set aside")
    return _report(entering.Report(f"{number}"))


@router.post("/import/entries/{int:number}/undo", response={200: NumberOut, **FAULTS})
def undo(request: HttpRequest, number: int) -> Any:
    """Take an entry out of the current view with all that hangs on it; the number given back takes the undo back."""
    ruling = undoing.undo(number)
    asking.note(request, f"entry {number} undone, undo {ruling}")
    return {"number": ruling}


@router.post("/import/undone/{int:number}/redo", response={200: NumberOut, **FAULTS})
def redo(request: HttpRequest, number: int) -> Any:
    """Take an undo back."""
    undoing.redo(number)
    asking.note(request, f"undo {number} taken back")
    return {"number": number}


@router.post("/stands/{name}/decisions", response={200: dict[str, str], **FAULTS})
def decide(request: HttpRequest, name: str, asked: DecisionIn) -> Any:
    """Write a decision down; against the advice it needs a reason."""
    if asked.step not in all_steps():
        raise Misuse(f"there is no step {asked.step!r}.", remedy=f"There are {', '.join(all_steps())}.")
    title = answers.decide(name, asking.question(), step=asked.step, reason=asked.reason, by=asked.by)
    asking.note(request, f"{name}: {asked.step}, by {asked.by}")
    return {"decision": title}


@router.post("/stands/{name}/papers/{which}", response={200: NumberOut, **FAULTS})
def keep_paper(request: HttpRequest, name: str, which: str, asked: WordsIn) -> Any:
    """Print a paper with the signer's words and keep it with the versions it was made from."""
    return {"number": papers.print_and_keep(request, name, which, asked.words, asked.language)}


@router.post("/outlines", response={200: EnteredOut, **FAULTS})
def draw(request: HttpRequest, drawing: DrawingIn) -> Any:
    """Write a drawing down as one entry."""
    report = outlines.keep(outlines.Drawing(**drawing.dict()), dt.date.today())
    asking.note(request, f"{drawing.act} {drawing.stand} {drawing.other}, entry {report.batch}" if report.batch else "")
    return {"entry": report.batch, "new": report.new, "corrected": report.corrected}


@router.post("/rules/{name}", response={200: dict[str, str], **FAULTS})
def own_number(request: HttpRequest, name: str, asked: RuleIn) -> Any:
    """Set an own number of the office, or take it back."""
    rules_pages.change(request, name, asked.value, asked.note)
    return {"name": name, "rulebook_version": asking.question().rules.version}
