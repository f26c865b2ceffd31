"""Foreign spreadsheets: what the program thinks each heading, unit and code means, for a person to confirm.

A plan is proposed, shown, changed where wrong, saved, and found again by the headings of the next file.
"""

from __future__ import annotations

import csv
import datetime as dt
import difflib
import functools
import hashlib
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from overwood.ground import species, units
from overwood.ground.errors import BadRecords, Misuse, Problem
from overwood.ground.records import TABLES
from overwood.memory.exchange.checking import ROW
from overwood.memory.exchange.reading import Sheet

_HEADINGS = Path(__file__).with_name("headings.csv")
_LOOK_AT_ROWS = 25
_SHOWN_VALUES = 3
_UNIT_WORDS = {
    "cm": "cm", "mm": "mm", "m": "m", "ft": "ft", "feet": "ft", "in": "in", "inch": "in", "inches": "in",
    "meters": "m", "metres": "m", "ha": "ha", "hectares": "ha", "ac": "ac", "acres": "ac", "pct": "%", "%": "%",
}  # fmt: skip
_VISIT_KIND = {"trees": "cruise", "seedlings": "reproduction", "acorn_trees": "acorn"}
_DEFINING = {
    "trees": {"dbh_in", "species"},
    "seedlings": {"species", "stems", "height_class", "height_ft"},
    "acorn_trees": {"species", "bearing", "acorns"},
    "stands": {"stand", "area_ac"},
}
_CROWN_LETTERS = {"D": "dominant", "C": "codominant", "CD": "codominant", "I": "intermediate", "O": "overtopped",
                  "OT": "overtopped", "S": "overtopped", "SUPPRESSED": "overtopped"}  # fmt: skip
_STATUS_LETTERS = {"L": "live", "A": "live", "D": "dead", "X": "dead"}
_NOT_IN_CONTRACT = ("stand", "visited_on", "stratum", "observer")


@functools.cache
def _synonyms() -> dict[str, dict[str, str]]:
    """Table, then heading in plain letters, to column."""
    found: dict[str, dict[str, str]] = {}
    with _HEADINGS.open(encoding="utf-8", newline="") as stream:
        for row in csv.DictReader(stream):
            for word in (row["column"].replace("_", " "), *row["synonyms"].split("|")):
                found.setdefault(row["table"], {})[word] = row["column"]
    return found


def plain(heading: str) -> str:
    """A heading in lower case without its unit or punctuation."""
    text = re.sub(r"\([^)]*\)|\[[^\]]*\]", " ", heading.lower())
    text = re.sub(r"[\s_./#:\-]+", " ", text).strip()
    words = text.split()
    while len(words) > 1 and words[-1] in _UNIT_WORDS:
        words.pop()
    return " ".join(words)


def unit_in(heading: str) -> str:
    """The unit a heading names, or an empty text."""
    inside = re.search(r"[(\[]\s*([^)\]]+?)\s*[)\]]", heading)
    words = [inside.group(1).lower()] if inside else re.split(r"[\s_]+", heading.strip().lower())[1:]
    return next((_UNIT_WORDS[word.strip(". ")] for word in reversed(words) if word.strip(". ") in _UNIT_WORDS), "")


def is_contract(sheet: Sheet) -> bool:
    """Whether a sheet is written as the contract asks: a known table name, every heading a column of it."""
    table = TABLES.get(sheet.name.strip().lower())
    if table is None:
        return False
    first = next(iter(sheet.rows()), (0, []))[1]
    names = {cell.strip().lower() for cell in first if cell.strip()}
    return bool(names) and len(names & set(table.columns)) >= min(2, len(names))


def signature(sheets: Sequence[Sheet]) -> str:
    """A fingerprint of the headings, by which a saved plan is found again."""
    marks = []
    for sheet in sheets:
        place, cells = _heading_row(sheet)
        marks.append(f"{place}|{'|'.join(plain(cell) for cell in cells)}")
    return hashlib.sha256("\n".join(sorted(marks)).encode()).hexdigest()


def _heading_row(sheet: Sheet) -> tuple[int, list[str]]:
    """The row that looks most like headings among the first rows."""
    best, found = -1, (0, list[str]())
    for number, (row, cells) in enumerate(sheet.rows()):
        if number >= _LOOK_AT_ROWS:
            break
        score = max((len(_columns(table, cells)) for table in _synonyms()), default=0)
        if score > best:
            best, found = score, (row, cells)
    return found


def _columns(table: str, cells: Sequence[str]) -> dict[str, int]:
    """Which cell of a heading row serves which column of a table."""
    known = _synonyms()[table]
    taken: dict[str, int] = {}
    for place, cell in enumerate(cells):
        word = plain(cell)
        column = known.get(word)
        if column is None and len(word) > 3:
            near = difflib.get_close_matches(word, known, n=1, cutoff=0.85)
            column = known[near[0]] if near else None
        if column and column not in taken:
            taken[column] = place
    return taken


@dataclass(frozen=True)
class Told:
    """What a person said of a proposal: which table a sheet holds, which column a heading is ("-" leaves it out), which unit a column is in.

    A key may name its sheet: ``SHEET.HEADING``, ``SHEET.COLUMN``.
    """

    tables: Mapping[str, str] = field(default_factory=dict)
    columns: Mapping[str, str] = field(default_factory=dict)
    units: Mapping[str, str] = field(default_factory=dict)


def columns_of(table: str) -> list[str]:
    """Columns that a heading of a foreign sheet may be taken as."""
    return sorted(set(_synonyms()[table].values()))


def tables() -> list[str]:
    """Tables that a foreign sheet may hold."""
    return list(_synonyms())


def propose(sheets: Sequence[Sheet], told: Told | None = None) -> dict[str, Any]:
    """A plan for every sheet that holds a tally, with the questions a person must answer.

    Raises
    ------
    Misuse
        when something was told of a heading, column or table that is not there.
    """
    told = told or Told()
    plans, used = [], set[str]()
    for sheet in sheets:
        row, cells = _heading_row(sheet)
        scored = {table: _told_columns(sheet.name, cells, table, _columns(table, cells), told, used) for table in _synonyms()}
        fit = {t: len(c) + 2 * len(_DEFINING[t] & set(c)) for t, c in scored.items() if len(_DEFINING[t] & set(c)) > 1}
        table = _told_table(sheet.name, told) or (max(fit, key=lambda name: fit[name]) if fit else "")
        if not table:
            plans.append({"sheet": sheet.name, "table": "", "why_not": "no headings of a tally were recognised"})
            continue
        plans.append(_plan(sheet, table, row, cells, scored[table], told))
    stray = sorted(set(told.columns) - used)
    if stray:
        raise Misuse(
            f"no sheet has a heading {stray[0]!r} that can be taken as {told.columns[stray[0]]!r}.", remedy="See the proposed mapping."
        )
    return {"sheets": plans}


def _told_table(sheet: str, told: Told) -> str:
    table = told.tables.get(sheet, "")
    if table and table not in _synonyms():
        raise Misuse(f"there is no table {table!r} for a sheet.", remedy=f"There are {', '.join(_synonyms())}.")
    return table


def _told_columns(sheet: str, cells: Sequence[str], table: str, columns: dict[str, int], told: Told, used: set[str]) -> dict[str, int]:
    """Which cell serves which column, once a person said what the headings are; ``used`` takes what was of use."""
    found = dict(columns)
    for place, cell in enumerate(cells):
        key = f"{sheet}.{cell}" if f"{sheet}.{cell}" in told.columns else cell
        column = told.columns.get(key)
        if column is None or not cell.strip() or (column != "-" and column not in columns_of(table)):
            continue
        used.add(key)
        found = {name: where for name, where in found.items() if where != place}
        if column != "-":
            found[column] = place
    return found


def _plan(sheet: Sheet, table: str, row: int, cells: list[str], columns: dict[str, int], told: Told) -> dict[str, Any]:
    body = [line for number, line in sheet.rows() if number > row and any(cell.strip() for cell in line)]
    plan: dict[str, Any] = {
        "sheet": sheet.name,
        "table": table,
        "heading_row": row,
        "columns": {},
        "codes": {},
        "constants": {},
        "fill_down": [],
        "questions": [],
        "not_used": [cell for place, cell in enumerate(cells) if cell.strip() and place not in columns.values()],
        "such_as": {cell: _first_values(body, place) for place, cell in enumerate(cells) if cell.strip()},
    }
    for column, place in columns.items():
        values = [line[place].strip() if place < len(line) else "" for line in body]
        said = told.units.get(f"{sheet.name}.{column}", told.units.get(column, ""))
        plan["columns"][column] = {
            "from": cells[place],
            "unit": _told_unit(table, column, said) or _unit(table, column, cells[place], values, plan),
        }
        if column in ("stand", "point", "visited_on") and values and values[0] and "" in values:
            plan["fill_down"].append(column)
        _propose_codes(column, values, plan)
    _ask_for_missing(table, columns, plan)
    return plan


def _first_values(body: Sequence[Sequence[str]], place: int) -> list[str]:
    """The first few different values below a heading, for a person to know it by."""
    values = (line[place].strip() for line in body if place < len(line))
    return list(dict.fromkeys(value for value in values if value))[:_SHOWN_VALUES]


def units_of(table: str, column: str) -> tuple[str, ...]:
    """Units a column may be read in, the contract's first; none for what has no unit."""
    wanted = TABLES[table].columns[column].unit if column in TABLES[table].columns else ""
    return units.units_into(wanted) if wanted else ()


def _told_unit(table: str, column: str, said: str) -> str:
    if said and said not in units_of(table, column):
        raise Misuse(f"{column} cannot be read in {said!r}.", remedy=f"It can be in {', '.join(units_of(table, column)) or 'no unit'}.")
    return said


def _unit(table: str, column: str, heading: str, values: list[str], plan: dict[str, Any]) -> str:
    wanted = TABLES[table].columns[column].unit if column in TABLES[table].columns else ""
    if not wanted:
        return ""
    named = unit_in(heading)
    if named and named in units.units_into(wanted):
        return named
    numbers = sorted(float(value) for value in values if re.fullmatch(r"\d+(\.\d+)?", value))
    if column == "dbh_in" and numbers and numbers[len(numbers) // 2] > 30:
        plan["questions"].append(f"{heading!r} names no unit and half its values exceed 30: centimetres assumed.")
        return "cm"
    return wanted


def _propose_codes(column: str, values: list[str], plan: dict[str, Any]) -> None:
    present = sorted({value for value in values if value})
    if column == "species":
        codes = {}
        for value in present:
            found = species.match(value)
            if found.ambiguous:
                codes[value] = ""
                names = ", ".join(f"{code} {species.by_code(code).common_name}" for code in found.choices)
                plan["questions"].append(f"Species {value!r} can mean {names}: say which with --code {value}=NUMBER.")
            elif found.spcd is not None:
                codes[value] = str(found.spcd)
        plan["codes"]["species"] = codes
    letters = {"crown_class": _CROWN_LETTERS, "status": _STATUS_LETTERS}.get(column)
    if letters:
        plan["codes"][column] = {v: letters[v.upper()] for v in present if v.upper() in letters}


def _ask_for_missing(table: str, columns: dict[str, int], plan: dict[str, Any]) -> None:
    if table == "stands":
        if "property" not in columns:
            plan["constants"]["property"] = ""
            plan["questions"].append("Which property do these stands belong to? Say --set property=NAME.")
        return
    for column, word in (("stand", "--set stand=NAME"), ("visited_on", "--set visited_on=2025-05-20")):
        if column not in columns:
            plan["constants"][column] = ""
            plan["questions"].append(f"The sheet does not say {column.replace('_', ' ')}: say {word}.")
    if table == "trees":
        plan["constants"]["baf_ft2_ac"] = plan["constants"]["plot_area_ac"] = ""
        plan["questions"].append("How were trees taken in? Say --set baf_ft2_ac=10 or --set plot_area_ac=0.1.")
    if table == "seedlings":
        plan["constants"]["plot_area_ac"] = ""
        plan["questions"].append("How large was a seedling plot? Say --set plot_area_ac=0.00136 (1/735 acre).")


def answer(proposal: dict[str, Any], settings: dict[str, str], codes: dict[str, str]) -> dict[str, Any]:
    """The plan with a person's answers put in.

    Raises
    ------
    Misuse
        when a question that needs an answer has none; the message says which.
    """
    proposal = {"sheets": [{name: part for name, part in plan.items() if name != "such_as"} for plan in proposal["sheets"]]}
    used: set[str] = set()
    open_questions = []
    for plan in proposal["sheets"]:
        if not plan["table"]:
            continue
        plan["constants"] = {**plan["constants"]}
        plan["codes"] = {name: dict(known) for name, known in plan["codes"].items()}
        for key, value in settings.items():
            sheet, _, name = key.rpartition(".")
            if sheet in ("", plan["sheet"]) and name in plan["constants"]:
                plan["constants"][name] = value
                used.add(key)
        for written, code in codes.items():
            if written in plan["codes"].get("species", {}) or written not in used:
                plan["codes"].setdefault("species", {})[written] = code
        open_questions += _unanswered(plan)
    stray = set(settings) - used
    if stray:
        known = sorted({name for plan in proposal["sheets"] for name in plan.get("constants", {})})
        raise Misuse(f"--set {sorted(stray)[0]} answers no question.", remedy=f"Known: {', '.join(known)}.")
    if open_questions:
        raise Misuse("The mapping still has open questions. " + " ".join(open_questions))
    return proposal


def _unanswered(plan: dict[str, Any]) -> list[str]:
    still = []
    constants = plan["constants"]
    design = [name for name in ("baf_ft2_ac", "plot_area_ac") if name in constants]
    for name, value in constants.items():
        if value or (name in design and any(constants[other] for other in design)):
            continue
        asked = next((q for q in plan["questions"] if f"--set {name}" in q), f"Say --set {name}=VALUE.")
        if asked not in still:
            still.append(asked)
    for written, code in plan["codes"].get("species", {}).items():
        if not code:
            still.append(next(q for q in plan["questions"] if f"--code {written}=" in q))
    return still


def apply(plan: dict[str, Any], sheet: Sheet) -> dict[str, Any]:
    """The sheet turned into tables of the contract, as frames of text with their row numbers."""
    import polars as pl

    places = _places(plan, sheet)
    numbers: list[int] = []
    cells: dict[str, list[str]] = {column: [] for column in places}
    last: dict[str, str] = {}
    for row, line in sheet.rows():
        if row <= plan["heading_row"] or not any(cell.strip() for cell in line):
            continue
        numbers.append(row)
        for column, place in places.items():
            value = line[place].strip() if place < len(line) else ""
            if not value and column in plan["fill_down"]:
                value = last.get(column, "")
            last[column] = value
            cells[column].append(_translated(plan, column, value))
    frame = pl.DataFrame({ROW: numbers, **cells}, schema_overrides={ROW: pl.Int64})
    for name, value in plan["constants"].items():
        if name in ("stand", "visited_on", "property"):
            frame = frame.with_columns(pl.lit(value).alias(name))
    if plan["table"] == "stands":
        return {"properties": _own_property(frame), "stands": frame}
    return _with_visits(plan, frame)


def _places(plan: dict[str, Any], sheet: Sheet) -> dict[str, int]:
    headings = next((cells for row, cells in sheet.rows() if row == plan["heading_row"]), [])
    places, problems = {}, []
    for column, source in plan["columns"].items():
        if source["from"] in headings:
            places[column] = headings.index(source["from"])
        else:
            problems.append(Problem(what=f"The heading {source['from']!r} is gone.", file=sheet.file, sheet=sheet.name))
    if problems:
        raise BadRecords("The saved mapping does not fit this file.", tuple(problems), remedy="Propose a new one.")
    return places


def _translated(plan: dict[str, Any], column: str, value: str) -> str:
    if not value:
        return ""
    codes = plan["codes"].get(column, {})
    if value in codes:
        return str(codes[value])
    unit = plan["columns"][column].get("unit", "")
    table = TABLES[plan["table"]]
    wanted = table.columns[column].unit if column in table.columns else ""
    if unit and wanted and unit != wanted:
        try:
            return repr(round(units.conversion(unit, wanted)(float(value)), 4))
        except ValueError:
            return value
    return _iso_date(value) if column == "visited_on" else value


def _iso_date(value: str) -> str:
    """A date as month/day/year in ISO form; anything else unchanged, for the check to name."""
    parts = re.fullmatch(r"(\d{1,2})/(\d{1,2})/(\d{4})", value)
    if not parts:
        return value
    try:
        return dt.date(int(parts[3]), int(parts[1]), int(parts[2])).isoformat()
    except ValueError:
        return value


def _own_property(frame: Any) -> Any:
    import polars as pl

    return frame.group_by("property", maintain_order=True).agg(pl.col(ROW).first())


def _with_visits(plan: dict[str, Any], frame: Any) -> dict[str, Any]:
    """Visits, rings and points that a plain tally sheet implies, beside the tally itself."""
    import polars as pl

    table, kind = plan["table"], _VISIT_KIND[plan["table"]]
    for name in ("observer", "stratum"):
        if name not in frame.columns:
            frame = frame.with_columns(pl.lit("").alias(name))
    frame = frame.with_columns(pl.lit(kind).alias("kind")).with_columns(
        pl.concat_str(["stand", "visited_on", "kind"], separator="-").alias("visit")
    )
    tables = {
        "visits": frame.group_by("visit", maintain_order=True).agg(
            pl.col(ROW).first(), pl.col("stand", "kind", "visited_on", "observer").first()
        )
    }
    rings = _ring(plan)
    if rings:
        tables["rings"] = tables["visits"].select(ROW, "visit").with_columns(**{k: pl.lit(v) for k, v in rings.items()})
    if "point" in frame.columns:
        tables["points"] = frame.group_by("visit", "point", maintain_order=True).agg(pl.col(ROW).first(), pl.col("stratum").first())
        order = ["visit", "point"]
    else:
        order = ["visit"]
    number = {"trees": "tree", "seedlings": "line", "acorn_trees": "tree"}[table]
    tally = frame.filter(pl.col("species") != "")
    if number not in tally.columns:
        tally = tally.with_columns(pl.int_range(1, pl.len() + 1).over(order).cast(pl.String).alias(number))
    tables[table] = tally.drop([name for name in (*_NOT_IN_CONTRACT, "kind") if name in tally.columns])
    return tables


def _ring(plan: dict[str, Any]) -> dict[str, str]:
    constants = plan["constants"]
    layer = "reproduction" if plan["table"] == "seedlings" else "overstory"
    if constants.get("baf_ft2_ac"):
        return {"layer": layer, "design": "prism", "baf_ft2_ac": constants["baf_ft2_ac"]}
    if constants.get("plot_area_ac"):
        return {"layer": layer, "design": "fixed", "plot_area_ac": constants["plot_area_ac"]}
    return {}
