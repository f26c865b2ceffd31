"""The plan of the whole property: strips of years by stand, loads beside what there is, and the limits that bind it."""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import render
from django.views.decorators.http import require_POST

from overwood.desk import kept, office, plan, session
from overwood.desk import work as desk_work
from overwood.faces.pages import asking, property, units
from overwood.faces.pages.guard import FIELD
from overwood.faces.telling import planned
from overwood.ground import measures
from overwood.ground.errors import Misuse, NotFound
from overwood.judgement.futures.courses import load as courses
from overwood.judgement.plan.answer import Plan, StandPlan, standing
from overwood.judgement.plan.limits import Limits, parse
from overwood.judgement.rules import toml_file

PLAN = plan.PLAN
# Fields of the form that are one number: the table and entry of the limits, and the label beside them.
_NUMBERS = {
    "years": ("", "years", "Years planned"),
    "crew_days": ("crew", "days_a_year", "Crew days a year (or one number a year: 40; 40; 20)"),
    "burn_days": ("burn", "days_a_year", "Burn days a year (or one number a year)"),
    "spend_usd": ("money", "spend_usd_a_year", "Spent on work a year at most, US$ (or one number a year)"),
    "value_usd": ("money", "value_at_least_usd", "Present value at least, US$"),
    "apart_yr": ("openings", "apart_yr", "Touching stands opened so many years apart"),
    "largest_ac": ("openings", "largest_ac", "... or together no larger than"),
    "chance": ("openings", "chance", "... but with this chance at the most, 0 to 1"),
    "touching_ft": ("openings", "touching_ft", "Outlines so near touch"),
    "old_share": ("old", "share", "Share of the ground that stays in old trees, 0 to 1"),
    "old_age": ("old", "age_yr", "Old from this age on, years"),
}
_UNITS = {"largest_ac": "acres", "touching_ft": "ft"}
# A load's bar is so wide [px] at the largest load of its kind.
_BAR = 220.0
# Chances from which a cell of a strip is the darker.
_SHADES = (0.75, 0.35)


def page(request: HttpRequest) -> HttpResponse:
    """The plan kept last, and the form of its limits."""
    newest_plan, unread = _newest()
    # Without a form of one's own the limits are those of the plan on the page: planned again, it stays the same.
    values = _values() or (_form_of(newest_plan[0].limits) if newest_plan else {})
    context: dict[str, Any] = {
        "title": "Plan",
        "numbers": [_field(name, label, values.get(name, "")) for name, (_, _, label) in _NUMBERS.items()],
        "rows": _rows(values),
        "together": values.get("together", ""),
        "neighbors": values.get("neighbors", ""),
        "courses": [course.name for course in courses(None)],
        "has_prices": asking.price_path() is not None,
        "unread": unread,
    }
    return render(request, "plan.html", {**context, **(_shown(*newest_plan) if newest_plan else {})})


def _field(name: str, label: str, value: str) -> tuple[str, str, str]:
    """A field of the form, in the units in force."""
    if name not in _UNITS:
        return name, label, value
    return name, f"{label}, {measures.unit_word(_UNITS[name])}", units.shown(value, _UNITS[name])


def _newest() -> tuple[tuple[Plan, kept.KeptAnswer] | None, str]:
    """The plan kept last, or why it is not shown."""
    try:
        return plan.newest(), ""
    except kept.Unread as fault:
        return None, str(fault)


def _values() -> dict[str, str]:
    draft = desk_work.draft(PLAN, kept.PROPERTY)
    return dict(draft.content) if draft else {}


def _form_of(limits: Limits) -> dict[str, str]:
    """Limits as the form holds them: what :func:`limits_text` reads back, what binds nothing being left out."""
    numbers: dict[str, float | Sequence[float] | None] = {
        "years": limits.years, "crew_days": limits.crew_days, "burn_days": limits.burn_days,
        "spend_usd": limits.spend_usd, "value_usd": limits.value_at_least_usd, "apart_yr": limits.apart_yr,
        "largest_ac": limits.largest_ac, "chance": limits.apart_yr and limits.opening_chance,
        "touching_ft": limits.apart_yr and limits.touching_ft, "old_share": limits.old_share,
        "old_age": limits.old_share and limits.old_age_yr,
    }  # fmt: skip
    values = {name: _typed(number) for name, number in numbers.items() if number}
    for name, groups in (("together", limits.begin_together), ("neighbors", limits.neighbors)):
        values |= {name: "; ".join(map(", ".join, groups))} if groups else {}
    for pin in limits.pins:
        values |= {f"course {pin.stand}": pin.course} if pin.course else {}
        values |= {f"begin {pin.stand}": str(pin.begin)} if pin.begin is not None else {}
    return values | {f"alone {stand}": "on" for stand in limits.left_alone}


def _typed(number: float | Sequence[float]) -> str:
    """A number, or one a year, as a person types it."""
    each = number if isinstance(number, Sequence) else (number,)
    return "; ".join(f"{one:.10g}" for one in (each if len(set(each)) > 1 else each[:1]))


def _rows(values: dict[str, str]) -> list[dict[str, str]]:
    """A row of the form for each stand: left alone, and what is pinned."""
    return [
        {
            "stand": stand.stand,
            "alone": values.get(f"alone {stand.stand}", ""),
            "course": values.get(f"course {stand.stand}", ""),
            "begin": values.get(f"begin {stand.stand}", ""),
        }
        for stand in session.stands()
    ]


@require_POST
def run(request: HttpRequest) -> HttpResponse:
    """Take the limits of the form down, and begin the plan."""
    values = {name: value.strip() for name, value in request.POST.items() if isinstance(value, str) and value.strip()}
    values.pop("csrfmiddlewaretoken", None)
    if "years" not in request.POST:
        raise Misuse("the form of the limits did not come whole.", remedy="Load the page again.")
    held = _values()
    values |= {
        name: units.in_us(values, values[name], unit, held.get(name, ""))
        for name, unit in _UNITS.items()
        if name in values
    }
    values.pop(FIELD, None)
    work = begin(limits_text(values))
    desk_work.keep_draft(PLAN, kept.PROPERTY, "", values, None)
    return render(request, "job.html", {"job": work, "address": _address(work.number), "title": "Plan"})


def begin(limits: str) -> desk_work.Work:
    """Begin a plan under the limits of a text. Raises BadRule with the line of the limit that cannot be used."""
    ask = asking.question()
    parse(limits, ask.rules, "the form")
    asked = {"stand": kept.PROPERTY, "on": ask.on.isoformat(), "limits": limits}
    return desk_work.begin(PLAN, "plan of the property", asked, plan.steps())


def newest() -> tuple[Plan, kept.KeptAnswer]:
    """The plan kept last. Raises NotFound when none is kept."""
    newest_plan = plan.newest()
    if newest_plan is None:
        raise NotFound("no plan is kept yet.", remedy="Make one on the page Plan.")
    return newest_plan


def limits_text(form: QueryDict | dict[str, str]) -> str:
    """The limits of a form as the text that a file of limits holds, so that both are read by one reader."""
    tables: dict[str, list[str]] = {}
    for name, (table, entry, _) in _NUMBERS.items():
        if value := str(form.get(name, "")).strip():
            tables.setdefault(table, []).append(f"{entry} = {_number_or_years(value)}")
    if pairs := _groups(form, "neighbors"):
        tables.setdefault("openings", []).append(f"neighbors = [{', '.join(map(_list, pairs))}]")
    stands = [stand.stand for stand in session.stands()]
    alone = [stand for stand in stands if form.get(f"alone {stand}")]
    top = [*tables.pop("", []), *([f"leave_alone = {_list(alone)}"] if alone else [])]
    parts = ["\n".join(top), *(f"[{table}]\n" + "\n".join(lines) for table, lines in tables.items())]
    parts += [f"[[begin_together]]\nstands = {_list(group)}" for group in _groups(form, "together")]
    return "\n".join([*parts, *(pin for stand in stands if (pin := _pin(stand, form)))])


def _number_or_years(value: str) -> str:
    """One number, or a list of one a year apart by semicolons."""
    if ";" not in value:
        return toml_file.number_or_text(value)
    return f"[{', '.join(toml_file.number_or_text(one.strip()) for one in value.split(';'))}]"


def _groups(form: QueryDict | dict[str, str], name: str) -> list[list[str]]:
    """Groups of stands of a field: stands apart by a comma, groups by a semicolon."""
    listed = [[one.strip() for one in group.split(",")] for group in str(form.get(name, "")).split(";")]
    return [stands for group in listed if (stands := [one for one in group if one])]


def _list(stands: list[str]) -> str:
    return f"[{', '.join(map(toml_file.as_text, stands))}]"


def _pin(stand: str, form: QueryDict | dict[str, str]) -> str:
    course, begin = str(form.get(f"course {stand}", "")).strip(), str(form.get(f"begin {stand}", "")).strip()
    if not course and not begin:
        return ""
    lines = ["[[pin]]", f"stand = {toml_file.as_text(stand)}"]
    lines += [f"course = {toml_file.as_text(course)}"] if course else []
    lines += [f"begin = {toml_file.number_or_text(begin)}"] if begin else []
    return "\n".join(lines)


def do_run(asked: dict[str, Any], step: desk_work.Step) -> dict[str, Any]:
    """The plan itself, as a worker makes it."""
    ask = asking.question(asked["on"])
    told = plan.PlanAsked(limits=parse(asked["limits"], ask.rules, "the form"))
    made = plan.make(told, ask, step)
    if not isinstance(made, Plan):
        raise Misuse(
            "no plan keeps all these limits: " + "; ".join(planned.clashes(made)) + ".",
            remedy="Loosen any one of them.",
        )
    return {"answer": plan.keep(made, ask, told).number}


def running(request: HttpRequest, number: int) -> HttpResponse:
    """How far the plan is, and the plan once it is made; a POST stops it."""
    work = desk_work.stop(number) if request.method == "POST" else desk_work.of(number)
    if not work.ended:
        return render(request, "job.html", {"job": work, "address": _address(number), "title": "Plan"})
    if work.fault:
        raise NotFound(work.fault)
    return render(request, "plan_done.html", {"title": "Plan", **_shown(*newest())})


def orders(request: HttpRequest) -> HttpResponse:
    """The orders of the first year of the plan kept last, as PDF."""
    from overwood.faces.pages.papers import PRESS
    from overwood.faces.papers import press, year_orders

    made, answer = newest()
    with PRESS.turn(office.acting()), tempfile.TemporaryDirectory() as folder, press.printed_from(answer.words):
        target = Path(folder) / "orders.pdf"
        year_orders.write(made, target)
        response = HttpResponse(target.read_bytes(), content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="orders-{made.seasons[0].replace("/", "-")}.pdf"'
    return response


def calendar(request: HttpRequest) -> HttpResponse:
    """The works of the first five years of the plan kept last, as iCalendar."""
    from overwood.desk import calendar as desk

    made, _ = newest()
    text = desk.text(planned.seasons(made), made.on)
    response = HttpResponse(text, content_type="text/calendar; charset=utf-8")
    response["Content-Disposition"] = 'attachment; filename="plan.ics"'
    return response


def _shown(made: Plan, answer: kept.KeptAnswer) -> dict[str, Any]:
    """What the page shows of a plan."""
    return {
        "plan": made,
        "answer": answer,
        "words": planned,
        "head": planned.head(made),
        "heading": planned.title(made),
        "strips": (strips := [_strip(made, one) for one in made.stands]),
        "map": _map(made, strips),
        "orders": [tuple(zip(planned.headings(planned.ORDERS), row, strict=True)) for row in planned.orders(made)],
        "order_headings": planned.headings(planned.ORDERS),
        "differing": planned.differing(made),
        "loads": _bars(made),
        "curve": planned.curve(made),
        "curve_note": planned.CURVE_NOTE,
        "settled": planned.settled(made),
        "moved": planned.moved(made),
        "made": planned.made(made),
        "cautions": planned.cautions(made),
        "years": [{"season": season, "standing": standing(year)} for year, season in enumerate(made.seasons)],
    }


def _strip(made: Plan, one: StandPlan) -> dict[str, Any]:
    """A stand with a cell for each year: its works there, and how sure the surest is."""
    cells = []
    for year in range(made.years):
        works = [work for work in one.works if work.year == year]
        surest = max((work.chance for work in works), default=0.0)
        shade = next((number for number, least in enumerate(_SHADES, start=1) if surest >= least), 3 if works else 0)
        cells.append(
            {
                "season": made.seasons[year],
                "shade": shade,
                "works": [(work.operation, _percent(work.chance)) for work in works],
            }
        )
    chance = "" if one.begins is None else planned.chance(made, one)
    area = measures.digits(one.area_ac, "acres", "g")
    return {"stand": one.stand, "area": area, "course": one.course, "chance": chance, "cells": cells}


def _percent(chance: float) -> str:
    """A chance in whole percent; one that is not nothing is not told as nothing."""
    return "under 1%" if f"{chance:.0%}" == "0%" else f"{chance:.0%}"


def _map(made: Plan, strips: list[dict[str, Any]]) -> dict[str, Any] | None:
    """The stands as shapes with a shade for each year, and what each year says; None where no outline is on record."""
    cells = {strip["stand"]: strip["cells"] for strip in strips}
    drawn = property.shapes_of({one.stand: one.boundary_wkt for one in session.stands() if one.stand in cells}, {})
    if drawn is None:
        return None
    shapes = [{**shape, "shades": [cell["shade"] for cell in cells[shape["name"]]]} for shape in drawn["stands"]]
    said = []
    for year, season in enumerate(made.seasons):
        works = [f"{stand} {work} {chance}" for stand, row in cells.items() for work, chance in row[year]["works"]]
        said.append(f"{season} ({standing(year)}): {'; '.join(works) or 'no work'}")
    return {"box": drawn["box"], "shapes": shapes, "said": said, "last": made.years - 1}


def _bars(made: Plan) -> list[dict[str, Any]]:
    """Loads of each kind that takes anything, with bars on one scale a kind."""
    groups = []
    for kind in dict.fromkeys(load.kind for load in made.judged.loads):
        rows = [load for load in made.judged.loads if load.kind == kind]
        if not any(load.mean > 0 for load in rows):
            continue
        # A load that is told as nothing is drawn as nothing.
        scale = _BAR / max(1.0, *(max(load.high, load.mean, load.capacity or 0.0) for load in rows))
        texts = {
            row[1]: row
            for row in planned.loads(made)
            if row[0].startswith(kind) or (kind == "money" and row[0].startswith("spent"))
        }
        bars = [
            {
                "season": planned.span(made, load),
                "mean": round(scale * load.mean, 1),
                "low": round(scale * load.low, 1),
                "high": round(scale * load.high, 1),
                "capacity": None if load.capacity is None else round(scale * load.capacity, 1),
                "words": texts.get(planned.span(made, load), ()),
            }
            for load in rows
        ]
        groups.append({"kind": "Spent on work, US$" if kind == "money" else kind.capitalize(), "bars": bars})
    return groups


def _address(number: int) -> str:
    return f"/plan/run/{number}/"
