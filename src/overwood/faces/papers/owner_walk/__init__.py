"""The owner's walk as cards in words and pictures, and as a leaflet of two sides."""

from __future__ import annotations

import calendar
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from overwood.desk import codes
from overwood.desk.owner_walk import Card, OwnerWalk
from overwood.faces.papers import press
from overwood.ground import measures, tables
from overwood.ground.errors import Misuse
from overwood.ground.figure import Figure
from overwood.judgement.course.steps import caution

_DOT, _GAP = 13, 4


def words() -> dict[str, dict[str, str]]:
    """Titles and words of every branch of every card."""
    return tables.words("faces/papers/owner_walk/words.toml")


def text(card: Card, step: str) -> str:
    """What a card says."""
    entry = words()[card.name][card.branch]
    foot = measures.amount(1, "ft", "g") if measures.is_metric() else "a foot"
    about = "fewer than 1" if card.tenths == 0 else f"about {card.tenths}"
    return entry.format(
        k=card.tenths, about=about, About=about[:1].upper() + about[1:], step=step[:1].lower() + step[1:], foot=foot
    )


def picture(card: Card) -> str:
    """The count out of ten as dots, or the months of a season; nothing where a card has neither."""
    if card.tenths is not None:
        return _dots(card.tenths)
    if card.months:
        return _year(card.months)
    return _sign(_SIGNS[card.branch][0]) if card.branch in _SIGNS else _dots(0, known=False)


def off_by(card: Card) -> str:
    """How far the count may be off; nothing where no interval stands behind it."""
    return "" if card.off_by is None else f"may be off by {card.off_by}" if card.off_by else "off by less than 1"


def picture_says(card: Card) -> str:
    """The picture for who does not see it."""
    if card.tenths is not None:
        return f"{card.tenths} of 10 dots filled"
    if card.months:
        return f"Months marked: {', '.join(calendar.month_name[month] for month in card.months)}"
    return _SIGNS[card.branch][1] if card.branch in _SIGNS else "Ten empty dots: not known"


# What is drawn where the answer is known and is no count.
_SIGNS = {
    "no": ("\u00d7", "A cross: no"),
    "unsure": ("?", "A question mark: not sure"),
    "yes": ("!", "A mark: yes, with care"),
    "opened": ("!", "A mark: these were left on purpose"),
    "thin": ("!", "A mark: as it should be"),
    "grow": ("!", "A mark: let them grow"),
    "wait": ("...", "Three dots: wait"),
    "look": ("...", "Three dots: look"),
    "treat": ("...", "Three dots: to be done"),
    "cut": ("...", "Three dots: to be done"),
    "cut_unsure": ("?", "A question mark: not sure"),
}


def _sign(mark: str) -> str:
    ink = press.LOOK["oak"]
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 150 60"><circle cx="30" cy="30" r="27" '
        f'fill="#FFFFFF" stroke="{ink}" '
        'stroke-width="2"/><text x="30" y="41" font-size="32" text-anchor="middle" '
        f'font-family="{press.FONT}" fill="{ink}">{mark}</text></svg>'
    )


def _dots(filled: int, *, known: bool = True) -> str:
    step, ink = 2 * _DOT + _GAP, press.LOOK["oak"]
    dash = "" if known else ' stroke-dasharray="3 3"'
    marks = "".join(
        f'<circle cx="{_DOT + 1 + (at % 5) * step}" cy="{_DOT + 1 + (at // 5) * step}" r="{_DOT - 1}" '
        f'fill="{ink if at < filled else "#FFFFFF"}" stroke="{ink}" stroke-width="1.6"{dash}/>'
        for at in range(10)
    )
    return f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {5 * step} {2 * step}">{marks}</svg>'


def _year(months: tuple[int, ...]) -> str:
    ink, side = press.LOOK["oak"], 24
    boxes = "".join(
        f'<rect x="{(month - 1) % 6 * side + 1}" y="{(month - 1) // 6 * side + 1}" width="{side - 2}" '
        f'height="{side - 2}" '
        f'fill="{ink if month in months else "#FFFFFF"}" stroke="{ink}" stroke-width="1.2"/>'
        f'<text x="{(month - 1) % 6 * side + side / 2}" y="{(month - 1) // 6 * side + 16}" font-size="11" '
        'text-anchor="middle" '
        f'font-family="{press.FONT}" '
        f'fill="{"#FFFFFF" if month in months else press.LOOK["pencil"]}">{calendar.month_abbr[month][0]}</text>'
        for month in range(1, 13)
    )
    return f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {6 * side} {2 * side}">{boxes}</svg>'


def write(walk: OwnerWalk, on: Any, target: Path) -> None:
    """Write the leaflet as PDF: two sides, five stops each."""
    press.set_pdf("owner_walk/leaflet.typ", content(walk, on), target)


def content(walk: OwnerWalk, on: Any) -> dict[str, Any]:
    """Everything the leaflet prints."""
    listed = dict.fromkeys(text for card in walk.cards for text in card.cautions)
    return {
        "title": f"A walk in your woods: {walk.name}",
        "subtitle": f"Stand {walk.stand}, {on.day} {on:%B %Y}. Ten stops.",
        "footer": "Overwood. A bet, not a promise.",
        "cards": [
            {
                "number": str(number),
                "title": words()[card.name]["title"],
                "text": text(card, walk.step),
                "picture": picture(card),
                "alt": picture_says(card),
                "off": off_by(card),
            }
            for number, card in enumerate(walk.cards, start=1)
        ],
        "cautions": list(listed),
    }


def questions() -> dict[str, dict[str, Any]]:
    """What a teacher asks at each stop, and what people do there."""
    return tables.words("faces/papers/owner_walk/questions.toml")


def chosen(walk: OwnerWalk, names: Sequence[str]) -> OwnerWalk:
    """The walk with these cards alone, in the order they are named; all of them where none is. Raises Misuse when a
    card is not one of the walk, or is named twice."""
    by_name = {card.name: card for card in walk.cards}
    wrong = [name for name in names if name not in by_name or list(names).count(name) > 1]
    if wrong:
        raise Misuse(
            f"{wrong[0]!r} is no card of the walk, or is named twice.", remedy=f"There are {', '.join(by_name)}."
        )
    return replace(walk, cards=tuple(by_name[name] for name in names)) if names else walk


def write_stations(walk: OwnerWalk, on: Any, target: Path, address: str = "") -> None:
    """Write a sheet for each stop of a field day as PDF: its number, words, questions, and a code for a phone."""
    press.set_pdf("owner_walk/stations.typ", station_content(walk, on, address), target)


def station_content(owner_walk: OwnerWalk, on: Any, address: str = "") -> dict[str, Any]:
    """Everything the sheets print; a code holds the words of its stop, or leads to them where an ``address`` of the
    walk is given."""
    walk = content(owner_walk, on)
    stations = [
        {
            **shown,
            **questions()[card.name],
            "cautions": [*card.cautions, caution("field")],
            "code": codes.drawn(
                f"{address}#{card.name}" if address else f"{shown['number']}. {shown['title']}\n{shown['text']}"
            ),
        }
        for shown, card in zip(walk["cards"], owner_walk.cards, strict=True)
    ]
    return {
        **walk,
        "subtitle": f"Stand {owner_walk.stand}, {on.day} {on:%B %Y}.",
        "stations": stations,
        "code_says": "The page of this stop" if address else "The words of this stop, for a phone; no signal needed",
    }


def chain(card: Card, figures: dict[str, Figure]) -> list[dict[str, str]]:
    """The figures behind a card: what each is, its span, and on how many looks it rests."""
    return [_link(figures[name]) for name in card.figures if name in figures]


def _link(figure: Figure) -> dict[str, str]:
    if not figure.measured:
        return {"name": figure.name, "says": f"not measured: {figure.note}"}
    scale, unit = (100.0, "%") if figure.unit == "share" else (1.0, figure.unit)
    low, high = figure.low, figure.high
    ends = (
        ""
        if low is None or high is None
        else f" ({measures.digits(scale * low, unit, ',.0f')} to {measures.digits(scale * high, unit, ',.0f')})"
    )
    looks = f", from {figure.n} looks" if figure.n else ""
    value = measures.digits(scale * figure.number, unit, ",.1f")
    said = measures.with_unit(value, measures.unit_word(unit), ends)
    return {"name": figure.name, "says": f"{said}{looks}; {figure.method}"}
