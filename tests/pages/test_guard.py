"""Who may see the pages: only the browser with the launch token, and only forms of our own are taken."""

from __future__ import annotations

import json
import shutil
import urllib.parse
from pathlib import Path

import pytest

from pages.conftest import start, stop

PAGES = (
    "/", "/law/", "/prices/", "/due.ics", "/due/", "/across/", "/compare/?stand=S1&stand=S2", "/map/stands.json", "/stands.pdf", "/outlines/outlines.wkt", "/ground/", "/stand/S1/", "/stand/S1/why/oak_share/", "/stand/S1/chart/diameters.svg", "/light/S2/", "/light/S2/table/", "/fire/S1/", "/canopy/S1/", "/light/S2/trees.csv", "/futures/S3/", "/plan/",
    "/money/S1/", "/papers/S1/", "/papers/S1/brief.pdf", "/papers/S1/woods/cruise.pdf", "/import/", "/import/mappings/", "/import/species/", "/import/template.xlsx", "/import/entry/1/", "/records/", "/records/visits/", "/tally/S1/", "/ticks/S1/", "/woods/door.json", "/walks/", "/walks/1/photos/1.jpg", "/rules/",
    "/words/", "/sources/", "/calc/",
    "/calc/crop-sequence/",
)  # fmt: skip
POSTS = (
    "/stand/S1/what-if/", "/stand/S1/decide/", "/light/S2/change/", "/light/S2/search/", "/light/S2/keep/",
    "/papers/S1/brief/keep", "/papers/S1/made/1/", "/papers/S1/file/", "/law/", "/prices/", "/fire/S7/", "/canopy/S1/",
    "/rules/", "/map/check/", "/map/keep/", "/map/typed/", "/outlines/", "/ground/", "/futures/S1/run/", "/plan/run/", "/import/", "/import/waiting/1/",
    "/import/entry/1/", "/import/file/1/", "/import/work/1/", "/import/species/", "/import/mappings/1/", "/import/visit/", "/import/redo/1/", "/woods/up", "/walks/", "/walks/codes/", "/walks/1/", "/records/visits/", "/tally/S1/", "/ticks/S1/",
)  # fmt: skip


@pytest.mark.parametrize("path", PAGES)
def test_a_page_opens_to_the_owner_and_to_nobody_else(here, path):
    # Nobody took a photo in the demo.
    assert here.ask(path)[0] == (404 if "/photos/" in path else 200)
    status, headers, body = here.ask(path, cookies=False)
    assert status == 403
    assert b"S1" not in body and "overwood serve" in body.decode()
    assert headers["Content-Security-Policy"].startswith("default-src 'none'")


@pytest.mark.parametrize("path", POSTS)
def test_a_form_from_elsewhere_is_not_taken(here, path):
    before = here.ask("/import/")[2]
    status, _, body = here.ask(path, method="POST", body="a=b", headers={"Content-Type": "application/x-www-form-urlencoded"})
    assert status == 403
    assert "nothing was changed" in body.decode()
    assert here.ask("/import/")[2].count(b"Undo entry") == before.count(b"Undo entry")


@pytest.mark.parametrize("path", POSTS)
def test_a_stranger_cannot_send_forms(here, path):
    assert here.ask(path, method="POST", body="a=b", cookies=False)[0] == 403


def test_a_server_opens_by_its_launch_address_once_and_to_nobody_who_climbs_forges_or_names_another_host(tmp_path, empty_book_file):
    found = start(Path(shutil.copy(empty_book_file, tmp_path / "b.sqlite3")), typed=True)
    try:
        assert found.ask("/", cookies=False)[0] == 403
        assert found.ask("/launch/guess/", cookies=False)[0] == 403
        assert found.ask(found.address)[0] == 302
        assert found.ask(found.address, cookies=False)[0] == 403
        assert found.ask("/")[0] == 200
        assert found.ask("/", cookies=False, headers={"Cookie": "overwood_owner=Im93bmVyIg:1abc:forged"})[0] == 403
        assert found.ask("/", headers={"Host": "example.org"})[0] == 400
        for path in ("/static/../serving.py", "/static/%2e%2e/serving.py", "/papers/S1/..%2f..%2fetc.pdf", "/stand/..%2f..%2fetc/"):
            status, _, body = found.ask(path)
            assert status in (400, 404), path
            assert b"MIDDLEWARE" not in body and b"root:" not in body
    finally:
        stop(found)


def test_every_page_forbids_what_comes_from_elsewhere(here):
    for path in ("/", "/stand/S1/", "/light/S2/", "/nothing/", "/static/marking.js"):
        _, headers, _ = here.ask(path)
        assert "script-src 'self'" in headers["Content-Security-Policy"]
        assert "unsafe" not in headers["Content-Security-Policy"]
        assert "manifest-src 'self'" in headers["Content-Security-Policy"]
        assert headers["X-Content-Type-Options"] == "nosniff"


@pytest.mark.parametrize(
    ("path", "status", "words"),
    [
        ("/nothing/", 404, "There is no such page"),
        ("/stand/S11/", 404, "The nearest is"),
        ("/stand/S1/why/oak_shares/", 404, "The nearest is &#x27;oak_share&#x27;"),
        ("/records/nonsense/", 404, "There is no table"),
        ("/papers/S1/poem.pdf", 404, "There is no paper"),
        ("/calc/crop-sequenc/", 400, "The nearest is"),
        ("/light/S2/search/99/", 404, "Start it again"),
    ],
)
def test_what_is_not_there_is_said_in_words(here, path, status, words):
    found, _, body = here.ask(path)
    assert (found, words in body.decode()) == (status, True), body.decode()[-900:]


@pytest.mark.parametrize("body", ["", "[]", "{nonsense", '{"flip": "no such tree"}', '{"basal_area": "much"}', '{"flip": null}'])
def test_a_marking_change_that_cannot_be_taken_says_so(here, body):
    here.page("/light/S2/")
    status, _, answer = here.ask(
        "/light/S2/change/",
        method="POST",
        body=body,
        headers={"Content-Type": "application/json", "X-CSRFToken": here.cookies["overwood_form"], "Origin": here.base},
    )
    assert status == 400
    assert b"alert" in answer


def test_constraints_of_a_marking_are_read_on_the_page_before_a_search_begins(here):
    assert 'name="rows"' in here.page("/light/S2/")
    headers = {"Content-Type": "application/x-www-form-urlencoded", "X-CSRFToken": here.cookies["overwood_form"], "Origin": here.base}
    for rows, words in (("spacing 20\nkeep the big ones", "Row 2, "), ("wildlife no-such-tree", "are not on the map")):
        status, _, answer = here.ask("/light/S2/search/", method="POST", body=urllib.parse.urlencode({"rows": rows}), headers=headers)
        assert (status, words in answer.decode()) == (400, True), answer.decode()[-600:]


def test_the_marking_answers_in_json(here):
    here.page("/light/S2/")
    headers = {"Content-Type": "application/json", "X-CSRFToken": here.cookies["overwood_form"], "Origin": here.base}
    bright, dark = (
        json.loads(here.ask("/light/S2/change/", method="POST", body=json.dumps({"basal_area": ba}), headers=headers)[2])["sums"]
        for ba in (20, 100)
    )
    assert bright["mean_light_pct"] > dark["mean_light_pct"]
    assert bright["residual_ba_ft2_ac"] <= 20 < dark["residual_ba_ft2_ac"] <= 100
    assert bright["sale_usd_ac"] > dark["sale_usd_ac"]


@pytest.mark.parametrize("text", ['{"row": {"stand": "A\\u0000B"}}', '{"row": {"stand": "A\\ud800B"}}', '{"row": {"A\\udc00": "B"}}'])
def test_what_is_no_text_is_refused_in_words(here, text):
    here.page("/")
    headers = {"Content-Type": "application/json", "X-CSRFToken": here.cookies["overwood_form"], "Origin": here.base}
    status, _, answer = here.ask("/api/records/stands", method="POST", body=text, headers=headers)
    assert (status, b"no text" in answer) == (400, True), answer[-300:]


@pytest.mark.parametrize("path", ["/records/stands/?text=A%00B", "/stand/A%00B/"])
def test_a_zero_byte_in_an_address_is_refused_in_words(here, path):
    status, _, answer = here.ask(path)
    assert (status, b"no text" in answer) == (400, True), answer[-300:]


def test_a_character_outside_the_first_plane_is_text(here):
    """A pair of escapes is one character (RFC 8259, section 7)."""
    here.page("/")
    headers = {"Content-Type": "application/json", "X-CSRFToken": here.cookies["overwood_form"], "Origin": here.base}
    body = '{"row": {"stand": "S1", "visit": "V-pair", "kind": "inspection", "visited_on": "2025-06-01", "note": "\\ud83c\\udf33"}}'
    status, _, answer = here.ask("/api/records/visits", method="POST", body=body, headers=headers)
    assert status == 200, answer


@pytest.mark.parametrize(
    ("fault", "status", "word"),
    [
        ("database is locked", 503, "waited too long"),
        ("deadlock detected", 503, "waited too long"),
        ("no such table: x", 500, "fault of the program"),
    ],
)
def test_a_book_that_others_hold_too_long_is_busy_and_no_fault_of_the_program(sqlite_book, fault, status, word):
    from django.db import OperationalError
    from django.test import RequestFactory

    from overwood.faces.pages import guard

    try:
        raise OperationalError(fault)
    except OperationalError:
        answer = guard.broken(RequestFactory().get("/api/stands"))

    assert (answer.status_code, word in answer.content.decode()) == (status, True)
    assert "see whether it was written" in answer.content.decode()
