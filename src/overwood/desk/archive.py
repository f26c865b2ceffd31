"""The file of a stand in one archive: records with their history, decisions, answers, papers, rules and versions, each
with its digest.

An archive is checked without a book, by this program or by any other that knows SHA-256.
"""

from __future__ import annotations

import csv
import hashlib
import io
import json
import zipfile
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from overwood import __version__
from overwood.desk import answers, book, kept, session
from overwood.desk.question import Question
from overwood.desk.telling import plain
from overwood.ground.errors import BadRecords, Problem
from overwood.ground.records import TABLES

FORMAT = 1
LIST, ABOUT, FRONT = "SHA256SUMS", "about.json", "stand-file.pdf"
_ANSWERS = "answers/"
# An archive of a stand holds some megabytes; one that unpacks to more than this is none of ours.
_MOST_BYTES, _MOST_MEMBERS = 500_000_000, 20_000
# Digits of a seal that are enough to hold an archive against it.
FEWEST_DIGITS = 8
# Archives of the same content are the same bytes: the day of a member is none.
_NO_DAY = (1980, 1, 1, 0, 0, 0)


@dataclass(frozen=True)
class Archive:
    """What goes into the archive of a stand, by path; ``about`` says from what it was made, ``front`` what its first
    pages tell."""

    stand: str
    about: dict[str, Any]
    members: dict[str, bytes] = field(repr=False)
    front: dict[str, Any] = field(repr=False)


@dataclass(frozen=True)
class CheckedArchive:
    """Whether an archive is as it was written; ``seal`` is the digest of its list, to be held against the one written
    down then."""

    file: str
    stand: str
    made_on: str
    program: str
    rules_version: str
    members: int
    seal: str
    problems: tuple[Problem, ...]

    @property
    def is_whole(self) -> bool:
        """Nothing is missing, changed or added."""
        return not self.problems


def gather(name: str, ask: Question) -> Archive:
    """Everything of a stand, as members of an archive that has no front page yet."""
    advice, rows = answers.advice(name, ask), book.stand_rows.every_row(name)
    rules = {"version": ask.rules.version, "differences": ask.rules.differences, "entries": ask.rules.entries}
    items = answers.completeness(name, ask)
    members = {
        **{f"records/{table}.csv": _csv(table, lines) for table, lines in rows.items() if lines},
        "advice.json": _json(advice),
        "figures.json": _json(answers.evidence(name, ask)),
        "rules.json": _json(rules),
        "completeness.json": _json(items),
        "rulings.json": _json(book.stand_rows.rulings_of(rows)),
        **_answers(name),
        **_papers(name),
    }
    about = {
        "overwood": "archive",
        "format": FORMAT,
        "stand": name,
        "made_on": ask.on.isoformat(),
        "program": __version__,
        "rules_version": ask.rules.version,
        "data_version": session.data_version(),
        "rows": {table: len(lines) for table, lines in rows.items() if lines},
    }
    front = {"advice": advice, "items": items, "file": answers.stand_file(name), "papers": session.kept_papers(name)}
    return Archive(name, about, {ABOUT: _json(about), **members}, front)


def write(made: Archive, front: bytes, target: Path) -> str:
    """Write the archive with its front page; returns the seal: the digest of the list of digests. Raises OSError when
    the file cannot be written."""
    members = {**made.members, FRONT: front}
    listed = digests(members)
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
        for path, content in {**members, LIST: listed}.items():
            archive.writestr(zipfile.ZipInfo(path, _NO_DAY), content, zipfile.ZIP_DEFLATED)
    return hashlib.sha256(listed).hexdigest()


def digests(members: Mapping[str, bytes]) -> bytes:
    """The list of digests as ``sha256sum`` writes and reads it."""
    lines = [f"{hashlib.sha256(content).hexdigest()}  {path}\n" for path, content in sorted(members.items())]
    return "".join(lines).encode()


def check(path: Path, seal: str = "") -> CheckedArchive:
    """Hold every member against its digest, every answer against its own, and the list against a seal; needs no book.
    Raises BadRecords when the file is no archive at all."""
    members = _members(path)
    problems: list[Problem] = []

    def bad(what: str, where: str, text: str = "", expected: str = "") -> None:
        problems.append(Problem(what=what, file=where, found=text, expected=expected))

    listed, own_seal = _listed(members, bad), hashlib.sha256(members.get(LIST, b"")).hexdigest()
    _hold(members, listed, bad)
    about = _about(members, bad)
    if seal and not own_seal.startswith(seal.strip().lower()):
        bad(
            "The seal is another: the list of digests itself was changed, or this is another archive.",
            LIST,
            own_seal,
            seal,
        )
    rows = about.get("rows", {}) if isinstance(about.get("rows"), dict) else {}
    for table, count in rows.items():
        content = members.get(f"records/{table}.csv", b"")
        lines = max(sum(1 for _ in csv.reader(io.StringIO(content.decode("utf-8", "replace")))) - 1, 0)
        if lines != count:
            bad(
                "The table has another number of rows than the archive says.",
                f"records/{table}.csv",
                str(lines),
                str(count),
            )
    named = {key: str(about.get(key, "")) for key in ("stand", "made_on", "program", "rules_version")}
    return CheckedArchive(path.name, members=len(members), seal=own_seal, problems=tuple(problems), **named)


def _csv(table: str, rows: list[tuple[Any, ...]]) -> bytes:
    from overwood.memory.exchange import package

    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow([*book.stand_rows.ENTRY, *TABLES[table].columns])
    writer.writerows([[package.text_of(value) for value in row] for row in rows])
    return text.getvalue().encode()


def _json(value: Any) -> bytes:
    return (json.dumps(plain(value), indent=1, ensure_ascii=False, sort_keys=True) + "\n").encode()


def _answers(name: str) -> dict[str, bytes]:
    """Kept answers, each with the digest that papers name."""
    return {f"{_ANSWERS}{one.number:06}-{one.kind.replace(' ', '-')}.json": _json(one) for one in kept.all_of(name)}


def _papers(name: str) -> dict[str, bytes]:
    return {
        f"papers/{row['id']:06}-{row['which']}.pdf": session.kept_paper(name, row["id"])
        for row in session.kept_papers(name)
    }


def _members(path: Path) -> dict[str, bytes]:
    remedy = "Give the archive of a stand as it was written, the whole zip file."
    try:
        with zipfile.ZipFile(path) as archive:
            entries = archive.infolist()
            names = [entry.filename for entry in entries]
            if len(names) > _MOST_MEMBERS or sum(entry.file_size for entry in entries) > _MOST_BYTES:
                raise BadRecords(f"{path.name} is larger than an archive of a stand.", remedy=remedy)
            if len(set(names)) < len(names):
                raise BadRecords(f"{path.name} holds one name twice: {max(names, key=names.count)}.", remedy=remedy)
            return {entry.filename: _content(archive, entry) for entry in entries if not entry.is_dir()}
    except (OSError, zipfile.BadZipFile, NotImplementedError, RuntimeError, EOFError) as fault:
        raise BadRecords(f"{path.name} is no archive that can be read: {fault}.", remedy=remedy) from fault


def _content(archive: zipfile.ZipFile, entry: zipfile.ZipInfo) -> bytes:
    """The bytes of a member; one damaged in the file reads as nothing, so that its digest tells."""
    import zlib

    try:
        return archive.read(entry)
    except (zipfile.BadZipFile, zlib.error, EOFError):
        return b""


def _listed(members: Mapping[str, bytes], bad: Any) -> dict[str, str]:
    """Digests by path as the list says."""
    if LIST not in members:
        bad("The list of digests is missing: nothing can be held against it.", LIST)
        return {}
    listed = {}
    for number, line in enumerate(members[LIST].decode("utf-8", "replace").splitlines(), start=1):
        digest, parted, path = line.partition("  ")
        if not parted or len(digest) != 64:  # hexadecimal digits of SHA-256
            bad(
                "A line of the list of digests cannot be read.",
                f"{LIST}, line {number}",
                line[:80],
                "64 digits, two blanks, a path",
            )
            continue
        listed[path] = digest
    return listed


def _hold(members: Mapping[str, bytes], listed: Mapping[str, str], bad: Any) -> None:
    for path, digest in listed.items():
        if path not in members:
            bad("The file is missing.", path, "nothing", digest)
        elif (now := hashlib.sha256(members[path]).hexdigest()) != digest:
            bad("The file is not as it was written.", path, now, digest)
    for path in members:
        if path not in listed and path != LIST:
            bad("The file was added: the list does not know it.", path)
        if path.startswith(_ANSWERS):
            _hold_answer(path, members[path], bad)


def _hold_answer(path: str, content: bytes, bad: Any) -> None:
    """An answer against the digest that the papers made from it print."""
    try:
        answer = json.loads(content)
        now, then = kept.digest_of(answer["result"]), answer["digest"]
    except (ValueError, KeyError, TypeError):
        bad("The answer cannot be read.", path)
        return
    if now != then:
        bad("What the answer says does not fit the digest that papers print.", path, now, then)


def _about(members: Mapping[str, bytes], bad: Any) -> dict[str, Any]:
    try:
        about: dict[str, Any] = json.loads(members.get(ABOUT, b""))
        if about["overwood"] != "archive":
            raise ValueError
    except (ValueError, KeyError, TypeError):
        bad("What the archive was made from cannot be read.", ABOUT)
        return {}
    if about.get("format") != FORMAT:
        bad(
            "The archive is of another format than this program knows; its digests hold all the same.",
            ABOUT,
            str(about.get("format")),
            str(FORMAT),
        )
    return about
