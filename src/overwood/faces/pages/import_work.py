"""Files as work of the tray: how one is read and what would come of it, and bringing it in; both with their progress,
and found again."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.template.loader import render_to_string

from overwood import __version__
from overwood.desk import entering, importing, mappings, session, uploads, work
from overwood.desk.review import Change
from overwood.desk.telling import plain
from overwood.faces import reviews
from overwood.faces.pages import asking, fields, import_look
from overwood.ground import measures
from overwood.ground.errors import BadRecords, Misuse, NotFound, Problem

LOOK, IMPORT = uploads.LOOK, "import"
ADDRESS = "/import/work/{}/"
# How long a browser waits for a file before it is shown how far it is; a program waits for the answer.
_BROWSER_S, _PROGRAM_S = 1.0, 3_600.0
# Corrections of an entry that its page shows.
_MOST_CHANGES = 20
_KEPT = ("file", "batch", "new", "same", "corrected", "quarantine", "mapping", "already", "needs_consent")


def look(request: HttpRequest, number: int, sent: importing.FileSent, answers: importing.Answers) -> work.Work:
    """How a file is read with these answers: as it was worked out last of the same records and rules, or anew."""
    asked = {"stand": "", "upload": number, "answers": answers.to_json(), "on": dt.date.today().isoformat()}
    asked["rests_on"] = _rests_on(asked, sent)
    known = next(
        (one for one in work.mine() if one.kind == LOOK and one.asked.get("rests_on") == asked["rests_on"]), None
    )
    if known is not None and not (known.fault and request.method == "POST"):
        return work.of(known.number)
    return _begun(request, work.Wanted(
        kind=LOOK, title=f"look at {sent.name}", asked=asked, total=importing.STEPS, doing=do_look
    ))  # fmt: skip


def _rests_on(asked: dict[str, Any], sent: importing.FileSent) -> str:
    """A mark of all that a look rests on."""
    known = [[one.number, one.saved_at.isoformat()] for one in mappings.kept()]
    marks = [session.data_version(), asking.question().rules.version, measures.system(), __version__]
    return hashlib.sha256(json.dumps([asked, sent.digest, known, marks], sort_keys=True).encode()).hexdigest()


def bring_in(request: HttpRequest, name: str, asked: dict[str, Any]) -> work.Work:
    """Bring a file in, or the good rows of one that waits."""
    asked |= {"stand": "", "on": dt.date.today().isoformat()}
    wanted = work.Wanted(
        kind=IMPORT, title=f"import of {name}", asked=asked, total=importing.STEPS, doing=do_import
    )  # fmt: skip
    return _begun(request, wanted)


def _begun(request: HttpRequest, wanted: work.Wanted) -> work.Work:
    wait_s = _BROWSER_S if request.headers.get("Sec-Fetch-Mode") == "navigate" else _PROGRAM_S
    return asking.hand().at_once(wanted, wait_s=wait_s, stays=wanted.kind == IMPORT)


def do_look(asked: dict[str, Any], step: work.Step) -> dict[str, Any]:
    """The look itself: the page as it is shown, in the units of who asked."""
    sent, _ = uploads.one(asked["upload"])
    answers = importing.Answers.from_json(asked["answers"])
    with measures.in_units(asked["units"]), importing.watched(step):
        try:
            return _looked(sent, answers, asked["on"])
        except BadRecords as wrong:
            return {"unread": _unread(wrong)}
        except _Unknown as wrong:
            # An answer that names nothing: everything is asked again as if it had not been given.
            return _looked(sent, importing.Answers(), asked["on"]) | {"fault": str(wrong.fault), "status": 422}


class _Unknown(Exception):
    """An answer that names nothing."""

    def __init__(self, fault: Misuse) -> None:
        self.fault = fault


def _looked(sent: importing.FileSent, answers: importing.Answers, on: str) -> dict[str, Any]:
    try:
        seen = importing.consider(sent, today=dt.date.fromisoformat(on), answers=answers, rules=asking.question().rules)
    except Misuse as fault:
        if answers == importing.Answers():
            raise
        raise _Unknown(fault) from fault
    report = seen.report
    if report and report.already:
        return {"report": _plain(report)}
    wrong = not seen.understood or bool(report and report.faults)
    return {
        "html": render_to_string("import_look.html", import_look.shown(seen, answers)),
        "has_report": report is not None,
        "has_faults": bool(report and report.faults),
        "has_sheets": bool(seen.proposal and seen.proposal.sheets),
        "status": 422 if wrong else 200,
    }


def do_import(asked: dict[str, Any], step: work.Step) -> dict[str, Any]:
    """The import itself; what was written before its process died is found again."""
    consent, today, rules = frozenset(asked["replace"]), dt.date.fromisoformat(asked["on"]), asking.question().rules
    with importing.watched(step):
        if "waiting" in asked:
            return _came(importing.release(asked["waiting"], today=today, replace=consent, rules=rules))
        try:
            sent, _ = uploads.one(asked["upload"])
        except NotFound:
            return _found_again(asked)
        try:
            report = importing.bring_in(
                sent,
                today=today,
                answers=importing.Answers.from_json(asked["answers"]),
                accept=True,
                replace=consent,
                rules=rules,
                save_as=asked["save_as"],
            )
        except (importing.NotUnderstood, Misuse) as fault:
            return {"refused": str(fault)}
        except BadRecords as fault:
            uploads.drop(asked["upload"])
            return {"unread": _unread(fault)}
    if report.needs_consent:
        return {
            "refused": "nothing was written. Tick every visit whose stored values this file may change, then write."
        }
    uploads.drop(asked["upload"])
    return _came(report)


def _found_again(asked: dict[str, Any]) -> dict[str, Any]:
    """The entry of a file that was put away because it was written."""
    report = importing.entry_of(asked["name"], asked["digest"])
    if report is None:
        raise NotFound("the file is not there any more.", remedy="Send it again on the page Import.")
    return _came(report)


def _unread(fault: BadRecords) -> dict[str, Any]:
    return {"text": str(fault), "problems": [str(one) for one in fault.problems]}


def _came(report: entering.Report) -> dict[str, Any]:
    return {"report": _plain(report)}


def _plain(report: entering.Report) -> dict[str, Any]:
    """What is kept of a report: what its page shows."""
    sums = report.review.sums if report.review else None
    return {
        **{name: getattr(report, name) for name in _KEPT},
        "problems": plain(report.problems),
        "changes": plain(fields.changes_of(report)[:_MOST_CHANGES]),
        "sums": reviews.sums(sums, written=report.batch is not None) if sums else "",
    }


def report_of(result: dict[str, Any]) -> tuple[entering.Report, dict[str, Any]]:
    """A kept report, and what its page shows beside it, in the units in force."""
    kept = result["report"]
    report = entering.Report(
        **{name: kept[name] for name in _KEPT}, problems=[Problem(**one) for one in kept["problems"]]
    )
    changes = [Change(**one) for one in kept["changes"]] if measures.is_metric() else []
    return report, {
        "corrected": [fields.changed(one) for one in changes] or report.corrected,
        "sums": kept["sums"],
    }


def under_way(request: HttpRequest, one: work.Work) -> HttpResponse:
    """The page of a file that is still read."""
    frame = {"title": one.title, "job": one, "address": ADDRESS.format(one.number)}
    return render(request, "import_under_way.html", frame)
