"""The owner's walk as a page: ten cards, no script needed."""

from __future__ import annotations

import base64

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from overwood.desk import owner_walk
from overwood.faces.pages import asking, coming, stand
from overwood.faces.papers import owner_walk as paper

_WALK = "owner's walk {}"


@coming.at_once("Owner's walk", lambda _request, given: (_WALK.format(given["name"]),))
def page(request: HttpRequest, name: str) -> HttpResponse:
    """The ten cards of a stand, or those asked for, each with the figures it rests on; with a teacher's questions where
    they are asked for."""
    names = [text for text in request.GET.get("cards", "").split(",") if text]
    ask = asking.question()
    walk = asking.kept(_WALK.format(name), ask, lambda: owner_walk.answer_of(name, ask)).answer
    leaflet = paper.chosen(walk, names)
    is_taught = "questions" in request.GET
    shown = [
        {
            "name": card.name,
            "questions": paper.questions()[card.name] if is_taught else None,
            "title": paper.words()[card.name]["title"],
            "text": paper.text(card, leaflet.step),
            "picture": base64.b64encode(paper.picture(card).encode()).decode(),
            "alt": paper.picture_says(card),
            "off": paper.off_by(card),
            "chain": [
                link | {"called": stand.figure_words(link["name"])} for link in paper.chain(card, leaflet.figures)
            ],
            "cautions": card.cautions,
        }
        for card in leaflet.cards
    ]
    return render(
        request,
        "owner_walk.html",
        {"title": f"Owner's walk, {leaflet.name}", "name": leaflet.stand, "walk": leaflet, "cards": shown},
    )
