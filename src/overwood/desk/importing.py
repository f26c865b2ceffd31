"""Records in: a file is read, checked and stored whole or not at all, and faulty files wait in quarantine."""

from __future__ import annotations

import dataclasses
import datetime as dt
import hashlib
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from overwood.desk import entering
from overwood.ground.errors import BadRecords, NotFound, OverwoodError, Problem
from overwood.memory.exchange import foreign, reading
from overwood.memory.exchange.proposal import Part
from overwood.memory.exchange.reading import Sheet


class NeedsMapping(OverwoodError):
    """A sheet is not written as the contract asks; ``proposal`` says how the program reads it."""

    def __init__(self, file: str, proposal: dict[str, Any]) -> None:
        super().__init__(f"{file} has its own headings.", remedy="Look at the proposed mapping and confirm it.")
        self.proposal = proposal


class NotUnderstood(BadRecords):
    """No sheet of a file holds a tally that is understood; ``proposal`` says why of each."""

    proposal: dict[str, Any]


@dataclass(frozen=True, kw_only=True)
class Answers:
    """What a person said about a foreign sheet."""

    accept: bool = False
    settings: dict[str, str] = field(default_factory=dict)
    codes: dict[str, str] = field(default_factory=dict)
    tables: dict[str, str] = field(default_factory=dict)
    columns: dict[str, str] = field(default_factory=dict)
    units: dict[str, str] = field(default_factory=dict)
    save_as: str = ""
    replace: frozenset[str] = frozenset()

    @property
    def changes(self) -> bool:
        """Whether the proposed mapping is to be another."""
        return bool(self.tables or self.columns or self.units)


def bring_in(path: Path, *, today: dt.date, answers: Answers | None = None, progress: entering.Progress | None = None) -> entering.Report:
    """Bring a file or folder of records into the book.

    A file with faults changes nothing in the book: it is kept whole in quarantine, with its problems.

    Raises
    ------
    NotFound
        when there is no such file.
    NeedsMapping
        when a sheet has headings of its own and no mapping was confirmed for them.
    BadRecords
        when the file as a whole cannot be read.
    """
    content = _content(path)
    return _bring_in_content(path.name, content, today=today, answers=answers or Answers(), progress=progress)


def mapping_choices(plan: dict[str, Any]) -> list[dict[str, Any]]:
    """Each heading of a proposed sheet: what it is taken as and may be, its unit and what it may be in, its first values."""
    table = plan["table"]
    taken = {source["from"]: (column, source["unit"]) for column, source in plan["columns"].items()}
    found = []
    for heading, values in plan["such_as"].items():
        column, unit = taken.get(heading, ("-", ""))
        units = foreign.units_of(table, column) if column != "-" else ()
        found.append({"heading": heading, "column": column, "unit": unit, "units": units, "such_as": values})
    return found


def columns_of(table: str) -> list[str]:
    """Columns that a heading of a foreign sheet may be taken as."""
    return foreign.columns_of(table)


def foreign_tables() -> list[str]:
    """Tables that a foreign sheet may hold."""
    return foreign.tables()


def _content(path: Path) -> bytes:
    if path.is_dir():
        return _folder_as_zip(path)
    try:
        return path.read_bytes()
    except FileNotFoundError as fault:
        raise NotFound(f"there is no file {path}.", remedy="Check the name.") from fault
    except OSError as fault:
        raise OverwoodError(f"{path} cannot be opened: {fault.strerror}.") from fault


def _folder_as_zip(folder: Path) -> bytes:
    import io
    import zipfile

    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        for file in sorted(folder.rglob("*")):
            if file.is_file():
                entry = zipfile.ZipInfo(file.relative_to(folder).as_posix())
                archive.writestr(entry, file.read_bytes())
    return packed.getvalue()


def _bring_in_content(
    name: str, content: bytes, *, today: dt.date, answers: Answers, progress: entering.Progress | None
) -> entering.Report:
    from overwood.memory.book import store

    digest = hashlib.sha256(content).hexdigest()
    known = store.batch_of(digest)
    if known is not None:
        return entering.Report(name, batch=int(known.id), already=True)
    sheets = reading.read_file(name if "." in name else f"{name}.zip", content)
    plan, saved_as = _plan_for(name, sheets, answers)
    coming = _incoming(name, digest, sheets, plan)
    report = entering.write(coming, today=today, replace=answers.replace, progress=progress)
    report.mapping = saved_as
    if report.faults:
        report.quarantine = store.hold(name, digest, content, plan, [dataclasses.asdict(p) for p in report.problems])
    elif report.batch is not None:
        store.settle_name(name, f"came in whole as entry {report.batch}")
    return report


def _incoming(name: str, digest: str, sheets: list[Sheet], plan: dict[str, Any] | None) -> entering.Incoming:
    """Sheets of the program's own form, and foreign ones as their mapping has them."""
    own = tuple(sheet for sheet in sheets if foreign.is_contract(sheet))
    plans = {entry["sheet"]: entry for entry in (plan or {"sheets": []})["sheets"]}
    parts, problems = [], []
    for sheet in sheets:
        if sheet in own:
            continue
        if plans.get(sheet.name, {}).get("table"):
            frames = foreign.apply(plans[sheet.name], sheet)
            parts += [Part(file=sheet.file, sheet=sheet.name, table=table, frame=frame) for table, frame in frames.items()]
        else:
            what = "This sheet is not understood and was left out."
            problems.append(Problem(what=what, file=sheet.file, sheet=sheet.name, severity="warning"))
    return entering.Incoming(name=name, digest=digest, sheets=own, parts=tuple(parts), problems=tuple(problems))


def _plan_for(name: str, sheets: list[Sheet], answers: Answers) -> tuple[dict[str, Any] | None, str]:
    """The mapping of the foreign sheets, None where every sheet follows the contract."""
    from overwood.memory.book import store

    strange = [sheet for sheet in sheets if not foreign.is_contract(sheet)]
    if not strange:
        return None, ""
    mark = foreign.signature(strange)
    saved = store.mapping_for(mark)
    if saved is not None and not answers.accept and not answers.changes:
        return saved[1], saved[0]
    proposal = foreign.propose(strange, foreign.Told(answers.tables, answers.columns, answers.units))
    if not any(plan["table"] for plan in proposal["sheets"]):
        fault = NotUnderstood(
            f"{name} holds no tally that is understood.",
            tuple(Problem(what=f"{plan['why_not']}.", file=name, sheet=plan["sheet"]) for plan in proposal["sheets"]),
            remedy="Name the columns as `overwood template` shows, or closer to it.",
        )
        fault.proposal = proposal
        raise fault
    if not answers.accept:
        raise NeedsMapping(name, proposal)
    plan = foreign.answer(proposal, answers.settings, answers.codes)
    title = answers.save_as or name.rsplit(".", 1)[0]
    store.save_mapping(title, mark, plan)
    return plan, title


def quarantine() -> list[dict[str, Any]]:
    """Files that wait, with their problems."""
    from overwood.memory.book import store

    return store.held()


def release(number: int, *, today: dt.date) -> entering.Report:
    """Bring the good rows of a waiting file in and leave its faulty rows out; the file itself stays in the book."""
    from overwood.memory.book import store

    waiting = store.held_file(number)
    if waiting is None:
        raise NotFound(f"no file waits in quarantine under number {number}.", remedy="See `overwood quarantine`.")
    name, content, plan = waiting
    sheets = reading.read_file(name if "." in name else f"{name}.zip", content)
    coming = _incoming(name, hashlib.sha256(content).hexdigest(), sheets, plan)
    report = entering.write(coming, today=today, replace=entering.ALL, leave_out_faulty=True)
    store.settle(number, f"good rows came in as entry {report.batch}")
    return report


def discard(number: int) -> None:
    """Set a waiting file aside; it is kept, but no longer listed."""
    from overwood.memory.book import store

    if store.held_file(number) is None:
        raise NotFound(f"no file waits in quarantine under number {number}.", remedy="See `overwood quarantine`.")
    store.settle(number, "set aside")
