"""A photo of a sheet of boxes on the page: shown beside what it read, asked where unclear, taken over into the draft of the tally."""

from __future__ import annotations

import re

import numpy as np
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

import tick_photos
from conftest import DEMO_DAY, missing
from overwood.desk import answers, walks
from overwood.faces.papers import tally_sheet
from overwood.ground.tick_sheet import TickSheet

TALLY = "/tally/S2/?kind=reproduction"


@pytest.fixture(scope="module")
def photos(demo_book_file, tmp_path_factory):
    """A sheet of S2 as printed for the demo, and its photo with five marks: three stems and a five in one cell, a box
    passed over in another, two plots ticked."""
    from django.db import connections

    from overwood.desk import session

    try:
        import cv2  # noqa: F401
    except ImportError:
        missing("OpenCV (extra sheets)")
    folder = tmp_path_factory.mktemp("ticks")
    book = folder / "demo.sqlite3"
    book.write_bytes(demo_book_file.read_bytes())
    session.open_book(book)
    ask = answers.question(DEMO_DAY)
    plan = walks.plan("S2", "reproduction", ask, walks.design(ask.rules))
    content = tally_sheet.tick_content(plan, DEMO_DAY)
    connections.close_all()
    points = tuple(one["point"] for one in content["sheets"][0]["looked"])
    sheet = TickSheet("S2", plan["visits"][0]["rings"][0]["plot_area_ac"], tuple(plan["species"][:6]), points)
    marks = [*sheet.boxes[0:3], sheet.boxes[4], sheet.boxes[36], *sheet.looked[:2]]
    rng = np.random.default_rng(3)
    photo = tick_photos.photographed(tick_photos.marked(tick_photos.printed(content, folder), marks, "tick", rng), rng)
    return sheet, photo


def sent(owner, photo):
    return owner.post("/ticks/S2/", {"file": SimpleUploadedFile("sheet.jpg", photo, "image/jpeg")})


def form(page):
    """The fields of the form as a browser would send them back."""
    text = page.content.decode()
    stems = re.findall(r'name="stems"[^>]*value="(\d*)"', text)
    looked = re.findall(r'name="looked" value="([^"]+)" checked', text)
    return {"code": re.search(r'name="code" value="([^"]+)"', text)[1], "picture": "", "stems": stems, "looked": looked}


def test_what_a_photo_shows_is_held_beside_it_and_joins_the_draft(owner, photos):
    sheet, photo = photos
    page = sent(owner, photo)
    fields = form(page)
    assert page.status_code == 200 and "data:image/jpeg" in page.content.decode()
    assert "1 to answer" in " ".join(re.sub("<[^>]+>", "", page.content.decode()).split())
    assert fields["stems"][0] == "8" and fields["looked"] == list(sheet.points[:2])
    assert [n for n, one in enumerate(fields["stems"]) if one == ""] == [7], "the box that was passed over is asked"

    refused = owner.post("/ticks/S2/", fields)
    assert refused.status_code == 422 and "is no number of stems" in refused.content.decode()
    assert form(refused)["stems"] == fields["stems"], "nothing typed is lost"

    fields["stems"][7] = "1"
    assert owner.post("/ticks/S2/", fields)["Location"] == TALLY
    tally = owner.get(TALLY).content.decode()
    assert f'name="plots" value="{sheet.points[0]} {sheet.points[1]}"' in tally
    assert re.findall(r'name="stems"[^>]*value="(\d+)"', tally) == ["8", "1"]
    assert float(re.search(r'name="plot_area_ac" value="([^"]+)"', tally)[1]) == float(sheet.plot_area_ac)

    again = owner.post("/ticks/S2/", fields)
    assert again.status_code == 422 and "is in the draft already" in again.content.decode()


def test_stems_on_a_plot_that_nobody_looked_at_are_refused(owner, photos):
    fields = form(sent(owner, photos[1])) | {"looked": []}
    fields["stems"] = [one or "0" for one in fields["stems"]]
    answer = owner.post("/ticks/S2/", fields)
    assert answer.status_code == 422 and "not looked at" in answer.content.decode()


def test_the_sheet_of_another_stand_and_a_picture_of_something_else_are_refused_in_words(owner, photos):
    long = form(sent(owner, photos[1]))
    long["stems"][0] = "9" * 5_000
    answer = owner.post("/ticks/S2/", long)
    assert answer.status_code == 422 and "is no number of stems" in answer.content.decode()
    other = owner.post("/ticks/S3/", {"file": SimpleUploadedFile("sheet.jpg", photos[1], "image/jpeg")})
    assert other.status_code == 422 and "a sheet of S2, not of S3" in other.content.decode()
    text = sent(owner, b"no picture").content.decode()
    assert "cannot be read" in text or "is no picture" in text


def test_a_draft_whose_plots_have_no_readable_size_is_kept_as_it_is(owner, photos):
    owner.post("/tally/S2/draft/", {"kind": "reproduction", "plot_area_ac": "1/735", "point": "90", "species": "802"})
    fields = form(sent(owner, photos[1]))
    fields["stems"] = [one or "0" for one in fields["stems"]]
    answer = owner.post("/ticks/S2/", fields)
    assert answer.status_code == 422 and "another size" in answer.content.decode()
    assert 'value="90"' in owner.get(TALLY).content.decode()


def test_the_sheets_are_printed_from_the_page(owner):
    answer = owner.get("/papers/S2/woods/ticks.pdf?first=11")
    assert answer.status_code == 200 and answer.content.startswith(b"%PDF")
