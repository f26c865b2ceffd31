"""A fault of a sent form: the page stays, the fault is at its field, what was typed is kept; secrets and files are not written back."""

from __future__ import annotations

import html
import json
import re

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

HOST = "http://127.0.0.1"


def _kept(page):
    """The fault's words, its field, and what the page keeps of the sent form."""
    text = page.content.decode()
    block = re.search(r'<div class="fault" id="beside"[^>]*data-field="(\w*)">(.*?)</div>', text, re.S)
    sent = re.search(r'<script id="beside-sent" type="application/json">(.*?)</script>', text, re.S)
    return html.unescape(block[2]), block[1], json.loads(sent[1])


@pytest.mark.parametrize(
    ("address", "sent", "field", "words"),
    [
        ("/fire/S1/", {"zone": "five", "clock": "utc", "weather": b"x"}, "zone", "'five' is no number of hours"),
        ("/fire/S1/", {"clock": "local"}, "weather", "no weather file was sent"),
        ("/fire/S1/", {"zone": "-5", "weather": b"no,weather\n1,2\n"}, "weather", ""),
        ("/fire/S1/", {"product": "triclopyr", "share": "1.5"}, "share", "share is 1.5"),
        ("/map/typed/", {"stand": "S1", "corners": "1 2\nnorth"}, "corners", "line 2, 'north', is no corner"),
        ("/outlines/", {"system": "EPSG:4326"}, "file", "no file was sent"),
    ],
)
def test_a_fault_stands_at_its_field_on_the_page_it_was_sent_from(owner, address, sent, field, words):
    files = {name: SimpleUploadedFile("sent.csv", content) for name, content in sent.items() if isinstance(content, bytes)}
    form = "/" if address.startswith("/map/") else address
    page = owner.post(address, sent | files, headers={"Referer": HOST + form})
    said, at, kept = _kept(page)

    assert (page.status_code, at) == (400, field)
    assert words in said.lower() or words in said
    assert kept == {name: [value] for name, value in sent.items() if isinstance(value, str)}
    assert "<main" in page.content.decode() and "Not possible" not in page.content.decode()


def test_the_form_of_another_page_comes_back_on_that_page(owner):
    page = owner.post("/start/", {"property": "P", "stand": "N1"}, headers={"Referer": f"{HOST}/?kind=cut"})
    said, _, kept = _kept(page)

    assert "holds stands already" in said and kept == {"property": ["P"], "stand": ["N1"]}
    assert '<option value="cut" selected>' in page.content.decode()


@pytest.mark.parametrize("elsewhere", ["http://elsewhere.invalid/fire/S1/", f"{HOST}/fire/NONE/", f"{HOST}/stand/S1/decide/"])
def test_a_page_that_is_none_of_ours_is_not_shown_in_place_of_the_fault(owner, elsewhere):
    page = owner.post("/start/", {"property": "P"}, headers={"Referer": elsewhere}).content.decode()

    assert "holds stands already" in page and 'id="beside-sent"' not in page


def test_no_secret_comes_back_into_a_page():
    from django.http import QueryDict
    from django.test import RequestFactory

    from overwood.faces.pages import beside

    request = RequestFactory().post("/account/")
    request.POST = QueryDict("act=password&old=one&password=two&code=3&csrfmiddlewaretoken=4&name=Ada")
    assert beside._sent(request) == {"act": ["password"], "name": ["Ada"]}


def test_who_is_logged_out_is_led_to_the_log_in_and_back_to_the_page_of_the_form(monkeypatch, owner):
    from django.test import RequestFactory

    from overwood.faces.pages import guard

    monkeypatch.setattr(guard.DESK, "office", True)
    request = RequestFactory(SERVER_NAME="127.0.0.1").post("/stand/S2/decide/", headers={"Referer": f"{HOST}/stand/S2/?a=b"})
    request.person = None
    page = guard._stranger(request)

    assert page.status_code == 403
    assert 'data-unsent><a class="button" href="/login/?next=/stand/S2/%3Fa%3Db"' in page.content.decode()


@pytest.mark.parametrize("path", ["/", "/stand/S2/", "/futures/S3/", "/money/S6/", "/import/", "/due/"])
def test_a_page_that_is_only_opened_shows_no_fault(owner, path):
    page = owner.get(path).content.decode()
    assert 'id="beside"' not in page and "beside-sent" not in page
