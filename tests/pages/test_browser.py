"""A user's day in a real browser: no console error, nothing leaves the machine, keyboard, phone, and eyes that need help."""

from __future__ import annotations

import re

import pytest

from conftest import DEMO, DEMO_DAY, ROOT
from pages.conftest import Watched, copied, faults_of, start, stop
from pages.test_importing import zipped

PAGES = (
    "/", "/law/", "/prices/", "/due/", "/across/", "/compare/?stand=S1&stand=S2&stand=S4", "/stand/S1/", "/stand/S3/", "/stand/S8/", "/light/S2/", "/light/S1/", "/canopy/S1/", "/fire/S1/", "/fire/S8/", "/futures/S3/", "/futures/S1/", "/plan/", "/money/S1/", "/papers/S1/", "/import/", "/import/mappings/", "/import/species/", "/import/entry/1/", "/outlines/", "/ground/", "/work/", "/conflicts/",
    "/records/", "/records/visits/", "/tally/S1/", "/ticks/S1/", "/walks/", "/rules/",
    "/words/", "/sources/", "/calc/", "/calc/crop-sequence/", "/stand/S3/why/oak_share/",
)  # fmt: skip

# What depends on the colors of a theme.
COLORS = ("color-contrast", "link-in-text-block")


@pytest.mark.parametrize("path", PAGES)
def test_axe_finds_nothing_in_light_dark_and_on_a_phone_which_needs_no_sideways_scroll(one_phone, path):
    one_phone.page.set_viewport_size({"width": 390, "height": 800})
    page = one_phone.go(path)
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    assert faults_of(page, without=COLORS) == []
    page.set_viewport_size({"width": 1280, "height": 900})
    assert faults_of(page) == []
    page.emulate_media(color_scheme="dark")
    found = faults_of(page, only=COLORS)
    page.emulate_media(color_scheme="light")
    assert found == []
    one_phone.quiet()


def test_the_slider_lights_the_floor_and_a_click_takes_a_tree(browser_page):
    page = browser_page.go("/light/S2/")
    page.wait_for_selector("#marking[data-ready]")
    before = page.locator("#sum-light").inner_text()
    page.locator("#basal-area").fill("30")
    page.wait_for_function("before => document.getElementById('sum-light').textContent !== before", arg=before)
    assert float(page.locator("#sum-light").inner_text().rstrip("%")) > 40

    trees = page.locator("#sum-trees").inner_text()
    page.locator("#flip").click()
    page.wait_for_function("before => document.getElementById('sum-trees').textContent !== before", arg=trees)
    page.locator("#flip").click()
    page.wait_for_function("before => document.getElementById('sum-trees').textContent === before", arg=trees)

    page.locator("#undo").click()
    page.wait_for_function("before => document.getElementById('sum-trees').textContent !== before", arg=trees)
    page.locator("#redo").click()
    page.wait_for_function("before => document.getElementById('sum-trees').textContent === before", arg=trees)

    box = page.locator("#trees").bounding_box()
    seen = page.locator("#sum-trees").inner_text()
    page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.wait_for_function("before => document.getElementById('sum-trees').textContent !== before", arg=seen)


def test_a_search_lays_its_marking_on_the_table(browser_page):
    page = browser_page.go("/light/S2/")
    page.wait_for_selector("#marking[data-ready]")
    page.locator("#basal-area").fill("20")
    page.get_by_role("button", name="Search the best marking").click()
    page.wait_for_selector("#search .good")
    left = page.locator("#search .good").inner_text().split(" ft²/ac left")[0].split()[-1]
    page.wait_for_function("left => Math.round(parseFloat(document.getElementById('sum-ba').textContent)) === Number(left)", arg=left)


def test_a_search_can_be_stopped(browser_page):
    page = browser_page.go("/light/S2/")
    page.wait_for_selector("#marking[data-ready]")
    page.get_by_role("button", name="Search the best marking").click()
    page.get_by_role("button", name="Stop and keep").click()
    page.wait_for_selector("#search .good, #search .fault")
    # Stopped while it still waited for its turn it comes to nothing, and says so.
    text = page.locator("#search").inner_text()
    assert "Stopped; the best marking" in text or "topped before it began" in text


def test_figures_unfold_in_place_and_what_if_answers_in_place(browser_page):
    page = browser_page.go("/stand/S3/")
    page.get_by_text(re.compile(r"On the forest floor \d+ estimates")).click()
    page.get_by_text("Oaks 3 ft or taller", exact=True).click()
    page.wait_for_selector("#why-oak_stems_3ft_ac >> text=How:")
    page.get_by_text("another limit were right").click()
    page.locator("#what-if select[name=rule]").select_option("verdict_level")
    page.locator("#what-if input[name=value]").fill("0.8")
    page.get_by_role("button", name="See what the advice would be").click()
    page.wait_for_selector("#then [data-what-if]")
    assert "Only tried, not kept" in page.locator("#then").inner_text()
    assert page.url.endswith("/stand/S3/")
    page.get_by_label("What if the limit moved").first.press("ArrowRight")
    page.wait_for_selector("#moved [data-what-if]")


def test_cautions_that_are_folded_on_the_screen_stand_on_paper(browser_page):
    page = browser_page.go("/due/")
    caution = page.locator("table.due details li").first
    assert not caution.is_visible()
    page.emulate_media(media="print")
    assert caution.evaluate("item => item.checkVisibility({ contentVisibilityAuto: true }) && item.offsetHeight > 0")
    page.emulate_media(media="screen")


def test_a_stand_takes_three_screens_on_a_desk_and_six_on_a_phone_before_anything_is_unfolded(browser_page):
    for name in ("S1", "S2", "S3", "S5", "S8"):
        for width, height, screens in ((1366, 768, 3), (390, 844, 6)):
            browser_page.page.set_viewport_size({"width": width, "height": height})
            page = browser_page.go(f"/stand/{name}/")
            assert page.evaluate("document.documentElement.scrollHeight") <= screens * height, (name, width)
            assert page.locator("#step").bounding_box()["y"] < height / 2


def test_futures_run_beside_the_page(browser_page):
    page = browser_page.go("/futures/S1/")
    page.get_by_label("How many").select_option(label="400, a quick look")
    with page.expect_response(lambda answer: answer.request.method == "POST") as begun:
        page.get_by_role("button", name="Simulate").click()
    assert "<progress" in begun.value.text()
    page.wait_for_selector("#run table")
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
    page.wait_for_selector("text=1 stand shown")


# What a person does is counted over all pages of a tab: a press on a link, button or fold, a field filled or chosen.
COUNTED = """for (const kind of ["click", "change"]) addEventListener(kind, (event) => {
  if (kind === "change" || event.target.closest("a, button, summary")) sessionStorage.actions = Number(sessionStorage.actions ?? 0) + 1;
}, true);"""


def _actions(page):
    return int(page.evaluate("sessionStorage.actions ?? 0"))


def _type_the_property(page):
    """A property typed in, and a stand drawn by its corners."""
    page.get_by_label("Property", exact=True).fill("Own land")
    page.get_by_role("button", name="Write them down").click()
    page.get_by_text("Type an outline instead of drawing it").click()
    page.get_by_role("group").get_by_label("Stand", exact=True).fill("N1")
    page.get_by_label("Corners").fill("-49.96 37.50\n-49.955 37.50\n-49.955 37.503\n-49.96 37.503")
    page.get_by_role("button", name="Keep the outline").click()
    page.wait_for_selector("text=Written down:")


def _set_a_faulty_file_aside(page):
    """A file with a fault is told by its cell and set aside."""
    page.get_by_role("navigation", name="Places").get_by_role("link", name="Import").click()
    page.set_input_files(
        "#file", {"name": "visits.csv", "mimeType": "text/csv", "buffer": b"visit,stand,kind,visited_on\nV,N1,dance,2025-09-01\n"}
    )
    page.get_by_role("button", name="Look at the file").click()
    page.wait_for_selector("text=Faults, cell by cell")
    assert "dance" in page.locator("main").inner_text()
    page.get_by_role("button", name="Let the file wait").click()
    page.get_by_role("button", name="Discard the file").click()
    page.wait_for_selector("text=No file waits")


def _bring_the_cruise_in(page, packed):
    """A file is looked at and comes in."""
    page.get_by_role("navigation", name="Places").get_by_role("link", name="Import").click()
    page.set_input_files("#file", str(packed))
    page.get_by_role("button", name="Look at the file").click()
    page.get_by_role("button", name="Write it into the book").click()
    page.wait_for_selector("text=demo.zip came in as entry")


def _open_the_stand(page):
    """From the property to the verdict on a stand."""
    page.get_by_role("navigation", name="Places").get_by_role("link", name="Property").click()
    page.wait_for_selector("#stands >> text=Settle the doubt before the seed cut")
    page.get_by_role("link", name="S2 Kiln Spur").click()
    page.wait_for_selector("#step")


def _decide(page):
    """Unfold a number of a stand, try another threshold, write the decision down."""
    page.locator("summary", has_text="What stands here").click()
    page.get_by_text("Basal area of the main canopy", exact=True).click()
    page.wait_for_selector("#why-overwood_ba_ft2_ac >> text=Sources")
    page.get_by_text("another limit were right").click()
    page.locator("#what-if input[name=value]").fill("-1")
    page.get_by_role("button", name="See what the advice would be").click()
    page.wait_for_selector("#then >> role=alert")
    low = page.locator("#what-if select[name=rule] option").first.inner_text().split("may be ")[1].split(" to ")[0]
    page.locator("#what-if input[name=value]").fill(low)
    page.get_by_role("button", name="See what the advice would be").click()
    page.wait_for_selector("#then >> text=Only tried, not kept")
    page.get_by_role("link", name="Write the decision").click()
    page.get_by_label("Decided by").fill("Forester")
    page.get_by_role("button", name="Write the decision down").click()
    page.wait_for_selector("#decisions >> text=by Forester")


def _mark(page):
    """The slider, the search, and the marking put aside."""
    page.get_by_role("link", name="Light and marking").click()
    page.wait_for_selector("#marking[data-ready]")
    page.locator("#basal-area").fill("55")
    page.get_by_label("Name").fill("by hand")
    page.get_by_role("button", name="Put this marking aside").click()
    page.wait_for_selector("#aside >> text=by hand")
    page.get_by_role("button", name="Search the best marking").click()
    page.wait_for_selector("text=The search has ended")


def _tally(page):
    """A count two years later, typed with the keyboard alone."""
    page.get_by_role("link", name="Tally", exact=True).click()
    page.get_by_label("Day").fill("2025-10-14")
    page.get_by_label("Plots looked at").fill("1 2 3")
    page.get_by_label("Point, line 1", exact=True).focus()
    for cell in ("1", "white oak", "3-4.5", "4"):
        page.keyboard.type(cell)
        page.keyboard.press("Tab")
    page.get_by_role("button", name="Write the tally down").press("Enter")
    page.wait_for_selector("text=Written down as entry")


def _look_ahead(page):
    """Fire, futures and money."""
    page.get_by_role("link", name="Fire and injection").click()
    page.wait_for_selector("text=Days that fit the")
    page.get_by_role("link", name="Outcomes and counts").click()
    page.get_by_label("How many").select_option(label="400, a quick look")
    page.get_by_role("button", name="Simulate").click()
    page.wait_for_selector("text=simulated outcomes of each course")
    page.get_by_role("link", name="Money").click()
    page.wait_for_selector("text=What stands there")


def _print(page, base):
    """Five papers, one of them kept with own words."""
    page.get_by_role("link", name="Papers").click()
    for which in ("brief", "marking", "monitoring", "tally", "choices"):
        link = page.locator(f"a[href$='/{which}.pdf']").get_attribute("href")
        answer = page.request.get(base + link)
        assert answer.ok and answer.body().startswith(b"%PDF"), which
    card = page.locator("li", has=page.get_by_role("heading", name="Owner's brief"))
    card.locator("summary").click()
    card.get_by_label("Your words").fill("We talked this over on the porch.")
    card.get_by_role("button").click()
    page.wait_for_selector("#kept >> xpath=.. >> text=on the porch")
    kept = page.request.get(base + page.get_by_role("link", name="Owner's brief 1").get_attribute("href"))
    assert kept.body().startswith(b"%PDF")


def test_the_whole_job_by_hand_from_an_empty_book_to_printed_papers(chromium, tmp_path):
    served = start(tmp_path / "new.sqlite3", "--on", DEMO_DAY.isoformat(), "--prices", str(ROOT / "demo" / "prices.toml"))
    packed = tmp_path / "demo.zip"
    packed.write_bytes(zipped(DEMO))
    try:
        assert served.ask(served.address)[0] == 302
        watched = Watched(chromium, served, viewport={"width": 1280, "height": 900})
        watched.page.add_init_script(COUNTED)
        page = watched.go("/")
        _type_the_property(page)
        typed = _actions(page)
        _set_a_faulty_file_aside(page)
        aside = _actions(page) - typed
        _bring_the_cruise_in(page, packed)
        _open_the_stand(page)
        # From an empty book to a verdict in fifteen presses and entries at most.
        assert typed >= 6 and aside >= 4 and 12 <= _actions(page) - aside <= 15
        _decide(page)
        _mark(page)
        _tally(page)
        _look_ahead(page)
        _print(page, served.base)
        # A file with faults answers with 422, looked at and told to wait, and a value out of range with 400; the browser notes nothing else.
        assert all("status of 4" in text for text in watched.errors) and len(watched.errors) == 3
        watched.errors.clear()
        watched.close()
    finally:
        stop(served)


def test_the_weather_file_gives_burn_days(browser_page):
    page = browser_page.go("/fire/S7/")
    sent = []
    page.on("request", lambda request: sent.append(request.url) if request.method == "POST" else None)
    page.set_input_files("input[name=weather]", str(ROOT / "demo" / "weather.csv"))
    page.locator("select[name=clock]").select_option("local")
    page.get_by_label("Hours from UTC").fill("five")
    page.get_by_role("button", name="Count the days").click()
    # The fault stands at its field, which has the focus; what was typed is there, and a file is chosen again.
    page.wait_for_selector("form #beside >> text=is no number of hours")
    assert page.evaluate("[document.activeElement.name, document.activeElement.value]") == ["zone", "five"]
    assert page.locator("select[name=clock]").input_value() == "local"
    assert faults_of(page) == [] and len(browser_page.errors) == 1
    browser_page.errors.clear()
    page.get_by_label("Hours from UTC").fill("-5")
    page.set_input_files("input[name=weather]", str(ROOT / "demo" / "weather.csv"))
    page.get_by_role("button", name="Count the days").dblclick()
    page.wait_for_selector("table.burns td.burn[title^='18 Feb 2023: burn day']")
    assert page.locator("table.burns td.out").first.get_attribute("title").count("h)") == 1
    assert len(sent) == 2
    # What was counted is there after a reload, and the tray leads to it.
    browser_page.go("/work/")
    page.get_by_role("link", name="Burn days of S7").click()
    page.locator("summary", has_text="Burn days in words").click()
    page.wait_for_selector("text=18 February 2023")
    assert "this burn is refused" in page.locator("main").inner_text()
    assert "Never alone" in page.locator("main").inner_text()


def test_what_could_not_be_sent_for_want_of_the_cookie_comes_back_in_the_same_tab(browser_page):
    page = browser_page.go("/stand/S5/")
    page.locator("summary", has_text="Decisions").click()
    page.get_by_label("Decided by").fill("Forester Five")
    cookies = browser_page.context.cookies()
    browser_page.context.clear_cookies()
    browser_page.context.add_cookies([one for one in cookies if one["name"] == "overwood_form"])
    page.get_by_role("button", name="Write the decision down").click()
    page.wait_for_selector("text=kept in this tab")
    browser_page.context.add_cookies(cookies)
    page.get_by_role("link", name="come back to the page").click()
    page.wait_for_selector("text=This was not sent, because the log-in had ended")
    assert page.get_by_label("Decided by").input_value() == "Forester Five"
    page.reload()
    assert "This was not sent" not in page.locator("main").inner_text()
    # A fault of another form on the same tab: a box that was ticked at first and was not when it was sent stays so.
    page = browser_page.go("/")
    page.get_by_text("Type an outline instead of drawing it").click()
    form = page.locator("form[action='/map/typed/']")
    form.locator("[name=stand]").fill("S5")
    form.locator("[name=corners]").fill("1 2")
    form.locator("[name=take_area]").uncheck()
    form.get_by_role("button").click()
    page.wait_for_selector("form[action='/map/typed/'] #beside >> text=three corners or more")
    assert not form.locator("[name=take_area]").is_checked() and form.locator("[name=corners]").input_value() == "1 2"
    # The refused sends are the only things the browser noted.
    assert all("403" in text or "400" in text for text in browser_page.errors) and len(browser_page.errors) == 2
    browser_page.errors.clear()


def test_markings_are_put_aside_compared_and_taken_up_again(browser_page):
    page = browser_page.go("/light/S2/")
    page.wait_for_selector("#marking[data-ready]")
    page.locator("#basal-area").fill("60")
    page.wait_for_function("() => Math.abs(parseFloat(document.getElementById('sum-ba').textContent) - 60) < 3")
    kept = page.locator("#sum-ba").inner_text()
    page.get_by_label("Name").fill("=sixty")
    page.get_by_role("button", name="Put this marking aside").click()
    page.wait_for_selector("#aside table")
    page.locator("#basal-area").fill("25")
    page.wait_for_function("before => document.getElementById('sum-ba').textContent !== before", arg=kept)
    # The one put aside is drawn left of the line; the one on the table stays.
    table = page.locator("#sum-ba").inner_text()
    page.get_by_role("button", name="Show =sixty left of the line").click()
    page.wait_for_selector("#left-of-line >> text==sixty")
    assert page.locator("#sum-ba").inner_text() == table and page.locator("#wipe").input_value() == "50"
    # Many at once: by a rule, undone by one step; then by drawing around a part of the map.
    page.locator("#kind").select_option("oak")
    page.locator("#from").fill("12")
    page.get_by_role("button", name="Choose them").click()
    page.wait_for_selector("#chosen-said >> text=trees chosen")
    page.get_by_role("button", name="Leave the chosen").click()
    page.wait_for_function("before => parseFloat(document.getElementById('sum-ba').textContent) > parseFloat(before) + 5", arg=table)
    page.get_by_role("button", name="Undo").click()
    page.wait_for_function("before => document.getElementById('sum-ba').textContent === before", arg=table)
    page.get_by_role("button", name="Choose by drawing around").click()
    page.locator("#trees").scroll_into_view_if_needed()
    box = page.locator("#trees").bounding_box()
    for step, (x, y) in enumerate(((0.1, 0.1), (0.9, 0.1), (0.9, 0.5), (0.1, 0.5), (0.1, 0.1))):
        page.mouse.move(box["x"] + x * box["width"], box["y"] + y * box["height"], steps=3)
        if step == 0:
            page.mouse.down()
    page.mouse.up()
    page.wait_for_selector("#chosen-said >> text=trees chosen")
    chosen = int(page.locator("#chosen-said").inner_text().split()[0])
    assert 10 < chosen < page.evaluate("document.getElementById('tree').options.length")
    page.get_by_role("button", name="Choose by drawing around").click()
    page.get_by_role("button", name="Take up =sixty").click()
    page.wait_for_function("before => document.getElementById('sum-ba').textContent === before", arg=kept)
    answer = page.request.get(browser_page.served.base + "/light/S2/trees.csv")
    assert answer.text().splitlines()[0] == "stem,call,species,dbh_in,east_ft,north_ft,score"
    assert sum(",leave," in line for line in answer.text().splitlines()) > 50


def test_stands_appear_as_they_are_judged_and_typing_is_not_lost(chromium, demo_file, tmp_path):
    served = start(copied(demo_file, tmp_path), "--on", DEMO_DAY.isoformat(), "--tour")
    served.ask(served.address)
    watched = Watched(chromium, served, viewport={"width": 1280, "height": 900})
    page = watched.go("/")
    page.locator("aside summary").click()
    page.locator("#text").fill("spur")
    page.wait_for_selector("#stands >> text=1 stand shown")
    page.wait_for_selector("#outline path.cut")
    assert page.locator("#text").input_value() == "spur"
    page.wait_for_selector("text=still to be judged", state="detached")
    assert page.locator("aside ol").is_visible()
    assert faults_of(page) == []
    watched.close()
    stop(served)


def test_a_file_is_dropped_looked_at_answered_and_written(chromium, fresh_served, tmp_path):
    from pages.test_importing import given

    given(fresh_served, "vesperlick.zip", zipped(DEMO))
    seen = Watched(chromium, fresh_served, viewport={"width": 1280, "height": 900})
    page = seen.go("/import/")
    sheet = tmp_path / "ridge.csv"
    sheet.write_text("Pt,Tree,Sp,DBH (in)\n1,1,WO,18\n1,2,BO,21.5\n2,1,WO,17\n")
    page.set_input_files("#file", str(sheet))
    page.get_by_role("button", name="Look at the file").click()
    assert faults_of(page) == []
    page.locator('select[name$="stand"]').select_option("S1")
    page.locator('[name$="visited_on"]').fill("2025-10-01")
    page.locator('[name$="baf_ft2_ac"]').fill("10")
    page.get_by_role("button", name="Look again with these answers").click()
    assert "What would come in" in page.content() and "3 stems" in page.content()
    assert faults_of(page) == []
    page.reload()
    page.get_by_role("button", name="Write it into the book").click()
    assert "ridge.csv came in as entry 2" in page.content()
    page.get_by_role("link", name="Undo entry 2", exact=True).click()
    assert "Undo entry 2?" in page.content()
    assert faults_of(page) == []
    page.get_by_role("button", name="Take all of it out").click()
    page.get_by_role("button", name="Take back: entry 2").click()
    page.goto(fresh_served.base + "/import/mappings/")
    assert "ridge" in page.content()
    seen.close()
