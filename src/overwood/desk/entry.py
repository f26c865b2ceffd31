"""One entry on its way into the book: rows are checked, held against what is there, and stored; its ledger tells what
changed."""

from __future__ import annotations

import dataclasses
import datetime as dt
import difflib
import functools
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator
from typing import Any

import polars as pl
import polars.selectors as cs

from overwood.desk import book, crossing, places, session
from overwood.desk.account import Account
from overwood.desk.comparing import Comparison, Made, as_text, filler, key_places, with_defaults
from overwood.desk.incoming import ORIGIN, Incoming, Origin, Report, clears_of, origins_of, without_clears
from overwood.ground import plausible
from overwood.ground.records import TABLES, Table
from overwood.memory.exchange import checking, contract, reading
from overwood.memory.exchange.proposal import RowSums
from overwood.memory.exchange.reading import Sheet

Progress = Callable[[str, int], None]
_SEPARATOR = "\x1f"
_FEATURES = "ground_features"
_MOST_COMPARED = 5_000
# Which rings a tally is of.
_LAYERS_OF = {"trees": ("overstory", "midstory"), "seedlings": ("reproduction",)}


class Entry(Account):
    """One entry: rows come in, are checked and held against the book, and are stored."""

    def __init__(
        self,
        report: Report,
        *,
        today: dt.date,
        progress: Progress | None = None,
        synced: bool = False,
        ask_species: bool = False,
    ) -> None:
        super().__init__(report, synced=synced)
        self.today, self.progress, self.ask_species = today, progress, ask_species
        self.seen: dict[str, set[str]] = {name: set() for name in TABLES}
        self.parents: dict[tuple[str, tuple[str, ...]], set[str]] = {}
        # Tables that held rows before this entry.
        self.filled: set[str] = set()
        self.lost: dict[str, set[str]] = defaultdict(set)
        # Visits of several points with a factor that is right of one.
        self.slips: set[str] = set()
        self.replaces = False
        # Outlines that come in new or changed, by stand.
        self.outlines: dict[str, str] = {}
        self.batch: Any = None

    def run(self, coming: Incoming, digest: str, instead_of: int | None) -> None:
        """Store everything that can be stored, and make the review: in a transaction that the caller ends."""
        self.batch = book.store.begin_batch(coming.name, digest)
        self.filled, self.replaces = book.store.filled(), instead_of is not None
        self.report.batch = int(self.batch.id)
        self.report.problems += coming.problems
        parts = self._parts(coming)
        for table in TABLES:
            for make_chunks in parts.get(table, []):
                for sheet, frame in make_chunks():
                    self._chunk(TABLES[table], sheet, frame)
        # A file that says features itself says all of them.
        if self.outlines and _FEATURES not in parts:
            self._take_features_along(coming.name)
        for table, leads in self.touched.items():
            book.view.settle_disputes(table, leads)
        if instead_of is not None:
            self._withdraw_the_rest(instead_of)
        if not (coming.is_typed or self.synced):
            self._note_what_stays()
        self.batch.rows = self.report.new
        self.batch.save(update_fields=["rows"])
        sums = self.sums + RowSums.of(coming.fates, refused=self.refused, already=self.already - self.stored)
        self.report.review = self.ledger.review(
            sums if sums.rows else None, book.store.data_version(), is_typed=coming.is_typed
        )

    def _parts(self, coming: Incoming) -> dict[str, list[Callable[[], Any]]]:
        parts: dict[str, list[Callable[[], Any]]] = defaultdict(list)
        for sheet in coming.sheets:
            table = sheet.name.strip().lower()
            if table in TABLES:
                parts[table].append(functools.partial(self._frames, sheet, table))
            else:
                self.warn(sheet, "This sheet is not understood and was left out.")
        for part in coming.parts:
            sheet = Sheet(file=part.file, name=part.sheet, source=[])
            parts[part.table].append(functools.partial(self._foreign, sheet, part.frame))
        return parts

    def _foreign(self, sheet: Sheet, frame: Any) -> Iterator[tuple[Sheet, Any]]:
        self.foreign = True
        yield sheet, frame
        self.foreign = False

    def _frames(self, sheet: Sheet, table: str) -> Iterator[tuple[Sheet, Any]]:
        """The rows of a contract sheet as frames of text, a bounded number of rows at a time."""
        rows = sheet.rows()
        headings = [cell.strip().lower() for cell in next(rows)[1]]
        self.sums += RowSums(rows=1, notes=1)
        if not self._headings_fit(sheet, table, headings):
            unread = sum(1 for _, cells in rows if any(cells))
            self.sums += RowSums(rows=unread, refused=unread)
            return
        waiting: list[reading.Row] = []
        for row, cells in rows:
            if not any(cells):
                continue
            if len(cells) > len(headings) and any(cell.strip() for cell in cells[len(headings) :]):
                self.fault(
                    sheet, row, "", "The row has more cells than there are headings.", found=cells[len(headings)]
                )
                self.sums += RowSums(rows=1, refused=1)
                continue
            waiting.append((row, cells))
            if len(waiting) == reading.CHUNK_ROWS:
                yield sheet, _frame(headings, waiting)
                waiting = []
        if waiting:
            yield sheet, _frame(headings, waiting)

    def _headings_fit(self, sheet: Sheet, table: str, headings: list[str]) -> bool:
        columns = TABLES[table].columns
        named = [heading for heading in headings if heading]
        fits = True
        for heading in sorted({heading for heading in named if named.count(heading) > 1}):
            self.fault(sheet, 1, heading, "The heading stands twice.", remedy="Keep one of the two columns.")
            fits = False
        for name, column in columns.items():
            if column.required and name not in named:
                near = difflib.get_close_matches(name, [h for h in named if h not in columns], n=1, cutoff=0.6)
                remedy = f"Is {near[0]!r} meant?" if near else "Add it."
                self.fault(sheet, 1, name, "A column that must be there is missing.", remedy=remedy)
                fits = False
        for heading in named:
            if heading not in columns and heading not in ORIGIN:
                self.warn(sheet, f"The column {heading!r} is not part of the contract; its values are not stored.")
        return fits

    def _chunk(self, table: Table, sheet: Sheet, frame: Any) -> None:
        frame, origins = self._origins(table, sheet, frame)
        if table.name not in self.filled:
            frame = with_defaults(table, frame)
        place = {"file": sheet.file, "sheet": sheet.name}
        checked = checking.check(table, frame, **place, today=self.today, ask_species=self.ask_species)
        self.blame(checked.problems)
        self.refuse(sheet, checked.bad_rows)
        blank = frame.height - checked.good.height - len(checked.bad_rows)
        self._lose(table, frame, checked.bad_rows)
        good = self._with_parents(table, sheet, checked.good)
        good = self._without_twins(table, sheet, good)
        if table.name == "rings":
            good = self._without_overlaps(sheet, good)
            good = self._without_shared_factors(sheet, good, good.select("visit", "baf_ft2_ac").rows())
        if table.name == "stands":
            good = self._without_strays(sheet, good)
        if table.name == "points":
            visits = good["visit"].unique().to_list()
            rings = book.store.columns_of("rings", ("visit", "baf_ft2_ac"), visits)
            good = self._without_shared_factors(sheet, good, rings)
        self._insert(table, sheet, good, origins)
        if not self.foreign:
            self.sums += RowSums(rows=blank, notes=blank)
        if self.progress:
            self.progress(table.name, frame.height)

    def _origins(self, table: Table, sheet: Sheet, frame: Any) -> tuple[Any, dict[int, Origin]]:
        """What rows say of themselves, and the frame without it."""
        clears, (origins, wrong) = clears_of(table, frame), origins_of(frame)
        for row, written in wrong:
            self.fault(
                sheet,
                row,
                "record_id",
                "It is no identifier.",
                found=written,
                remedy="Leave it as it was exported, or blank.",
            )
        self.refuse(sheet, [row for row, _ in wrong])
        for row, names in clears.items():
            origins[row] = dataclasses.replace(origins.get(row, Origin()), clears=frozenset(names))
        frame = without_clears(frame, {name for names in clears.values() for name in names})
        frame = frame.drop([name for name in ORIGIN if name in frame.columns])
        return frame.filter(~pl.col(checking.ROW).is_in([row for row, _ in wrong])), origins

    def _with_parents(self, table: Table, sheet: Sheet, good: Any) -> Any:
        for keys, parent in contract.parents(table.name):
            held, here = self._parent_keys(parent, keys, good), self.seen[parent]
            marks = _marks(good, keys)
            known = pl.Series([mark in here or mark in held for mark in marks], dtype=pl.Boolean)
            lost = good.filter(~known)
            for values, rows in lost.group_by(keys, maintain_order=True):
                # What hangs on a row that was refused is told there, once.
                if _SEPARATOR.join(map(str, values)) not in self.lost[parent]:
                    self._orphan(sheet, rows[checking.ROW].to_list(), keys, parent, list(values), held | here)
            self._lose(table, lost, lost[checking.ROW].to_list())
            self.refuse(sheet, lost[checking.ROW].to_list())
            good = good.filter(known)
        return good

    def _lose(self, table: Table, frame: Any, rows: list[int]) -> None:
        """Keep the keys of refused rows in mind."""
        if rows and all(key in frame.columns for key in table.key):
            refused = frame.filter(pl.col(checking.ROW).is_in(rows)).drop_nulls(list(table.key))
            self.lost[table.name].update(_marks(refused, table.key).str.strip_chars().to_list())

    def _orphan(
        self, sheet: Sheet, rows: list[int], keys: tuple[str, ...], parent: str, values: list[str], known: set[str]
    ) -> None:
        """One fault a missing name, whatever the number of rows that have it."""
        near = (
            difflib.get_close_matches(_SEPARATOR.join(values), known, n=1, cutoff=0.6)
            if len(known) < _MOST_COMPARED
            else []
        )
        adding = f"Bring in {parent} with it first, or add it under Records."
        remedy = f"The nearest is {near[0].replace(_SEPARATOR, ' ')!r}." if near else adding
        many = f" {len(rows)} rows name it." if len(rows) > 1 else ""
        what = f"There is no {_singular(parent)} {' '.join(values)} in the book.{many}"
        self.fault(sheet, rows[0], keys[-1], what, found=" ".join(values), remedy=remedy)

    def _parent_keys(self, parent: str, keys: tuple[str, ...], good: Any) -> set[str]:
        """Keys of a parent table that the book holds, as far as this chunk needs them."""
        held = self.parents.setdefault((parent, keys), set())
        if parent not in self.filled:
            return held
        if len(keys) == 1:
            if not held:
                held |= book.store.key_values(parent, keys[0])
            return held
        looked = self.parents.setdefault((parent, ("looked",)), set())
        visits = set(good[keys[0]].unique().to_list()) - looked
        looked |= visits
        held |= {f"{row[1]}{_SEPARATOR}{row[2]}" for row in book.store.raw_rows(parent, visits)}
        return held

    def _without_twins(self, table: Table, sheet: Sheet, good: Any) -> Any:
        """Rows whose key did not occur before in this file; a twin that differs is a fault."""
        marks, seen = _marks(good, table.key).to_list(), self.seen[table.name]
        before = len(seen)
        seen_earlier = [mark in seen for mark in marks] if seen else []
        seen.update(marks)
        if self.synced or len(seen) == before + len(marks):
            return good
        keep, first_of, repeats = [], {}, []
        for place, mark in enumerate(marks):
            values = good.row(place)[1:]
            earlier = bool(seen_earlier) and seen_earlier[place]
            if not earlier and mark not in first_of:
                first_of[mark] = values
                keep.append(place)
            elif first_of.get(mark) != values:
                self._twin(table, sheet, good[checking.ROW][place], mark)
            else:
                self.take(sheet, good[checking.ROW][place], stored=False)
                repeats.append(good[checking.ROW][place])
        if repeats:
            rows = ", ".join(map(str, repeats[:6])) + (f" and {len(repeats) - 6} more" if len(repeats) > 6 else "")
            self.warn(
                sheet,
                f"{table.name}: a line stands twice and counts once (row {rows}); number its trees apart if "
                "they are two.",
            )
        return good[keep]

    def _twin(self, table: Table, sheet: Sheet, row: int, mark: str) -> None:
        what, remedy = "The same row stands twice with different values.", "Keep the right one, or number them apart."
        self.fault(sheet, row, table.key[-1], what, found=mark.replace(_SEPARATOR, " "), remedy=remedy)
        self.refuse(sheet, [row])

    def _without_overlaps(self, sheet: Sheet, good: Any) -> Any:
        """Rings of one visit whose dbh ranges do not overlap, so that no tree counts twice."""
        taken: dict[str, list[tuple[float, float]]] = {}
        keep = []
        for place, ring in enumerate(good.iter_rows(named=True)):
            low, high = ring["low_dbh_in"] or 0.0, ring["high_dbh_in"] or 1e9
            others = taken.setdefault(ring["visit"], [])
            if ring["layer"] != "reproduction" and any(low < up and start < high for start, up in others):
                what = "Two rings of this visit take in the same dbh."
                remedy = "Give low_dbh_in and high_dbh_in so that they do not overlap."
                self.fault(
                    sheet, ring[checking.ROW], "low_dbh_in", what, found=f"{low:g} to {high:g} in", remedy=remedy
                )
                self.refuse(sheet, [ring[checking.ROW]])
                continue
            if ring["layer"] != "reproduction":
                others.append((low, high))
            keep.append(place)
        return good[keep]

    def _without_shared_factors(self, sheet: Sheet, good: Any, rings: Iterable[tuple[str, float | None]]) -> Any:
        """Rows of visits whose factor is a prism's: one shared over the points that a tally sums is right of a visit
        of one point, and a slip in one of several."""
        least = plausible.limit("baf_least_ft2_ac")
        shared = {visit: factor for visit, factor in rings if factor is not None and factor < least}
        held = book.store.columns_of("points", ("visit", "point"), shared) if shared and not self.replaces else []
        marks = {_SEPARATOR.join(map(str, row)) for row in held} | self.seen["points"]
        points = Counter(mark.partition(_SEPARATOR)[0] for mark in marks)
        self.slips |= {visit for visit in shared if points[visit] > 1}
        lost = good.filter(pl.col("visit").is_in(list(self.slips)))
        for visit, row in lost.group_by("visit", maintain_order=True).agg(pl.col(checking.ROW).first()).iter_rows():
            what = f"{visit} has {points[visit]} points and a basal area factor of {shared[visit]:g} ft2/ac."
            remedy = f"No prism has a factor under {least:g}: mend it in rings, or sum the points to one."
            self.fault(sheet, row, "visit", what, found=visit, remedy=remedy)
        table = TABLES["points" if "point" in good.columns else "rings"]
        self.refuse(sheet, lost[checking.ROW].to_list())
        self._lose(table, lost, lost[checking.ROW].to_list())
        self.seen[table.name] -= set(_marks(lost, table.key))
        return good.filter(~pl.col("visit").is_in(list(self.slips)))

    def _without_strays(self, sheet: Sheet, good: Any) -> Any:
        """Stands whose outline lies where their property is; another is most often a slip of the order of its
        numbers."""
        if "boundary_wkt" not in good.columns:
            return good
        outlined = good.filter(pl.col("boundary_wkt").fill_null("") != "")
        off = places.strays(outlined.select("stand", "property", "boundary_wkt").iter_rows()) if outlined.height else {}
        lost = outlined.filter(pl.col("stand").is_in(list(off)))
        for row, stand in lost.select(checking.ROW, "stand").iter_rows():
            self.fault(sheet, row, "boundary_wkt", off[stand].what, found=stand, remedy=off[stand].remedy)
        self.refuse(sheet, lost[checking.ROW].to_list())
        self._lose(TABLES["stands"], lost, lost[checking.ROW].to_list())
        self.seen["stands"].difference_update(off)
        if not self.synced and _FEATURES in self.filled:
            held = {(one.stand, one.boundary_wkt) for one in session.stands()}
            gone = (
                outlined["merged_into"].fill_null("").to_list()
                if "merged_into" in outlined.columns
                else [""] * outlined.height
            )
            rows = zip(outlined["stand"].to_list(), outlined["boundary_wkt"].to_list(), gone, strict=True)
            self.outlines |= {
                name: wkt for name, wkt, to in rows if not to and name not in off and (name, wkt) not in held
            }
        return good.filter(~pl.col("stand").is_in(list(off)))

    def _take_features_along(self, name: str) -> None:
        """Streams, roads and sites on record that the outlines come to touch, as rows of their stands."""
        crossed = crossing.newly_crossed(self.outlines)
        if not crossed:
            return
        texts = [as_text(row) for row in crossed]
        headings = list(TABLES[_FEATURES].columns)
        rows = [(number, [text.get(one, "") for one in headings]) for number, text in enumerate(texts, 1)]
        sheet = Sheet(file=name, name=_FEATURES, source=[])
        # They stand in no row of the file, whose sums stay as they are.
        self.foreign = True
        self._chunk(TABLES[_FEATURES], sheet, _frame(headings, rows))
        self.foreign = False
        for words in crossing.crossed_words(crossed):
            self.warn(sheet, words)

    def _insert(self, table: Table, sheet: Sheet, good: Any, origins: dict[int, Origin]) -> None:
        if not good.height:
            return
        names, lead = list(table.columns), table.key[0]
        rows = list(zip(good[checking.ROW].to_list(), _plain_rows(good, names), strict=True))
        leads = good[lead].unique().to_list()
        if lead == "visit":
            self.ledger.look_before(leads)
        if table.name in self.filled or origins:
            made = Comparison(self, table, sheet, leads, origins).made(rows)
        else:
            made = self._fresh(table, sheet, rows)
        entries = ((row_id, self.batch.id, old, device, *row) for row_id, old, device, row in made)
        count = book.store.insert(table.name, ("id", "batch_id", "replaces", "record_device", *names), entries)
        self.report.new[table.name] = self.report.new.get(table.name, 0) + count
        self.report.ids += [row_id for row_id, *_ in made] if self.synced else []

    def _fresh(self, table: Table, sheet: Sheet, rows: list[Any]) -> list[Made]:
        """Rows of a table that the book has none of."""
        places, fill = key_places(table), filler(table)
        for number, row in rows:
            self.ledger.part(table.name, tuple(row[place] for place in places)).rows[table.name] += 1
            self.take(sheet, number, stored=True)
        return [
            (row_id, None, "", fill(row)) for row_id, (_, row) in zip(book.store.new_ids(len(rows)), rows, strict=True)
        ]

    def _note_what_stays(self) -> None:
        """Lines of the book at points of this file that the file does not have: it changes nothing of them, and they
        are told."""
        for table, layers in _LAYERS_OF.items():
            rings = (mark.split(_SEPARATOR) for mark in self.seen["rings"])
            visits = {mark.split(_SEPARATOR)[0] for mark in self.seen[table]} | {
                visit for visit, layer, *_ in rings if layer in layers
            }
            known = [visit for visit in visits if self.ledger.visits[visit].was_there]
            for key in book.store.columns_of(table, TABLES[table].key, known) if known else ():
                marks = [_SEPARATOR.join(map(str, key[:length])) for length in (2, len(key))]
                if marks[0] in self.seen["points"] and marks[1] not in self.seen[table]:
                    self.ledger.part(table, key).stays.append(f"{table} {' '.join(map(str, key[1:]))}")

    def _withdraw_the_rest(self, entry: int) -> None:
        """Rows of an earlier entry that this one no longer has."""
        gone: dict[str, list[str]] = {}
        for table, shape in TABLES.items():
            for row_id, *key in book.store.current_of_entry(table, entry):
                if _SEPARATOR.join(map(str, key)) not in self.seen[table]:
                    gone.setdefault(table, []).append(row_id)
                    self.ledger.look_before([key[0]] if shape.key[0] == "visit" else [])
                    self.ledger.part(table, tuple(key)).withdrawn.append(f"{table} {' '.join(map(str, key))}")
        if gone:
            book.view.set_aside(
                gone,
                kind="undo",
                about=f"rows of entry {entry} that entry {self.batch.id} no longer has",
                because="",
                by=book.store.WHO.get(),
            )


def _singular(table: str) -> str:
    return {"properties": "property"}.get(table, table.rstrip("s"))


def _frame(headings: list[str], rows: list[reading.Row]) -> Any:
    columns: dict[str, list[str]] = {}
    for place, heading in enumerate(headings):
        if heading:
            columns[heading] = [cells[place] if place < len(cells) else "" for _, cells in rows]
    return pl.DataFrame({checking.ROW: [row for row, _ in rows], **columns}, schema_overrides={checking.ROW: pl.Int64})


def _marks(frame: Any, keys: tuple[str, ...]) -> Any:
    return frame.select(pl.concat_str([pl.col(key).cast(pl.String) for key in keys], separator=_SEPARATOR))[keys[0]]


def _plain_rows(good: Any, names: list[str]) -> list[tuple[Any, ...]]:
    """Rows as both databases take them: dates as text, blank text as an empty text."""
    plain = good.select(names).with_columns(cs.date().dt.to_string("%Y-%m-%d"), cs.string().fill_null(pl.lit("")))
    dates = [name for name in names if good.schema[name] == pl.Date]
    plain = plain.with_columns(
        [pl.when(pl.col(name) == "").then(None).otherwise(pl.col(name)).alias(name) for name in dates]
    )
    return list(plain.rows())
