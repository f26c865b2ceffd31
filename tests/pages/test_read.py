"""Pages as they are read: on paper, on a phone, with the keyboard alone, and by eyes that want no motion."""

from __future__ import annotations

import itertools

import pytest

import pdf_text
from pages.conftest import Watched

NEW_PAGES = ("/across/", "/due/", "/compare/?stand=S1&stand=S2", "/ground/")
# A letter sheet between its margins, at 96 dots an inch.
SHEET_WIDE, SHEET_TALL = 726, 960


@pytest.fixture(scope="module")
def one_page(chromium, served):
    found = Watched(chromium, served)
    yield found
    found.close()


@pytest.fixture
def looked_at(one_page):
    """One page for tests that only look: a page of its own costs a browser as much as loading another."""
    one_page.page.set_viewport_size({"width": 1280, "height": 900})
    one_page.page.emulate_media(media="screen", reduced_motion="no-preference")
    yield one_page
    one_page.quiet()


def test_a_page_printed_before_its_numbers_came_says_so(browser_page):
    page = browser_page.page
    held = []
    page.route("**/compare/**", lambda route: held.append(route) if route.request.headers.get("hx-request") else route.continue_())
    page.goto(browser_page.served.base + "/compare/?stand=S4&stand=S6&stand=S8")
    assert "Being worked out" in page.locator("#coming").inner_text()
    assert "Printed" not in page.locator("#coming").inner_text()
    page.emulate_media(media="print")
    said = page.locator("#coming").inner_text()
    page.emulate_media(media="screen")
    for route in held:
        route.continue_()
    page.wait_for_selector("[data-coming]", state="detached")
    assert "Being worked out" not in said
    assert "Printed before its numbers were there" in said


def test_a_link_pressed_while_a_page_is_worked_out_leads_where_it_says(browser_page):
    """The numbers come while the next page is on its way: loading the page again would take the reader back."""
    page, held, slow = browser_page.page, [], []
    page.route("**/compare/**", lambda route: held.append(route) if route.request.headers.get("hx-request") else route.continue_())
    page.route("**/words/", lambda route, _: slow.append(route))
    page.goto(browser_page.served.base + "/compare/?stand=S4&stand=S5&stand=S8")
    page.wait_for_function("() => document.querySelector('#coming')")
    with page.expect_request("**/words/"):
        page.evaluate("location.href = '/words/'")
    for route in held:
        route.fulfill(status=200, headers={"HX-Refresh": "true"}, body="")
    page.wait_for_timeout(300)
    for route in slow:
        route.continue_()
    page.wait_for_url("**/words/", timeout=20_000)
    page.unroute_all()


@pytest.mark.parametrize(
    ("stand", "fails"), [("S2", lambda route: route.fulfill(status=503, body="busy")), ("S3", lambda route: route.abort())]
)
def test_a_page_whose_numbers_were_not_worked_out_beside_it_asks_for_them_itself(browser_page, stand, fails):
    """The book was held, or the line broke: nobody looks at a bar that stands for ever."""
    page = browser_page.page
    page.route("**/compare/**", lambda route: fails(route) if route.request.headers.get("hx-request") else route.continue_())
    page.goto(f"{browser_page.served.base}/compare/?stand={stand}&stand=S8")
    page.wait_for_url("**now=yes", timeout=60_000)
    assert stand in page.locator("main table").first.inner_text() and page.locator("[data-coming]").count() == 0
    page.unroute_all()
    browser_page.errors.clear()


def test_a_link_that_fetches_a_file_leaves_the_page_as_lively_as_it_was(browser_page):
    page = browser_page.go("/")
    page.locator("#stands").wait_for()
    with page.expect_download():
        page.evaluate("location.href = '/import/template.xlsx'")
    # What is asked for a part of the page still comes into it.
    page.locator("#filter select").first.select_option(index=1)
    page.wait_for_function("before => location.search !== before", arg="", timeout=20_000)


def test_what_is_due_keeps_its_headings_and_the_names_of_its_months_on_paper(looked_at):
    page = looked_at.go("/due/")
    page.set_viewport_size({"width": SHEET_WIDE, "height": SHEET_TALL})
    page.emulate_media(media="print")
    heads = page.locator("table.due thead").first.bounding_box()
    boxes = (
        page.locator("table.due")
        .first.locator("svg.months text")
        .evaluate_all("found => found.map(one => one.getBoundingClientRect().toJSON())")
    )
    page.emulate_media(media="screen")
    assert heads["x"] >= 0 and heads["height"] > 0
    assert len(boxes) >= 4
    assert all(one["x"] >= 0 and one["right"] < other["x"] for one, other in itertools.pairwise(boxes))


@pytest.mark.parametrize("path", ["/", "/stand/S2/", "/money/S2/", "/due/", "/compare/?stand=S1&stand=S2&stand=S4", "/futures/S3/"])
def test_nothing_a_sheet_of_paper_shows_lies_beside_it(looked_at, path):
    page = looked_at.go(path)
    page.set_viewport_size({"width": SHEET_WIDE, "height": SHEET_TALL})
    page.emulate_media(media="print")
    beside = page.evaluate(
        "wide => [...document.querySelectorAll('main td, main th, main p, main li')].filter(one => one.checkVisibility() && "
        "(one.getBoundingClientRect().right > wide + 1 || one.getBoundingClientRect().left < 0)).map(one => one.textContent.slice(0, 60))",
        SHEET_WIDE,
    )
    page.emulate_media(media="screen")
    assert beside == []


def test_property_stand_day_and_number_stand_on_every_printed_sheet(looked_at):
    sheets = pdf_text.pages(looked_at.go("/money/S2/").pdf(format="Letter"))
    assert len(sheets) > 1
    # The browser sets words one by one, so that a reader may miss the space between two of them.
    for number, text in enumerate(("".join(sheet.split()) for sheet in sheets), start=1):
        assert "VesperlickTract,standS2KilnSpur;Money,S2;15October2025" in text
        assert f"Page{number}of{len(sheets)}" in text


def test_a_table_that_stands_as_a_list_on_a_phone_says_what_each_number_is(phone_page):
    page = phone_page.go("/money/S2/")
    cells = page.locator("table.stack tbody tr").first.locator("td")
    said = cells.evaluate_all("found => found.map(one => getComputedStyle(one, '::before').content)")
    assert said[0] in ("none", "normal")
    assert [text.strip('"').strip() for text in said[2:5]] == ["Present value:", "Low to high:", "A year over 40 years:"]


@pytest.mark.parametrize("path", NEW_PAGES)
def test_the_keyboard_alone_reaches_all_there_is_to_press_and_shows_where_it_is(looked_at, path):
    page = looked_at.go(path)
    wanted = page.evaluate(
        "() => [...document.querySelectorAll('a[href], button, select, textarea, summary, input:not([type=hidden])')]"
        ".filter(one => one.checkVisibility({ contentVisibilityAuto: true, visibilityProperty: true }) && !one.disabled)"
        ".map((one, place) => (one.dataset.place = place, place))"
    )
    reached, unseen = set(), []
    for _ in range(len(wanted) + 60):
        page.keyboard.press("Tab")
        place, outline = page.evaluate(
            "() => { const one = document.activeElement, look = getComputedStyle(one);"
            " return [one.dataset.place ?? '', look.outlineStyle !== 'none' && parseFloat(look.outlineWidth) > 0]; }"
        )
        if place:
            reached.add(int(place))
        if place and not outline:
            unseen.append(page.evaluate("document.activeElement.textContent.trim().slice(0, 40)"))
    assert sorted(set(wanted) - reached) == []
    assert unseen == []


@pytest.mark.parametrize("path", NEW_PAGES)
def test_who_wants_no_motion_gets_none(looked_at, path):
    moves = (
        "() => [getComputedStyle(document.documentElement).scrollBehavior, document.getAnimations().length, "
        "[...document.querySelectorAll('*')].filter(one => getComputedStyle(one).transitionDuration.split(',').some(part => parseFloat(part) > 0)).length]"
    )
    page = looked_at.go(path)
    page.emulate_media(reduced_motion="no-preference")
    assert page.evaluate(moves)[0] == "smooth"
    page.emulate_media(reduced_motion="reduce")
    assert page.evaluate(moves) == ["auto", 0, 0]


def test_what_a_stand_lacks_is_said_before_its_papers_and_its_simulation_are_asked_for(here):
    papers = here.page("/papers/S8/")
    for which in ("forecast", "cuts", "notice"):
        assert f"/papers/S8/{which}.pdf" not in papers
        assert here.ask(f"/papers/S8/{which}.pdf")[0] == 404
    assert papers.count("Not yet.") == 3
    # A gate says no to a burn of S7, and the canopy of S5 has no oak to leave.
    for stand, which, words in (("S7", "plan", "A gate says no, so no plan is written: "), ("S5", "marking", "no oak in the main canopy")):
        refused = here.page(f"/papers/{stand}/")
        assert f"/papers/{stand}/{which}.pdf" not in refused and words in refused
    assert "/papers/S8/choices.pdf" in papers and "/papers/S8/injection.pdf" in papers
    assert "Before a simulation: count its reproduction on 30 or more plots." in here.page("/futures/S8/")
    assert "Before a simulation" not in here.page("/futures/S1/")
