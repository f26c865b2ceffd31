"""An empty book opens on its first steps, and each of them can be done on the page."""

from __future__ import annotations

from pages.test_stand import said


def test_an_empty_book_leads_from_a_typed_stand_to_its_cruise_and_says_faults_at_their_field(fresh):
    page = fresh.page("/")
    assert all(word in said(page) for word in ("Property and stand", "Cruise", "Count", "Or look at an example first"))
    status, _, body = fresh.send("/start/", {"property": "Home", "stand": "N1", "area_ac": "many"}, form="/")
    text = body.decode()
    assert status == 422 and 'value="N1"' in text and 'id="fault-area_ac"' in text

    status, headers, _ = fresh.send("/start/", {"property": "Home", "stand": "N1", "area_ac": "12"}, form="/")

    assert (status, headers["Location"]) == (302, "/tally/N1/?kind=cruise")
    assert "12 acres" in said(fresh.judged())
    assert fresh.send("/start/", {"property": "Home", "stand": "N2"}, form="/stand/N1/")[0] == 400


def test_the_example_comes_into_an_empty_book_as_one_entry_and_goes_out_again(fresh):
    assert fresh.send("/start/", {"example": "yes"}, form="/")[0] == 302
    assert "8 stands, 160 acres" in fresh.judged()
    assert fresh.send("/import/entry/1/", {})[0] == 302
    assert "The book is empty" in fresh.page("/")
