"""Your prices and costs, and what you found out of the law, as forms; each is also a file to send and to take away."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render

from overwood.desk import own_lists
from overwood.desk.own_lists import LawForm, PriceForm, Row, Rows
from overwood.faces.pages import asking, units
from overwood.ground import measures
from overwood.ground.errors import Misuse, NotFound
from overwood.ground.vocabulary import TREE_GRADES
from overwood.judgement import prices as price_lists
from overwood.judgement.fire import card
from overwood.science.timber import BOARD_RULES

# What turns a number: its text, its US unit, and what stood at its place before.
Turned = Callable[[str, str, str], str]
# Blank lines below those that are there.
_BLANK = 4
_MOST_LINES = 300
# Each cost in words, and the unit it is given by.
_COST_WORDS = {
    "injection": ("Injection", "an acre"),
    "burn": ("Burn", "an acre"),
    "marking": ("Marking", "an acre"),
    "cruise": ("Cruise", "an acre"),
    "count": ("Count of reproduction", "an acre"),
    "weeding": ("Release of young oaks", "an acre"),
    "planting_per_tree": ("Planting", "a tree"),
    "fence_per_ft": ("Fence", "a foot"),
    "road_each": ("Road", "each entry"),
    "sale_fee_share": ("Sale fee", "share of the price (0 to 1)"),
    "mobilisation_each": ("Moving a crew in", "each entry"),
}
_MONEY = ("low", "mean", "high")
_SHARE_UNITS = {"rate_usd_ac": "US$/ac", "acres": "acres"}
_WEIGHT = "tons"


def prices(request: HttpRequest) -> HttpResponse:
    """The price list and costs in force; a POST keeps a new one."""
    if request.method == "POST":
        _keep_prices(request)
        return HttpResponseRedirect("/prices/#kept")
    listed = asking.prices()
    form = _said(own_lists.price_form(listed))
    context = {
        "title": "Prices and costs",
        "listed": listed,
        "form": form,
        "lines": _numbered(form.lines),
        "shares": _numbered(form.shares),
        "costs": [
            (name, f"{words}, {measures.unit_word(by)}", form.costs.get(name, ""))
            for name, (words, by) in _COST_WORDS.items()
        ],
        "products": price_lists.PRODUCT_UNITS,
        "units": [(unit, measures.unit_word(unit)) for unit in price_lists.UNITS],
        "grades": TREE_GRADES,
        "rules": BOARD_RULES,
        "shared": price_lists.SHARED_WORK,
        "seen": _mark(asking.DESK.own_prices),
    }
    return render(request, "prices.html", context)


def law(request: HttpRequest) -> HttpResponse:
    """What was found out of the law for burning; a POST keeps it."""
    if request.method == "POST":
        _keep_law(request)
        return HttpResponseRedirect("/law/#kept")
    form = own_lists.law_form(asking.law())
    context = {"title": "Law and legal hours", "law": asking.law(), "form": form, "closed": _numbered(form.closed)}
    return render(request, "law.html", context | {"seen": _mark(asking.DESK.own_law)})


def price_file(_request: HttpRequest) -> HttpResponse:
    """The price list in force as its file."""
    path = asking.price_path()
    if path is None:
        raise NotFound("there is no price list yet.", remedy="Type one on the page of prices and costs.")
    return _file_of(path.read_bytes(), "prices.toml")


def law_file(_request: HttpRequest) -> HttpResponse:
    """What was found out of the law as its file; an empty one to be filled in where nothing was."""
    path = asking.law_path()
    return _file_of(path.read_bytes() if path else card.law_template().encode(), "law.toml")


def _file_of(content: bytes, name: str) -> HttpResponse:
    response = HttpResponse(content, content_type="application/toml; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    return response


def _mark(path: Path) -> str:
    """What changes when a list is written."""
    return str(path.stat().st_mtime_ns) if path.exists() else ""


def _unchanged(request: HttpRequest, path: Path) -> None:
    """Refuse a form that was filled in before the list was changed elsewhere. Raises Misuse so that neither of two
    people, or of two tabs, writes over the other unseen."""
    if asking.typed(request, "seen") != _mark(path):
        remedy = "What is in force is said above; what you typed is in the form. Compare them, then keep yours again."
        raise Misuse("this list was changed elsewhere since the page was opened.", remedy=remedy)


def _keep_prices(request: HttpRequest) -> None:
    sent, path = _file(request), asking.DESK.own_prices
    _unchanged(request, path)
    if sent is not None:
        with asking.at_field("file"):
            listed = own_lists.send_in(path, sent.read(), price_lists.load)
    else:
        head = {
            name: asking.typed(request, name)
            for name in ("date", "source", "log_rule", "note", "tons_per_mbf", "weight_source")
        }
        costs = {name: asking.typed(request, f"cost.{name}") for name in _COST_WORDS}
        lines = _rows(request, "price", own_lists.PRICE_COLUMNS, but=("product", "unit", "grade"))
        shares = _rows(request, "share", own_lists.SHARE_COLUMNS, but=("work",))
        typed = PriceForm(head=head, lines=lines, costs=costs, shares=shares)
        listed = own_lists.keep_prices(path, _in_us(request, typed))
    asking.note(request, f"the price list: {len(listed.prices)} prices of {listed.date}, {len(listed.costs)} costs")


def _said(form: PriceForm) -> PriceForm:
    """A price list as its form shows it, in the units in force."""
    return _turned(form, lambda text, unit, _: units.shown(text, unit))


def _in_us(request: HttpRequest, typed: PriceForm) -> PriceForm:
    """A typed price list in US units; a number that was left as it was shown is the same number still."""
    before = own_lists.price_form(asking.prices())
    return _turned(typed, lambda text, unit, held: units.in_us(request.POST, text, unit, held), before)


def _turned(form: PriceForm, turn: Turned, before: PriceForm | None = None) -> PriceForm:
    """Each number of a price list with its unit turned; beside it what stood at its place in the US unit."""
    before = before or PriceForm(head={}, lines={}, costs={}, shares={})
    weight = turn(form.head.get("tons_per_mbf", ""), _WEIGHT, before.head.get("tons_per_mbf", ""))
    return PriceForm(
        head={**form.head, "tons_per_mbf": weight},
        lines={
            number: _line(row, dict.fromkeys(_MONEY, row.get("unit", "")), turn, _same_unit(before.lines, number, row))
            for number, row in form.lines.items()
        },
        costs={
            name: turn(value, _COST_WORDS[name][1], before.costs.get(name, "")) for name, value in form.costs.items()
        },
        shares={
            number: _line(row, _SHARE_UNITS, turn, before.shares.get(number, {})) for number, row in form.shares.items()
        },
    )


def _line(row: Row, units_of: Row, turn: Turned, before: Row) -> Row:
    return {
        column: turn(text, units_of[column], before.get(column, "")) if column in units_of else text
        for column, text in row.items()
    }


def _same_unit(lines: Rows, number: int, row: Row) -> Row:
    """The line that stood there, where it was priced by the same unit."""
    before = lines.get(number, {})
    return before if before.get("unit") == row.get("unit") else {}


def _keep_law(request: HttpRequest) -> None:
    sent, path = _file(request), asking.DESK.own_law
    _unchanged(request, path)
    if sent is not None:
        with asking.at_field("file"):
            law = own_lists.send_in(path, sent.read(), card.load_law)
    else:
        head = {name: asking.typed(request, name) for name in own_lists.LAW_TEXTS}
        law = own_lists.keep_law(path, LawForm(head=head, closed=_rows(request, "closed", own_lists.CLOSED_COLUMNS)))
    asking.note(request, f"the law for burning, by {law.filled_by or 'nobody'} on {law.filled_on or 'no day'}")


def _file(request: HttpRequest) -> UploadedFile | None:
    sent = request.FILES.get("file")
    if not isinstance(sent, UploadedFile):
        return None
    if (sent.size or 0) > 1_000_000:
        raise Misuse(
            f"{Path(sent.name or 'file').name} is larger than 1 MB.", remedy="Is it another file?", field="file"
        )
    return sent


def _rows(request: HttpRequest, name: str, columns: tuple[str, ...], but: tuple[str, ...] = ()) -> Rows:
    """The lines of a form that say anything; a choice alone (``but``) says nothing, as a list always has one."""
    rows = {
        number: {column: asking.typed(request, f"{name}.{number}.{column}") for column in columns}
        for number in range(1, _MOST_LINES)
    }
    return {
        number: row for number, row in rows.items() if any(value for column, value in row.items() if column not in but)
    }


def _numbered(rows: Rows) -> list[tuple[int, dict[str, str]]]:
    """The lines and some blank ones, numbered from 1."""
    return list(enumerate([dict(row) for row in rows.values()] + [{} for _ in range(_BLANK)], start=1))
