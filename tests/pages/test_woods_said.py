"""What the kit says on a phone: old values beside the new, metric units, one's own track and plots, photos and their ways, clocks."""

from __future__ import annotations

import json
import re
import uuid

import pytest

from pages import test_woods
from pages.conftest import Watched
from pages.test_woods import at_next_plot, opened, phone, red_picture, tap, told, unsent

# No test here stops its desk, and each makes a walk of its own: one desk serves all.
desk = own_desk = test_woods.desk
walk_made = test_woods.walk_made
STORED = "async (walk) => (await (await import('/woods/store.js')).taps(walk))"
# Units of the US customary system as the kit would say them.
US_UNIT = re.compile(r"\d ?(?:in|ft|yd|ft²/ac|acre|pulg|pies|yardas|pies²/acre)\b|½ ft|, (?:in|pulg)$|factor 10\b", re.MULTILINE)


def begin(page):
    page.goto(page.url)
    page.wait_for_selector("html[data-ready]")


def main_text(page):
    return page.locator("main").inner_text()


def test_what_stood_at_a_plot_stands_beside_what_is_tallied_now(chromium, desk):
    walk = walk_made(desk, "reproduction", "cruise", "light", "acorn")
    young, cruise, light, acorn = walk["stands"][0]["visits"]
    watched = phone(chromium, desk, width=320)
    page = opened(watched, walk)
    names = {one["code"]: one["name"] for one in walk["species"]}
    first = young["points"][0]["point"]
    old = young["old"][first][0]
    at_next_plot(page, "reproduction")
    tap(page, names[old["species"]])
    same = [row for row in young["old"][first] if (row["species"], row["height_class"]) == (old["species"], old["height_class"])]
    stems = sum(int(row["stems"]) for row in same)
    shown = [button.inner_text().split("\n") for button in page.locator("main .grid").nth(1).locator("button").all()]
    assert shown[list(walk["height_classes"]).index(old["height_class"])][1:] == [f"0 was {stems}"]
    at_next_plot(page, "cruise")
    tree = cruise["old"][cruise["points"][0]["point"]][0]
    assert re.search(
        rf"Before, {cruise['before_on']}: .*{names[tree['species']]} [^;]*{re.escape(tree['dbh_in'])}[^;]* in", main_text(page)
    )
    at_next_plot(page, "light")
    point = light["points"][0]["point"]
    assert f"Before, {light['before_on']}: {light['old'][point][0]['light_pct']}%" in main_text(page)
    assert "nothing there" not in main_text(page)
    begin(page)
    tap_first = acorn["acorn_trees"][0]
    page.get_by_role("button", name="acorn").first.tap()
    said = page.get_by_role("button", name=f"Tree {tap_first['tree']}: ").first.inner_text()
    assert f"{acorn['before_on']}: {'acorns seen' if tap_first['bearing'] == 'yes' else 'none seen'}" in said or tap_first["acorns"] in said
    watched.close()


# A touch on a button, and another at the same place as soon as another button stands there: the name of that one.
BOUNCE = """async (name) => { const touch = (button) => button.dispatchEvent(new MouseEvent('click', { bubbles: true, detail: 1, clientX: at.left + 20, clientY: at.top + 20 }));
  const one = [...document.querySelectorAll('button')].find((button) => button.textContent === name); const at = one.getBoundingClientRect(); touch(one);
  while (one.isConnected) await new Promise((go) => setTimeout(go, 1));
  const next = document.elementFromPoint(at.left + 20, at.top + 20); touch(next); return next.textContent; }"""


def test_the_basal_area_of_the_plot_under_way_runs_with_each_tree_and_undo_stays_in_reach(chromium, desk):
    watched = phone(chromium, desk)
    page = opened(watched, walk_made(desk, "marking check"))
    at_next_plot(page, "marking check")
    tap(page, "white oak", "14", "Left")
    # A tree in a prism of factor 10 stands for 10 square feet an acre, whatever its size (Bitterlich's rule).
    page.get_by_text("10 ft²/ac stay here").wait_for()
    tap(page, "9", "Left")
    page.get_by_text("20 ft²/ac stay here").wait_for()
    tap(page, "20", "Taken")
    page.get_by_text("20 ft²/ac stay here").wait_for()
    tap(page, "7")
    tap(page, "Take back")
    told(page, "Taken back: white oak, 20 in, taken.")
    # A glove that bounces does not hit what has come to stand under it: a tree that was kept is not taken back by the same touch.
    tap(page, "⌫", "12")
    assert page.evaluate(BOUNCE, "Left") == "Take back"
    told(page, "Left: white oak, 12 in.")
    page.wait_for_timeout(200)
    assert page.locator("#told").inner_text() == "Left: white oak, 12 in."
    # No button moves under the thumb as what was told comes and goes.
    page.locator("footer").get_by_role("button", name="Next: plot").tap()
    page.get_by_role("heading", name="Plot 2").wait_for()
    # Three trees at the one plot taken so far: so many are to come at each of those that lack before the next look.
    page.get_by_text(re.compile(r"Take (\d+) more plots, about (\d+) trees")).wait_for()
    lacking, trees = map(int, re.search(r"Take (\d+) more plots, about (\d+) trees", page.locator("body").inner_text()).groups())
    assert trees == 3 * lacking > 0
    page.evaluate("scrollTo(0, 0)")
    still = page.get_by_role("button", name="black oak").bounding_box()["y"]
    tap(page, "white oak", "10", "Left")
    told(page, "Left: white oak, 10 in.")
    page.evaluate("scrollTo(0, 0)")
    assert page.get_by_role("button", name="black oak").bounding_box()["y"] == pytest.approx(still, abs=1)
    watched.close()


@pytest.fixture(scope="module")
def metric_walk(desk):
    import os
    import subprocess
    import sys

    kinds = [part for kind in test_woods.ALL_KINDS for part in ("--kind", kind)]
    target = desk.book.with_name("metric.walk.json")
    subprocess.run(
        [sys.executable, "-m", "overwood", "woods", "walk", "S3", *kinds, "--metric", "--days", "60", "--out", str(target), "--book", str(desk.book)],
        check=True, env={**os.environ}, stdout=subprocess.DEVNULL,
    )  # fmt: skip
    return json.loads(target.read_text(encoding="utf-8"))


@pytest.mark.parametrize("language", ["English", "Español"])
def test_a_metric_walk_says_no_us_unit_on_any_screen(chromium, desk, metric_walk, language):
    watched = phone(chromium, desk, width=320)
    page = opened(watched, metric_walk)
    if language == "Español":
        tap(page, "This phone", "Español")
    words = page.evaluate("async (spoken) => (await import('/woods/words.js')).WORDS[spoken]", "en" if language == "English" else "es")
    assert US_UNIT.findall("14 in, within 20 ft, 52 yd, 1/735 acre, Dbh, in"), "the pattern finds them"
    for kind in test_woods.ALL_KINDS:
        begin(page)
        page.get_by_role("button", name=re.compile(rf"^{re.escape(words['kind ' + kind])}\b")).first.tap()
        assert US_UNIT.findall(page.locator("body").inner_text()) == [], kind
        if kind == "acorn":
            continue
        page.locator("footer button").last.tap()
        page.get_by_role("heading", name=words["this plot"]).wait_for()
        assert US_UNIT.findall(page.locator("body").inner_text()) == [], kind
    watched.close()


def test_metric_taps_are_stored_in_us_units_and_read_back_as_they_were_tapped(chromium, desk, metric_walk):
    watched = phone(chromium, desk)
    page = opened(watched, metric_walk)
    at_next_plot(page, "cruise")
    page.get_by_text("Dbh, cm").wait_for()
    tap(page, "white oak", "35", ".", "6", "Live tree")
    told(page, "Live tree: white oak, 35.6 cm.")
    # A size on the limit of the rings, 5 in = 12.7 cm, is of the upper one; 300 cm is no tree.
    tap(page, "12", ".", "7", "Live tree")
    told(page, "Live tree: white oak, 12.7 cm.")
    page.get_by_text("2 trees here, 2 overstory, 0 midstory").wait_for()
    tap(page, "300", "Live tree")
    told(page, "Tap a number from 1.27 to 254 cm first.")
    stored = [one["row"]["dbh_in"] for one in page.evaluate(STORED, metric_walk["walk"]) if one["table"] == "trees"]
    assert [float(one) for one in stored] == pytest.approx([35.6 / 2.54, 5], abs=5e-5)
    assert stored[1] == "5"
    back = page.evaluate(
        """async () => { const { digits, stored } = await import('/woods/units.js');
        const wrong = []; for (let mm = 13; mm <= 2540; mm += 1) { const text = String(mm / 10); if (digits(stored(text, 'in'), 'in', 1) !== text) wrong.push(text); } return wrong; }"""
    )
    assert back == []
    watched.close()


PLACES = [{"latitude": 38.0 + 0.0002 * step, "longitude": -80.0, "accuracy": 5} for step in range(4)]


def test_the_map_shows_the_plots_that_the_phone_placed_and_the_way_gone_after_a_reload(chromium, desk):
    walk = walk_made(desk, "injection check")
    visit = walk["stands"][0]["visits"][0]
    visit["points"] = [point | {"lon": None, "lat": None, "row": {}} for point in visit["points"]]
    walk["stands"][0]["outline"] = []
    watched = phone(chromium, desk)
    watched.context.grant_permissions(["geolocation"])
    watched.context.set_geolocation(PLACES[0])
    page = opened(watched, walk)
    page.get_by_role("button", name="injection check").first.tap()
    canvas = page.locator("#map")
    assert not canvas.is_visible()
    page.get_by_role("button", name="Show the way").tap()
    for count, place in enumerate(PLACES, start=1):
        watched.context.set_geolocation(place)
        page.wait_for_function("count => Number(document.getElementById('map').dataset.track) >= count", arg=count)
    assert canvas.is_visible() and canvas.get_attribute("data-plots") == "0"
    page.locator("footer").get_by_role("button", name="Next: plot").tap()
    page.evaluate("document.documentElement.dataset.fixMs = '300'")
    tap(page, "Take the place of this plot")
    told(page, "Plot 1: place by phone")
    begin(page)
    page.get_by_role("button", name="injection check").first.tap()
    page.wait_for_function("() => document.getElementById('map')?.dataset.plots === '1'")
    assert int(canvas.get_attribute("data-track")) == len(PLACES)
    watched.close()


def test_codes_say_that_photos_are_not_in_them_and_photos_go_once_by_request_and_by_file(chromium, own_desk):
    walk = walk_made(own_desk, "reproduction")
    watched = phone(chromium, own_desk)
    page = opened(watched, walk)
    at_next_plot(page, "reproduction")
    page.locator("#photo").dispatch_event("cancel")
    told(page, "No picture came. If the camera is not allowed")
    for count in (1, 2):
        page.set_input_files("#photo", {"name": "a.png", "mimeType": "image/png", "buffer": red_picture()})
        told(page, f"The photo is kept: {count}")
    begin(page)
    assert unsent(page) == 2
    page.get_by_role("button", name="Send or save").tap()
    page.get_by_role("button", name="Show as codes").tap()
    page.get_by_text("2 photos are not in these codes: they are too large.").wait_for()
    begin(page)
    page.get_by_role("button", name="Send or save").tap()
    # Both phones' platforms share by a sheet; here the file is saved.
    page.evaluate("navigator.canShare = undefined")
    with page.expect_download():
        page.get_by_role("button", name="Save a file").tap()
    told(page, "2 photos are not in this file: save the photos too, or send them.")
    with page.expect_download() as file:
        page.get_by_role("button", name="Save the photos").tap()
    content = file.value.path().read_bytes()
    assert [len(part) for part in page.evaluate(PARTS, walk)] == [1, 1], "a part for each where two would be too large"
    page.get_by_role("button", name="Send to the desk").tap()
    told(page, "2 photos went to the desk.")
    assert unsent(page) == 0
    watched.close()
    status, _, _ = own_desk.send("/walks/", {"act": "take"}, files=[("file", file.value.suggested_filename, content)])
    assert status == 302
    text = own_desk.page("/stand/S3/")
    assert "Photos from the woods" in text
    assert len(set(re.findall(rf"/walks/{walk['walk']}/photos/[0-9a-f]+\.jpg", text))) == 2


# The parts of the photo file where each photo is as large as a whole file may be.
PARTS = """async (walk) => { const carry = await import('/woods/carry.js'); const store = await import('/woods/store.js');
  const size = Object.getOwnPropertyDescriptor(Blob.prototype, 'size'); Object.defineProperty(Blob.prototype, 'size', { get: () => 11e6, configurable: true });
  try { const files = await carry.photoFiles(walk); Object.defineProperty(Blob.prototype, 'size', size);
    return await Promise.all(files.map(async (file) => JSON.parse(await file.text()).records)); } finally { Object.defineProperty(Blob.prototype, 'size', size); } }"""


def test_a_walk_that_the_desk_refuses_keeps_no_other_from_being_sent(chromium, own_desk):
    ours = walk_made(own_desk, "reproduction")
    # Of another book: the phone sends in the order of the walks' numbers, this one first.
    theirs = json.loads(json.dumps(ours).replace(ours["walk"], "0" * 32).replace("S3", "Z9"))
    watched = phone(chromium, own_desk)
    page = opened(watched, theirs)
    begin(page)
    page.get_by_role("button", name="Load a walk").tap()
    page.set_input_files("#walk-file", {"name": "w.json", "mimeType": "application/json", "buffer": json.dumps(ours).encode()})
    page.get_by_text("is on the phone").wait_for()
    for number in (0, 1):
        begin(page)
        page.get_by_role("button", name="reproduction").nth(number).tap()
        page.locator("footer").get_by_role("button", name="Next: plot").tap()
        tap(page, "Nothing here")
        told(page, "nothing there")
    begin(page)
    assert unsent(page) == 2
    page.get_by_role("button", name="Send or save").tap()
    page.get_by_role("button", name="Send to the desk").tap()
    told(page, "1 tap went to the desk.")
    told(page, "belongs to a walk of another book")
    assert unsent(page) == 1
    watched.context.close()


def test_a_clock_that_is_wrong_by_a_day_is_said_before_the_day_begins(chromium, own_desk):
    walk = walk_made(own_desk, "reproduction")
    watched = phone(chromium, own_desk)
    page = watched.page
    page.clock.install()
    page.clock.set_fixed_time("2020-01-02T12:00:00Z")
    opened(watched, walk)
    assert f"says 2020-01-02, but the walk was made on {walk['made_on']}." in main_text(page)
    page.get_by_role("button", name="Load a walk").tap()
    page.get_by_role("button", name="From the desk").tap()
    page.get_by_text(re.compile(r"clock is -\d+ hours off the desk's")).wait_for()
    watched.close()


def test_photos_of_a_phone_are_numbered_by_their_own_identifiers(chromium, own_desk):
    """Two phones may photograph one plot; no photo takes the place of another."""
    walk = walk_made(own_desk, "reproduction")
    for _ in range(2):
        watched = Watched(chromium, own_desk, viewport={"width": 390, "height": 740}, is_mobile=True, has_touch=True)
        page = opened(watched, walk)
        at_next_plot(page, "reproduction")
        page.set_input_files("#photo", {"name": "a.png", "mimeType": "image/png", "buffer": red_picture()})
        told(page, "The photo is kept: 1")
        begin(page)
        page.get_by_role("button", name="Send or save").tap()
        page.get_by_role("button", name="Send to the desk").tap()
        told(page, "1 photo went to the desk.")
        watched.close()
    numbers = set(re.findall(r"/photos/([0-9a-f]+)\.jpg", own_desk.page(f"/walks/{walk['walk']}/")))
    assert len(numbers) == 2 and all(uuid.UUID(one).version == 7 for one in numbers)


TWO_AT_ONCE = """(names) => { for (const name of names) [...document.querySelectorAll('button')].find((one) => one.textContent.startsWith(name)).click(); }"""


def test_two_buttons_tapped_at_once_open_a_plot_once_and_number_two_trees_apart(chromium, desk):
    walk = walk_made(desk, "reproduction", "injection check")
    watched = phone(chromium, desk)
    page = opened(watched, walk)
    at_next_plot(page, "reproduction")
    tap(page, "white oak")
    page.evaluate(TWO_AT_ONCE, ["1 to 3 ft", "3 to 4.5"])
    page.locator("#unsent", has_text="3 not sent").wait_for()
    at_next_plot(page, "injection check")
    tap(page, "white oak", "9")
    page.evaluate(TWO_AT_ONCE, ["Live tree", "Dead tree"])
    page.locator("#unsent", has_text="6 not sent").wait_for()
    taps = page.evaluate(STORED, walk["walk"])
    assert [one["table"] for one in taps] == ["points", "seedlings", "seedlings", "points", "trees", "trees"]
    assert [one["row"]["tree"] for one in taps if one["table"] == "trees"] == ["1", "2"]
    watched.close()


def test_a_file_taken_in_at_the_desk_is_receipted_by_the_walk_written_anew(chromium, own_desk):
    walk = walk_made(own_desk, "reproduction")
    watched = phone(chromium, own_desk)
    page = opened(watched, walk)
    at_next_plot(page, "reproduction")
    tap(page, "white oak", "1 to 3 ft")
    page.locator("#unsent", has_text="2 not sent").wait_for()
    page.set_input_files("#photo", {"name": "a.png", "mimeType": "image/png", "buffer": red_picture()})
    told(page, "The photo is kept: 1")
    page.evaluate("navigator.canShare = undefined")
    begin(page)
    page.get_by_role("button", name="Send or save").tap()
    for name in ("Save a file", "Save the photos"):
        with page.expect_download() as file:
            page.get_by_role("button", name=name).tap()
        status, _, _ = own_desk.send("/walks/", {"act": "take"}, files=[("file", "f.json", file.value.path().read_bytes())])
        assert status == 302
    begin(page)
    tap_later = "async ([walk, visit]) => { await (await import('/woods/store.js')).add(walk, [{ act: 'add', table: 'points', row: { visit, point: '9' } }]); }"
    page.evaluate(tap_later, [walk["walk"], walk["stands"][0]["visits"][0]["visit"]])
    assert page.get_by_role("button", name="Take off this phone").count() == 0
    page.get_by_role("button", name="Load a walk").tap()
    receipt = own_desk.page(f"/woods/walk/{walk['walk']}.json").encode()
    page.set_input_files("#walk-file", {"name": "w.json", "mimeType": "application/json", "buffer": receipt})
    page.get_by_text("is on the phone").wait_for()
    assert unsent(page) == 1, "what was tapped since then still waits"
    watched.close()


def test_three_in_five_replies_lost_and_every_tap_arrives_once(chromium, own_desk):
    import random

    walk, chance = walk_made(own_desk, "reproduction"), random.Random(3)
    visit = walk["stands"][0]["visits"][0]["visit"]
    watched = phone(chromium, own_desk)
    page = opened(watched, walk)
    script = """async ([walk, visit]) => { const store = await import('/woods/store.js'); const add = (table, row) => ({ act: 'add', table, row });
      for (let plot = 1; plot <= 60; plot += 1) await store.add(walk, [add('points', { visit, point: `${plot}` }), ...Array.from({ length: 10 },
        (_, line) => add('seedlings', { visit, point: `${plot}`, line: `${line}`, species: '802', height_class: '1-3', stems: '1' }))]); }"""
    page.evaluate(script, [walk["walk"], visit])
    begin(page)
    fates = {"lost before": 0, "lost after": 0, "arrived": 0}

    def way(route):
        fate = chance.choices(list(fates), (3, 3, 4))[0]
        fates[fate] += 1
        if fate == "lost after":
            route.fetch()
        route.continue_() if fate == "arrived" else route.abort()

    page.route("**/woods/up", way)
    page.get_by_role("button", name="Send or save").tap()
    while unsent(page):
        page.get_by_role("button", name="Send to the desk").tap()
        page.locator("#told", has_text=re.compile("No way to the desk|taps went")).wait_for()
    assert min(fates.values()) > 0, fates
    watched.context.close()
    text = own_desk.page(f"/walks/{walk['walk']}/")
    assert "What the 660 taps come to" in text and "60 points, 600 stems" in text
    assert "have not arrived" not in text and "numbered alike" not in text


# What a browser does that finds its store damaged: it begins an empty one.
EMPTIED = """() => new Promise((done, fail) => { const asked = indexedDB.deleteDatabase('overwood-woods'); asked.onsuccess = done; asked.onerror = fail; })"""


COPIED = """async ([walk, taps, photos]) => { try { const room = await navigator.storage.getDirectory();
  const copy = JSON.parse(await (await (await room.getFileHandle(walk + '.copy.json')).getFile()).text());
  return copy.taps.length === taps && copy.photos.length === photos; } catch { return false; } }"""


def test_a_store_that_the_browser_emptied_comes_back_from_its_copy_and_arrives_once(chromium, own_desk):
    walk = walk_made(own_desk, "reproduction")
    watched = phone(chromium, own_desk)
    page = opened(watched, walk)
    at_next_plot(page, "reproduction")
    tap(page, "white oak")
    # Each tap is waited for: a button is deaf while it works.
    for count, name in ((2, "1 to 3 ft"), (3, "1 to 3 ft"), (4, "Take back")):
        tap(page, name)
        page.locator("#unsent", has_text=f"{count} not sent").wait_for()
    tap(page, "All plots")
    page.get_by_role("button", name="Show the way").wait_for()
    begin(page)
    page.get_by_role("button", name="Send or save").tap()
    page.get_by_role("button", name="Send to the desk").tap()
    told(page, "4 taps went to the desk.")
    at_next_plot(page, "reproduction")
    tap(page, "Nothing here")
    page.locator("#unsent", has_text="1 not sent").wait_for()
    # The copy follows a tap by itself, and is made at each start.
    page.wait_for_function(COPIED, arg=[walk["walk"], 5, 0])
    page.evaluate("async () => { for await (const name of (await navigator.storage.getDirectory()).keys()) "
                  "await (await navigator.storage.getDirectory()).removeEntry(name); }")  # fmt: skip
    begin(page)
    page.get_by_role("button", name="reproduction").tap()
    page.get_by_role("button", name="Plot 1", exact=False).first.tap()
    page.set_input_files("#photo", {"name": "a.png", "mimeType": "image/png", "buffer": red_picture()})
    told(page, "Until it is sent, it is on this phone only.")
    page.wait_for_function(COPIED, arg=[walk["walk"], 5, 1])
    before = page.evaluate(STORED, walk["walk"])
    page.goto(own_desk.base + "/woods/leaf.svg")
    page.evaluate(EMPTIED)
    page = watched.go("/woods/")
    told(page, "From its second copy came back: taps 5, photos 1.")
    after = page.evaluate(STORED, walk["walk"])
    assert [(one["id"], one["seq"], one["device"]) for one in after] == [(one["id"], one["seq"], one["device"]) for one in before]
    page.get_by_role("button", name="Send or save").tap()
    page.get_by_role("button", name="Send to the desk").tap()
    page.locator("#unsent", has_text="0 not sent").wait_for()
    text = own_desk.page(f"/walks/{walk['walk']}/")
    assert "What the 5 taps come to" in text and "2 points, 1 stem" in text and "have not arrived" not in text
    assert len(set(re.findall(r"/photos/[0-9a-f]+\.jpg", text))) == 1
    page.wait_for_function(COPIED, arg=[walk["walk"], 5, 0])
    # An older copy gives no number twice.
    older = "async (walk) => { const store = await import('/woods/store.js'); await store.restore({ device: await store.device(), last: 1, walk, taps: [], photos: [] }); return store.lastNumber(walk.walk); }"
    assert page.evaluate(older, walk) == 5
    # A walk taken off the phone does not come back.
    for _ in range(2):
        page.get_by_role("button", name=re.compile("ake it off|Take off")).tap()
    told(page, "The walk is off this phone.")
    page.goto(own_desk.base + "/woods/leaf.svg")
    page.evaluate(EMPTIED)
    page = watched.go("/woods/")
    page.get_by_text("No walk is on this phone yet.").wait_for()
    watched.close()
