"""Every sheet of the corpus comes in rightly by the command and by the page, or its doubt is asked about.

The truth beside each sheet is that of its generator, summed by plain arithmetic (`corpus/truth.py`).
"""

from __future__ import annotations

import re
import shutil

import pytest

from corpus import agency, case, compare, consultant, faces, forms, landowner, odd_cells, sheets, strangers, traps, twice

assert all((agency, consultant, forms, landowner, odd_cells, strangers, traps, twice))
NAMES = list(case.MAKERS)
ASKING = [name for name in NAMES if case.made(name).asked]
DOUBTFUL = [name for name in NAMES if case.made(name).doubts]
ANSWERED = [name for name in NAMES if (one := case.made(name)).looks or one.acres or one.bearing or one.stopped]


@pytest.fixture(scope="session")
def woods_file(tmp_path_factory, empty_book_file):
    """A book with a property and three stands nobody has visited."""
    folder = tmp_path_factory.mktemp("woods")
    book = folder / "woods.sqlite3"
    shutil.copy(empty_book_file, book)
    (folder / "properties.csv").write_text("property,name,latitude_deg,longitude_deg\nmillrun,Mill Run,37.8,-82.3\n")
    (folder / "stands.csv").write_text("stand,property,area_ac\nK1,millrun,20\nK2,millrun,20\nK3,millrun,20\nK4,millrun,20\n")
    (folder / "visits.csv").write_text("visit,stand,kind,visited_on\nK4-25,K4,cruise,2025-07-01\n")
    for name in ("properties", "stands", "visits"):
        came = faces.command(folder / f"{name}.csv", None, book)
        assert came.taken, came.text
    from overwood.desk import session

    session.backup(folder / "copy.sqlite3")
    return folder / "copy.sqlite3"


@pytest.fixture
def woods(woods_file, tmp_path, read_here):
    from django.db import connections

    from overwood.desk import session

    book = tmp_path / "book.sqlite3"
    shutil.copy(woods_file, book)
    session.open_book(book)
    yield book
    connections.close_all()


def _written(one, folder):
    return sheets.write(folder, "file", one.sheets, one.how)


def _right(one, came):
    """A case that came in must be true; a guarded one may also be refused with words, and nothing of it come in."""
    if one.stopped or (one.guarded and not came.taken and compare.nothing_came_in()):
        assert compare.nothing_came_in(), came.text[-1500:]
        assert re.search(r"\w+ \w+ \w+", came.text)
        assert "fault of the program" not in came.text
        return
    wrong = compare.differences(one)
    assert not wrong, "\n".join([*wrong, came.text[-1500:]])


@pytest.mark.slow
@pytest.mark.parametrize("name", ANSWERED)
def test_the_command_reads_a_foreign_sheet_as_it_was_meant(woods, tmp_path, name):
    one = case.made(name)
    came = faces.command(_written(one, tmp_path), one.said, woods)
    if one.refused:
        came = _with_the_good_rows(one, came, woods)
    _right(one, came)


def _with_the_good_rows(one, came, woods):
    """The rows that stop themselves are named, and the others come in."""
    named = {int(number) for number in re.findall(r"row (\d+)", came.text)}
    assert set(one.refused) <= named, came.text
    waits = re.search(r"quarantine release (\d+)", came.text)
    return faces.release(int(waits[1]), woods) if waits else came


@pytest.mark.slow
@pytest.mark.parametrize("name", ASKING)
def test_the_command_asks_what_a_sheet_does_not_say(woods, tmp_path, name):
    one = case.made(name)
    came = faces.command(_written(one, tmp_path), None, woods)
    missing = [key for key in one.asked if not re.search(rf"--(set|unit|code|map|table) [\"']?([^=\n]+\.)?{re.escape(key)}=", came.text)]
    assert not missing, f"not asked: {missing}\n{came.text[-2500:]}"
    assert compare.nothing_came_in()


@pytest.mark.slow
@pytest.mark.parametrize("name", DOUBTFUL)
def test_the_command_says_its_doubt_before_anything_is_written(woods, tmp_path, name):
    one = case.made(name)
    before = compare.visits()
    came = faces.command(_written(one, tmp_path), one.said, woods, accept=False)
    missing = [words for words in one.doubts if not re.search(words, _about_doubts(came.text))]
    assert not missing, f"not said: {missing}\n{came.text[-2500:]}"
    assert compare.visits() == before


def _about_doubts(text):
    """What is said beside the table of headings, which names every column in any case."""
    return "\n".join(line for line in text.splitlines() if not re.match(r" \S|Usage", line))


@pytest.fixture(scope="module")
def pages():
    """The pages in this process, as the server runs them."""
    from django.test import override_settings

    from overwood.faces.served.serving import Told, web_settings

    with override_settings(**web_settings(Told()) | {"ALLOWED_HOSTS": ["testserver"]}):
        yield


@pytest.fixture
def browser(pages, woods):
    from django.core import signing
    from django.test import Client

    from overwood.faces.pages import asking, guard
    from overwood.faces.served.serving import Told

    asking.begin(Told(book=str(woods), on="2026-01-15"))
    client = Client()
    client.cookies[guard.COOKIE] = signing.dumps("owner", salt=guard.COOKIE)
    return client


@pytest.mark.slow
@pytest.mark.parametrize("name", ANSWERED)
def test_the_page_reads_a_foreign_sheet_as_it_was_meant(browser, tmp_path, name):
    one = case.made(name)
    came = faces.page(browser, _written(one, tmp_path), one.said, list(one.sheets))
    if one.refused:
        came = faces.page_release(browser, came)
    _right(one, came)


def test_the_corpus_holds_at_least_sixty_sheets_of_three_kinds():
    made = [case.made(name) for name in NAMES]
    assert len(made) >= 60
    assert {one.how.ending for one in made} == {"csv", "txt", "xlsx", "ods"}


def test_the_same_seed_makes_the_same_sheet():
    assert [case.made(name).sheets for name in NAMES[:20]] == [case.made(name).sheets for name in NAMES[:20]]
