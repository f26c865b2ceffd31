"""Tallies typed at the desk: no line is lost, none counts twice, and a long count takes few keys."""

from __future__ import annotations

import json
import re

import pytest

from conftest import DEMO_DAY
from pages.conftest import Watched, faults_of, start, stop

COLUMNS = ("point", "species", "height_class", "stems", "browsed", "place")
# A fixed radius of 4.34 ft.
HEAD = [("kind", "reproduction"), ("visited_on", "2025-09-10"), ("plot_area_ac", "0.00136054")]


def with_a_stand(desk):
    """A desk whose empty book gets one stand."""
    desk.send("/records/properties/", {"property": "P"})
    desk.send("/records/stands/", {"stand": "A", "property": "P", "area_ac": "12"})
    return desk


@pytest.fixture
def stand(fresh):
    """An empty book with one stand."""
    return with_a_stand(fresh)


@pytest.fixture
def served_stand(fresh_served):
    """The same on a server."""
    return with_a_stand(fresh_served)


def cells(*lines):
    """Lines of a reproduction tally as a form sends them."""
    return [(name, value) for line in lines for name, value in zip(COLUMNS, [*line, *[""] * (len(COLUMNS) - len(line))], strict=True)]


def stored(served):
    """Seedling rows of the one visit: plot, species, class and stems."""
    listed = json.loads(served.ask("/api/records/seedlings?text=A-2025-09-10-reproduction&most=100")[2])
    return sorted((int(one["row"]["point"]), one["row"]["species"], one["row"]["height_class"], one["row"]["stems"]) for one in listed)


def lay_down(served, fields):
    """Status and stamp of a draft that a page's script sends."""
    status, _, body = served.send("/tally/A/draft/", fields, form="/tally/A/")
    return status, json.loads(body)["stamp"]


def test_every_line_of_a_long_tally_is_stored(stand):
    lines = [(str(1 + number // 10), "white oak", "1-3", "2") for number in range(450)]
    status, _, body = stand.send("/tally/A/", [*HEAD, ("form", "long"), *cells(*lines)])
    assert status == 200 and "450 seedlings" in body.decode() and "45 points" in body.decode()


def test_a_draft_is_found_after_a_restart_and_its_lines_count_once_from_two_tabs(served_stand):
    typed = [*HEAD, ("form", "one"), ("replace", "yes"), ("keep_unknown", "yes"), *cells(("1", "red maple", "1-3", "7"))]
    assert lay_down(served_stand, [*typed, ("stamp", "0")]) == (200, 1)
    stop(served_stand)
    again = start(served_stand.book, "--on", DEMO_DAY.isoformat())
    try:
        assert again.ask(again.address)[0] == 302
        page = again.page("/tally/A/?kind=reproduction")
        assert 'value="red maple"' in page and 'name="form" value="one"' in page and "a draft of yours" in page
        assert 'value="red maple"' not in again.page("/tally/A/?kind=cruise")
        assert lay_down(again, [*typed, ("stamp", "1")]) == (200, 2)
        assert lay_down(again, [*typed, ("stamp", "1")])[0] == 409

        assert again.send("/tally/A/", typed)[0] == 200
        assert again.send("/tally/A/", typed)[0] == 409
        assert "A-2025-09-10-reproduction-2" not in again.page("/records/visits/?text=A-2025")
        assert 'value="red maple"' not in again.page("/tally/A/")
        # The other tab, still open, does not lay down again what was written.
        assert lay_down(again, [*typed, ("stamp", "2")])[0] == 409
    finally:
        stop(again)


def test_lines_with_a_fault_are_kept_and_the_fault_stands_in_its_cell(stand):
    given = [*HEAD, ("form", "two"), *cells(("1", "white oak", "1-3", "2"), ("2", "red maple", "1-3", "many"))]
    status, _, body = stand.send("/tally/A/", given)
    cell = re.search(r'<input name="stems" aria-label="Stems, line 2"[^>]*>', body.decode())[0]
    assert status == 422 and 'aria-invalid="true"' in cell and 'id="fault-2-stems"' in body.decode()
    later = stand.page("/tally/A/")
    assert 'value="many"' in later and 'name="form" value="two"' in later
    assert stand.send("/tally/A/draft/", [("kind", "reproduction"), ("drop", "yes")], form="/tally/A/")[0] == 302
    assert 'value="many"' not in stand.page("/tally/A/")


class Keys:
    """Presses keys and counts them."""

    def __init__(self, page):
        self.page, self.count = page, 0

    def type(self, text):
        self.page.keyboard.type(text)
        self.count += len(text)

    def press(self, *keys):
        for key in keys:
            self.page.keyboard.press(key)
        self.count += len(keys)


def _type_lines(page):
    """Fifty-one lines on seventeen plots, three species each; the number of keys pressed."""
    keys = Keys(page)
    for plot in range(1, 18):
        for place, species in enumerate(("802", "833", "316")):
            if place == 0:
                keys.press(*(["Shift+Tab"] if plot > 1 else []))
                keys.type(str(plot))
                keys.press("Tab")
            keys.type(species)
            keys.press("Tab")
            keys.type("1")
            keys.press("Tab")
            keys.type("2")
            keys.press("Enter")
    return keys.count


def test_fifty_one_lines_take_few_keys_and_one_writing_and_survive_a_lost_server(served_stand, chromium):
    watched = Watched(chromium, served_stand, viewport={"width": 1366, "height": 768})
    page = watched.go("/tally/A/")
    page.wait_for_selector("#tally[data-ready]")
    page.get_by_label("Day").fill("2025-09-10")
    page.get_by_label("Point, line 1", exact=True).focus()
    assert _type_lines(page) < 500
    # The line below has plot and species of the last, and is no line yet.
    assert page.get_by_label("Species, line 52", exact=True).input_value() == "316"
    assert page.locator("#tally-sum").inner_text() == "51 lines, 17 plots, 102 stems"
    page.wait_for_selector("#tally-kept >> text=Kept as a draft")
    assert faults_of(page) == []

    # A closed tab: the lines are in the book.
    page.close()
    page = watched.page = watched.context.new_page()
    watched.go("/tally/A/")
    page.wait_for_selector("#tally[data-ready]")
    assert page.locator("#tally-sum").inner_text() == "51 lines, 17 plots, 102 stems"

    # What does not reach the server stays in the browser and is offered.
    page.route("**/draft/", lambda route: route.abort())
    page.get_by_label("Stems, line 51", exact=True).fill("9")
    page.wait_for_selector("#tally-kept >> text=kept in this browser")
    page.unroute("**/draft/")
    watched.go("/tally/A/")
    page.get_by_role("button", name="Take them up").click()
    assert page.locator("#tally-sum").inner_text() == "51 lines, 17 plots, 109 stems"

    page.get_by_role("button", name="Write the tally down").dblclick()
    page.wait_for_selector("text=/Written down as entry|was written down before/")
    asked = [(plot, species, "1-3", "2") for plot in range(1, 18) for species in ("316", "802", "833")]
    asked[asked.index((17, "316", "1-3", "2"))] = (17, "316", "1-3", "9")
    assert stored(served_stand) == sorted(asked)
    assert watched.foreign == []
    watched.context.close()


def test_a_sheet_typed_twice_is_asked_about_and_another_sheet_goes_beside_it(stand):
    lines = cells(("1", "white oak", "1-3", "2"), ("2", "802", "1-3", "1"))
    assert stand.send("/tally/A/", [*HEAD, ("form", "once"), *lines])[0] == 200
    first = stored(stand)

    def refused(words, *fields):
        status, _, body = stand.send("/tally/A/", [*fields])
        return status == 409 and words in body.decode() and 'name="other_sheet"' in body.decode() and stored(stand) == first

    # Typed again under the name of its own, into the first visit, on another day in other words, and one plot of it.
    assert refused("of the same day has plots 1, 2 already", *HEAD, ("form", "b"), *lines)
    assert refused("has these very lines on plots 1, 2", *HEAD, ("visit", "A-2025-09-10-reproduction"), ("form", "c"), *lines)
    again = cells(("1", "QUAL", "1-3", "2"), ("2", "white oak", "1-3", ""))
    later = [(name, "2025-09-12" if name == "visited_on" else value) for name, value in HEAD]
    assert refused("of 2025-09-10 has these very lines", *later, ("form", "d"), *again)
    assert refused("has plot 2 already", *HEAD, ("form", "e"), ("plots", "2 3"), *cells(("3", "red maple", "<0.5", "4")))

    # What is no repeat goes in unasked: other plots of the day, other lines of a plot, the day after with another count.
    assert stand.send("/tally/A/", [*HEAD, ("form", "f"), *cells(("3", "white oak", "1-3", "2"))])[0] == 200
    named = ("visit", "A-2025-09-10-reproduction")
    assert stand.send("/tally/A/", [*HEAD, named, ("form", "g"), *cells(("1", "red maple", "1-3", "2"))])[0] == 200
    assert stand.send("/tally/A/", [*later, ("form", "h"), *cells(("1", "white oak", "1-3", "3"))])[0] == 200
    # And with a yes a repeat does too.
    assert stand.send("/tally/A/", [*HEAD, ("form", "i"), ("other_sheet", "yes"), *lines])[0] == 200
