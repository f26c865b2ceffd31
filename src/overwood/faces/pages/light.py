"""Light and marking: the floor's light beside the stem map, trees left or taken by hand, and the search."""

from __future__ import annotations

import base64
import dataclasses
import threading
from collections import OrderedDict
from typing import Any

import numpy as np
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.views.decorators.http import require_POST

from overwood.desk import light, marking, office, session
from overwood.desk.marking_table import MarkingTable
from overwood.faces.pages import asking, jobs, stand
from overwood.ground.errors import Misuse, NotFound
from overwood.judgement.course.steps import caution

_LABELS = {
    "floor_light_pct": "Light on the floor",
    "floor_light_curve_pct": "By the planning curve",
    "floor_light_no_midstory_pct": "With the midstory out",
}
_MOST_TABLES = 12
_MOVES = 3_000
_TABLES: OrderedDict[Any, MarkingTable] = OrderedDict()
_LOCK = threading.Lock()


def cautions() -> list[str]:
    """What to mind where trees are marked."""
    return [caution(name) for name in ("felling", "snags", "forecast")]


def page(request: HttpRequest, name: str) -> HttpResponse:
    """Light of the stand; with a stem map also the marking table."""
    ask = asking.question()
    has_map = marking.has_map(name, ask)
    found = asking.kept(f"light {name}", ask, lambda: light.light(name, ask))
    with _LOCK:
        aside = _aside(name, _table(name))["aside"] if has_map else []
    context = {
        "aside": aside,
        "title": f"Light and marking, {name}",
        "name": name,
        "light": found,
        "figures": [(_LABELS.get(key, key), figure) for key, figure in found.figures.items()],
        "has_map": has_map,
        "rule": None if has_map else _rule(name, ask),
        "cautions": cautions(),
        "moves": _MOVES,
    }
    return render(request, "light.html", context)


def _rule(name: str, ask: Any) -> Any:
    try:
        return marking.rule_sheet(name, ask, marking.wants(ask))
    except NotFound:
        return None


def _table(name: str) -> MarkingTable:
    """The marking on the table: one for each person and stand, made anew when the records or the rules change."""
    ask = asking.question()
    # People of an office mark each on a table of their own.
    key = (office.acting(), name, session.data_version(), ask.on, ask.rules.version)
    if key not in _TABLES:
        _TABLES[key] = MarkingTable(name, ask, asking.prices())
        while len(_TABLES) > _MOST_TABLES:
            _TABLES.popitem(last=False)
    _TABLES.move_to_end(key)
    return _TABLES[key]


def table(request: HttpRequest, name: str) -> HttpResponse:
    """The stems and the marking as it stands."""
    with _LOCK:
        found = _table(name)
        block = found.block
        plain = {
            "width_ft": block.map.width_ft,
            "height_ft": block.map.height_ft,
            "stems": found.stems(),
            "whole_ba": found.whole_ba_ft2_ac,
            "band": [found.wants.light_low_pct, found.wants.light_high_pct],
            **_state(found),
        }
    return JsonResponse(plain)


def _state(found: MarkingTable) -> dict[str, Any]:
    """Who stays, the sums, and the light map as one byte a cell in half percents."""
    light_pct = found.light_pct()
    cells = np.clip(np.round(2 * light_pct), 0, 255).astype(np.uint8)
    return {
        "leave": found.leave,
        "sums": dataclasses.asdict(found.sums()),
        "rows": cells.shape[0],
        "columns": cells.shape[1],
        "light": base64.b64encode(cells.tobytes()).decode(),
    }


@require_POST
def change(request: HttpRequest, name: str) -> HttpResponse:
    """One tree left or taken, or the marking down to a basal area."""
    asked = asking.body(request)
    with _LOCK:
        found = _table(name)
        if "flip" in asked:
            found.flip(str(asked["flip"]))
        elif isinstance(asked.get("basal_area"), int | float):
            found.to_basal_area(float(asked["basal_area"]))
        else:
            raise Misuse("nothing was asked of the marking.", remedy="Name a tree to flip, or a basal area.")
        return JsonResponse(_state(found))


def changed(name: str, *, flip: str | None, basal_area_ft2_ac: float | None) -> dict[str, Any]:
    """The marking after a change, or as it stands: who stays, and the sums."""
    with _LOCK:
        found = _table(name)
        if flip is not None:
            found.flip(flip)
        if basal_area_ft2_ac is not None:
            found.to_basal_area(basal_area_ft2_ac)
        return {"leave": found.leave, **dataclasses.asdict(found.sums())}


@require_POST
def keep(request: HttpRequest, name: str) -> HttpResponse:
    """Put the marking aside to compare it, or take one up again."""
    title = request.POST.get("title", "").strip()[:40]
    if not title:
        raise Misuse("the marking has no name.", remedy="Give it one.")
    with _LOCK:
        found = _table(name)
        if request.POST.get("act") == "take up":
            found.take_up(title)
        else:
            found.keep(title)
        return render(request, "marking_aside.html", _aside(name, found))


def newest_aside(name: str) -> tuple[str, set[str]]:
    """The marking that this person put aside last: its name and the stems it takes; none where none was put aside."""
    with _LOCK:
        return _table(name).newest_aside()


def _aside(name: str, found: MarkingTable) -> dict[str, Any]:
    return {"title": "Markings", "name": name, "aside": [(title, sums) for title, (_, sums) in found.aside.items()]}


_SIGNS = ("=", "+", "-", "@", "\t", "\r")


def trees(request: HttpRequest, name: str) -> HttpResponse:
    """The marking as csv; a text that a spreadsheet would take for a formula is quoted."""
    import csv
    import io

    with _LOCK:
        rows = _table(name).rows()
    columns = ("stem", "call", "species", "dbh_in", "east_ft", "north_ft", "score")
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(columns)
    for row in rows:
        cells = [row[column] for column in columns]
        writer.writerow([f"'{cell}" if isinstance(cell, str) and cell.startswith(_SIGNS) else cell for cell in cells])
    response = HttpResponse(out.getvalue(), content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="{stand.safe(name)}-marking.csv"'
    return response


@require_POST
def search(request: HttpRequest, name: str) -> HttpResponse:
    """Begin the search for the leave trees, and show how far it is."""
    job = begin_search(request, name)
    return render(request, "job.html", {"job": job, "address": f"/light/{stand.quoted(name)}/search/{job.number}/", "title": "Search"})


def begin_search(request: HttpRequest, name: str) -> jobs.Job:
    """Begin the search for the leave trees; its marking comes on the table of who asked."""
    ask = asking.question()
    if not marking.has_map(name, ask):
        raise NotFound(f"{name} has no stem map.", remedy="Bring one in, or use the marking rule.")

    who = asking.person(request)

    def work(job: jobs.Job) -> Any:
        found = marking.mark(
            name, ask, marking.wants(ask), seed=1, moves=_MOVES, years=5, prices=asking.prices(),
            progress=lambda moves, best: job.step(moves, f"best so far {best:.2f}"),
        )  # fmt: skip
        with _LOCK, office.acting_as(who):
            _table(name).stand_as(found.marking.leave)
        return found.marking

    return jobs.begin(f"search for the leave trees of {name}", _MOVES, work)


def searched(request: HttpRequest, name: str, number: int) -> HttpResponse:
    """How far the search is; a POST stops it."""
    job = jobs.stopped(number) if request.method == "POST" else jobs.of(number)
    context = {"job": job, "address": f"/light/{stand.quoted(name)}/search/{number}/", "title": "Search", "marking": job.result}
    return render(request, "search_done.html" if job.finished.is_set() else "job.html", context)
