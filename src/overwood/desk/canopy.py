"""A stand from above: a raster or point cloud read, its crowns and gaps proposed, kept, looked at on the ground, and
given out.

Proposals are kept answers, not records: no figure, gate or marking reads them.
"""

from __future__ import annotations

import csv
import datetime as dt
import hashlib
import io
from collections.abc import Mapping, Sequence
from pathlib import Path

from overwood.desk import kept
from overwood.desk.answers import stand_file
from overwood.desk.kept import KeptAnswer
from overwood.desk.question import Question
from overwood.ground import plausible, species
from overwood.ground.errors import BadRecords, Misuse, NotFound, Problem
from overwood.ground.shell import shell_word
from overwood.judgement import canopy
from overwood.judgement.canopy import CanopyMap, Flight, Surface, Verdict
from overwood.judgement.canopy.checking import carried_over

CANOPY = "canopy"
SHEET = ("crown", "longitude_deg", "latitude_deg", "height_ft", "radius_ft", "verdict", "species", "dbh_in")
_TYPED = ("crown", "verdict", "species", "dbh_in")
_DIGEST = 12


def endings_in() -> tuple[str, ...]:
    """Endings of the files that are read."""
    from overwood.memory.exchange.canopy import ENDINGS

    return ENDINGS


def look(name: str, pieces: Mapping[str, bytes], ask: Question, *, flown_on: dt.date, height: str = "") -> CanopyMap:
    """What a raster of canopy heights or a point cloud, or the pieces of one by their names, show of a stand; nothing
    is kept. Raises NotFound when there is no such stand; Misuse when the stand has no outline, or the files cannot be
    heights of a canopy over it; says what to do."""
    from overwood.memory.exchange.canopy import read_apart

    records = stand_file(name)
    if not records.stand.boundary_wkt:
        remedy = "Draw it on the map, or bring it in with `overwood outlines`."
        raise Misuse(f"{records.stand.stand} has no outline, so nothing says which cells are its own.", remedy=remedy)
    plausible.use(ask.rules.own_limits)
    grid = read_apart(pieces, records.stand.boundary_wkt, height)
    digest = hashlib.sha256(b"".join(pieces.values())).hexdigest()[:_DIGEST]
    flight = Flight(
        file=", ".join(pieces), digest=digest, kind=grid.kind, flown_on=flown_on, unit=grid.unit,
        seen_share=grid.seen_share, notes=grid.notes,
    )  # fmt: skip
    surface = Surface(grid.heights_m, grid.inside, grid.cell_m, grid.degrees)
    seen, before = canopy.map_of(records, flight, surface, ask.rules, ask.on), _kept_by(records.stand.stand, ask.on)
    return carried_over(kept.shaped(before, CanopyMap), seen, ask.rules) if before else seen


def look_at_files(name: str, paths: Sequence[Path], ask: Question, *, flown_on: dt.date, height: str = "") -> CanopyMap:
    """The same of files on the disk. Raises NotFound when one is not there; Misuse when two have one name."""
    for path in paths:
        if not path.is_file():
            raise NotFound(f"{path} is not there.", remedy="Check the name.")
    pieces = {path.name: path.read_bytes() for path in paths}
    if len(pieces) < len(paths):
        raise Misuse("two pieces have one name.", remedy="Rename one.")
    return look(name, pieces, ask, flown_on=flown_on, height=height)


def keep(seen: CanopyMap, ask: Question) -> KeptAnswer:
    """Lay a map in the book: its crowns stay proposals."""
    settings = {
        "file": seen.file,
        "file_digest": seen.file_digest,
        "flown_on": seen.flown_on.isoformat(),
        "unit": seen.unit,
    }
    return kept.keep(seen.stand, CANOPY, ask, settings, seen)


def newest(name: str, ask: Question) -> tuple[CanopyMap, KeptAnswer]:
    """The map of a stand that was kept last by a day. Raises NotFound when none was."""
    stand = stand_file(name).stand.stand
    answer = _kept_by(stand, ask.on)
    if answer is None:
        remedy = f"Keep one with `overwood canopy {shell_word(stand)} RASTER --flown DAY --keep`."
        raise NotFound(f"no map from above is kept for {stand}.", remedy=remedy)
    return kept.shaped(answer, CanopyMap), answer


def _kept_by(stand: str, on: dt.date) -> KeptAnswer | None:
    return next((answer for answer in reversed(kept.all_of(stand, CANOPY)) if answer.made_on <= on), None)


def check(name: str, verdicts: list[Verdict], ask: Question, *, by: str) -> CanopyMap:
    """Write down what a person found below some crowns of the map kept last; the map as it was stays in the book.
    Raises NotFound when no map is kept, or it has no such crown; Misuse when a verdict cannot be taken, nothing was
    said, or records of the stand changed since the map was made."""
    if not verdicts:
        raise Misuse("of no crown is it said what stands there.", remedy="Fill the column verdict.")
    seen, answer = newest(name, ask)
    if answer.is_old:
        remedy = "Give the raster again: what was found below its crowns is taken over."
        raise Misuse(f"records of {seen.stand} changed since this map was made.", remedy=remedy)
    judged = canopy.checked_map(seen, verdicts, ask.rules, by=by, on=ask.on)
    kept.keep(seen.stand, CANOPY, ask, answer.settings, judged)
    return judged


def sheet(seen: CanopyMap) -> str:
    """The crowns as a sheet to take to the woods (csv): where each is, and blank columns for what stands there."""
    out = io.StringIO()
    rows = csv.writer(out, lineterminator="\n")
    rows.writerow(SHEET)
    for crown in seen.crowns:
        verdict = crown.verdict if crown.verdict in canopy.VERDICTS else ""
        name = species.by_code(crown.species).common_name if crown.species is not None else ""
        where = (
            f"{crown.longitude_deg:.6f}",
            f"{crown.latitude_deg:.6f}",
            f"{crown.height_ft:.0f}",
            f"{crown.radius_ft:.0f}",
        )
        rows.writerow([crown.number, *where, verdict, name, "" if crown.dbh_in is None else f"{crown.dbh_in:g}"])
    return out.getvalue()


def row_of(words: Mapping[str, str]) -> str:
    """One crown of a form as a sheet of one row, so that it is checked as a sheet is."""
    out = io.StringIO()
    rows = csv.writer(out, lineterminator="\n")
    rows.writerow(_TYPED)
    rows.writerow([words.get(column, "") for column in _TYPED])
    return out.getvalue()


def text_of(file: str, content: bytes) -> str:
    """The text of a filled sheet. Raises Misuse when it is no text."""
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        raise Misuse(f"{file} is no sheet of text.", remedy="Save it as csv in UTF-8.") from fault


def verdicts_of(file: str, text: str) -> list[Verdict]:
    """The rows of a sheet whose verdict is filled. Raises BadRecords naming every cell that cannot be read; then none
    is taken."""
    reader = csv.DictReader(io.StringIO(text.lstrip("\ufeff")))
    lacking = [column for column in ("crown", "verdict") if column not in (reader.fieldnames or ())]
    if lacking:
        remedy = "Fill the sheet that `overwood canopy STAND --sheet FILE` writes."
        raise BadRecords(f"{file} has no column {lacking[0]}.", (), remedy=remedy)
    problems: list[Problem] = []
    rows = [
        _verdict(file, number, row, problems)
        for number, row in enumerate(reader, start=2)
        if (row["verdict"] or "").strip()
    ]
    if problems:
        raise BadRecords(f"{file} has cells that cannot be read; nothing was taken.", tuple(problems))
    return [row for row in rows if row is not None]


def _verdict(file: str, number: int, row: dict[str, str], problems: list[Problem]) -> Verdict | None:
    words = {column: (row.get(column) or "").strip() for column in _TYPED}
    before = len(problems)
    if not words["crown"].isdigit():
        problems.append(_problem(file, number, "crown", words["crown"], "a number of the sheet"))
    if words["verdict"].lower() not in canopy.VERDICTS:
        problems.append(_problem(file, number, "verdict", words["verdict"], ", ".join(canopy.VERDICTS)))
    code = species.match(words["species"]).spcd if words["species"] else None
    if words["species"] and code is None:
        problems.append(_problem(file, number, "species", words["species"], "a species"))
    dbh = _number(words["dbh_in"])
    if words["dbh_in"] and dbh is None:
        problems.append(_problem(file, number, "dbh_in", words["dbh_in"], "inches"))
    if len(problems) > before:
        return None
    return Verdict(crown=int(words["crown"]), verdict=words["verdict"].lower(), species=code, dbh_in=dbh)


def _problem(file: str, row: int, column: str, cell: str, expected: str) -> Problem:
    return Problem(what="This cell cannot be read.", file=file, row=row, column=column, found=cell, expected=expected)


def _number(text: str) -> float | None:
    try:
        return float(text)
    except ValueError:
        return None
