"""Long work lies in the book: found again after a reload, a kill and a restart, by any server process; drafts too."""

from __future__ import annotations

import contextlib
import json
import re
import sqlite3
import time

import pytest

import pdf_text
from conftest import DEMO_DAY
from overwood.desk.judging import unpacked
from overwood.desk.kept import digest_of
from pages.conftest import _PATIENCE, Asked, Served, copied, start, stop


@pytest.fixture
def own(demo_file, tmp_path):
    """A book of the test's own, and a way to open as many desks on it as wanted."""
    book, desks = copied(demo_file, tmp_path), []

    def opened():
        desk = start(book, "--on", DEMO_DAY.isoformat())
        desks.append(desk)
        assert desk.ask(desk.address)[0] == 302
        return desk

    yield opened
    for desk in desks:
        stop(desk)


def posted(desk, path, plain):
    desk.page("/work/")
    token = re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', desk.page("/records/visits/"))[1]
    headers = {"X-CSRFToken": token, "Content-Type": "application/json", "Referer": desk.base + "/"}
    status, _, body = desk.ask(path, method="POST", body=json.dumps(plain), headers=headers)
    return status, json.loads(body)


def ended(desk, number):
    """The work once it has ended, asked for again and again."""
    for _ in range(_PATIENCE):
        work = json.loads(desk.page(f"/api/work/{number}"))
        if work["finished"]:
            return work
        time.sleep(0.05)
    raise AssertionError("the work did not end")


def kept(folder, kind):
    """The one kept answer of a kind: what it says, and its digest, which is of what it says."""
    with contextlib.closing(sqlite3.connect(next(folder.rglob("*.sqlite3")))) as book:
        ((result, digest),) = book.execute("select result, digest from answer where kind = ?", [kind]).fetchall()
    assert digest_of(json.loads(result)) == digest
    return json.loads(result), digest


def said(body):
    return pdf_text.whole(body)


def test_a_run_is_found_again_by_another_desk_on_the_same_book(own):
    first, second = own(), own()
    status, work = posted(first, "/api/stands/S3/futures", {"count": 200, "sets": 20, "seed": 7})
    assert status == 200
    here, there = ended(first, work["number"]), ended(second, work["number"])
    assert here == there
    assert here["fault"] == ""
    page = second.page("/futures/S3/")
    assert "seed 7" in page and "of ten simulated outcomes" in page.lower()
    assert "Futures of S3" in second.page("/work/") and "Done" in second.page("/work/")


def gone_within_a_while(desk):
    """Nothing answers any more where a killed desk answered: its server processes end with it."""
    for _ in range(_PATIENCE):
        try:
            desk.ask("/work/")
        except OSError:
            return
        time.sleep(0.05)
    raise AssertionError("a process of the killed desk still answers")


def test_a_killed_desk_loses_no_run(own, monkeypatch):
    first = own()
    # Only the other desk takes a worker for dead so soon: on a busy machine the first would take up what it is at itself.
    monkeypatch.setenv("OVERWOOD_SILENT_S", "1")
    _, work = posted(first, "/api/stands/S3/futures", {"count": 1_500, "sets": 100, "seed": 3})
    for _ in range(_PATIENCE):
        if "Waiting" not in first.page("/work/"):
            break
        time.sleep(0.05)
    first.process.kill()
    first.process.wait()
    gone_within_a_while(first)
    second = own()
    again = ended(second, work["number"])
    assert again["fault"] == ""
    assert again["result"]["futures"] == 1_500
    assert again["result"]["seed"] == 3


def test_the_forecast_paper_prints_the_run_that_lies_there_and_no_other(own, tmp_path):
    desk = own()
    status, _, body = desk.ask("/papers/S3/forecast.pdf")
    assert status == 404
    assert b"were not simulated yet" in body
    _, work = posted(desk, "/api/stands/S3/futures", {"count": 200, "sets": 20, "seed": 7})
    ended(desk, work["number"])
    status, headers, body = desk.ask("/papers/S3/forecast.pdf")
    assert (status, headers["Content-Type"]) == (200, "application/pdf")
    result, digest = kept(tmp_path, "futures")
    assert result["seed"] == 7
    assert f"digest {digest}" in said(body)
    row = {"row": {"visit": "LATER", "stand": "S3", "kind": "acorn", "visited_on": "2025-10-01"}}
    assert posted(desk, "/api/records/visits", row)[0] == 200
    assert "Records have changed since" in desk.page("/futures/S3/")
    status, _, body = desk.ask("/papers/S3/forecast.pdf")
    assert status == 400
    assert b"Simulate the outcomes again" in body


def test_a_marking_outlives_the_desk_and_its_search_comes_onto_it(own):
    first = own()
    _, marked = posted(first, "/light/S2/change/", {"basal_area": 40})
    token = re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', first.page("/light/S2/"))[1]
    assert first.send("/light/S2/keep/", {"title": "forty"}, token=token)[0] == 200
    first.process.kill()
    first.process.wait()
    second = own()
    table = json.loads(second.page("/light/S2/table/"))
    assert table["leave"] == marked["leave"]
    assert "forty" in second.page("/light/S2/")
    _, work = posted(second, "/api/stands/S2/search", {})
    left = set(ended(second, work["number"])["result"]["leave"])
    table = json.loads(second.page("/light/S2/table/"))
    assert {stem for stem, stays in table["leave"].items() if stays} == left


def test_a_page_that_shows_an_old_marking_changes_nothing(own):
    desk = own()
    table = json.loads(desk.page("/light/S2/table/"))
    status, after = posted(desk, "/light/S2/change/", {"basal_area": 80, "stamp": table["stamp"]})
    assert status == 200
    status, shown = posted(desk, "/light/S2/change/", {"basal_area": 45, "stamp": table["stamp"]})
    assert status == 409
    assert shown["leave"] == after["leave"]
    assert posted(desk, "/light/S2/change/", {"basal_area": 45, "stamp": shown["stamp"]})[0] == 200


def test_work_that_is_stopped_says_so_and_keeps_what_it_has(own):
    desk = own()
    _, work = posted(desk, "/api/stands/S2/search", {})
    status, _ = posted(desk, f"/api/work/{work['number']}/stop", {})
    assert status == 200
    stopped = ended(desk, work["number"])
    assert "stopped" in stopped["fault"] or stopped["result"]["moves"] < 3_000
    assert "stopped" in desk.page("/work/").lower()


def test_the_marking_sheet_prints_the_marking_on_the_table_and_searches_none(own, tmp_path):
    desk = own()
    status, _, body = desk.ask("/papers/S2/marking.pdf")
    assert status == 404
    assert b"nothing is marked" in body.lower()
    _, marked = posted(desk, "/light/S2/change/", {"basal_area": 40})
    left = sum(marked["leave"].values())
    status, _, body = desk.ask("/papers/S2/marking.pdf")
    assert status == 200
    text = said(body)
    assert re.search(rf"\b{left}\b", text), text
    result, digest = kept(tmp_path, "marking")
    assert sorted(result["left"]) == sorted(stem for stem, stays in marked["leave"].items() if stays)
    assert f"digest {digest}" in text
    again = said(desk.ask("/papers/S2/marking.pdf")[2])
    assert f"digest {digest}" in again


def sheet(lines, visit):
    """A tally with headings of its own, so long that reading it lasts."""
    rows = (f"S3,{visit},{number // 8 + 1},{number % 8 + 1},white oak,{6 + number % 17}.5" for number in range(lines))
    return "\n".join(["Stand,Date,Plot,Tree,Species,DBH_in", *rows]).encode()


def sent_as_browser(desk, path, fields, files=()):
    """A form sent by a browser, which is led to the page of what lasts."""

    def ask(address, **more):
        return Served.ask(desk, address, **{**more, "headers": {**more["headers"], "Sec-Fetch-Mode": "navigate"}})

    return Asked.send(
        type("Browser", (), {"ask": staticmethod(ask), "base": desk.base, "page": desk.page})(), path, fields, form="/import/", files=files
    )


def shown(desk, place, wanted):
    """The page of a file once it says what is wanted, and what was said of its progress before."""
    seen = []
    for _ in range(_PATIENCE):
        status, headers, body = desk.ask(place)
        if status == 302:
            place = headers["Location"]
        elif wanted in (page := body.decode()):
            return page, seen
        else:
            seen += re.findall(r'<progress max="100" value="(\d+)"', page)
        time.sleep(0.05)
    raise AssertionError((wanted, page))


def entries(desk):
    return desk.page("/import/").count('aria-label="Undo entry')


def test_a_long_import_tells_how_far_it_is_stops_and_is_found_again_after_a_kill(own, monkeypatch):
    first = own()
    # Only the other desk takes a worker for dead so soon: on a busy machine the first would take up what it is at itself.
    monkeypatch.setenv("OVERWOOD_SILENT_S", "1")
    before, answers = entries(first), {"set.plot_area_ac": "0.1", "set.old_days": "yes"}
    status, headers, _ = sent_as_browser(first, "/import/", {}, files=[("file", "long.csv", sheet(9_000, "2026-01-10"))])
    file = headers["Location"]
    assert status == 302
    work = re.search(r"/import/work/(\d+)/", first.page(file))[1]
    # A stop stops it: nothing is in the book, and the file lies there still.
    assert first.send(f"/import/work/{work}/", {}, form="/import/")[0] == 302
    assert file in first.page("/import/")
    shown(first, file, "Stopped")
    assert entries(first) == before
    # Asked again it tells how far it is, and what it came to is shown by another desk without another look.
    assert sent_as_browser(first, file, answers)[0] == 302
    _, seen = shown(first, file, "Write it into the book")
    assert len(set(seen)) > 1 and seen == sorted(seen, key=int)
    second, looks = own(), first.page("/work/").count("Look at long.csv")
    assert "9,000" in second.page(file) and second.page("/work/").count("Look at long.csv") == looks
    # Killed while it is read, it is brought in by the other desk, once.
    status, headers, _ = sent_as_browser(first, file, {**answers, "accept": "yes"})
    assert status == 302
    place = headers["Location"]
    first.process.kill()
    first.process.wait()
    shown(second, place, "came in as entry")
    assert entries(second) == before + 1
    assert "9000 trees" in second.page(place) and "Look at long.csv" not in second.page("/work/")


def test_judging_all_stands_is_work_of_the_tray_and_another_desk_takes_up_what_it_came_to(own, monkeypatch):
    monkeypatch.setenv("OVERWOOD_MOMENT_S", "0")
    first = own()
    page = first.judged()
    row = next(part for part in first.page("/work/").split("<tr>") if "Judging of all stands" in part)
    assert "Done" in row
    with contextlib.closing(sqlite3.connect(first.book)) as book:
        ((result, total),) = book.execute("select result, total from work where kind = 'judging'").fetchall()
    kept = unpacked(json.loads(result)["packed"])
    assert total == len(kept) == 8
    first.process.kill()
    first.process.wait()
    # The property of another process says the same of every stand.
    second = own().judged()
    rows = [re.findall(r'form="choose" name="stand".*?</tr>', one, re.DOTALL) for one in (page, second)]
    assert rows[0] == rows[1] and len(rows[0]) == 8
