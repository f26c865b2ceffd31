"""Records of many stands as a folder of parts: parquet files with the columns of the contract, read without a book.

A part is a folder that holds ``stands.parquet`` and any other tables of the contract. All stands of a property lie in one part,
for they share their acorn checks.
"""

from __future__ import annotations

import datetime as dt
import hashlib
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from overwood.ground.errors import BadRecords, Problem
from overwood.ground.nearest import nearest
from overwood.ground.records import TABLES, StandFile, Table
from overwood.memory.exchange import contract
from overwood.memory.exchange.checking import ROW, check

ENDING = ".parquet"
Rows = Sequence[tuple[Any, ...]]


def parts_of(folder: Path) -> tuple[Path, ...]:
    """The parts of a folder, by name."""
    return tuple(sorted(stands.parent for stands in folder.glob(f"*/stands{ENDING}")))


def digest(part: Path, *beside: str) -> str:
    """A mark that changes with any byte of a part's tables, and of files ``beside`` them by name (64 hexadecimal digits)."""
    found = hashlib.sha256()
    more = [part / name for name in beside if (part / name).is_file()]
    for file in [*sorted(part.glob(f"*{ENDING}")), *more]:
        found.update(f"{file.name} {file.stat().st_size} ".encode())
        found.update(file.read_bytes())
    return found.hexdigest()


def owners(part: Path) -> list[tuple[str, str]]:
    """Stand and property of each row of a part's stands, as they are written.

    Raises
    ------
    BadRecords
        when the file cannot be read or lacks one of the two columns.
    """
    frame = _frame(part / f"stands{ENDING}", TABLES["stands"])
    for name in ("stand", "property"):
        if name not in frame.columns:
            raise BadRecords(f"{_said(part)}: there is no column {name!r}.", remedy="See the contract (docs/contract.md).")
    return [(stand or "", owner or "") for stand, owner in frame.select("stand", "property").iter_rows()]


def write(folder: Path, tables: Mapping[str, Rows], stands_a_part: int) -> int:
    """Write the rows of a book as parts; returns how many.

    ``tables`` hold rows in the order of the contract's columns. Which part a property comes to depends on its name alone and on
    the number of parts, so that the same book gives the same parts.
    """
    stands = tables["stands"]
    count = max(1, -(-len(stands) // stands_a_part))
    place = {row[1]: _place(row[1], count) for row in stands}
    of_stand = {row[0]: place[row[1]] for row in stands}
    stand_at = list(TABLES["visits"].columns).index("stand")
    of_visit = {row[0]: of_stand[row[stand_at]] for row in tables.get("visits", ()) if row[stand_at] in of_stand}
    for name, rows in tables.items():
        key = "visit" if TABLES[name].key[0] == "visit" and name != "visits" else "property" if name == "properties" else "stand"
        by_key = {"visit": of_visit, "stand": of_stand, "property": place}[key]
        at = list(TABLES[name].columns).index(key)
        split: dict[int, list[tuple[Any, ...]]] = defaultdict(list)
        for row in rows:
            if row[at] in by_key:
                split[by_key[row[at]]].append(row)
        for number, own in split.items():
            _write_table(folder / f"part-{number:04d}" / f"{name}{ENDING}", TABLES[name], own)
    return len(parts_of(folder))


def _place(owner: str, count: int) -> int:
    return int(hashlib.sha256(owner.encode()).hexdigest()[:8], 16) % count


def _write_table(target: Path, table: Table, rows: Rows) -> None:
    import polars as pl

    kinds = {"number": pl.Float64, "integer": pl.Int64, "species": pl.Int64, "date": pl.Date, "boolean": pl.Boolean}
    schema: dict[str, Any] = {name: kinds.get(column.kind, pl.String) for name, column in table.columns.items()}
    target.parent.mkdir(parents=True, exist_ok=True)
    pl.DataFrame(rows, schema=schema, orient="row").write_parquet(target)


def stand_files(part: Path, today: dt.date) -> dict[str, StandFile]:
    """The files of the listed stands of a part, by name, its cells checked as those of any sheet are.

    Raises
    ------
    BadRecords
        when a table cannot be read, a cell or row is at fault, a key stands twice or a row belongs to nothing.
    """
    tables = {name: _records(part, table, today) for name, table in TABLES.items() if (part / f"{name}{ENDING}").is_file()}
    strangers = sorted(file.stem for file in part.glob(f"*{ENDING}") if file.stem not in TABLES)
    if strangers:
        raise BadRecords(f"{_said(part)}: {strangers[0]}{ENDING} is no table of the contract.", remedy=f"Use {', '.join(TABLES)}.")
    _check_links(part, tables)
    return _files(tables)


def _frame(file: Path, table: Table) -> Any:
    """A parquet file as cells of text, which is what the checks read."""
    import polars as pl

    try:
        frame = pl.read_parquet(file)
    except (OSError, pl.exceptions.PolarsError) as fault:
        raise BadRecords(f"{_said(file)} cannot be read as parquet: {fault}.", remedy="Write it again.") from fault
    strange = [name for name in frame.columns if name not in table.columns]
    if strange:
        near = nearest(strange[0], list(table.columns))
        remedy = f"The nearest is {near!r}." if near else "See the contract (docs/contract.md)."
        raise BadRecords(f"{_said(file)}: {strange[0]!r} is no column of {table.name}.", remedy=remedy)
    nested = [name for name, kind in frame.schema.items() if kind.is_nested() or kind == pl.Binary]
    if nested:
        raise BadRecords(f"{_said(file)}: column {nested[0]!r} holds no plain values.", remedy="Write text, numbers or days.")
    return frame.with_columns(pl.all().cast(pl.String))


def _records(part: Path, table: Table, today: dt.date) -> list[Any]:
    """The records of a table in the order of its rows; an empty row is none, as in any sheet."""
    import polars as pl

    file = part / f"{table.name}{ENDING}"
    frame = _frame(file, table)
    checked = check(table, frame.with_row_index(ROW, offset=1), file=_said(file), sheet="", today=today)
    _refuse([one for one in checked.problems if one.severity == "error"])
    twice = checked.good.filter(pl.struct(table.key).is_duplicated())
    if twice.height:
        key = " ".join(str(cell) for cell in twice.select(table.key).row(0))
        rows = twice.filter(pl.struct(table.key) == pl.struct(table.key).first())[ROW].to_list()
        raise BadRecords(f"{_said(file)}: {key} stands in rows {', '.join(map(str, rows[:5]))}.", remedy="Keep one.")
    names = list(table.columns)
    rows_in_order = checked.good.select(ROW, *names).iter_rows()
    return [table.record(id=f"{table.name} {row[0]}", **dict(zip(names, row[1:], strict=True))) for row in rows_in_order]


def _refuse(faults: Sequence[Problem]) -> None:
    if faults:
        more = f" And {len(faults) - 1} more." if len(faults) > 1 else ""
        raise BadRecords(f"{faults[0]}{more}", tuple(faults))


def _check_links(part: Path, tables: Mapping[str, Sequence[Any]]) -> None:
    """Every row belongs to a stand or visit that the part holds, as the contract's foreign keys say."""
    for name, rows in tables.items():
        for columns, parent in contract.parents(name):
            known = {tuple(getattr(row, column) for column in columns) for row in tables.get(parent, ())}
            for row in rows:
                key = tuple(getattr(row, column) for column in columns)
                if "" not in key and key not in known:
                    where = f"{_said(part)}/{name}{ENDING}, row {row.id.rpartition(' ')[2]}"
                    raise BadRecords(f"{where}: {' '.join(map(str, key))} is not in {parent}.", remedy=f"Add it to {parent}{ENDING}.")


def _said(path: Path) -> str:
    """A part or a file of it, by its last two names."""
    return "/".join(path.parts[-2:]) if path.suffix else path.name


def _files(tables: Mapping[str, Sequence[Any]]) -> dict[str, StandFile]:
    """Stand files of a part's records; stands of a property share one tuple of acorn checks."""
    stands = tables["stands"]
    properties = {row.property: row for row in tables.get("properties", ())}
    by_stand = {name: _grouped(rows, "stand") for name, rows in tables.items() if name != "stands" and "stand" in TABLES[name].columns}
    by_visit = {name: _grouped(rows, "visit") for name, rows in tables.items() if TABLES[name].key[0] == "visit" and name != "visits"}
    crops = _acorn_checks(tables)
    files = {}
    for stand in stands:
        if stand.merged_into:
            continue
        checks, trees = crops.get(stand.property, ((), ()))
        own = {name: tuple(rows.get(stand.stand, ())) for name, rows in by_stand.items()}
        visits = [visit.visit for visit in own.get("visits", ())]
        tallies = {name: tuple(row for visit in visits for row in rows.get(visit, ())) for name, rows in by_visit.items()}
        files[stand.stand] = StandFile(
            stand=stand,
            property=properties.get(stand.property),
            neighbour_visits=checks,
            neighbour_acorn_trees=trees,
            **own,
            **tallies,
        )
    return dict(sorted(files.items()))


def _acorn_checks(tables: Mapping[str, Sequence[Any]]) -> dict[str, tuple[tuple[Any, ...], tuple[Any, ...]]]:
    owner = {row.stand: row.property for row in tables["stands"]}
    trees = _grouped(tables.get("acorn_trees", ()), "visit")
    checks: dict[str, list[Any]] = defaultdict(list)
    for visit in tables.get("visits", ()):
        if visit.kind == "acorn":
            checks[owner[visit.stand]].append(visit)
    return {name: (tuple(own), tuple(row for visit in own for row in trees.get(visit.visit, ()))) for name, own in checks.items()}


def _grouped(rows: Iterable[Any], name: str) -> dict[str, list[Any]]:
    groups: dict[str, list[Any]] = defaultdict(list)
    for row in rows:
        groups[getattr(row, name)].append(row)
    return groups
