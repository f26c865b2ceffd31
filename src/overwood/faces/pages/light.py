"""Light and marking: the floor's light beside the stem map, trees left or taken by hand, and the search."""

from __future__ import annotations

import base64
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.views.decorators.http import require_POST
from numpy.typing import NDArray

from overwood.desk import light, marking, office, session
from overwood.desk import work as desk_work
from overwood.desk.marking_table import MarkingTable, Sums
from overwood.desk.telling import plain
from overwood.faces.pages import asking, coming, stand
from overwood.ground import measures
from overwood.ground.errors import Misuse, NotFound
from overwood.judgement.course.steps import caution
from overwood.judgement.crew_words import Sentence, sentence

_LABELS = {
    "floor_light_pct": "Light on the forest floor",
    "floor_light_curve_pct": "By the planning curve",
}
_MOVES = 3_000
_SEARCH = "search"


class _Stale(Exception):
    """The marking was changed elsewhere since the page that asks was drawn."""


def cautions() -> list[str]:
    """What to mind where trees are marked."""
    return [caution(name) for name in ("felling", "snags", "forecast")]


@coming.at_once(
    "Light and marking", lambda _request, given: (f"light {given['name']}", f"warnings {given['name']}"), "light"
)
def page(request: HttpRequest, name: str) -> HttpResponse:
    """Light of the stand; with a stem map also the marking table."""
    ask = asking.question()
    has_map = marking.has_map(name, ask)
    floor = asking.kept(f"light {name}", ask, lambda: light.light(name, ask))
    # The table itself is worked out when the page asks for it: the page does not wait.
    draft = desk_work.draft("marking", name) if has_map else None
    aside = [(title, Sums(**put_by["sums"])) for title, put_by in draft.content["aside"].items()] if draft else []
    context = {
        "aside": aside,
        "title": f"Light and marking, {name}",
        "name": name,
        "light": floor,
        "figures": [(_LABELS.get(key, key), figure) for key, figure in floor.figures.items()],
        "has_map": has_map,
        "rule": None if has_map else _rule(name, ask, floor),
        "warnings": asking.kept(f"warnings {name}", ask, lambda: marking.warnings(name, ask)),
        "cautions": cautions(),
        "moves": _MOVES,
        "forms": marking.FORMS,
    }
    return render(request, "light.html", context)


def _rule(name: str, ask: Any, floor: Any) -> Any:
    try:
        return marking.rule_sheet(name, ask, marking.wants(ask), floor.told)
    except NotFound:
        return None


def _table(name: str) -> tuple[MarkingTable, int]:
    """The marking on the table of who asks, and its stamp: as the book has it, for the records and rules as they are
    now."""
    ask = asking.question()
    # People of an office mark each on a table of their own; what is marked on it lies in the book.
    key = (office.acting(), name, session.data_version(), ask.on, ask.rules.version, asking.list_marks())
    table, stamp = asking.DESK.tables.get(key) or (MarkingTable(name, ask, asking.prices()), 0)
    draft = desk_work.draft("marking", name)
    if draft is not None and draft.stamp != stamp:
        table.lay_down(draft.content)
        stamp = draft.stamp
    asking.DESK.tables.put(key, (table, stamp))
    return table, stamp


def _after(name: str, act: Callable[[MarkingTable], None], seen: int | None = None) -> tuple[MarkingTable, int]:
    """The table after a change, kept in the book.

    Raises
    ------
    _Stale
        when ``seen`` is not the stamp of the marking that lies there.
    """
    with asking.DESK.at_table:
        table, stamp = _table(name)
        if seen is not None and seen != stamp:
            raise _Stale
        act(table)
        ask = asking.question()
        made_for = f"{session.data_version()} {ask.on} {ask.rules.version}"
        after = desk_work.keep_draft("marking", name, made_for, table.content(), stamp)
        if after is None:
            asking.DESK.tables.clear()
            raise _Stale
        return _table(name)


def table(request: HttpRequest, name: str) -> HttpResponse:
    """The stems and the marking as it stands."""
    with asking.DESK.at_table:
        marks, stamp = _table(name)
        block = marks.block
        drawing = {
            "width_ft": block.map.width_ft,
            "height_ft": block.map.height_ft,
            "stems": marks.stems(),
            "whole_ba": marks.whole_ba_ft2_ac,
            "light_before": _cells(marks.light_before_pct),
            "units": {
                unit: measures.for_script(unit) for unit in ("ft2/ac", "square feet an acre", "/ac", "in.", "ft")
            },
            "band": [marks.wants.light_low_pct, marks.wants.light_high_pct],
            **_state(marks, stamp),
        }
    return JsonResponse(drawing)


def aside(request: HttpRequest, name: str) -> HttpResponse:
    """A marking that was put aside, to be drawn beside the one on the table."""
    title = request.GET.get("title", "")
    with asking.DESK.at_table:
        leave, light_pct = _table(name)[0].look_at(title)
    return JsonResponse({"title": title, "leave": leave, "light": _cells(light_pct)})


def _state(table: MarkingTable, stamp: int) -> dict[str, Any]:
    """Who stays, the sums, and the light map as one byte a cell in half percents."""
    light_pct = table.light_pct()
    return {
        "stamp": stamp,
        "carried_over": table.carried_over,
        "leave": table.leave,
        "sums": plain(table.sums()),
        "rows": light_pct.shape[0],
        "columns": light_pct.shape[1],
        "light": _cells(light_pct),
    }


def _cells(light_pct: NDArray[np.float64]) -> str:
    """A field of light as one byte a cell in half percents, for a page to draw."""
    return base64.b64encode(np.clip(np.round(2 * light_pct), 0, 255).astype(np.uint8).tobytes()).decode()


@require_POST
def change(request: HttpRequest, name: str) -> HttpResponse:
    """One tree left or taken, the marking down to a basal area, or back to what it was."""
    asked = asking.body(request)
    act = _asked_of_table(asked)
    seen = asked.get("stamp")
    try:
        return JsonResponse(_state(*_after(name, act, seen if isinstance(seen, int) else None)))
    except _Stale:
        with asking.DESK.at_table:
            return JsonResponse(_state(*_table(name)), status=409)


def _asked_of_table(asked: dict[str, Any]) -> Callable[[MarkingTable], None]:
    ba_ft2_ac = asked.get("basal_area")
    if "flip" in asked:
        return lambda found: found.flip(str(asked["flip"]))
    if isinstance(asked.get("leave"), list):
        return lambda found: found.leave_only([str(stem) for stem in asked["leave"]])
    if isinstance(ba_ft2_ac, int | float):
        return lambda found: found.to_basal_area(float(ba_ft2_ac))
    raise Misuse("nothing was asked of the marking.", remedy="Name a tree to flip, or a basal area.")


def changed(name: str, *, flip: str | None, basal_area_ft2_ac: float | None) -> dict[str, Any]:
    """The marking after a change, or as it stands: who stays, and the sums."""
    acts = [] if flip is None else [_asked_of_table({"flip": flip})]
    acts += [] if basal_area_ft2_ac is None else [_asked_of_table({"basal_area": basal_area_ft2_ac})]
    for act in acts:
        _after(name, act)
    with asking.DESK.at_table:
        table, _ = _table(name)
        return {"leave": table.leave, **plain(table.sums())}


@require_POST
def keep(request: HttpRequest, name: str) -> HttpResponse:
    """Put the marking aside to compare it, or take one up again."""
    title = request.POST.get("title", "").strip()[:40]
    if not title:
        raise Misuse("the marking has no name.", remedy="Give it one.")
    take_up = request.POST.get("act") == "take up"
    after, _ = _after(name, lambda table: table.take_up(title) if take_up else table.keep(title))
    return render(request, "marking_aside.html", _aside(name, after))


def _aside(name: str, table: MarkingTable) -> dict[str, Any]:
    return {"title": "Markings", "name": name, "aside": [(title, sums) for title, (_, sums) in table.aside.items()]}


_SIGNS = ("=", "+", "-", "@", "\t", "\r")


def trees(request: HttpRequest, name: str) -> HttpResponse:
    """The marking as csv; a text that a spreadsheet would take for a formula is quoted."""
    import csv
    import io

    with asking.DESK.at_table:
        rows = _table(name)[0].rows()
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
    work = begin_search(name, request.POST.get("rows", "").splitlines())
    return render(request, "job.html", {"job": work, "address": _address(name, work.number), "title": "Search"})


def _address(name: str, number: int) -> str:
    return f"/light/{stand.quoted(name)}/search/{number}/"


def begin_search(name: str, rows: Sequence[str] = ()) -> desk_work.Work:
    """Begin the search for the leave trees under the constraints of ``rows``; its marking comes on the table of who
    asked."""
    ask = asking.question()
    if not marking.has_map(name, ask):
        raise NotFound(f"{name} has no stem map.", remedy="Bring one in, or use the marking rule.")
    wanted = marking.check_rows(name, ask, rows)
    with asking.DESK.at_table:
        below = _table(name)[0].below(wanted.wildlife)
    if below:
        raise Misuse(
            f"wildlife trees {', '.join(below[:8])} stand below the main canopy, and the table holds none of it.",
            remedy="Mark them leave on the map, or search by the command with --row.",
        )
    asked = {"stand": name, "on": ask.on.isoformat(), "moves": _MOVES, "seed": 1, "rows": list(rows)}
    return desk_work.begin(_SEARCH, f"search for the leave trees of {name}", asked, _MOVES)


def do_search(asked: dict[str, Any], step: desk_work.Step) -> dict[str, Any]:
    """The search itself, as a worker does it: lays its marking on the table of who asked, and says what it comes to."""
    name, ask = str(asked["stand"]), asking.question(asked["on"])
    effort = marking.Effort(asked["seed"], asked["moves"], lambda moves, best: step(moves, f"best so far {best:.2f}"))
    wanted = marking.wants(ask, rows=asked.get("rows", ()))
    result = marking.mark(name, ask, wanted, effort, years=5, prices=asking.prices())
    made = result.marking
    leave = [stem.stem for stem, stays in zip(result.block.stems, made.leave, strict=True) if stays]
    how = {"by": "a search", "seed": made.seed, "moves": made.moves, "rows": list(asked.get("rows", ()))}
    _after(name, lambda table: table.leave_only(leave, how))
    return {
        "leave": leave,
        "moves": made.moves,
        "mean_light_pct": float(made.light_after.mean_pct),
        "residual_ba_ft2_ac": made.residual_ba_ft2_ac,
        "leave_trees_ac": made.leave_trees_ac,
        "shortfalls": list(made.shortfalls),
        # How the same is said again in other units.
        "short_of": [[text.code, text.values] for text in made.shortfalls if isinstance(text, Sentence)],
    }


def searched(request: HttpRequest, name: str, number: int) -> HttpResponse:
    """How far the search is; a POST stops it."""
    work = desk_work.stop(number) if request.method == "POST" else desk_work.of(number)
    result = work.result or {}
    short_of = [sentence(code, **values) for code, values in result.get("short_of", ())] or result.get("shortfalls", ())
    context = {
        "job": work,
        "address": _address(name, number),
        "title": "Search",
        "marking": result,
        "short_of": short_of,
    }
    return render(request, "search_done.html" if work.ended else "job.html", context)


def on_table(name: str) -> tuple[dict[str, list[str]], dict[str, Any]]:
    """Stems that the marking on the table of who asks leaves, and those it takes; and how it was made. Raises NotFound
    when nothing was marked yet; Misuse when the map has other stems since."""
    if desk_work.draft("marking", name) is None:
        raise NotFound(
            f"nothing is marked in {name} yet.",
            remedy="Mark on the page Light and marking; papers print the marking that lies there.",
        )
    with asking.DESK.at_table:
        table, _ = _table(name)
        if table.carried_over:
            raise Misuse(
                f"the stem map of {name} has other stems since its marking was made.",
                remedy="Look at the marking on the page Light and marking and change or search it once more.",
            )
        leave, made = table.leave, table.made
    return {
        name: sorted(stem for stem, stays in leave.items() if stays is left)
        for name, left in (("left", True), ("taken", False))
    }, made
