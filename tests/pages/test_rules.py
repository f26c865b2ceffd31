"""An office's own numbers, written in the browser: checked, kept beside the book, in force at once, and taken back."""

from __future__ import annotations

import html
import subprocess
import sys
import tomllib

import pytest

from pages.conftest import start, stop


def changed(here, name, value, note=""):
    status, _, body = here.send("/rules/", {"name": name, "value": value, "note": note})
    return status, html.unescape(body.decode())


def test_a_number_is_changed_in_force_kept_and_taken_back(fresh_served):
    assert changed(fresh_served, "several_hundred_ac", "350", "our ground carries less")[0] == 302
    page = fresh_served.page("/rules/?text=several_hundred_ac")
    assert "several_hundred_ac: default 400" in page and ">350<" in page
    overlay = fresh_served.book.with_name("new.rules.toml")
    assert tomllib.loads(overlay.read_text())["several_hundred_ac"] == {"value": 350, "note": "our ground carries less"}
    done = subprocess.run(
        [sys.executable, "-m", "overwood", "rules", "--rules", str(overlay)], check=True, capture_output=True, text=True
    ).stdout
    assert "350" in done

    stop(fresh_served)
    again = start(fresh_served.book)
    again.ask(again.address)
    try:
        assert ">350<" in again.page("/rules/?text=several_hundred_ac")
        assert changed(again, "several_hundred_ac", "")[0] == 302
        assert "default 400" not in again.page("/rules/?text=several_hundred_ac")
    finally:
        stop(again)


@pytest.mark.parametrize(
    ("name", "value", "note", "words"),
    [
        ("several_hundred_ac", "350", "", "without a reason"),
        ("several_hundred_ac", "9000", "why not", "expected 300 to 500"),
        ("several_hundred_ac", "lots", "why not", "Give a number"),
        ("window_burn", "13-40,02-01", "why not", "month-day"),
        ("nonsense", "1", "why not", "no entry"),
    ],
)
def test_a_number_that_cannot_be_is_refused_and_nothing_is_written(here, name, value, note, words):
    status, body = changed(here, name, value, note)
    assert status in (400, 404) and words in body
    assert not list(here.book.parent.glob("*.rules.toml*"))


def test_figures_say_what_they_mean(here):
    assert "how fully the trees use the ground" in here.page("/stand/S1/why/overwood_stocking_pct/").lower()
    assert "how fully the trees use the ground" in here.page("/words/").lower()
