"""Files in: how a file is read, what is asked of it, what would come of it, and bringing it in whole or not at all.

Nothing is written by looking. A file with faults changes nothing: it waits in quarantine with the answers it was given.
"""

from __future__ import annotations

import contextlib
import dataclasses
import datetime as dt
import hashlib
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, ClassVar

from overwood.desk import as_read, book, entering, mappings
from overwood.ground import plausible
from overwood.ground.errors import BadRecords, Misuse, NotFound, OverwoodError, Problem
from overwood.judgement.rules import Rules
from overwood.memory.exchange import proposing, reading, watching
from overwood.memory.exchange.proposal import (
    AS_WRITTEN,
    Answers,
    Choice,
    Mapping,
    Part,
    Proposal,
    Question,
    RowSums,
    SheetProposal,
)

__all__ = [
    "AS_WRITTEN",
    "Answers",
    "Choice",
    "FileLook",
    "FileSent",
    "Mapping",
    "NeedsAnswers",
    "Proposal",
    "Question",
    "RowSums",
    "SheetProposal",
]  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class FileSent:
    """A file as it came: its plain name and its content."""

    name: str
    content: bytes

    @property
    def digest(self) -> str:
        """Fingerprint of the content."""
        return hashlib.sha256(self.content).hexdigest()


@dataclass(frozen=True, kw_only=True)
class FileLook:
    """What a file would come to; nothing is written.

    ``proposal`` is None where every sheet is in the program's own form. ``report`` is None while questions are open or
    no sheet is understood; its review says what would be new, replaced and withdrawn. ``instead_of`` is the earlier
    entry of the same file that this one would take the place of.
    """

    file: str
    DERIVED: ClassVar = ("written", "sheets", "open_questions")
    proposal: Proposal | None = field(default=None, metadata={"inner": True})
    report: entering.Report | None = None
    instead_of: int | None = None

    @property
    def written(self) -> bool:
        """Never: it is only looked at."""
        return False

    @property
    def sheets(self) -> tuple[SheetProposal, ...]:
        """How each sheet with headings of its own is read."""
        return self.proposal.sheets if self.proposal else ()

    @property
    def open_questions(self) -> tuple[Question, ...]:
        """What must be answered before anything is stored."""
        return self.proposal.open_questions if self.proposal else ()

    @property
    def understood(self) -> bool:
        """Whether anything of the file can be stored."""
        return self.report is not None or bool(self.proposal and self.proposal.understood)


class NeedsAnswers(Misuse):
    """A sheet with its own headings is not confirmed, or questions of it are open; ``look`` says how it is read."""

    exit_status = 1

    def __init__(self, look: FileLook) -> None:
        still = " ".join(question.text for question in look.open_questions)
        text = f"{look.file} still has open questions: {still}" if still else f"{look.file} has its own headings."
        super().__init__(text, remedy="Answer them." if still else "Look at the proposed mapping and confirm it.")
        self.look = look


class Stopped(OverwoodError):
    """An import that was stopped before the book was held; the book is as it was."""


class NotUnderstood(BadRecords):
    """No sheet of a file holds a tally that is understood; ``look`` says why of each."""

    def __init__(self, look: FileLook) -> None:
        sheets = look.proposal.sheets if look.proposal else ()
        problems = tuple(Problem(what=f"{sheet.why_not}.", file=look.file, sheet=sheet.sheet) for sheet in sheets)
        super().__init__(
            f"{look.file} holds no tally that is understood.",
            problems,
            remedy="Say which table a sheet holds, or name the columns as `overwood template` shows.",
        )
        self.look = look


@dataclass(frozen=True, kw_only=True)
class _Read:
    """A file on its way: how it is read, and what there is to store once nothing is open."""

    look: FileLook
    coming: entering.Incoming | None = None
    already: int | None = None


# Of a hundred parts of an import: where the reading of its rows ends, and where the book is held, which ends no more.
STEPS = 100
_READ, _HELD = 90, STEPS - 1


class _Watch:
    """How far an import is, in hundredths; what stops it stops it before the book is held."""

    def __init__(self, step: Callable[[int, str], bool]) -> None:
        self.step, self.rows = step, 0
        self.through: Counter[str] = Counter()

    def __call__(self, what: str, count: int) -> None:
        if what == watching.COUNTED:
            self.rows += count
        elif what != watching.WRITTEN:
            self.through[what] += count
        done, note = self._so_far(what)
        if not self.step(done, note):
            raise Stopped("stopped; the book is as it was.", remedy="The file lies on the page Import.")

    def _so_far(self, what: str) -> tuple[int, str]:
        if what == watching.WRITTEN:
            return _HELD, "held against the book; this part is not stopped"
        share = sum(self.through.values()) / max(1, len(watching.PASSES) * self.rows)
        through = f"{min(self.through[what], self.rows):,} of " if what in watching.PASSES else ""
        return round(_READ * min(1.0, share)), f"{through}{self.rows:,} rows {what}"


def watched(step: Callable[[int, str], bool]) -> contextlib.AbstractContextManager[None]:
    """Tell ``step`` how far the import within is, of ``STEPS``; where it says no the import ends with Stopped."""
    return watching.telling(_Watch(step))


def file_at(path: Path) -> FileSent:
    """The file at a path; a folder of sheets is packed as a zip. Raises NotFound when there is none."""
    if path.is_dir():
        return FileSent(name=path.resolve().name, content=_folder_as_zip(path))
    try:
        return FileSent(name=path.name, content=path.read_bytes())
    except FileNotFoundError as fault:
        raise NotFound(f"there is no file {path}.", remedy="Check the name.") from fault
    except OSError as fault:
        raise OverwoodError(f"{path} cannot be opened: {fault.strerror}.") from fault


def _folder_as_zip(folder: Path) -> bytes:
    import io
    import zipfile

    files = [file for file in sorted(folder.rglob("*")) if file.is_file()]
    if not files:
        raise BadRecords(f"the folder {folder} is empty.", remedy="Put sheets into it, or name a file.")
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        for file in files:
            entry = zipfile.ZipInfo(file.relative_to(folder).as_posix())
            archive.writestr(entry, file.read_bytes())
    return packed.getvalue()


def consider(sent: FileSent, *, today: dt.date, answers: Answers | None = None, rules: Rules | None = None) -> FileLook:
    """How a file is read, what is asked by the limits of ``rules``, and what would come of it; nothing is written.
    Raises BadRecords when the file as a whole cannot be read; Misuse when an answer names nothing that is there."""
    _by_limits_of(rules)
    read = _read(sent, today=today, answers=answers or Answers())
    if read.already is not None:
        return dataclasses.replace(read.look, report=entering.Report(sent.name, batch=read.already, already=True))
    if read.coming is None:
        return read.look
    watching.tell(watching.WRITTEN, 0)
    report = entering.look(read.coming, today=today, instead_of=read.look.instead_of)
    report.reading = as_read.of(read.look.proposal, read.coming.parts, report.faults)
    return dataclasses.replace(read.look, report=_same_as_before(report, read.look.instead_of))


def bring_in(
    source: Path | FileSent,
    *,
    today: dt.date,
    answers: Answers | None = None,
    accept: bool = False,
    replace: frozenset[str] = frozenset(),
    save_as: str = "",
    progress: entering.Progress | None = None,
    rules: Rules | None = None,
) -> entering.Report:
    """Bring a file or folder of records into the book.

    ``accept`` confirms how foreign headings are read. ``replace`` names the visits and records whose stored values this
    file may change (``entering.ALL``: every one); without it such a file changes nothing, and the report says what it
    would change. A file with faults changes nothing: it is kept whole in quarantine, with its problems.

    Raises NeedsAnswers when a sheet has headings of its own that were not confirmed, or a question of it is open;
    NotUnderstood when no sheet holds a tally that is understood; BadRecords when the file as a whole cannot be read;
    Misuse when an answer names nothing that is there.
    """
    sent = file_at(source) if isinstance(source, Path) else source
    answers = answers or Answers()
    _by_limits_of(rules)
    read = _read(sent, today=today, answers=answers)
    if read.already is not None:
        return entering.Report(sent.name, batch=read.already, already=True)
    if not read.look.understood and read.coming is None:
        raise NotUnderstood(read.look)
    if read.coming is None or (read.look.proposal and not accept):
        raise NeedsAnswers(read.look)
    watching.tell(watching.WRITTEN, 0)
    report = entering.write(
        read.coming,
        today=today,
        replace=replace,
        instead_of=read.look.instead_of,
        leave_out_faulty=False,
        progress=progress,
    )
    report.reading = as_read.of(read.look.proposal, read.coming.parts, report.faults)
    return _settled(sent, read.look, report, answers, save_as)


def entry_of(sent_name: str, digest: str) -> entering.Report | None:
    """The entry in force that a file of this content made; None where there is none."""
    entry = next(iter(book.contents.entries_of(digest)), None)
    return entering.Report(sent_name, batch=entry, already=True) if entry is not None else None


def _by_limits_of(rules: Rules | None) -> None:
    """Ask and doubt by the office's own limits of plausibility, where it has some."""
    plausible.use(rules.own_limits if rules else {})


def _read(sent: FileSent, *, today: dt.date, answers: Answers, layouts: dict[str, Mapping] | None = None) -> _Read:
    """How a file is read; ``layouts`` are mappings that belong to this file alone."""
    entries = book.contents.entries_of(sent.digest)
    sheets = reading.read_file(sent.name, sent.content)
    own, strange = proposing.sort_out(sheets)
    if not strange:
        coming = entering.Incoming(name=sent.name, digest=book.contents.free_mark(sent.digest), sheets=tuple(own))
        return _Read(
            look=FileLook(file=sent.name), coming=coming, already=next(filter(book.contents.is_whole, entries), None)
        )
    proposal = proposing.propose(strange, answers, {**mappings.remembered(), **(layouts or {})}, mappings.known(today))
    look = FileLook(file=sent.name, proposal=proposal, instead_of=next(filter(book.contents.has_rows, entries), None))
    if proposal.open_questions or not (proposal.understood or own):
        return _Read(look=look)
    return _Read(look=look, coming=_coming(sent, own, proposal))


def _coming(sent: FileSent, own: list[reading.Sheet], proposal: Proposal) -> entering.Incoming:
    applied = proposing.apply(proposal)
    left_out = [
        Problem(
            what=f"This sheet was left out: {sheet.why_not}.", file=sheet.file, sheet=sheet.sheet, severity="warning"
        )
        for sheet in proposal.sheets
        if not sheet.table and sheet.why_not
    ]
    return entering.Incoming(
        name=sent.name,
        digest=book.contents.free_mark(sent.digest),
        sheets=tuple(own),
        parts=_without_listed_lands(applied.parts, own),
        fates=applied.fates,
        problems=(*applied.problems, *left_out),
    )


def _without_listed_lands(parts: tuple[Part, ...], own: list[reading.Sheet]) -> tuple[Part, ...]:
    """A property that a list of stands only names is not made by it where a sheet beside it says what the property
    is."""
    listed = {
        name for sheet in own if sheet.name.strip().lower() == "properties" for name in _column(sheet, "property")
    }
    rows = []
    for part in parts:
        frame = part.frame
        if part.table == "properties":
            frame = frame.filter([name not in listed for name in frame["property"].to_list()])
        if frame.height:
            rows.append(dataclasses.replace(part, frame=frame))
    return tuple(rows)


def _column(sheet: reading.Sheet, name: str) -> list[str]:
    """The cells of a column of a contract sheet; none where it has no such heading."""
    rows = sheet.rows()
    headings = [cell.strip().lower() for cell in next(rows, (0, []))[1]]
    if name not in headings:
        return []
    at = headings.index(name)
    return [cells[at].strip() for _, cells in rows if len(cells) > at]


def _same_as_before(report: entering.Report, earlier: int | None) -> entering.Report:
    """A file that would store what its earlier entry holds is already in the book."""
    review = report.review
    if earlier is None or report.faults or any(report.new.values()) or (review and not review.adds_only):
        return report
    return entering.Report(report.file, batch=earlier, already=True, same=report.same)


def _settled(
    sent: FileSent, look: FileLook, report: entering.Report, answers: Answers, save_as: str
) -> entering.Report:
    """What stays of a file beside its records: the mapping of one that came in, the whole of one with faults."""
    title = save_as or sent.name.rsplit(".", 1)[0]
    report.problems = [*report.problems, *_said_of_reading(look.proposal)]
    if report.faults:
        waits = {
            "answers": answers.to_json(),
            "mappings": [one.to_json() for one in look.proposal.mappings] if look.proposal else [],
        }
        report.quarantine = book.store.hold(
            sent.name, sent.digest, sent.content, waits, [dataclasses.asdict(p) for p in report.problems]
        )
        return report
    if report.needs_consent:
        return report
    if look.proposal:
        report.mapping = ", ".join(mappings.keep(look.proposal.mappings, title, rename=bool(save_as)))
    if report.batch is None:
        return _same_as_before(report, look.instead_of)
    book.store.settle_name(sent.name, f"came in whole as entry {report.batch}")
    return report


def _said_of_reading(proposal: Proposal | None) -> list[Problem]:
    """What is to be said of how sheets were read: rows left out and what was taken for granted."""
    sheets = [sheet for sheet in proposal.sheets if sheet.table] if proposal else []
    return [
        Problem(what=words, file=sheet.file, sheet=sheet.sheet, severity="warning")
        for sheet in sheets
        for words in sheet.notes
    ]


def columns_of(table: str) -> list[str]:
    """Columns that a heading of a foreign sheet may be taken as."""
    return proposing.columns_of(table)


def foreign_tables() -> list[str]:
    """Tables that a foreign sheet may hold."""
    return proposing.tables()


def quarantine() -> list[dict[str, Any]]:
    """Files that wait, with their problems."""
    return book.store.held()


def release(
    number: int, *, today: dt.date, replace: frozenset[str] = frozenset(), rules: Rules | None = None
) -> entering.Report:
    """Bring the good rows of a waiting file in and leave its faulty rows out; the file itself stays in the book. Raises
    NotFound when no file waits under this number."""
    waiting = book.store.held_file(number)
    if waiting is None:
        raise NotFound(f"no file waits in quarantine under number {number}.", remedy="See `overwood quarantine`.")
    _by_limits_of(rules)
    name, content, kept = waiting
    sent = FileSent(name=name, content=content)
    kept = kept or {}
    layouts = {one["signature"]: Mapping.from_json(one) for one in kept.get("mappings", [])}
    read = _read(sent, today=today, answers=Answers.from_json(kept.get("answers", {})), layouts=layouts)
    if read.coming is None:
        raise NeedsAnswers(read.look)
    watching.tell(watching.WRITTEN, 0)
    report = entering.write(read.coming, today=today, replace=replace, leave_out_faulty=True)
    if report.batch is not None:
        book.store.settle(number, f"good rows came in as entry {report.batch}")
    return report


def discard(number: int) -> None:
    """Set a waiting file aside; it is kept, but no longer listed."""
    if book.store.held_file(number) is None:
        raise NotFound(f"no file waits in quarantine under number {number}.", remedy="See `overwood quarantine`.")
    book.store.settle(number, "set aside")
