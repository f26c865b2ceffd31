"""Files of streams, roads and sites: each shape laid over the stands it touches, looked at, then written with the
ground kept around it."""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from overwood.desk import answers, book, entering, outlines
from overwood.ground.errors import Misuse, Problem
from overwood.ground.records import TABLES, GroundFeature, StandFile
from overwood.ground.vocabulary import FEATURE_KINDS
from overwood.judgement.net_ground import NetGround, laid_on, net_ground
from overwood.judgement.rules import Rules

TABLE = "ground_features"
# The entry of the rulebook that says how much ground is kept, where nobody does.
_WIDTHS = {
    "stream": "buffer_water_ft", "pond or wetland": "buffer_water_ft", "spring": "buffer_water_ft",
    "grave site": "buffer_site_ft", "other site": "buffer_site_ft", "road": "buffer_road_ft",
    "landing": "buffer_landing_ft", "skid trail": "buffer_skid_trail_ft", "line": "buffer_line_ft",
}  # fmt: skip
_NAME_COLUMNS = ("feature", "name", "label", "title", "id", "fid")
_KIND_COLUMNS = ("kind", "type", "class", "feature_type")


@dataclass(frozen=True, kw_only=True)
class Asked:
    """What a person says about a file of features.

    ``kind`` is what every shape is where the file does not say it, ``buffer_ft`` the ground kept around every one in
    place of the rulebook's; ``system`` and ``layer`` are for reading the file.
    """

    kind: str = ""
    buffer_ft: float | None = None
    system: str = ""
    layer: str = ""


@dataclass(frozen=True, kw_only=True)
class Coming:
    """One stand that features of the file touch: its rows, and its ground as it would be."""

    stand: str
    rows: tuple[GroundFeature, ...]
    ground: NetGround


@dataclass(frozen=True, kw_only=True)
class Look:
    """What a file of features comes to; nothing is written."""

    file: str
    system: str
    stands: tuple[Coming, ...]
    problems: tuple[Problem, ...]
    notes: tuple[str, ...]
    # How each width came about, by kind.
    widths: dict[str, str] = field(default_factory=dict)


def look(name: str, content: bytes, asked: Asked, rules: Rules) -> Look:
    """What a file of features comes to: which stands each touches, and the acres that are left to treat. Raises
    BadRecords when the file as a whole cannot be read; Misuse when it must be said what the shapes are, or the width is
    out of range."""
    from overwood.memory.exchange.outlines import ANY, plain

    _must_be_known(asked)
    file = plain.read_apart(name, content, system=asked.system, layer=asked.layer, shapes=ANY)
    problems, features, widths = list(file.problems), [], {}
    for shape in file.shapes:
        kind = asked.kind or _kind(shape.values)
        if not kind:
            problems.append(_unknown_kind(name, shape.number, shape.values))
            continue
        buffer_ft, why = _width(kind, shape.polygon, asked, rules)
        widths[kind] = why
        title = _first(shape.values, _NAME_COLUMNS) or f"{kind} {shape.number}"
        features.append(
            GroundFeature(
                feature=title, kind=kind, buffer_ft=buffer_ft, shape_wkt=outlines.wkt_of(shape.polygon),
                note=_first(shape.values, ("note", "description", "desc")),
            )
        )  # fmt: skip
    touched = [_coming(one, features) for one in answers.all_files().values() if one.stand.boundary_wkt]
    return Look(
        file=name,
        system=file.system,
        stands=tuple(one for one in touched if one is not None),
        problems=tuple(problems),
        notes=(*file.notes, *_far(features, touched)),
        widths=widths,
    )


def write(look: Look, today: dt.date) -> entering.Report:
    """Write the features of a look into the book as one entry, which can be undone. Raises Misuse when nothing is to be
    written."""
    rows = [entering.as_text(row) for one in look.stands for row in one.rows]
    if not rows:
        raise Misuse(
            f"{look.file} touches no stand with an outline.",
            remedy="Draw or bring in the outlines first, and see what is wrong with each shape.",
        )
    report = entering.enter({TABLE: rows}, today=today, name=f"ground features: {look.file}", replace=entering.ALL)
    if report.faults:
        raise Misuse("; ".join(str(fault) for fault in report.faults), remedy="Nothing was written.")
    return report


def standing() -> list[tuple[str, NetGround]]:
    """Stands of the book with features on record, and their ground."""
    names = book.store.key_values(TABLE, "stand") & set(book.store.stand_names())
    return [(name, net_ground(file)) for name, file in book.store.stand_files(sorted(names)).items()]


def _must_be_known(asked: Asked) -> None:
    if asked.kind and asked.kind not in FEATURE_KINDS:
        raise Misuse(f"{asked.kind!r} is no kind of feature.", remedy=f"Use one of {', '.join(FEATURE_KINDS)}.")
    column = TABLES[TABLE].columns["buffer_ft"]
    assert column.low is not None
    assert column.high is not None
    if asked.buffer_ft is not None and not column.low <= asked.buffer_ft <= column.high:
        raise Misuse(
            f"{asked.buffer_ft:g} ft is no width to keep.", remedy=f"Give {column.low:g} to {column.high:g} ft."
        )


def _first(values: Mapping[str, str], names: Sequence[str]) -> str:
    """The first filled value whose column bears one of these names, the earlier name first."""
    by_name = {column.lower(): text for column, text in values.items()}
    return next((by_name[name] for name in names if by_name.get(name)), "")


def _kind(values: Mapping[str, str]) -> str:
    said = _first(values, _KIND_COLUMNS).lower().strip()
    return said if said in FEATURE_KINDS else ""


def _unknown_kind(file: str, number: int, values: Mapping[str, str]) -> Problem:
    return Problem(
        what="It is not said what this shape is.",
        file=file,
        row=number,
        found=_first(values, (*_KIND_COLUMNS, *_NAME_COLUMNS)),
        expected=f"a column kind with one of {', '.join(FEATURE_KINDS)}",
        remedy="Say what all shapes are, or fill the column.",
    )


def _width(kind: str, shape: Any, asked: Asked, rules: Rules) -> tuple[float, str]:
    """Ground kept on each side, and where the width comes from."""
    if asked.buffer_ft is not None:
        return asked.buffer_ft, "as you say"
    if kind == "landing" and shape.geom_type in ("Polygon", "MultiPolygon"):
        return 0.0, "as it is drawn"
    rule = rules[_WIDTHS[kind]]
    return rule.number, f"{rule.said(rule.number)} by {rule.name} ({rule.status}: {rule.words})"


def _coming(file: StandFile, features: Sequence[GroundFeature]) -> Coming | None:
    """The features that touch a stand, beside those that are there; None where none does."""
    rows = laid_on(file.stand, features)
    if not rows:
        return None
    there = {row.feature: row for row in file.ground_features} | {row.feature: row for row in rows}
    after = dataclasses.replace(file, ground_features=tuple(there.values()))
    return Coming(stand=file.stand.stand, rows=rows, ground=net_ground(after))


def _far(features: Sequence[GroundFeature], touched: Sequence[Coming | None]) -> list[str]:
    """Features that touch no stand: they are not kept."""
    met = {row.shape_wkt for one in touched if one is not None for row in one.rows}
    names = [feature.feature for feature in features if feature.shape_wkt not in met]
    return [f"{', '.join(names[:12])}: touches no stand, and is not kept."] if names else []
