"""Walks: what a phone takes into the woods. A walk is made here, sealed with a key of its own, expires, and can be
recalled.

What comes back from it is in `tallies`.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import hmac
import json
import secrets
import uuid
from collections import Counter
from dataclasses import dataclass, field
from typing import Any

from overwood.desk import book, layout, marking
from overwood.desk.answers import Question, stand_file
from overwood.ground import measures
from overwood.ground.errors import Misuse, NotFound, OverwoodError
from overwood.ground.records import Point, StandFile
from overwood.ground.species import UNKNOWN, all_species, by_code
from overwood.ground.vocabulary import DAMAGES, HEIGHT_CLASSES, SIGHTING_KINDS
from overwood.judgement.evidence import looked
from overwood.judgement.evidence.counting import rule_plot_ac
from overwood.judgement.rules import Rules
from overwood.science import sequential

# Kinds of visit that a phone tallies.
KINDS = ("cruise", "reproduction", "acorn", "light", "marking check", "residual check", "injection check")
VERSION = 1
# Visits whose plots take trees by the prism, and those that take all stems of a fixed plot.
_BY_PRISM = ("cruise", "marking check", "residual check")
_LONGEST_DAYS = 60
_TURNED = ("in", "ft", "ft2/ac", "acre")
# What a phone shows of the rows of the visit before, beside those it tallies.
_OLD = ("species", "dbh_in", "stems", "status", "height_class", "light_pct", "measures")
_NOT_FOR_GOOD = ("visit", "point", "baf_ft2_ac", "plot_area_ac", "note")
# A walk is named by its identifier or at least so many of its first letters.
_FEWEST_LETTERS = 4


@dataclass(frozen=True, kw_only=True)
class Design:
    """How plots are laid where the stand has no earlier visit of the kind: the person who makes the walk says so."""

    points: int
    baf_ft2_ac: float
    low_dbh_in: float
    midstory_plot_ac: float
    midstory_low_dbh_in: float
    reproduction_plot_ac: float
    seed: int = 1
    anew: bool = False


def design(
    rules: Rules, *, points: int | None = None, baf_ft2_ac: float | None = None, seed: int = 1, anew: bool = False
) -> Design:
    """The design that the rules assume for new plots, with what the person who asks says otherwise."""
    return Design(
        points=points or int(rules.number("walk_points")),
        baf_ft2_ac=baf_ft2_ac or rules.number("walk_prism_baf_ft2_ac"),
        low_dbh_in=rules.number("walk_tree_low_dbh_in"),
        midstory_plot_ac=rules.number("walk_midstory_plot_ac"),
        midstory_low_dbh_in=rules.number("midstory_low_dbh_in"),
        reproduction_plot_ac=rule_plot_ac(),
        seed=seed,
        anew=anew,
    )


@dataclass(frozen=True, kw_only=True)
class WalkLine:
    """A walk in a list: what it is for, until when, and what each phone has sent."""

    walk: str
    stands: tuple[str, ...]
    made_on: dt.date
    expires_on: dt.date
    recalled: bool
    phones: dict[str, dict[str, Any]] = field(default_factory=dict)


def make(
    stands: list[str],
    kinds: list[str],
    ask: Question,
    *,
    design: Design,
    days: int = 14,
    declination_deg: float | None = None,
) -> dict[str, Any]:
    """A walk for these stands and kinds of visit, put down in the book and sealed. Raises Misuse when no stand or an
    unknown kind is named, or the walk would last too long."""
    _check_asked(stands, kinds, days)
    number, key = uuid.uuid4(), secrets.token_hex(32)
    expires_on = ask.on + dt.timedelta(days=days)
    content: dict[str, Any] = {
        "overwood": "walk",
        "version": VERSION,
        "walk": number.hex,
        "made_on": ask.on.isoformat(),
        "expires_on": expires_on.isoformat(),
        "declination_deg": declination_deg,
        # How a phone says values; what it stores stays in US units.
        "units": {unit: measures.for_script(unit) for unit in _TURNED} if measures.is_metric() else {},
        "height_classes": list(HEIGHT_CLASSES),
        "damages": list(DAMAGES),
        "sighting_kinds": list(SIGHTING_KINDS),
        "species": _all_species(),
        "stands": [_stand(name, kinds, ask, design, number.hex[:4]) for name in stands],
    }
    content["seal"] = seal(content, key)
    book.walks.add(number, key, content, expires_on, book.store.WHO.get())
    return content


def plan(name: str, kind: str, ask: Question, design: Design) -> dict[str, Any]:
    """What a visit of any kind needs, as a walk has it: the stand, its species, points, rings and what stood there
    before."""
    return _stand(name, ["reproduction" if kind == "recount" else kind], ask, design, "")


def as_file(content: dict[str, Any], held: dict[str, Any] | None = None) -> str:
    """A walk as the text of its file: JSON with what the desk ``held`` of it by then as a receipt, and as the last
    entry the SHA-256 of all that stands before it."""
    body = json.dumps(content | ({"held": held} if held else {}))[:-1]
    return f'{body}, "digest": "{hashlib.sha256(body.encode()).hexdigest()}"}}'


def seal(content: dict[str, Any], key: str) -> str:
    """The keyed digest of a walk (HMAC with SHA-256) over its content without the seal."""
    bare = {name: value for name, value in content.items() if name != "seal"}
    text = json.dumps(bare, sort_keys=True, separators=(",", ":"))
    return hmac.new(key.encode(), text.encode(), hashlib.sha256).hexdigest()


def listed() -> list[WalkLine]:
    """Every walk of the book, the newest first."""
    return [
        WalkLine(
            walk=one.id.hex,
            stands=tuple(stand["stand"] for stand in one.content["stands"]),
            made_on=dt.date.fromisoformat(one.content["made_on"]),
            expires_on=one.expires_on,
            recalled=one.recalled_at is not None,
            phones=one.phones,
        )
        for one in book.walks.every()
    ]


def walk_of(text: str) -> Any:
    """The walk of an identifier, or of its unmistakable beginning. Raises NotFound when this book handed out none so
    called."""
    wanted = text.strip().lower().replace("-", "")
    fitting = [one for one in book.walks.every() if len(wanted) >= _FEWEST_LETTERS and one.id.hex.startswith(wanted)]
    if len(fitting) != 1:
        raise NotFound(f"this book handed out no walk {text!r}.", remedy="See `overwood woods walks`.")
    return fitting[0]


def recall(text: str, *, back: bool = False) -> None:
    """Recall a walk: what its phones still send is kept, and goes into the book only once the recall is taken back."""
    book.walks.recall(walk_of(text).id, back=back)


def _check_asked(stands: list[str], kinds: list[str], days: int) -> None:
    if not stands:
        raise Misuse("no stand was named.", remedy="Name the stands of the walk.")
    for kind in kinds:
        if kind not in KINDS:
            raise Misuse(f"{kind!r} is no visit that a phone tallies.", remedy=f"There are {', '.join(KINDS)}.")
    if not 1 <= days <= _LONGEST_DAYS:
        raise Misuse(
            f"a walk lasts 1 to {_LONGEST_DAYS} days, not {days}.", remedy="Name fewer days; make another walk later."
        )


def _all_species() -> list[dict[str, Any]]:
    return [
        {"code": str(code), "name": one.common_name, "oak": one.is_oak}
        for code, one in all_species().items()
        if code != UNKNOWN
    ]


def _stand(name: str, kinds: list[str], ask: Question, design: Design, mark: str) -> dict[str, Any]:
    file = stand_file(name).as_of(ask.on)
    seen = Counter(row.species for rows in (file.trees, file.seedlings) for row in rows)
    return {
        "stand": name,
        "name": file.stand.name or name,
        "outline": _outline(file.stand.boundary_wkt),
        "species": [str(code) for code, _ in seen.most_common(8) if code != UNKNOWN],
        "visits": [_visit(file, kind, ask, design, mark) for kind in kinds],
    }


def _outline(wkt: str) -> list[list[list[float]]]:
    """The rings of an outline as longitude and latitude."""
    if not wkt:
        return []
    import shapely

    shape = shapely.from_wkt(wkt)
    parts = list(shape.geoms) if hasattr(shape, "geoms") else [shape]
    return [[[round(x, 6), round(y, 6)] for x, y, *_ in part.exterior.coords] for part in parts]


def _visit(file: StandFile, kind: str, ask: Question, design: Design, mark: str) -> dict[str, Any]:
    before = file.latest(kind)
    visit: dict[str, Any] = {
        "visit": f"{file.stand.stand}-{ask.on.isoformat()}-{kind.replace(' ', '-')}-{mark}",
        "kind": kind,
        "rings": _rings(file, kind, design),
        "points": [] if kind == "acorn" else _points(file, kind, design),
        # Where readings were taken no stems were looked for: an empty count would be said as "nothing there".
        "before": _before(file, before.visit) if before and not design.anew and kind != "light" else {},
        "old": _old(file, before.visit) if before and not design.anew else {},
        "before_on": before.visited_on.isoformat() if before else "",
        "acorn_trees": _acorn_trees(file) if kind == "acorn" else [],
    }
    if kind == "marking check":
        visit["check"] = _check(ask)
    return visit


def _check(ask: Question) -> dict[str, Any]:
    """What the sequential check needs on the phone: the span wanted and Student's t of each look."""
    wanted = marking.wants(ask)
    plan = {
        "error": ask.rules.number("marking_check_error"),
        "step": int(ask.rules.number("marking_check_step")),
        "looks": int(ask.rules.number("marking_check_looks")),
    }
    t = sequential.t_values(error=plan["error"], step=int(plan["step"]), looks=int(plan["looks"]))
    return {
        "low": wanted.ba_low_ft2_ac,
        "high": wanted.ba_high_ft2_ac,
        "step": plan["step"],
        "looks": plan["looks"],
        "t": t,
    }


def _rings(file: StandFile, kind: str, design: Design) -> list[dict[str, str]]:
    """The rings of the stand's last visit of the kind, or those of the design."""
    before = file.latest(kind)
    same = [row for row in file.rings if before and row.visit == before.visit]
    if same and not design.anew:
        from overwood.desk.entering import as_text

        # A phone puts a stem into the ring that the desk would put it into: limits left blank are said here.
        same = [
            *looked.nested([row for row in same if row.layer != "reproduction"]),
            *(row for row in same if row.layer == "reproduction"),
        ]
        return [{name: text for name, text in as_text(row).items() if text and name != "visit"} for row in same]
    if kind == "reproduction":
        return [
            {
                "layer": "reproduction",
                "design": "fixed",
                "plot_area_ac": f"{design.reproduction_plot_ac:.8g}",
                "low_height_ft": "0",
            }
        ]
    if kind not in _BY_PRISM:
        return []
    prism = {"layer": "overstory", "design": "prism", "baf_ft2_ac": f"{design.baf_ft2_ac:g}"}
    if kind != "cruise":
        return [prism]
    midstory = {
        "layer": "midstory",
        "design": "fixed",
        "plot_area_ac": f"{design.midstory_plot_ac:g}",
        "low_dbh_in": f"{design.midstory_low_dbh_in:g}",
        "high_dbh_in": f"{design.low_dbh_in:g}",
    }
    return [prism | {"low_dbh_in": f"{design.low_dbh_in:g}"}, midstory]


def _points(file: StandFile, kind: str, design: Design) -> list[dict[str, Any]]:
    """Points of the last visit of the kind; else a grid inside the outline; else numbers without a place."""
    before = file.latest(kind)
    old = [row for row in file.points if before and row.visit == before.visit]
    if old and not design.anew:
        return [
            {"point": row.point, "lon": row.longitude_deg, "lat": row.latitude_deg, "row": _old_row(row)} for row in old
        ]
    try:
        places = layout.grid(file.stand.stand, design.points, design.seed).points
    except OverwoodError:
        return [{"point": str(number), "lon": None, "lat": None, "row": {}} for number in range(1, design.points + 1)]
    return [_planned(number, round(lon, 6), round(lat, 6)) for number, (lon, lat) in enumerate(places, start=1)]


def _planned(number: int, lon: float, lat: float) -> dict[str, Any]:
    row = {"longitude_deg": f"{lon}", "latitude_deg": f"{lat}", "note": "place as planned"}
    return {"point": str(number), "lon": lon, "lat": lat, "row": row}


def _old_row(point: Point) -> dict[str, str]:
    """What holds of an old plot for good: its part of the stand, group, fence and place. Its own size does not: the
    rings say it."""
    from overwood.desk.entering import as_text

    return {name: text for name, text in as_text(point).items() if text and name not in _NOT_FOR_GOOD}


def _before(file: StandFile, visit: str) -> dict[str, dict[str, int]]:
    """For each point of the visit before: how many stems each species had then."""
    counts: dict[str, Counter[str]] = {row.point: Counter() for row in file.points if row.visit == visit}
    tallied = [(row.visit, row.point, row.species, row.stems) for row in file.trees]
    tallied += [(row.visit, row.point, row.species, row.stems) for row in file.seedlings]
    for of, point, species, stems in tallied:
        if of == visit:
            counts.setdefault(point, Counter())[by_code(species).common_name] += stems
    return {point: dict(tally) for point, tally in counts.items()}


def _old(file: StandFile, visit: str) -> dict[str, list[dict[str, str]]]:
    """For each point of the visit before: its trees, young stems or reading, as they were then."""
    from overwood.desk.entering import as_text

    rows: dict[str, list[dict[str, str]]] = {}
    tallied: tuple[Any, ...] = (*file.trees, *file.seedlings, *file.light_readings)
    for row in tallied:
        if row.visit == visit:
            said = as_text(row)
            rows.setdefault(row.point, []).append({name: said[name] for name in _OLD if said.get(name)})
    return rows


def _acorn_trees(file: StandFile) -> list[dict[str, str]]:
    """The numbered trees of the stand's last acorn check."""
    before = file.latest("acorn")
    if before is None:
        return []
    return [
        {
            "tree": row.tree,
            "species": str(row.species),
            "dbh_in": "" if row.dbh_in is None else f"{row.dbh_in:g}",
            "cluster": row.cluster,
            "acorns": "" if row.acorns is None else str(row.acorns),
            "bearing": {True: "yes", False: "no", None: ""}[row.bearing],
        }
        for row in file.acorn_trees
        if row.visit == before.visit
    ]
