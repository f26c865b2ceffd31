"""The map in place: drawn, changed, split and merged by hand, own maps behind it, and the same by typing."""

from __future__ import annotations

import hashlib
import io
import json
import math
import re

import numpy as np
import pytest
from PIL import Image

from conftest import DEMO_DAY, ROOT
from maps import geotiff, pmtiles
from pages.conftest import Watched, copied, faults_of, start, stop

PADDING = 40


@pytest.fixture
def mapped(demo_file, tmp_path):
    """The demo with own maps behind it."""
    air, roads = geotiff(tmp_path / "air.tif", lon=-49.985, lat=37.505, pixels=600), pmtiles(tmp_path / "roads.pmtiles")
    found = start(copied(demo_file, tmp_path), "--on", DEMO_DAY.isoformat(), "--background", str(air), "--background", str(roads))
    assert found.ask(found.address)[0] == 302
    found.judged()
    yield found
    stop(found)


class Map:
    """The open map, and where on the page a place on the earth lies: the whole property fills it, but for the padding."""

    def __init__(self, watched):
        self.page = watched.go("/")
        self.page.wait_for_selector("#mapping[data-ready]")
        self.box = self.where()
        corners = [corner for one in self.stands().values() for corner in one["geometry"]["coordinates"][0]]
        x, y = zip(*(self._flat(*corner) for corner in corners), strict=True)
        self.middle = ((min(x) + max(x)) / 2, (min(y) + max(y)) / 2)
        self.pixel = max((max(x) - min(x)) / (self.box["width"] - 2 * PADDING), (max(y) - min(y)) / (self.box["height"] - 2 * PADDING))

    def where(self):
        """The map's place in the window; the page scrolls to the form and back."""
        self.page.evaluate("document.querySelector('#mapping-map').scrollIntoView({ block: 'start', behavior: 'instant' })")
        return self.page.locator("#mapping-map .ol-viewport").bounding_box()

    @staticmethod
    def _flat(lon, lat):
        return math.radians(lon), math.asinh(math.tan(math.radians(lat)))

    def stands(self):
        answer = self.page.context.request.get(self.page.url.rstrip("/") + "/map/stands.json").json()
        return {one["id"]: one for one in answer["stands"]["features"]}

    def at(self, lon, lat):
        x, y = self._flat(lon, lat)
        self.box = self.where()
        return (
            self.box["x"] + self.box["width"] / 2 + (x - self.middle[0]) / self.pixel,
            self.box["y"] + self.box["height"] / 2 - (y - self.middle[1]) / self.pixel,
        )

    def click(self, lon, lat, twice=False):
        place = self.at(lon, lat)
        self.page.mouse.move(*place)
        self.page.mouse.dblclick(*place) if twice else self.page.mouse.click(*place)
        # Two clicks within a quarter of a second are a double click to the map.
        self.page.wait_for_timeout(300)

    def drag(self, start, end):
        self.page.mouse.move(*self.at(*start))
        self.page.mouse.down()
        self.page.mouse.move(*self.at(*end), steps=6)
        self.page.mouse.up()

    def tool(self, name):
        self.page.get_by_role("button", name=name).click()

    def said(self, words):
        self.page.wait_for_selector(f"#mapping-said >> text={words}")
        return self.page.locator("#mapping-said").inner_text()


def test_stands_are_drawn_changed_split_merged_and_undone_by_hand(chromium, mapped):
    watched = Watched(chromium, mapped, viewport={"width": 1280, "height": 1000})
    map = Map(watched)
    before = map.stands()

    map.tool("Draw a stand")
    for corner in [(-49.979, 37.502), (-49.975, 37.502), (-49.975, 37.505)]:
        map.click(*corner)
    map.click(-49.979, 37.505, twice=True)
    said = map.said("The new stand")
    acres = float(re.search(r"([\d.]+) acres", said)[1])
    # 0.004 by 0.003 degrees at 37.5 north: 354 by 333 m, give or take a pixel of the hand.
    assert acres == pytest.approx(29.1, abs=1.5)
    map.page.get_by_role("combobox", name="Stand").fill("S9")
    map.page.get_by_role("button", name="Save").click()
    map.said("Kept as entry")
    assert map.stands()["S9"]["properties"]["area_ac"] == pytest.approx(acres, abs=0.01)
    map.page.wait_for_selector("#stands >> text=S9")
    map.page.wait_for_selector("#counts >> text=9 stands")

    map.tool("Split a stand")
    map.click(-49.977, 37.5035)
    map.said("S9 is chosen")
    map.click(-49.977, 37.5010)
    map.click(-49.977, 37.5065, twice=True)
    map.said("The new part")
    map.page.get_by_label("New part").fill("S9b")
    map.page.get_by_role("button", name="Save").click()
    map.said("Kept as entry")
    halves = map.stands()
    assert halves["S9"]["properties"]["area_ac"] == pytest.approx(acres / 2, rel=0.1)
    assert halves["S9"]["properties"]["area_ac"] + halves["S9b"]["properties"]["area_ac"] == pytest.approx(acres, abs=0.02)

    map.tool("Merge two stands")
    map.click(-49.9782, 37.5035)
    map.click(-49.9758, 37.5035)
    assert "no longer listed" in map.said("acres")
    map.page.get_by_role("button", name="Save").click()
    map.said("Kept as entry")
    merged = set(map.stands()) - set(before)
    assert len(merged) == 1
    assert map.stands()[merged.pop()]["properties"]["area_ac"] == pytest.approx(acres, abs=0.02)
    map.page.get_by_role("button", name="Undo it").click()
    map.said("is undone")
    assert map.stands() == halves

    map.tool("Change an outline")
    corner = before["S8"]["geometry"]["coordinates"][0][0]
    inside = np.mean(before["S8"]["geometry"]["coordinates"][0][:4], axis=0)
    map.click(*inside)
    map.said("S8 is chosen")
    map.drag(corner, (corner[0] - 0.001, corner[1] - 0.001))
    map.said("S8: ")
    map.page.get_by_role("button", name="Save").click()
    map.said("Kept as entry")
    assert map.stands()["S8"]["properties"]["area_ac"] > before["S8"]["properties"]["area_ac"] + 1

    map.tool("Draw a stand")
    for corner in [(-49.979, 37.506), (-49.975, 37.509), (-49.975, 37.506)]:
        map.click(*corner)
    map.click(-49.979, 37.509, twice=True)
    assert "crosses itself" in map.said("crosses itself")
    map.page.get_by_role("button", name="Cancel").click()
    assert map.page.locator("#mapping-form").is_hidden()

    map.tool("Look")
    map.click(-49.9782, 37.5035)
    map.page.wait_for_url("**/stand/S9/")
    map.page.wait_for_function("document.title.includes('S9')")
    watched.close()


def test_own_maps_lie_behind_and_can_be_hidden(chromium, mapped):
    watched = Watched(chromium, mapped, viewport={"width": 1280, "height": 1000})
    map = Map(watched)

    def colours():
        map.page.wait_for_timeout(700)
        picture = np.asarray(Image.open(io.BytesIO(map.page.locator("#mapping-map").screenshot())).convert("RGB")).astype(int)
        green = (picture[..., 1] > 140) & (picture[..., 0] < 40) & (picture[..., 2] < 40)
        red = (picture[..., 0] > 200) & (picture[..., 1] < 60) & (picture[..., 2] < 60)
        return green.mean(), red.sum()

    map.page.wait_for_timeout(700)
    x, y = map.at(-49.985, 37.505)
    spot = np.asarray(Image.open(io.BytesIO(map.page.screenshot())).convert("RGB"))[int(y), int(x)].astype(int)
    assert spot[0] > 180 and spot[1] < 90, "the red mark lies at its longitude and latitude"
    green, red = colours()
    assert green > 0.4 and red > 50
    map.page.get_by_label("air.tif behind").uncheck()
    assert colours() == (0, 0)
    assert faults_of(map.page) == []
    watched.close()


def test_the_map_is_opened_when_asked_and_fits_a_phone(chromium, served):
    watched = Watched(chromium, served, viewport={"width": 390, "height": 800}, is_mobile=True, has_touch=True)
    loaded = []
    watched.page.on("request", lambda request: loaded.append(request.url))
    page = watched.go("/")
    page.wait_for_selector("#mapping-open button:visible")
    assert not [address for address in loaded if address.endswith("/map.js")]
    page.get_by_role("button", name="Open the map").click()
    page.wait_for_selector("#mapping[data-ready]")
    assert [address for address in loaded if address.endswith("/map.js")]
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    assert faults_of(page) == []
    page.get_by_role("button", name="Close the map").click()
    assert page.locator("#mapping-map").is_hidden()
    watched.close()


def test_an_outline_is_typed(fresh):
    def send(**fields):
        status, _, body = fresh.send("/map/typed/", {"take_area": "yes", **fields}, form="/import/")
        return status, body.decode()

    corners = "-82.0 38.0\n-81.99, 38.0\n\n-81.99 38.01\n-82.0 38.01\n"
    assert "no property yet" in send(stand="A", corners=corners)[1]
    assert fresh.send("/records/properties/", {"property": "P"})[0] == 200
    assert "Type an outline" in fresh.page("/")
    status, body = send(stand="A", corners=corners)
    # 0.01 by 0.01 degrees at 38 north: 878 by 1,110 m.
    assert status == 200 and re.search(r"24[01]\.\d\d acres", body)
    status, body = send(stand="A", corners="POLYGON ((-82 38, -81.99 38, -81.99 38.005, -82 38.005, -82 38))")
    assert status == 200 and re.search(r"120\.\d\d acres", body)
    for wrong, words in (
        ("-82 38", "three corners"),
        ("a b", "well-known text cannot"),
        ("-82 38 1", "is no corner"),
        ("-82\n-81", "is no corner"),
    ):
        status, body = send(stand="A", corners=wrong)
        assert (status, words in body) == (400, True), body[-500:]


def test_what_the_map_asks_is_answered_in_words(served):
    served.page("/import/")
    headers = {"Content-Type": "application/json", "X-CSRFToken": served.cookies["overwood_form"], "Origin": served.base}
    for body, status in (
        ("{}", 400),
        ("[]", 400),
        ("{no", 400),
        ('{"act": "change", "stand": "S77", "shape": {}}', 404),
        ('{"act": "split", "stand": "S1", "other": "x", "shape": 3}', 400),
    ):
        for path in ("/map/check/", "/map/keep/"):
            found, _, answer = served.ask(path, method="POST", body=body, headers=headers)
            assert found == (200 if path == "/map/check/" else status)
            assert json.loads(answer)["what"] and json.loads(answer)["remedy"]
    assert served.ask("/map/behind/0/0/0/0")[0] == 404


def test_tiles_are_sent(mapped):
    told = json.loads(mapped.ask("/map/stands.json")[2])
    assert [(one["name"], one["kind"]) for one in told["backgrounds"]] == [("air.tif", "picture"), ("roads.pmtiles", "vector")]
    assert mapped.ask("/map/behind/0/10/369/396")[1]["Content-Type"] == "image/png"
    assert mapped.ask("/map/behind/0/3/0/0")[0] == 204
    assert mapped.ask("/map/behind/0/3/9/0")[0] == 404
    assert mapped.ask("/map/behind/2/0/0/0")[0] == 404
    assert mapped.ask("/map/behind/0/10/369/396", cookies=False)[0] == 403


def test_the_bundle_is_made_from_its_source():
    """`make assets` builds it; npm is not needed to check that it was done."""
    made = hashlib.sha256((ROOT / "assets" / "map.js").read_bytes() + (ROOT / "assets" / "package-lock.json").read_bytes()).hexdigest()
    head = (ROOT / "src/overwood/faces/pages/static/map.js").read_text(encoding="utf-8")[:200]
    assert made in head
