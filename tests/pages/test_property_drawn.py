"""The property page draws only what changed, and shows what changed at once."""

from __future__ import annotations

import html
import re

from overwood.faces.pages import asking, judging, property


def _page(owner, query=""):
    judging.whole(asking.question())
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", owner.get(f"/{query}").content.decode())).split())


def test_a_rule_changed_shows_on_a_page_that_was_drawn_before(owner, monkeypatch, demo_book):
    monkeypatch.setattr(asking.DESK, "own_rules", demo_book.with_name("book.rules.toml"))
    before, again = _page(owner), _page(owner)
    assert before == again and "S6 Pole Ground" in before and "Mark a thinning to 62% stocking" in before

    drawn = {name: asking.DESK.drawn.get(name) for name in ("row S6", "map")}
    owner.post("/rules/", {"name": "thin_residual_stocking_pct", "value": "60", "note": "lighter here"})
    changed = _page(owner)
    assert "Mark a thinning to 60% stocking" in changed and "thinning to 62%" not in changed
    assert all(asking.DESK.drawn.get(name) != one for name, one in drawn.items())


def _box(west, south, east, north):
    return f"POLYGON(({west} {south}, {east} {south}, {east} {north}, {west} {north}, {west} {south}))"


def test_a_stand_too_low_for_two_lines_has_its_kind_of_work_beside_it_within_the_map():
    drawn = property.shapes_of(
        {
            "tall": _box(0.0, 0.0, 0.004, 0.01),
            "low": _box(0.006, 0.008, 0.01, 0.0085),
            "last": _box(0.006, 0.0, 0.01, 0.0005),
        },
        {},
    )
    tall, low, last = drawn["stands"]
    assert tall["kind_dy"] == "36"
    # A name is 42 units high on a map of 1,000; 0.0005 of 0.01 degrees are 50.
    assert 200 < float(low["y"]) + float(low["kind_dy"]) <= 240
    assert 925 < float(last["y"]) + float(last["kind_dy"]) < 950


def test_a_row_of_the_property_says_shares_in_one_style(owner):
    page = _page(owner)
    assert "88% stocked, oak 81%" in page and "% stocked" in page and " % stocked" not in page


def test_a_number_of_young_oaks_is_written_alike_where_a_stand_says_it_twice(owner):
    judging.whole(asking.question())
    page = owner.get("/stand/S7/").content.decode()
    assert "1,503" in page and "1503" not in page
