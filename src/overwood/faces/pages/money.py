"""Timber and choices: what stands there, what it is worth by the user's list, what each choice pays."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from overwood.desk import timber
from overwood.faces.pages import asking
from overwood.ground.errors import NotFound
from overwood.judgement.course.steps import caution


def page(request: HttpRequest, name: str) -> HttpResponse:
    """Volume, value and choices; choices need a price list."""
    ask, listed = asking.question(), asking.prices()
    context = {
        "title": f"Money, {name}",
        "name": name,
        "cautions": [caution("money")],
        "prices": listed,
        "found": None,
        "choices": None,
        "missing": "",
    }
    try:
        context["found"] = asking.kept(f"timber {name}", ask, lambda: timber.timber(name, ask, listed, ""))
        if listed is not None:
            context["choices"] = asking.kept(f"choices {name}", ask, lambda: timber.compare(name, ask, listed))
    except NotFound as fault:
        context["missing"] = str(fault)
    return render(request, "money.html", context)
