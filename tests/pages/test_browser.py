"""A user's day in a real browser: no console error, nothing leaves the machine, keyboard, phone, and eyes that need help."""

from __future__ import annotations

import pytest
from axe_playwright_python.sync_playwright import Axe

pytestmark = pytest.mark.slow
PAGES = (
    "/", "/stand/S1/", "/stand/S3/", "/stand/S8/", "/light/S2/", "/light/S1/", "/futures/S3/", "/futures/S1/", "/money/S1/", "/papers/S1/", "/import/",
    "/records/", "/records/visits/", "/tally/S1/", "/rules/", "/sources/", "/calc/", "/calc/crop-sequence/", "/stand/S3/why/oak_share/",
)  # fmt: skip


@pytest.mark.parametrize("path", PAGES)
def test_axe_finds_nothing_serious(browser_page, path):
    found = Axe().run(browser_page.go(path)).response["violations"]
    serious = [(fault["id"], fault["nodes"][0]["html"]) for fault in found if fault["impact"] in ("serious", "critical")]
    assert serious == []


@pytest.mark.parametrize("path", PAGES)
def test_a_phone_needs_no_sideways_scroll(phone_page, path):
    page = phone_page.go(path)
    assert page.evaluate("document.documentElement.scrollWidth") <= 390


def test_the_slider_lights_the_floor_and_a_click_takes_a_tree(browser_page):
    page = browser_page.go("/light/S2/")
    page.wait_for_selector("#marking[data-ready]")
    before = page.locator("#sum-light").inner_text()
    page.locator("#basal-area").fill("30")
    page.wait_for_function("before => document.getElementById('sum-light').textContent !== before", arg=before)
    assert float(page.locator("#sum-light").inner_text().split()[0]) > 40

    trees = page.locator("#sum-trees").inner_text()
    page.locator("#flip").click()
    page.wait_for_function("before => document.getElementById('sum-trees').textContent !== before", arg=trees)
    page.locator("#flip").click()
    page.wait_for_function("before => document.getElementById('sum-trees').textContent === before", arg=trees)

    box = page.locator("#trees").bounding_box()
    seen = page.locator("#sum-trees").inner_text()
    page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.wait_for_function("before => document.getElementById('sum-trees').textContent !== before", arg=seen)


def test_the_search_shows_its_progress_and_lays_its_marking_on_the_table(browser_page):
    page = browser_page.go("/light/S2/")
    page.wait_for_selector("#marking[data-ready]")
    page.locator("#basal-area").fill("20")
    page.get_by_role("button", name="Search the best marking").click()
    page.wait_for_selector("progress")
    page.wait_for_selector("#search .good", timeout=60_000)
    left = page.locator("#search .good").inner_text().split(" ft²/ac left")[0].split()[-1]
    page.wait_for_function("left => Math.round(parseFloat(document.getElementById('sum-ba').textContent)) === Number(left)", arg=left)


def test_a_search_can_be_stopped(browser_page):
    page = browser_page.go("/light/S2/")
    page.wait_for_selector("#marking[data-ready]")
    page.get_by_role("button", name="Search the best marking").click()
    page.get_by_role("button", name="Stop and keep").click()
    page.wait_for_selector("#search .good")
    assert "3000 moves" not in page.locator("#search").inner_text()


def test_figures_unfold_in_place_and_what_if_answers_in_place(browser_page):
    page = browser_page.go("/stand/S3/")
    page.get_by_text("Oaks of 3 ft and more", exact=True).click()
    page.wait_for_selector("#why-oak_stems_3ft_ac >> text=How:")
    page.locator("select[name=rule]").select_option("verdict_level")
    page.locator("input[name=value]").fill("0.8")
    page.get_by_role("button", name="See what the advice would be").click()
    page.wait_for_selector("#then [data-what-if]")
    assert "Only tried, not kept" in page.locator("#then").inner_text()
    assert page.url.endswith("/stand/S3/")


def test_futures_run_beside_the_page(browser_page):
    page = browser_page.go("/futures/S1/")
    page.get_by_role("button", name="Run the futures").click()
    page.wait_for_selector("#run table", timeout=180_000)
    assert "inject, two cuts" in page.locator("#run").inner_text()
    assert "no species is promised" in page.locator("#run").inner_text()


def test_the_keyboard_alone_reaches_a_stand_and_marks_a_tree(browser_page):
    page = browser_page.go("/")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Go to the content"
    page.keyboard.press("Enter")
    for _ in range(40):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.getAttribute('href')") == "/stand/S2/":
            break
    page.keyboard.press("Enter")
    page.wait_for_url("**/stand/S2/")
    page = browser_page.go("/light/S2/")
    page.wait_for_selector("#marking[data-ready]")
    trees = page.locator("#sum-trees").inner_text()
    page.locator("#flip").focus()
    page.keyboard.press("Enter")
    page.wait_for_function("before => document.getElementById('sum-trees').textContent !== before", arg=trees)


def test_filters_answer_while_typing(browser_page):
    page = browser_page.go("/")
    page.locator("#text").press_sequentially("kiln")
    page.wait_for_selector("text=1 stands shown")
