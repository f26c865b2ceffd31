"""What the API changes: records, files, decisions, papers, outlines, the office's own numbers."""

from __future__ import annotations

import datetime as dt
import json
import tempfile
from pathlib import Path
from typing import Any

from django.http import HttpRequest
from ninja import File, Form
from ninja.files import UploadedFile

from overwood.desk import answers, entering, importing, outlines, undoing
from overwood.faces.pages import asking, papers, records
from overwood.faces.pages import importing as importing_pages
from overwood.faces.pages import rules as rules_pages
from overwood.faces.pages.api.reading import FAULTS, router
from overwood.faces.pages.api.shapes import DecisionIn, DrawingIn, EnteredOut, NumberOut, ReportOut, RowIn, RuleIn, WordsIn
from overwood.ground.errors import Misuse
from overwood.judgement.course.steps import all_steps


@router.post("/records/{table}", response={200: EnteredOut, **FAULTS})
def record(request: HttpRequest, table: str, asked: RowIn) -> Any:
    """Write one record, checked as a file is; the same key corrects the record before."""
    records.known_table(table)
    records.check_may_write(request, table)
    report = entering.enter({table: [asked.row]}, today=dt.date.today(), name=f"typed {table}")
    asking.note(request, records.told(report))
    if report.faults:
        raise Misuse("; ".join(str(fault) for fault in report.faults), remedy="Nothing was written.")
    return {"entry": report.batch, "new": report.new, "corrected": report.corrected}


@router.post("/import", response={200: ReportOut, **FAULTS})
def bring_in(
    request: HttpRequest, file: File[UploadedFile], accept: Form[bool] = False, settings: Form[str] = "{}", codes: Form[str] = "{}"
) -> Any:
    """Bring a file in: csv, xlsx, xls, ods or zip. With faults nothing changes, and the file waits.

    ``accept`` takes the proposed mapping of a foreign sheet, with ``settings`` and ``codes`` as JSON objects of what it does not say.
    """
    told = importing.Answers(accept=accept, settings=_texts(settings, "settings"), codes=_texts(codes, "codes"))
    name = importing_pages.file_name(file.name, file.size)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        path.write_bytes(file.read())
        try:
            report = importing.bring_in(path, today=dt.date.today(), answers=told)
        except importing.NeedsMapping as question:
            asked = json.dumps(question.proposal["sheets"], default=str)
            raise Misuse(f"{name} has its own headings; it would be read as {asked}", remedy="Send it again with accept=true.") from None
    asking.note(request, importing_pages.told(report))
    return _report(report)


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
        "already": report.already,
        "new": report.new,
        "same": report.same,
        "corrected": report.corrected,
        "waits_as": report.quarantine,
        "problems": [vars(problem) for problem in report.problems],
    }


@router.post("/import/waiting/{int:number}", response={200: ReportOut, **FAULTS})
def settle(request: HttpRequest, number: int, release: bool = True) -> Any:
    """Take the good rows of a waiting file; with ``release`` false set it aside."""
    if release:
        report = importing.release(number, today=dt.date.today())
        asking.note(request, importing_pages.told(report))
        return _report(report)
    importing.discard(number)
    asking.note(request, f"{number} set aside")
    return _report(entering.Report(f"{number}"))


@router.post("/import/entries/{int:number}/undo", response={200: NumberOut, **FAULTS})
def undo(request: HttpRequest, number: int) -> Any:
    """Take an entry out of the current view; its rows stay in the history."""
    undoing.undo(number)
    asking.note(request, f"entry {number}")
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
    return {"number": papers.print_and_keep(request, name, which, asked.words)}


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
