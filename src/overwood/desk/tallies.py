"""Tallies from the woods: taps are kept as they arrive; what they come to is shown, then written.

A tap is one row of the contract or the taking back of an earlier tap. Taps are kept once, by their identifier, so a
file, a request and their repeats come to the same. A person sees what they come to before they reach the records.
"""

from __future__ import annotations

import datetime as dt
import gzip
import hashlib
import hmac
import json
import secrets
import uuid
import zlib
from collections import Counter, defaultdict
from dataclasses import dataclass, field
from typing import Any

from overwood.desk import arrivals, book, entering, photos, walks
from overwood.ground.errors import BadRecords, Misuse
from overwood.ground.records import TABLES

# What a phone may fill; visits and their rings come from the walk.
FROM_PHONE = ("points", "trees", "seedlings", "acorn_trees", "light_readings", "sightings")
ADD, BACK = "add", "take back"
# Trees that the marking takes: they are counted beside the check, whose records are the trees left.
_TAKEN = "taken"
_PHOTOS = "photos"
_GZIP = b"\x1f\x8b"
# How a walk's file begins.
_WALK = b'{"overwood": "walk"'
_MOST_BYTES = 32 * 1024 * 1024
_MOST_CLOCK_OFF = dt.timedelta(hours=6)
_DEVICE_LETTERS = 16


@dataclass(frozen=True, kw_only=True)
class Taken:
    """What came of a tally or of photos: how many were new, which of those sent the desk now holds, and doubts."""

    walk: str
    device: str
    new: int
    held: tuple[str, ...]
    doubts: tuple[str, ...] = ()
    what: str = "taps"


@dataclass(frozen=True, kw_only=True)
class Contest:
    """One place of a visit that two phones took: neither counts until a person says whose stands."""

    mark: str
    sides: dict[str, dict[str, int]]


@dataclass(frozen=True, kw_only=True)
class Standing:
    """What the taps of a walk come to now."""

    walk: str
    report: entering.Report
    contests: tuple[Contest, ...]
    to_set_aside: dict[str, list[str]] = field(default_factory=dict)
    doubts: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class _Come:
    """What the taps of a walk come to: rows by table, places that wait, records that no longer count, and doubts."""

    tables: dict[str, list[dict[str, str]]]
    contests: tuple[Contest, ...]
    aside: dict[str, list[str]]
    doubts: tuple[str, ...]


class _OnlyLooked(Exception):
    """Rolls the transaction back."""


def take(content: bytes, *, now: dt.datetime | None = None) -> Taken:
    """Keep the taps of a tally, or photos. ``now`` is the desk's time where the tally came this moment, by request.
    Raises BadRecords when it is no tally, is damaged, or names no walk of this book."""
    said = _read(content)
    walk = _walk_of(said)
    if said["overwood"] == _PHOTOS:
        return _photos_taken(said, walk)
    rows = [_tap(number, one, str(said["device"])) for number, one in enumerate(said["records"], start=1)]
    before = {one.id for one in book.walks.taps(walk.id)}
    book.walks.keep(walk.id, rows, str(said["device"]), arrivals.said_by(said))
    held = {one.id for one in book.walks.taps(walk.id)}
    sent = [row["id"] for row in rows]
    return Taken(
        walk=walk.id.hex,
        device=str(said["device"]),
        new=len(held - before),
        held=tuple(one.hex for one in sent if one in held),
        doubts=(*_clock(said, now), *_walk_doubts(walk)),
    )


def _photos_taken(said: dict[str, Any], walk: Any) -> Taken:
    rows = photos.rows(said, walk)
    new = book.walks.keep_photos(walk.id, rows)
    return Taken(
        walk=walk.id.hex, device=str(said["device"]), new=new, held=tuple(row["id"].hex for row in rows), what=_PHOTOS
    )


def standing(text: str, *, today: dt.date) -> Standing:
    """What the taps of a walk would come to in the book; nothing is written."""
    try:
        with book.store.atomic():
            walk, come, report = _carried_over(text, today, leave_out_faulty=False)
            raise _OnlyLooked
    except _OnlyLooked:
        report.nothing_stored()
    return _standing(walk, come, report)


def waiting_at(stand: str) -> tuple[str, ...]:
    """What waits at a stand for a person's word, one line a walk: places that two phones took."""
    lines = []
    for walk in book.walks.of_several_phones():
        visits = {visit["visit"] for one in walk.content["stands"] if one["stand"] == stand for visit in one["visits"]}
        marks = [one.mark for one in _folded(walk)[1] if any(one.mark.startswith(f"{visit} ") for visit in visits)]
        if marks:
            said = "what came later is in no figure until a person says whose tally stands"
            lines.append(f"{_name(walk)}: two phones took {', '.join(marks)}; {said}")
    return tuple(lines)


def write(text: str, *, today: dt.date, leave_out_faulty: bool = False) -> Standing:
    """Write what the taps of a walk come to: new records in, those taken back on the phone aside. Places that two
    phones took wait. Raises Misuse when the walk was recalled."""
    walk = walks.walk_of(text)
    if walk.recalled_at is not None:
        raise Misuse(
            f"the walk was recalled on {walk.recalled_at:%Y-%m-%d}; its taps are kept, and nothing was written.",
            remedy=f"Take the recall back with `overwood woods recall {walk.id.hex[:8]} --back`, then write.",
        )
    try:
        with book.store.atomic():
            walk, come, report = _carried_over(text, today, leave_out_faulty=leave_out_faulty)
            if report.faults and not leave_out_faulty:
                raise _OnlyLooked
    except _OnlyLooked:
        report.nothing_stored()
    return _standing(walk, come, report)


def _carried_over(text: str, today: dt.date, *, leave_out_faulty: bool) -> tuple[Any, _Come, entering.Report]:
    """Write in a transaction that the caller ends: first what no longer counts goes aside, then the new comes in."""
    walk = walks.walk_of(text)
    come = _come(walk, today)
    if come.aside:
        book.view.set_aside(
            come.aside,
            kind="undo",
            about=f"taken back on the phone, {_name(walk)}",
            because="",
            by=book.store.WHO.get(),
        )
    coming = entering.Incoming(
        name=_name(walk),
        digest=secrets.token_hex(32),
        sheets=entering.typed_sheets(_name(walk), come.tables),
        is_typed=True,
    )
    report = entering.write(coming, today=today, synced=True, leave_out_faulty=leave_out_faulty)
    return walk, come, report


def _standing(walk: Any, come: _Come, report: entering.Report) -> Standing:
    return Standing(
        walk=walk.id.hex, report=report, contests=come.contests, to_set_aside=come.aside,
        doubts=(*come.doubts, *_walk_doubts(walk), *arrivals.missing(walk)),
    )  # fmt: skip


def settle(text: str, mark: str, device: str) -> None:
    """Say whose tally of a place stands; the other stays among the taps. Raises Misuse when two phones did not both
    take this place, or the phone is none of them."""
    walk = walks.walk_of(text)
    sides = {one.mark: one.sides for one in _folded(walk)[1]}
    if mark not in sides or device not in sides[mark]:
        open_ones = "; ".join(f"{name}: {', '.join(phones)}" for name, phones in sides.items()) or "none"
        raise Misuse(f"no two phones wait at {mark!r} with one called {device!r}.", remedy=f"Open now: {open_ones}.")
    book.walks.settle(walk.id, mark, device)


def _read(content: bytes) -> dict[str, Any]:
    """The tally as it was sent, once its digest is right."""
    wrong = "Save the file on the phone once more and send that; nothing is lost there."
    try:
        plain = _unpacked(content) if content.startswith(_GZIP) else content
        said = json.loads(plain)
        records, digest = said["records"], said["digest"]
        ok = said["overwood"] in ("tally", _PHOTOS) and isinstance(records, list)
        {name: said[name] for name in ("walk", "seal", "device", "last")}
        last, device = int(said["last"]), str(said["device"])
    except (ValueError, KeyError, TypeError, OSError, EOFError, zlib.error):
        if content.startswith(_WALK):
            told, wrong = "this is a walk, which goes down to the phone.", "Choose the tally that the phone saved."
        else:
            told = "this is no tally of the woods kit, or it is damaged."
        raise BadRecords(told, remedy=wrong) from None
    if not ok or last < 0 or not device.isalnum() or len(device) > _DEVICE_LETTERS:
        raise BadRecords("this is no tally of the woods kit.", remedy=wrong)
    if said.get("version") != walks.VERSION:
        raise BadRecords(
            "the tally was written by another version of the kit.",
            remedy="Update the kit on the phone, then send again.",
        )
    if hashlib.sha256(_compact(records)).hexdigest() != digest:
        raise BadRecords("the tally is damaged: its records do not fit its digest.", remedy=wrong)
    return dict(said)


def _unpacked(content: bytes) -> bytes:
    """At most so many bytes, so that a small file cannot fill the memory."""
    import io

    with gzip.open(io.BytesIO(content)) as stream:
        plain = stream.read(_MOST_BYTES + 1)
    if len(plain) > _MOST_BYTES:
        raise ValueError
    return plain


def _compact(records: list[Any]) -> bytes:
    """The records as a browser's JSON.stringify writes them: their values are texts, whole numbers and null."""
    return json.dumps(records, separators=(",", ":"), ensure_ascii=False).encode("utf-8", "surrogatepass")


def _walk_of(said: dict[str, Any]) -> Any:
    try:
        walk = book.walks.one(uuid.UUID(str(said["walk"])))
    except ValueError:
        walk = None
    if walk is None:
        raise BadRecords(
            "the tally belongs to a walk of another book.",
            remedy="Open the book that made the walk, and send it there.",
        )
    if (
        not hmac.compare_digest(str(said["seal"]), str(walk.content["seal"]))
        or walks.seal(walk.content, walk.key) != walk.content["seal"]
    ):
        raise BadRecords(
            "the seal of the walk is not right.", remedy="Load the walk from this desk onto the phone again, then send."
        )
    return walk


def _tap(number: int, one: Any, device: str) -> dict[str, Any]:
    """A tap as the book keeps it. Raises BadRecords when it has not the form of one."""
    try:
        of = one.get("of")
        row = {str(name): str(value) for name, value in (one.get("row") or {}).items()}
        tap = {
            "id": uuid.UUID(one["id"]), "device": device, "seq": int(one["seq"]), "made_at": str(one["at"]),
            "act": str(one["act"]), "table": str(one.get("table") or ""), "row": row,
            "of": uuid.UUID(of) if of else None,
        }  # fmt: skip
        dt.datetime.fromisoformat(str(one["at"]))
    except (ValueError, KeyError, TypeError, AttributeError):
        raise BadRecords(
            f"record {number} of the tally is damaged.", remedy="Send it again; nothing is lost on the phone."
        ) from None
    if not _says_something(tap):
        raise BadRecords(
            f"record {number} of the tally says nothing that is known.",
            remedy="Update the kit on the phone, then send again.",
        )
    return tap


def _says_something(tap: dict[str, Any]) -> bool:
    if tap["act"] == BACK:
        return tap["of"] is not None
    shape = "trees" if tap["table"] == _TAKEN else tap["table"]
    return tap["act"] == ADD and shape in FROM_PHONE and set(tap["row"]) <= set(TABLES[shape].columns)


def _clock(said: dict[str, Any], now: dt.datetime | None) -> tuple[str, ...]:
    """A phone whose clock is wrong by hours would put its visit on a wrong day."""
    if now is None or "now" not in said:
        return ()
    try:
        off = dt.datetime.fromisoformat(str(said["now"])) - now
    except (ValueError, TypeError):
        return ("The phone did not say what time it has.",)
    if abs(off) < _MOST_CLOCK_OFF:
        return ()
    return (
        f"The phone's clock is {off.total_seconds() / 3600:+.0f} h off: "
        "look at the days of its visits before writing them.",
    )


def _walk_doubts(walk: Any) -> tuple[str, ...]:
    doubts = []
    strange = [one for one in taps_of(walk) if one.act == ADD and not _of_walk(walk, one)]
    if strange:
        doubts.append(
            f"{len(strange)} taps name a visit or stand that is not in this walk; they are kept, and go into no record."
        )
    late = [one for one in taps_of(walk) if one.made_at[:10] > walk.expires_on.isoformat()]
    if late:
        doubts.append(
            f"{len(late)} taps were made after the walk expired on {walk.expires_on}: "
            "is the stand still what the walk says?"
        )
    if walk.recalled_at is not None:
        doubts.append(f"The walk was recalled on {walk.recalled_at:%Y-%m-%d}: its taps are kept, and wait.")
    return tuple(doubts)


def taps_of(walk: Any) -> list[Any]:
    """Every tap of a walk, phone by phone in the order of their numbers."""
    return book.walks.taps(walk.id)


def _name(walk: Any) -> str:
    return f"walk {walk.id.hex[:8]}"


def _come(walk: Any, today: dt.date) -> _Come:
    counted, contests = _folded(walk)
    tables, doubts = _rows(walk, counted, today)
    return _Come(tables=tables, contests=contests, aside=_aside(walk, counted, contests), doubts=doubts)


def _folded(walk: Any) -> tuple[list[Any], tuple[Contest, ...]]:
    """The taps that count, and the places that two phones took and nobody has settled."""
    taps = taps_of(walk)
    back = {one.of for one in taps if one.act == BACK}
    places: dict[str, dict[str, list[Any]]] = defaultdict(lambda: defaultdict(list))
    for one in taps:
        if one.act == ADD and one.id not in back and _of_walk(walk, one):
            places[_mark(one)][one.device].append(one)
    counted: list[Any] = []
    contests = []
    for mark, sides in places.items():
        whose = walk.settled.get(mark)
        if len(sides) > 1 and whose not in sides:
            contests.append(Contest(mark=mark, sides={device: _counts(rows) for device, rows in sides.items()}))
            continue
        counted += sides[whose] if whose in sides else next(iter(sides.values()))
    return counted, tuple(contests)


def _of_walk(walk: Any, tap: Any) -> bool:
    """Whether a tap is of a visit or stand of its walk: a phone writes nowhere else."""
    stands = walk.content["stands"]
    if tap.table == "sightings":
        return tap.row.get("stand") in {stand["stand"] for stand in stands}
    return tap.row.get("visit") in {visit["visit"] for stand in stands for visit in stand["visits"]}


def _mark(tap: Any) -> str:
    """The place of a tap: a point of a visit, a numbered tree where a visit has no points, or the sighting itself."""
    if tap.table == "sightings":
        return str(tap.row.get("sighting", tap.id.hex))
    place = tap.row.get("tree", "") if tap.table == "acorn_trees" else tap.row.get("point", "")
    return f"{tap.row.get('visit', '')} {place}"


def _counts(taps: list[Any]) -> dict[str, int]:
    counts: dict[str, int] = defaultdict(int)
    for one in taps:
        counts[one.table] += 1
    return dict(counts)


def _rows(walk: Any, taps: list[Any], today: dt.date) -> tuple[dict[str, list[dict[str, str]]], tuple[str, ...]]:
    """Rows of the contract by table, visits and rings before what hangs on them; and doubts of their days."""
    tables: dict[str, list[dict[str, str]]] = defaultdict(list)
    by_visit: dict[str, list[Any]] = defaultdict(list)
    gone = sum(one.table == _TAKEN for one in taps)
    for one in taps:
        if one.table == _TAKEN:
            continue
        tables[one.table].append(one.row | {"record_id": one.id.hex, "record_device": one.device})
        if one.table != "sightings":
            by_visit[one.row.get("visit", "")].append(one)
    held = book.store.key_values("visits", "visit")
    doubts = (
        [f"{gone} trees were tapped as taken by the marking; they stay among the taps, the records are the trees left."]
        if gone
        else []
    )
    for stand in walk.content["stands"]:
        for visit in stand["visits"]:
            if by_visit.get(visit["visit"]) and visit["visit"] not in held:
                day, doubt = _day(walk, by_visit[visit["visit"]], today)
                doubts += [f"{visit['visit']}: {doubt}"] if doubt else []
                tables["visits"].append(
                    {"visit": visit["visit"], "stand": stand["stand"], "kind": visit["kind"], "visited_on": day}
                )
                tables["rings"] += [{"visit": visit["visit"], **ring} for ring in visit["rings"]]
    doubts += _alike(tables)
    return {table: tables[table] for table in TABLES if tables.get(table)}, tuple(doubts)


def _alike(tables: dict[str, list[dict[str, str]]]) -> list[str]:
    """Rows of one key that a phone gave twice: the book lets neither count until a person settles it."""
    doubts = []
    for table, rows in tables.items():
        counts = Counter(tuple(row.get(name, "") for name in TABLES[table].key) for row in rows)
        twice = [" ".join(key) for key, count in counts.items() if count > 1]
        if twice:
            doubts.append(
                f"{table} numbered alike on the phone: {'; '.join(twice)}. None of them counts until you settle it."
            )
    return doubts


def _day(walk: Any, taps: list[Any], today: dt.date) -> tuple[str, str]:
    """The day of the first tap of a visit, never before the walk was made nor after today."""
    first = min(one.made_at[:10] for one in taps)
    made = str(walk.content["made_on"])
    if first < made:
        return made, f"the phone dated it {first}, before the walk was made; taken as {made}."
    if first > today.isoformat():
        return today.isoformat(), f"the phone dated it {first}, a day still to come; taken as {today.isoformat()}."
    return first, ""


def _aside(walk: Any, counted: list[Any], contests: tuple[Contest, ...]) -> dict[str, list[str]]:
    """Records of the book whose tap was taken back since, or lost its place to another phone's; a place that waits
    stays as it is."""
    back = {one.of for one in taps_of(walk) if one.act == BACK}
    counts, waits = {one.id for one in counted}, {one.mark for one in contests}
    gone: dict[str, list[str]] = defaultdict(list)
    for one in taps_of(walk):
        if (
            one.act == ADD
            and one.table != _TAKEN
            and one.id not in counts
            and (one.id in back or _mark(one) not in waits)
        ):
            gone[one.table].append(one.id.hex)
    standing_now = {
        table: sorted(key for key, (_, up) in book.store.rows_by_id(table, ids).items() if up)
        for table, ids in gone.items()
    }
    return {table: ids for table, ids in standing_now.items() if ids}
