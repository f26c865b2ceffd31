"""Pages in metric units: no US unit is left on a page that speaks metric, and every other page says that it does not."""

from __future__ import annotations

import re

import pytest

from conftest import DEMO_DAY
from overwood.faces.pages.urls import PLACES
from overwood.ground import measures
from unit_words import us_units


@pytest.fixture
def browser(demo_book, monkeypatch):
    from django.core import signing
    from django.test import Client, override_settings

    from overwood.faces.pages import asking, guard
    from overwood.faces.served.serving import Told, web_settings

    with override_settings(**web_settings(Told()) | {"ALLOWED_HOSTS": ["testserver"]}):
        asking.begin(Told(book=str(demo_book), on=DEMO_DAY.isoformat()))
        made = Client()
        made.cookies[guard.COOKIE] = signing.dumps("owner", salt=guard.COOKIE)
        yield made


def in_metric(browser):
    browser.get("/units/metric/?next=/stand/S3/")
    return browser


def test_a_stand_s_page_and_its_estimates_say_no_us_unit_in_metric(browser):
    in_metric(browser)

    page = browser.get("/stand/S3/")

    assert page.status_code == 200
    assert us_units(page) == []
    text = page.content.decode()
    # 58 ft2/ac of the main canopy and 22 acres, by hand: x 0.229568 and x 0.404686.
    assert "13.3 m²/ha" in text
    assert "8.9 hectares" in text
    for figure in ("overwood_ba_ft2_ac", "tallest_oak_ft", "oak_verdict"):
        assert us_units(browser.get(f"/stand/S3/why/{figure}/")) == []


def test_a_limit_typed_in_metric_is_the_same_limit(browser):
    us = browser.post("/stand/S3/what-if/", {"rule": "several_hundred_ac", "value": "350"})
    in_metric(browser)
    metric = browser.post("/stand/S3/what-if/", {"rule": "several_hundred_ac", "value": "864.869", "units": "metric"})

    kept = re.compile(r'name="value" value="([^"]*)"')
    assert float(kept.search(us.content.decode())[1]) == 350
    assert float(kept.search(metric.content.decode())[1]) == pytest.approx(350, rel=1e-5)
    assert "865 stems/ha" in metric.content.decode()
    assert us_units(metric) == []


def test_the_switch_goes_back_to_where_one_was_and_nowhere_else(browser):
    assert browser.get("/units/metric/?next=/stand/S3/").headers["Location"] == "/stand/S3/"
    assert browser.get("/units/US/?next=//elsewhere.example/").headers["Location"] == "/"
    assert browser.get("/units/furlongs/").status_code == 404
    assert us_units(browser.get("/stand/S3/")) != []


def test_what_machines_read_keeps_its_units(browser):
    in_metric(browser)

    figure = browser.get("/api/stands/S3/figures").json()

    assert "m2/ha" not in str(figure)


def test_every_address_of_the_api_keeps_to_us_units():
    from overwood.faces.pages.urls import speaks_metric

    assert not speaks_metric("api/stands/<str:name>/evidence")
    assert all(speaks_metric(place.route) == place.metric for place in PLACES)


@pytest.mark.parametrize("path", ["/owner-walk/S3/", "/money/S3/", "/fire/S3/", "/light/S2/", "/words/"])
def test_pages_that_speak_metric_say_no_us_unit(browser, path):
    in_metric(browser)

    page = browser.get(path)

    assert page.status_code == 200
    assert us_units(page) == []


def test_the_property_lists_its_stands_in_metric(browser, ask, monkeypatch):
    from overwood.desk import answers
    from overwood.faces.pages import judging

    with measures.in_units(measures.METRIC):
        advice, due = answers.judge("S3", ask)
    file = answers.stand_file("S3")
    found = judging.Standing((file.stand,), {"S3": judging.Judged(advice, tuple(due))}, {}, {}, 0)
    monkeypatch.setattr(judging, "standing", lambda asked, wait_s: found)
    in_metric(browser)

    for path in ("/", "/due/"):
        page = browser.get(path)
        assert us_units(page) == []
    assert "8.9 hectares" in browser.get("/").content.decode()


def test_a_decision_is_written_down_in_us_units(browser, monkeypatch):
    from overwood.desk import answers

    heard, advise = [], answers._advise
    monkeypatch.setattr(answers, "_advise", lambda *given: heard.append(measures.system()) or advise(*given))
    in_metric(browser)

    sent = browser.post("/stand/S3/decide/", {"step": "settle", "reason": "", "by": "A. Forester"})

    assert sent.status_code == 302
    assert heard[-1] == measures.US


def test_no_answer_is_kept_in_metric_units(ask):
    from overwood.desk import kept

    with measures.in_units(measures.METRIC), pytest.raises(ValueError, match="kept in US units"):
        kept.keep("S3", "advice", ask, {}, {"why": "13.3 m2/ha"})
