"""Figures and days in words, for the templates."""

from __future__ import annotations

import datetime as dt
import functools
import re
from collections.abc import Callable
from typing import Any
from urllib.parse import quote

from django import template
from django.utils.html import format_html
from django.utils.text import Truncator, slugify

from overwood.desk import session
from overwood.faces.pages import fields
from overwood.faces.telling import figures as output
from overwood.ground import measures
from overwood.ground.figure import Figure
from overwood.ground.meanings import terms
from overwood.judgement.fire import card
from overwood.judgement.gates import UNSURE, Gate
from overwood.judgement.rules import Rule

# Square and cubic units, where no letter or figure goes on.
_POWERS = re.compile(r"\b(ft|in|cm|m)([23])(?![\w])")
register = template.Library()
register.filter("of_ten", output.of_ten)
register.filter("log_rule", measures.log_rule_words)


@register.filter
def typeset(text: str) -> str:
    """Square and cubic feet, and meters, as they are printed."""
    return _POWERS.sub(lambda unit: unit[1] + "²³"[unit[2] == "3"], str(text))


@register.filter
def value_of(figure: Figure) -> str:
    """The value with its unit."""
    value, _, unit = output.shown(figure)
    return typeset(measures.with_unit(value, unit)) if figure.measured else "not measured"


@register.filter
def span_of(figure: Figure) -> str:
    """The interval in words, or what is missing."""
    _, span, note = output.shown(figure)
    return span if figure.measured else note


@register.filter
def sign(good: bool | None) -> str:
    """The style of an answer that is good for going on, bad for it, or silent."""
    return {True: "good-sign", False: "bad-sign", None: "open-sign"}[good]


@register.filter
def state(gate: Gate) -> str:
    """The style of a gate's answer: good or bad for going on, in doubt, or silent."""
    return "doubt-sign" if gate.answer == UNSURE else sign(gate.good)


@register.filter
def day_of(day: dt.date) -> str:
    return f"{day.day} {day:%B %Y}"


@register.filter
def sentence(text: str) -> str:
    """A text as a sentence; a name it begins with, as of a file or a figure, keeps its letters."""
    text = str(text).strip()
    first = text.split(maxsplit=1)[0].rstrip(",;:.") if text else ""
    if first.replace("-", "").replace("'", "").isalpha():
        text = f"{text[:1].upper()}{text[1:]}"
    text = typeset(text)
    return text + ("" if not text or text.endswith((".", "?", "!")) else ".")


@register.filter
def in_address(text: str) -> str:
    """A name as a part of an address."""
    return quote(str(text), safe="")


@register.filter
def whole(value: Any) -> str:
    return "" if value is None else f"{float(value):,.0f}"


def _in_force(say: Callable[[float, str, str], str], digits: str, value: Any, unit: str) -> str:
    return "" if value in (None, "") else say(float(value), unit, digits)


# A value given in a US unit, in the system in force: with its unit, or the number alone; "" where there is none.
for _name, _say, _digits in (
    ("measured", measures.amount, "g"),
    ("rounded", measures.amount, ",.0f"),
    ("tenths", measures.amount, ",.1f"),
    ("hundredths", measures.amount, ",.2f"),
    ("number_in", measures.digits, ",.0f"),
    ("tenth", measures.digits, ",.1f"),
    ("hundredth", measures.digits, ",.2f"),
):
    register.filter(_name, functools.partial(_in_force, _say, _digits))


@register.filter
def number_tried(rule: Rule) -> str:
    """A number of the rulebook that may be moved: what it is, what it is now, and its range."""
    what = Truncator(cut_name(rule.words)).chars(90)
    low, now, high = (measures.digits(end, rule.unit, "g") for end in rule.span)
    said = measures.with_unit(now, measures.unit_word(rule.unit))
    return f"{what[:1].upper()}{what[1:]}: now {said}, may be {low} to {high}"


@register.filter
def line_label(what: str) -> str:
    """A line of the burn prescription by its name, with the height of its wind in the units in force."""
    return card.label(what)


@register.filter
def dbh_class(label: str) -> str:
    """A class of diameters such as '2-4' or '12+', its limits in the units in force."""
    return measures.limits(label, "in.")


@register.simple_tag
def unit(word: str) -> str:
    """A unit in the system in force, for a heading."""
    return typeset(measures.unit_word(word))


register.simple_tag(fields.name, name="field_name")


@register.simple_tag
def field_value(table: str, column: str, text: str) -> str:
    """A stored value of a record in the units in force; what is blank is said to be."""
    return fields.value(table, column, text) or "blank"


@register.filter
def cut_name(name: str) -> str:
    """A name of the books as words."""
    return str(name).replace("_", " ")


@register.filter
def split(text: str) -> list[str]:
    return text.split()


@register.filter
def entry(row: dict[str, str], column: str) -> str:
    """What a line of a form has in a column."""
    return row.get(column, "")


@register.filter
def of_key(words: dict[str, str], key: str) -> str:
    """What is said of one of several; "" where nothing is."""
    return words.get(key, "")


@register.filter
def percent(share: float) -> str:
    return f"{share:.0%}"


register.filter("anchor", slugify)


@register.inclusion_tag("stand_head.html", takes_context=True)
def stand_head(context: template.Context, what: str, kind: str = "") -> dict[str, str]:
    """The heading of a page of one stand: what it is, the stand by its name, and the same page of those around it."""
    name = context["name"]
    names = {stand.stand: stand.name or "" for stand in session.stands()}
    order = list(names)
    at = order.index(name) if name in names else len(order)
    return {
        "heading": f"{what}, {name}" + (f": {kind}" if kind else ""),
        "stand_name": names.get(name, ""),
        "part": context["part"],
        "before": order[at - 1] if 0 < at < len(order) else "",
        "after": order[at + 1] if at + 1 < len(order) else "",
    }


@register.simple_tag(takes_context=True)
def sheet_words(context: template.Context) -> str:
    """What stands at the head of every printed sheet: property and stand, or the page, and the day."""
    place = session.place_words(str(context.get("name", "")))
    title = str(context.get("title", ""))
    return "; ".join(part for part in (place, "" if title in place else title, day_of(context["day"])) if part)


@register.simple_tag
def term(label: str, word: str = "") -> str:
    """A label with the help for a word of the trade beside it: its meaning on hover, the page of words on a click.
    Raises KeyError when the word is not among the terms."""
    word = word or label.lower()
    meaning = terms()[word]
    return format_html(
        '{} <a class="help" href="/words/#{}" title="{}" aria-label="What {} means">?</a>',
        label,
        slugify(word),
        meaning,
        word,
    )
