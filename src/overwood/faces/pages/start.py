"""The first steps in an empty book: a property with its first stand, or the invented example to look at."""

from __future__ import annotations

import datetime as dt

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.views.decorators.http import require_POST

from overwood.desk import entering, importing, session
from overwood.faces.pages import asking, fields
from overwood.faces.pages.records import status_of, told
from overwood.faces.pages.stand import quoted
from overwood.ground.errors import Misuse


@require_POST
def begin(request: HttpRequest) -> HttpResponse:
    """Write the first property and stand down, or bring the example in; the next page says what comes next."""
    if session.stands():
        raise Misuse("the book holds stands already.", remedy="Add another one under Records.")
    return _example(request) if request.POST.get("example") else _first_stand(request)


def _example(request: HttpRequest) -> HttpResponse:
    if session.owner():
        raise Misuse("the book holds a property already.", remedy="Keep the example in a book of its own.")
    report = importing.bring_in(session.invented() / "vesperlick", today=dt.date.today())
    asking.note(request, f"the invented example, entry {report.batch}")
    return HttpResponseRedirect("/")


def _first_stand(request: HttpRequest) -> HttpResponse:
    given = {name: request.POST.get(name, "").strip() for name in ("property", "stand", "area_ac")}
    owner = session.owner()
    is_known = owner is not None and owner.property == given["property"]
    tables = {} if is_known else {"properties": [{"property": given["property"], "name": given["property"]}]}
    first = given | {"area_ac": fields.in_us(request.POST, "stands", "area_ac", given["area_ac"])}
    tables |= {"stands": [first]} if given["stand"] else {}
    report = entering.enter(tables, today=dt.date.today(), name="typed first stand")
    asking.note(request, told(report))
    if report.batch and not given["stand"]:
        return HttpResponseRedirect("/")
    if report.batch:
        return HttpResponseRedirect(f"/tally/{quoted(given['stand'])}/?kind=cruise")
    context = {"title": "Property", "count": 0, "owner": owner, "report": report, "given": given}
    return render(request, "property.html", context, status=status_of(report))
