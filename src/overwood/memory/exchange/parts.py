"""Records of many stands as a folder of parts: parquet files with the columns of the contract, read without a book.

A part is a folder that holds ``stands.parquet`` and any other tables of the contract. All stands of a property lie in
one part, for they share their acorn checks.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import hashlib
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

import polars as pl

from overwood.ground.copies import made
from overwood.ground.errors import BadRecords, Problem
from overwood.ground.nearest import nearest
from overwood.ground.records import TABLES, StandFile, Table
from overwood.memory.exchange import contract
from overwood.memory.exchange.checking import ROW, check
from overwood.memory.exchange.typed import plain

ENDING = ".parquet"
# The column that says at which row of ``points`` a row was tallied.
AT = "__point"
Rows = Sequence[tuple[Any, ...]]


def parts_of(folder: Path) -> tuple[Path, ...]:
    """The parts of a folder, by name."""
    return tuple(sorted(stands.parent for stands in folder.glob(f"*/stands{ENDING}")))


def digest(part: Path, *beside: str) -> str:
    """A mark that changes with any byte of a part's tables, and of files ``beside`` them by name (64 hexadecimal
    digits)."""
    sha256 = hashlib.sha256()
    more = [part / name for name in beside if (part / name).is_file()]
    for file in [*sorted(part.glob(f"*{ENDING}")), *more]:
        sha256.update(f"{file.name} {file.stat().st_size} ".encode())
        sha256.update(file.read_bytes())
    return sha256.hexdigest()


def owners(part: Path) -> Any:
    """Stand and property of each row of a part's stands, as they are written. Raises BadRecords when the file cannot be
    read or lacks one of the two columns."""
    frame = _frame(part / f"stands{ENDING}", TABLES["stands"])
    for name in ("stand", "property"):
        if name not in frame.columns:
            raise BadRecords(
                f"{_said(part)}: there is no column {name!r}.", remedy="See the contract (docs/contract.md)."
            )
    return frame.select(pl.col("stand", "property").cast(pl.String).fill_null(""))


def write(folder: Path, tables: Mapping[str, Rows], stands_a_part: int) -> int:
    """Write the rows of a book as parts; returns how many.

    ``tables`` hold rows in the order of the contract's columns. Which part a property comes to depends on its name
    alone and on the number of parts, so that the same book gives the same parts.
    """
    stands = tables["stands"]
    count = max(1, -(-len(stands) // stands_a_part))
    place = {row[1]: _place(row[1], count) for row in stands}
    of_stand = {row[0]: place[row[1]] for row in stands}
    stand_at = list(TABLES["visits"].columns).index("stand")
    of_visit = {row[0]: of_stand[row[stand_at]] for row in tables.get("visits", ()) if row[stand_at] in of_stand}
    for name, rows in tables.items():
        key = (
            "visit"
            if TABLES[name].key[0] == "visit" and name != "visits"
            else "property"
            if name == "properties"
            else "stand"
        )
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
    kinds = {"number": pl.Float64, "integer": pl.Int64, "species": pl.Int64, "date": pl.Date, "boolean": pl.Boolean}
    schema: dict[str, Any] = {name: kinds.get(column.kind, pl.String) for name, column in table.columns.items()}
    target.parent.mkdir(parents=True, exist_ok=True)
    pl.DataFrame(rows, schema=schema, orient="row").write_parquet(target)


def files_of(tables: Mapping[str, Any], only: Collection[str] | None = None) -> dict[str, StandFile]:
    """The files of the listed stands of :func:`frames`, or of some, by name."""
    if only is not None:
        tables = _of_stands(tables, only)
    files = _files({name: _records(TABLES[name], frame) for name, frame in tables.items()})
    return files if only is None else {name: file for name, file in files.items() if name in only}


def frames(part: Path, today: dt.date) -> dict[str, Any]:
    """The tables of a part as typed columns of the contract, its cells checked as those of any sheet are.

    ``__row`` counts the rows from 1, and ``__point`` is the row of the point a row was tallied at.

    Raises BadRecords when a table cannot be read, a cell or row is at fault, a key stands twice or a row belongs to
    nothing.
    """
    held = {
        name: _frame(part / f"{name}{ENDING}", table)
        for name, table in TABLES.items()
        if (part / f"{name}{ENDING}").is_file()
    }
    tables: dict[str, Any] = {name: plain(TABLES[name], frame, today) for name, frame in held.items()}
    if any(frame is None for frame in tables.values()):
        # All tables in one way, so that keys are read alike in each.
        tables = {name: _checked(part, TABLES[name], frame, today) for name, frame in held.items()}
    strangers = sorted(file.stem for file in part.glob(f"*{ENDING}") if file.stem not in TABLES)
    if strangers:
        raise BadRecords(
            f"{_said(part)}: {strangers[0]}{ENDING} is no table of the contract.", remedy=f"Use {', '.join(TABLES)}."
        )
    tables = {
        name: frame if ROW in frame.columns else frame.with_row_index(ROW, offset=1) for name, frame in tables.items()
    }
    if "points" in tables:
        tallied = [name for name in tables if any(parent == "points" for _, parent in contract.parents(name))]
        tables |= {name: _at_points(tables[name], tables["points"]) for name in tallied}
    _check_links(part, tables)
    return tables


def _at_points(frame: Any, points: Any) -> Any:
    """The rows of a tally with the row of their point, null where there is no such point."""
    key = ["visit", "point"]
    # Rows of a point mostly stand together: each run of them is looked up once.
    run = frame.select(pl.struct(key).rle_id().alias(AT))[AT]
    firsts = frame.select(key).filter(run.diff().fill_null(1) != 0)
    at = firsts.join(points.select(*key, pl.col(ROW).alias(AT)), on=key, how="left", maintain_order="left")[AT]
    return frame.with_columns(at.gather(run))


def _of_stands(tables: Mapping[str, Any], only: Collection[str]) -> dict[str, Any]:
    """The rows that speak of some stands: their own, and the acorn checks of their properties."""
    mine = pl.col("stand").is_in(list(only))
    owners = tables["stands"].filter(mine)["property"].unique()
    near = tables["stands"].filter(pl.col("property").is_in(owners.implode()))["stand"]
    visits = tables.get("visits")
    kept = (
        None
        if visits is None
        else visits.filter(mine | (pl.col("stand").is_in(near.implode()) & (pl.col("kind") == "acorn")))
    )
    chosen: dict[str, Any] = {}
    for name, frame in tables.items():
        if name == "stands":
            chosen[name] = frame.filter(pl.col("stand").is_in(near.implode()))
        elif name == "visits":
            chosen[name] = kept
        elif "stand" in frame.columns:
            chosen[name] = frame.filter(mine)
        elif "visit" in frame.columns and kept is not None:
            chosen[name] = frame.join(kept.select("visit"), on="visit", how="semi", maintain_order="left")
        else:
            chosen[name] = frame
    return chosen


def _frame(file: Path, table: Table) -> Any:
    """A parquet file with columns of the contract."""
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
        raise BadRecords(
            f"{_said(file)}: column {nested[0]!r} holds no plain values.", remedy="Write text, numbers or days."
        )
    return frame


def _checked(part: Path, table: Table, frame: Any, today: dt.date) -> Any:
    """A table as typed columns in the order of its rows; an empty row is none, as in any sheet."""
    file = part / f"{table.name}{ENDING}"
    as_text = frame.with_columns(pl.all().cast(pl.String)).with_row_index(ROW, offset=1)
    checked = check(table, as_text, file=_said(file), sheet="", today=today)
    _refuse([one for one in checked.problems if one.severity == "error"])
    twice = checked.good.filter(pl.struct(table.key).is_duplicated())
    if twice.height:
        key = " ".join(str(cell) for cell in twice.select(table.key).row(0))
        rows = twice.filter(pl.struct(table.key) == pl.struct(table.key).first())[ROW].to_list()
        raise BadRecords(f"{_said(file)}: {key} stands in rows {', '.join(map(str, rows[:5]))}.", remedy="Keep one.")
    return checked.good.select(ROW, *table.columns)


def _records(table: Table, frame: Any) -> list[Any]:
    # What no row of the table says is left to the record's own blank.
    blank = {one.name: one.default for one in dataclasses.fields(table.record)}
    names = [name for name in table.columns if not _all_blank(frame[name], blank[name])]
    columns = [frame[name].to_list() for name in names]
    ids = [f"{table.name} {row}" for row in frame[ROW].to_list()]
    return [made(table.record, zip(("id", *names), row, strict=True)) for row in zip(ids, *columns, strict=True)]


def _all_blank(column: Any, blank: Any) -> bool:
    if blank is None or column.null_count():
        return blank is None and column.null_count() == len(column)
    return isinstance(blank, str | int) and bool((column == blank).all())


def _refuse(faults: Sequence[Problem]) -> None:
    if faults:
        more = f" And {len(faults) - 1} more." if len(faults) > 1 else ""
        raise BadRecords(f"{faults[0]}{more}", tuple(faults))


def _check_links(part: Path, tables: Mapping[str, Any]) -> None:
    """Every row belongs to a stand or visit that the part holds, as the contract's foreign keys say."""
    for name, frame in tables.items():
        # The narrowest key first: what is in its parent is in the parent's own.
        links = sorted(contract.parents(name), key=lambda link: -len(link[0]))
        if AT in frame.columns and not frame[AT].null_count():
            links = [link for link in links if not set(link[0]) <= {"visit", "point"}]
        for place, (columns, parent) in enumerate(links):
            asks = [pl.col(column) != "" for column in columns]
            asks += [pl.col(AT).is_null()] if parent == "points" and AT in frame.columns else []
            if place and set(columns) < set(links[0][0]):
                asks.append(pl.any_horizontal([pl.col(column) == "" for column in links[0][0]]))
            asked = frame.filter(asks)
            # A key column is named in the parent as it is in the child.
            held = tables[parent].select(columns) if parent in tables else asked.select(columns).clear()
            lost = asked.join(held, on=columns, how="anti", maintain_order="left").head(1)
            for row in lost.select(ROW, *columns).iter_rows():
                where = f"{_said(part)}/{name}{ENDING}, row {row[0]}"
                raise BadRecords(
                    f"{where}: {' '.join(map(str, row[1:]))} is not in {parent}.", remedy=f"Add it to {parent}{ENDING}."
                )


def _said(path: Path) -> str:
    """A part or a file of it, by its last two names."""
    return "/".join(path.parts[-2:]) if path.suffix else path.name


def _files(tables: Mapping[str, Sequence[Any]]) -> dict[str, StandFile]:
    """Stand files of a part's records; stands of a property share one tuple of acorn checks."""
    stands = tables["stands"]
    properties = {row.property: row for row in tables.get("properties", ())}
    by_stand = {
        name: _grouped(rows, "stand")
        for name, rows in tables.items()
        if name != "stands" and "stand" in TABLES[name].columns
    }
    by_visit = {
        name: _grouped(rows, "visit")
        for name, rows in tables.items()
        if TABLES[name].key[0] == "visit" and name != "visits"
    }
    crops = _acorn_checks(tables)
    files = {}
    for stand in stands:
        if stand.merged_into:
            continue
        checks, trees = crops.get(stand.property, ((), ()))
        own = {name: tuple(rows.get(stand.stand, ())) for name, rows in by_stand.items()}
        visits = [visit.visit for visit in own.get("visits", ())]
        tallies = {
            name: tuple(row for visit in visits for row in rows.get(visit, ())) for name, rows in by_visit.items()
        }
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
    return {
        name: (tuple(own), tuple(row for visit in own for row in trees.get(visit.visit, ())))
        for name, own in checks.items()
    }


def _grouped(rows: Iterable[Any], name: str) -> dict[str, list[Any]]:
    groups: dict[str, list[Any]] = defaultdict(list)
    for row in rows:
        groups[getattr(row, name)].append(row)
    return groups
