"""A stand from above in the browser: sent, proposed on a map, looked at on the ground; asked of the views in this process."""

from __future__ import annotations

import dataclasses
import html
import re

import numpy as np
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

import canopy as made
from conftest import DEMO_DAY
from overwood.desk import kept
from unit_words import us_units


@pytest.fixture
def client(demo_book, read_here, ask, monkeypatch):
    from django.core import signing
    from django.test import Client, override_settings

    from overwood.faces.pages import asking, guard
    from overwood.faces.served.serving import Told, web_settings

    with override_settings(**web_settings(Told()) | {"ALLOWED_HOSTS": ["testserver"]}):
        asking.begin(Told(book=str(demo_book), on=DEMO_DAY.isoformat()))
        # Light is drawn twice only.
        few = dataclasses.replace(ask, rules=ask.rules.with_value("canopy_light_draws", 2))
        monkeypatch.setattr(asking, "question", lambda: few)
        browser = Client()
        browser.cookies[guard.COOKIE] = signing.dumps("owner", salt=guard.COOKIE)
        yield browser


@pytest.fixture(scope="module")
def raster(tmp_path_factory):
    heights = np.zeros((380, 490), dtype=np.float32)
    rows, columns = np.indices(heights.shape)
    heights[:] = 26 - ((rows % 18 - 9) ** 2 + (columns % 18 - 9) ** 2) / 8
    return made.geotiff(tmp_path_factory.mktemp("canopy") / "s1.tif", heights).read_bytes()


def _said(page):
    return html.unescape(page.content.decode())


def _send(client, raster, **fields):
    file = SimpleUploadedFile("s1.tif", raster)
    return client.post("/canopy/S1/", {"act": "map", "flown": "2024-07-01", "height": "m", "file": file} | fields)


def test_a_sent_raster_becomes_proposals_on_a_map_and_a_crown_is_written_down(client, raster):
    assert "Nothing seen from above yet" in _said(client.get("/canopy/S1/"))
    assert _send(client, raster).status_code == 302
    page = _said(client.get("/canopy/S1/"))

    count = int(re.search(r"(\d+) crowns proposed on", page)[1])
    assert page.count('<circle class="proposed"') == count > 200
    assert "Whether the midstory shades the forest floor is not answered from above" in page
    assert "The stand's figure of floor light stays" in page
    assert client.get("/canopy/S1/crowns.csv").content.decode().count("\n") == count + 1

    row = {"act": "check", "crown": "3", "verdict": "one tree", "species": "white oak", "dbh_in": "17", "by": "Cruiser A"}
    assert client.post("/canopy/S1/", row).status_code == 302
    page = _said(client.get("/canopy/S1/"))
    assert page.count('<circle class="one-tree"') == 1 and "1 crowns: 1 one tree" in page

    filled = SimpleUploadedFile("sheet.csv", b"crown,verdict,species,dbh_in\n4,no tree,,\n5,several trees,,\n")
    assert client.post("/canopy/S1/", {"act": "check", "file": filled, "by": "Cruiser B"}).status_code == 302
    assert "3 crowns: 1 one tree, 1 several, 1 none" in _said(client.get("/canopy/S1/"))

    client.get("/units/metric/?next=/")
    metric = client.get("/canopy/S1/")
    typed = client.post("/canopy/S1/", row | {"crown": "6", "dbh_in": "43.18", "units": "metric"})
    refused = _send(client, raster[:1000])
    # 17 in. are 43.18 cm; the answer that is kept says US units whatever its page says.
    assert us_units(metric) == us_units(refused) == [] and "Dbh, cm" in _said(metric)
    assert typed.status_code == 302 and kept.newest("S1", "canopy").result["crowns"][5]["dbh_in"] == 17


def test_what_cannot_be_taken_is_said_and_what_was_typed_stays(client, raster):
    for fields, words in (({"height": ""}, "Say m or ft."), ({"flown": ""}, "the day of the flight is not said")):
        answer = _send(client, raster, **fields)
        assert answer.status_code == 422 and words in _said(answer)
    assert 'value="2024-07-01"' in _said(_send(client, raster, height="ft"))
    assert client.post("/canopy/S1/", {"act": "map", "flown": "2024-07-01"}).status_code == 422
    row = {"act": "check", "crown": "3", "verdict": "one tree", "species": "red", "dbh_in": "17", "by": "A"}
    assert _said(client.post("/canopy/S1/", row)).count("This cell cannot be read") == 1
