"""Prices, costs and the law typed on a page: in force at once in every room, a fault at its own line, the list before kept."""

from __future__ import annotations

import datetime as dt
import html
import re

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from conftest import DEMO, ROOT
from overwood.faces.pages import asking, judging
from overwood.judgement import prices as price_lists
from overwood.judgement.fire import card

LIST = {"date": "2025-09-01", "source": "the last three sales", "log_rule": "doyle", "cost.injection": "165", "cost.marking": "25"}
LINES = {
    "price.1.product": "sawlog", "price.1.species": "white oak", "price.1.low": "350", "price.1.mean": "520", "price.1.high": "700",
    "price.1.unit": "US$/MBF", "price.3.product": "sawlog", "price.3.species": "other", "price.3.low": "80", "price.3.mean": "1,200",
    "price.3.high": "1700", "price.3.unit": "US$/MBF", "price.2.product": "veneer", "price.2.unit": "US$/MBF",
}  # fmt: skip


@pytest.fixture
def bare(owner, monkeypatch, demo_book):
    """The demo without a price list."""
    monkeypatch.setattr(asking.DESK, "prices", None)
    monkeypatch.setattr(asking.DESK, "own_prices", demo_book.with_name("book.prices.toml"))
    return owner


def _kept(owner, path, typed):
    """Send the form of a page as it was just opened."""
    seen = re.search(r'name="seen" value="(\d*)"', owner.get(path).content.decode())[1]
    return owner.post(path, {"seen": seen} | typed, headers={"Referer": f"http://testserver{path}"})


def _said(answer):
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", answer.content.decode())).split())


def test_a_typed_price_list_is_in_force_at_once_in_every_room(bare):
    assert "No price list" in _said(bare.get("/money/S6/"))

    assert _kept(bare, "/prices/", LIST | LINES).status_code == 302
    listed = price_lists.load(asking.DESK.own_prices)
    assert [(price.species, price.mean) for price in listed.prices] == [("white oak", 520), ("other", 1200)]
    assert listed.costs == {"injection": 165, "marking": 25} and asking.prices() == listed

    money, whole = _said(bare.get("/money/S6/")), judging.whole(asking.question())
    assert "No price list" not in money and "worth" in money and not whole.left
    # The cost of a step on the property is the list's own: 28 acres of injection.
    assert re.search(r"Inject the midstory 1 28 4,620", _said(bare.get("/")))


@pytest.mark.parametrize(
    ("typed", "field", "words"),
    [
        ({"price.3.species": "wite oak"}, "price.3.product", "Price line 3: species is 'wite oak'"),
        ({"price.1.low": "many"}, "price.1.product", "Price line 1: the low is 'many'"),
        ({"price.1.low": "900"}, "price.1.product", "low 900, mean 520 and high 700 are not in order"),
        ({"log_rule": "cubit"}, "", "log_rule is 'cubit'"),
        ({"cost.sale_fee_share": "10"}, "", "sale_fee_share is 10"),
    ],
)
def test_a_fault_of_a_price_list_is_at_its_line_and_changes_nothing(bare, typed, field, words):
    _kept(bare, "/prices/", LIST | LINES)
    before = asking.DESK.own_prices.read_text()
    page = _kept(bare, "/prices/", LIST | LINES | typed)

    assert page.status_code == 400 and words in _said(page)
    assert re.search(rf'id="beside"[^>]*data-field="{field}"', page.content.decode())
    assert asking.DESK.own_prices.read_text() == before


def test_what_the_page_shows_and_keeps_again_is_the_same_list_and_the_one_before_is_kept(bare):
    share = '[[cost_share]]\ncode = "666"\nwork = "weeding"\nrate_usd_ac = 90\nnote = "until \\"May\\""\n'
    noted = (ROOT / "demo" / "prices.toml").read_text().replace("[[price]]", 'note = "asked by telephone"\n[[price]]', 1)
    given = (noted.replace("high = 2600", 'high = 2600\nnote = "two bids"') + share).encode()
    assert _kept(bare, "/prices/", {"file": SimpleUploadedFile("mine.toml", given)}).status_code == 302
    first, page = asking.prices(), bare.get("/prices/").content.decode()
    shown = dict(re.findall(r'<input[^>]*name="([a-z0-9_.]+)"[^>]*?value="([^"]*)"', page))
    options = re.findall(r'<select name="([a-z0-9_.]+)"(?:(?!</select>).)*?<option(?: value="([^"]*)")? selected>([^<]*)', page, re.S)
    chosen = {name: value or words for name, value, words in options}

    assert _kept(bare, "/prices/", {name: html.unescape(value) for name, value in (shown | chosen).items()}).status_code == 302
    assert asking.prices() == first and len(first.prices) == 12
    assert (first.note, first.prices[0].note, first.cost_shares[-1].note) == ("asked by telephone", "two bids", 'until "May"')
    assert asking.DESK.own_prices.with_name("book.prices.before.toml").read_bytes().strip() == given.strip()
    assert price_lists.load(asking.DESK.own_prices) == first and DEMO.exists()


def test_legal_hours_typed_on_the_page_close_those_hours_for_the_burn(bare):
    law = {"filled_by": "Ada", "filled_on": "2025-10-01", "asked": "the county", "permit": "none needed"}
    hours = {"closed.1.from": "02-15", "closed.1.to": "04-30", "closed.1.first_hour": "6", "closed.1.last_hour": "17"}
    assert _kept(bare, "/law/", law | hours).status_code == 302

    assert asking.law() == card.load_law(asking.DESK.own_law)
    assert asking.law().filled and not asking.law().allows(dt.date(2026, 3, 1), 17)
    assert "closed 02-15 to 04-30, 6:00 to 18:00" in _said(bare.get("/fire/S7/"))
    wrong = _kept(bare, "/law/", law | hours | {"closed.1.to": "04-31"})
    assert "to is '04-31'" in _said(wrong) and 'data-field="closed.1.from"' in wrong.content.decode()


def test_of_two_tabs_the_second_does_not_write_over_the_first_unseen(bare):
    first = _kept(bare, "/law/", {"filled_by": "Ada"})
    second = bare.post("/law/", {"seen": "", "filled_by": "Ben"}, headers={"Referer": "http://testserver/law/"})

    assert first.status_code == 302 and second.status_code == 400
    assert "was changed elsewhere since the page was opened" in _said(second) and '"Ben"' in second.content.decode()
    assert asking.law().filled_by == "Ada"


def test_a_list_shown_and_kept_again_loses_no_digit_and_no_letter(bare):
    typed = {"price.1.high": "1234.567", "cost.road_each": "1,234,567.5", "source": "Señora 🌳"}
    _kept(bare, "/prices/", LIST | LINES | typed)
    first, page = asking.prices(), bare.get("/prices/").content.decode()
    shown = {name: html.unescape(value) for name, value in re.findall(r'name="((?:price|cost)\.[^"]+)"[^>]*? value="([^"]*)"', page)}

    assert (first.prices[0].high, first.costs["road_each"], first.source) == (1234.567, 1234567.5, "Señora 🌳")
    assert (shown["price.1.high"], shown["cost.road_each"]) == ("1234.567", "1234567.5")


@pytest.mark.parametrize("typed", ["1,5", "12,34", "1_000"])
def test_a_comma_that_may_be_a_decimal_point_is_no_part_of_a_price(bare, typed):
    page = _kept(bare, "/prices/", LIST | LINES | {"price.1.low": typed})

    assert page.status_code == 400 and f"the low is '{typed}'" in _said(page)


def test_a_price_list_that_is_no_utf_8_is_refused_and_not_kept_with_letters_lost(bare):
    sent = SimpleUploadedFile("mine.toml", (ROOT / "demo" / "prices.toml").read_text().replace("invented", "inventé").encode("latin-1"))

    page = _kept(bare, "/prices/", {"file": sent})
    assert page.status_code == 400 and "is not UTF-8 text" in _said(page)
    assert not asking.DESK.own_prices.exists()


def test_a_command_answers_under_the_rules_the_prices_and_the_law_that_pages_kept_with_the_book(bare, demo_book, run):
    """One book, one answer: the desk and the command line read the same lists."""
    _kept(bare, "/prices/", LIST | LINES)
    _kept(bare, "/law/", {"filled_by": "Ada", "filled_on": "2025-10-01", "asked": "the county", "permit": "none needed"})
    demo_book.with_name("demo.prices.toml").write_bytes(asking.DESK.own_prices.read_bytes())
    assert asking.DESK.own_law == demo_book.with_name("demo.law.toml")
    at = ("--book", demo_book, "--on", "2025-10-15")

    assert [run(*command)[0] for command in (("prices", "--book", demo_book), ("choices", "S6", *at), ("timber", "S6", *at))] == [0] * 3
    assert '"filled_by": "Ada"' in run("burn", "S7", *at, "--json")[1]
    demo_book.with_name("demo.rules.toml").write_text('[figures.interval_level]\nvalue = "wrong"\n')
    assert run("advise", "S6", *at)[0] == 1
