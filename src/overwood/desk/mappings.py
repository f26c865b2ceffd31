"""Kept mappings of foreign headings: what is remembered of a layout, listed, mended and forgotten.

A mapping holds headings, units and codes. A stand, a day and how stems were taken in belong to one file and are never
kept.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from overwood.desk import book
from overwood.ground import species
from overwood.ground.errors import Misuse, NotFound
from overwood.ground.records import Property, Stand
from overwood.memory.exchange import proposal as shapes
from overwood.memory.exchange import proposing

LEFT_OUT = shapes.LEFT_OUT


@dataclass(frozen=True, kw_only=True)
class KeptMapping:
    """One kept mapping with its number, its name and the moment it was last confirmed or changed."""

    number: int
    name: str
    saved_at: dt.datetime
    mapping: shapes.Mapping


def kept() -> tuple[KeptMapping, ...]:
    """Every kept mapping, by name."""
    return tuple(
        KeptMapping(
            number=row["id"], name=row["name"], saved_at=row["saved_at"], mapping=shapes.Mapping.from_json(row["spec"])
        )
        for row in book.store.mappings()
    )


def one(number: int) -> KeptMapping:
    """The kept mapping of a number. Raises NotFound when there is none."""
    for entry in kept():
        if entry.number == number:
            return entry
    raise NotFound(f"there is no kept mapping {number}.", remedy="See `overwood mappings`.")


def remembered() -> dict[str, shapes.Mapping]:
    """Every kept mapping by the fingerprint of its headings."""
    by_headings = {}
    for entry in kept():
        mark = proposing.signature(entry.mapping.headings)
        by_headings[mark] = dataclasses.replace(entry.mapping, signature=mark)
    return by_headings


def keep(mappings: Iterable[shapes.Mapping], name: str, *, rename: bool) -> tuple[str, ...]:
    """Keep how the sheets of a file were read, once it came in without a fault; the names they are kept under."""
    names = [book.store.save_mapping(name, mapping.signature, mapping.to_json(), rename=rename) for mapping in mappings]
    return tuple(dict.fromkeys(names))


def forget(number: int) -> KeptMapping:
    """Take a kept mapping away; the next such sheet is asked about anew."""
    entry = one(number)
    book.store.forget_mapping(number)
    return entry


def change(
    number: int,
    *,
    columns: Mapping[str, str] | None = None,
    units: Mapping[str, str] | None = None,
    codes: Mapping[str, str] | None = None,
) -> KeptMapping:
    """Mend a kept mapping: heading to column ("-" leaves it out), column to unit, ``[COLUMN.]WRITTEN`` to code; ""
    forgets a heading or a code. Raises Misuse when a heading, column, unit or code is none; nothing is changed then."""
    entry = one(number)
    mended = _with_columns(entry.mapping, columns or {})
    mended = _with_units(mended, units or {})
    mended = _with_codes(mended, codes or {})
    book.store.change_mapping(number, mended.to_json())
    return one(number)


def _with_columns(mapping: shapes.Mapping, said: Mapping[str, str]) -> shapes.Mapping:
    known = proposing.columns_of(mapping.table)
    for heading, column in said.items():
        if heading not in mapping.headings:
            raise Misuse(f"the mapping has no heading {heading!r}.", remedy=f"It has {', '.join(mapping.headings)}.")
        if column not in ("", LEFT_OUT, *known):
            raise Misuse(
                f"{mapping.table} has no column {column!r}.",
                remedy=f"It has {', '.join(known)}; - leaves the heading out.",
            )
    columns = {heading: column for heading, column in {**mapping.columns, **said}.items() if column}
    return dataclasses.replace(mapping, columns=columns)


def _with_units(mapping: shapes.Mapping, said: Mapping[str, str]) -> shapes.Mapping:
    for column, unit in said.items():
        may_be = proposing.units_of(mapping.table, column)
        if unit not in may_be:
            raise Misuse(
                f"{column} cannot be read in {unit!r}.", remedy=f"It can be in {', '.join(may_be) or 'no unit'}."
            )
    return dataclasses.replace(mapping, units={**mapping.units, **said})


def _with_codes(mapping: shapes.Mapping, said: Mapping[str, str]) -> shapes.Mapping:
    codes = {column: dict(known) for column, known in mapping.codes.items()}
    for key, code in said.items():
        column, _, written = key.partition(".") if key.split(".")[0] in codes else ("species", "", key)
        if not code:
            codes.get(column, {}).pop(written, None)
            continue
        codes.setdefault(column, {})[written] = _species(code) if column == "species" else code
    return dataclasses.replace(mapping, codes=codes)


def _species(meant: str) -> str:
    try:
        return str(species.find(meant).spcd)
    except KeyError as fault:
        raise Misuse(f"{fault.args[0]}.", remedy="See `overwood species`.") from None


def columns_of(table: str) -> list[str]:
    """Columns that a heading of a sheet of this table may be taken as."""
    return proposing.columns_of(table)


def units_of(table: str, column: str) -> tuple[str, ...]:
    """Units a column may be read in; none for what has no unit or is left out."""
    return proposing.units_of(table, column) if column not in ("", LEFT_OUT) else ()


def known(today: dt.date) -> shapes.Known:
    """What the book knows that a foreign file is held against: stands to choose from, their last visit, where their
    property lies."""
    places: dict[str, Property] = {row.property: row for row in book.store.records("properties")}
    visits = book.store.records("visits")
    last: dict[str, dt.date] = {}
    for visit in visits:
        last[visit.stand] = max(visit.visited_on, last.get(visit.stand, visit.visited_on))
    return shapes.Known(
        stands=tuple(
            _known_stand(row, places.get(row.property), last.get(row.stand))
            for row in book.store.records("stands", merged_into="")
        ),
        properties=tuple(sorted(places)),
        visits=frozenset(visit.visit for visit in visits),
        today=today,
    )


def _known_stand(row: Stand, place: Property | None, last: dt.date | None) -> shapes.KnownStand:
    return shapes.KnownStand(
        stand=row.stand,
        property=row.property,
        last_visit_on=last,
        latitude_deg=place.latitude_deg if place else None,
        longitude_deg=place.longitude_deg if place else None,
    )
