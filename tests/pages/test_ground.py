"""Streams, roads and sites in the browser: looked at, written, taken back; a width typed in metric is that width."""

from __future__ import annotations

import base64
import json
import re

import pytest

from conftest import DEMO_DAY
from pages.test_units import us_units

# Through the demo's S1, which lies at 50 west, 37.5 north.
STREAM = json.dumps(
    {
        "type": "Feature",
        "properties": {"kind": "stream", "name": "Long Run"},
        "geometry": {"type": "LineString", "coordinates": [[-50.001, 37.5015], [-49.996, 37.5015]]},
    }
).encode()


@pytest.fixture
def browser(demo_book):
    from django.core import signing
    from django.test import Client, override_settings

    from overwood.faces.pages import asking, guard
    from overwood.faces.served.serving import Told, web_settings

    with override_settings(**web_settings(Told()) | {"ALLOWED_HOSTS": ["testserver"]}):
        asking.begin(Told(book=str(demo_book), on=DEMO_DAY.isoformat()))
        made = Client()
        made.cookies[guard.COOKIE] = signing.dumps("owner", salt=guard.COOKIE)
        yield made


def send(browser, **fields):
    carried = {"carried": base64.b64encode(STREAM).decode(), "file_name": "streams.geojson"}
    return browser.post("/ground/", carried | fields)


def acres(text):
    return float(re.search(r"([\d.]+) (?:ac|ha) of the stand", text)[1])


def test_a_file_is_looked_at_written_and_taken_back(browser):
    looked = send(browser).content.decode()
    assert "no work within 50 ft of it" in looked
    assert "No stream, road or site is on record" in looked
    written = send(browser, write="yes").content.decode()
    assert "written down as entry" in written
    entry = re.search(r"entry (\d+)", written)[1]
    assert "Long Run" in browser.get("/ground/").content.decode()
    assert browser.post(f"/import/entry/{entry}/").status_code in (200, 302)
    assert "No stream, road or site is on record" in browser.get("/ground/").content.decode()


def test_a_width_typed_in_metric_is_kept_as_the_same_width(browser):
    us = send(browser, buffer="100").content.decode()
    browser.get("/units/metric/?next=/ground/")
    shown = send(browser, buffer="30.48", units="metric", write="yes")

    assert shown.status_code == 200
    page = browser.get("/ground/")
    assert us_units(page) == []
    assert "no work within 30.5 m of it" in page.content.decode()
    assert acres(page.content.decode()) == pytest.approx(acres(us) / 2.47105, abs=0.05)
    assert send(browser, buffer="1,5").status_code == 422
