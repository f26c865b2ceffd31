"""The file of a stand as one PDF: what was decided and why, by what records and versions, and every record and paper
attached to it."""

from __future__ import annotations

import datetime as dt
import hashlib
from typing import Any

from overwood.desk.archive import Archive
from overwood.faces.papers import press
from overwood.ground.records import StandFile
from overwood.judgement.course import Advice
from overwood.judgement.course.steps import all_steps

_DIGITS = 16


def made(archive: Archive, on: dt.date) -> bytes:
    """The PDF, with every member of the archive attached under its path."""
    return press.pdf_with("stand_file/file.typ", content(archive, on), archive.members)


def content(archive: Archive, on: dt.date) -> dict[str, Any]:
    """Everything the template prints."""
    about, file, advice = archive.about, archive.front["file"], archive.front["advice"]
    return {
        "title": f"File of stand {archive.stand}",
        "subtitle": f"{file.stand.name or archive.stand}, {on.day} {on:%B %Y}",
        "footer": f"Overwood {about['program']}. Records {about['data_version']}, rulebook {about['rules_version']}.",
        "made_from": [
            f"program {about['program']}, rulebook {about['rules_version']}, records {about['data_version']}",
            f"{sum(about['rows'].values()):,} rows of {len(about['rows'])} tables, with all that was "
            "replaced or withdrawn",
            "every file named under Contents is attached to this PDF; the digests are SHA-256, their first 16 digits",
            "the archive is checked without a book: overwood archive-check FILE, or sha256sum -c "
            "SHA256SUMS in the unpacked folder",
        ],
        "items": [[item.item, item.state, item.found] for item in archive.front["items"]],
        "advice": _advice(advice),
        "gates": [[gate.question, gate.answer, gate.why] for gate in advice.gates],
        "decisions": _decisions(file),
        "operations": _operations(file),
        "visits": [
            [_day(row.visited_on), row.kind, row.visit, row.observer]
            for row in sorted(file.visits, key=lambda row: row.visited_on)
        ],
        "papers": [
            [
                str(row["id"]),
                row["title"],
                _day(row["made_on"]),
                row["made_by"],
                row["rules_version"],
                row["data_version"],
            ]
            for row in archive.front["papers"]
        ],
        "members": [
            [path, f"{len(content):,}", hashlib.sha256(content).hexdigest()[:_DIGITS]]
            for path, content in sorted(archive.members.items())
        ],
        "cautions": list(advice.cautions),
    }


def _day(day: dt.date | None) -> str:
    return "" if day is None else day.isoformat()


def _advice(advice: Advice) -> list[str]:
    window = f", {advice.window}" if advice.window else ""
    return [
        f"{advice.title}{window}",
        *map(str, advice.why),
        *(f"doubt: {doubt.words}" for doubt in advice.doubts),
        *([advice.overridden] if advice.overridden else []),
    ]


def _title(step: str) -> str:
    return all_steps()[step].title if step in all_steps() else step


def _decisions(file: StandFile) -> list[list[str]]:
    return [
        [
            _day(row.decided_on),
            f"{_title(row.chosen_step)}{' (advised: ' + _title(row.advised_step) + ')' if row.overridden else ''}",
            row.reason,
            row.decided_by,
            row.rulebook_version,
        ]
        for row in sorted(file.decisions, key=lambda row: row.decided_on)
    ]


def _operations(file: StandFile) -> list[list[str]]:
    return [
        [
            _day(row.started_on),
            _day(row.ended_on),
            row.kind,
            row.state,
            "" if row.cost_usd is None else f"{row.cost_usd:,.0f}",
            row.note,
        ]
        for row in sorted(file.operations, key=lambda row: row.started_on)
    ]
