"""Records in the browser: found again, corrected with their history, and the words beside them."""

from __future__ import annotations

import re

import pytest

from overwood.ground.meanings import terms
from pages.conftest import asked_here


def _fields(page):
    """What a form would send as it stands."""
    found = dict(re.findall(r'<input name="(\w+)"[^>]* value="([^"]*)"', page))
    for name, options in re.findall(r'<select name="(\w+)"[^>]*>(.*?)</select>', page, flags=re.DOTALL):
        picked = re.search(r"<option selected>([^<]*)", options)
        found[name] = picked[1] if picked else ""
    return found


def test_a_record_is_found_corrected_and_its_history_told(here):
    listed = here.page("/records/stands/?text=S1")
    row = next(part for part in listed.split("<tr>") if "<td>S1</td>" in part)
    number = re.search(r'href="\?id=(\w+)"', row)[1]
    form = here.page(f"/records/stands/?id={number}")
    given = _fields(form)
    assert (given["stand"], given["area_ac"], given["reserve"]) == ("S1", "28", "no")
    status, _, body = here.send("/records/stands/", given | {"area_ac": "28.4", "correcting": number})
    assert status == 200, body[-900:]
    assert "stands S1: area_ac 28.0 -&gt; 28.4" in body.decode()
    newest = re.search(
        r"/records/stands/([\w-]+)/", next(part for part in here.page("/records/stands/?text=S1").split("<tr>") if "<td>S1</td>" in part)
    )[1]
    told = here.page(f"/records/stands/{newest}/")
    assert "<td>area ac</td><td>28</td><td>28.4</td>" in told
    assert told.count("<section>") == 2
    entry = re.search(r"Entry (\d+), typed stands", told)[1]
    assert here.send(f"/import/entry/{entry}/", {}, form="/import/")[0] == 302
    assert _fields(here.page(f"/records/stands/?id={number}"))["area_ac"] == "28"
    assert "undone" in here.page(f"/records/stands/{newest}/")


def test_a_record_that_says_the_same_makes_no_entry(here):
    row = next(part for part in here.page("/records/visits/?text=S3").split("<tr>") if "Correct" in part)
    number = re.search(r"id=(\w+)", row)[1]
    before = here.page("/import/").count("Undo entry")
    status, _, body = here.send("/records/visits/", _fields(here.page(f"/records/visits/?id={number}")))
    assert (status, "says so already" in body.decode()) == (200, True)
    assert here.page("/import/").count("Undo entry") == before


@pytest.mark.parametrize(
    "path",
    ["/records/stands/?id=nothing", "/records/stands/?id=00000000000070008000000000000000", "/records/stands/x/", "/records/nothing/x/"],
)
def test_a_record_that_is_not_there_is_said(here, path):
    status, _, body = here.ask(path)
    assert status == 404
    assert "There is no" in body.decode()


def test_a_long_table_is_shown_in_part(here):
    page = here.page("/records/trees/")
    assert "narrow it by words" in page
    assert "Nothing fits" in here.page("/records/trees/?text=zzz")


def test_a_tried_number_is_kept_when_asked(demo_book, read_here):
    with asked_here(demo_book) as desk:
        page = desk.page("/stand/S3/")
        rule = re.search(r'<option value="(\w+)">[^<]*: now ([\d.]+)[^<]*, may be ([\d.]+) to ([\d.]+)', page)
        tried = desk.send("/stand/S3/what-if/", {"rule": rule[1], "value": rule[4]}, form="/stand/S3/")[2].decode()
        assert "Only tried, not kept" in tried
        given = dict(re.findall(r'<input type="hidden" name="(\w+)" value="([^"]*)"', tried))
        assert given["name"] == rule[1]
        assert f"default {rule[2]}" not in desk.page("/rules/")
        assert desk.send("/rules/", given | {"note": "tried and liked"})[0] == 302
        assert f"{rule[1]}: default {rule[2]}" in desk.page("/rules/")
        assert f": now {float(rule[4]):g}" in desk.page("/stand/S3/")


def test_help_stands_beside_words_and_leads_to_them(here):
    page, words = here.page("/light/S2/"), here.page("/words/")
    marks = re.findall(r'class="help" href="/words/#([\w-]+)" title="([^"]+)"', page)
    assert len(marks) >= 4
    for anchor, meaning in marks:
        assert f'<dt id="{anchor}">' in words
        assert meaning in words.replace("&#x27;", "&#39;").lower() or meaning[1:] in words
    assert words.count("<dt id=") == len(terms())


def tally(here, lines, **more):
    """Write seedlings of one plot down on the tally of S3; the answer."""
    head = {"kind": "reproduction", "visited_on": "2025-06-02", "plots": "1 2", "plot_area_ac": "0.00136054"}
    cells = {"point": "1", "species": "", "height_class": "", "stems": "", "browsed": "", "place": ""}
    rows = [cells | line for line in lines]
    typed = [(name, row[name]) for row in rows for name in cells]
    return here.send("/tally/S3/", [*(head | more).items(), *typed])


def test_a_misspelt_species_on_the_tally_is_asked_about_at_its_line(here):
    lines = [
        {"species": "white oak", "height_class": "0.5-1", "stems": "3"},
        {"species": "yelow poplar", "height_class": "0.5-1", "stems": "2"},
    ]
    status, _, body = tally(here, lines)
    text = body.decode()
    assert status == 422, text[-900:]
    assert "seedlings line 2, species: No known species (1 line). Found yelow poplar." in text
    assert "yellow-poplar" in text
    assert 'name="keep_unknown"' in text


def test_a_species_nobody_knows_stays_unknown_where_the_person_says_so(here):
    status, _, body = tally(here, [{"species": "zigzag bush", "height_class": "0.5-1", "stems": "2"}], keep_unknown="yes", form="a")
    assert status == 200, body[-900:]
    assert "zigzag bush" in here.page("/records/seedlings/?text=S3")


def test_two_tallies_without_a_name_on_one_day_are_two_visits_once_it_is_said(here):
    line, names = [{"species": "833", "height_class": "0.5-1", "stems": "2"}], []
    for more in ({"form": "first"}, {"form": "second", "other_sheet": "yes"}):
        status, _, body = tally(here, line, visited_on="2025-06-03", **more)
        assert status == 200, body[-900:]
        names.append(re.search(r'name="visit" value="([^"]*)"', body.decode())[1])
    assert names == ["S3-2025-06-03-reproduction", "S3-2025-06-03-reproduction-2"]
