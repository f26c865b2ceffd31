"""Photos of sheets of boxes: every mark read or asked back, and what does not lie as the sheet has it refused.

The marks are drawn by program and known; hands, tilt, bend and shadow are those of a clipboard outside.
"""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image

import tick_photos
from conftest import DEMO_DAY, missing
from overwood.faces.papers import tally_sheet
from overwood.ground import tick_sheet
from overwood.ground.errors import Misuse
from overwood.memory.exchange import tick_photo

pytestmark = pytest.mark.slow
POINTS = [{"point": str(n), "lon": None, "lat": None} for n in range(1, 15)]
SPECIES = ["802", "316", "833", "837", "621", "318"]


def content(points=POINTS, first=1, area="0.00136054"):
    ring = {"layer": "reproduction", "plot_area_ac": area}
    visit = {"kind": "reproduction", "points": points, "rings": [ring]}
    plan = {"stand": "S2", "name": "Kiln Spur", "species": SPECIES, "visits": [visit]}
    return tally_sheet.tick_content(plan, DEMO_DAY, first)


SHEET = tick_sheet.TickSheet("S2", "0.00136054", tuple(SPECIES), ("1", "2", "3", "4", "5"))


@pytest.fixture(scope="module")
def paper(tmp_path_factory):
    try:
        import cv2  # noqa: F401
    except ImportError:
        missing("OpenCV (extra sheets)")
    return tick_photos.printed(content(), tmp_path_factory.mktemp("sheet"))


def wanted(boxes, marks):
    return [tick_photo.MARKED if box in marks else tick_photo.BLANK for box in boxes]


@pytest.mark.parametrize(("hand", "bend_mm", "longest"), [("cross", 0, 2400), ("tick", 1, 1600), ("fill", 1, 2400), ("pencil", 0, 1600)])
def test_marks_of_every_hand_are_read_or_asked_back(paper, hand, bend_mm, longest):
    rng = np.random.default_rng(bend_mm + longest)
    stems, looked = tick_photos.some_boxes(SHEET, rng)
    photo = tick_photos.photographed(tick_photos.marked(paper, [*stems, *looked], hand, rng), rng, bend_mm=bend_mm, longest=longest)
    read, picture = tick_photo.read("photo.jpg", photo)
    assert tick_sheet.of_code(read["code"]) == SHEET
    for found, boxes, marks in ((read["boxes"], SHEET.boxes, set(stems)), (read["looked"], SHEET.looked, set(looked))):
        differing = [(box, state) for box, state, want in zip(boxes, found, wanted(boxes, marks), strict=True) if state != want]
        assert all(state == tick_photo.ASKED for _, state in differing), differing
        assert len(differing) <= 3
    assert Image.open(io.BytesIO(picture)).size == (1727, 2235)


def test_a_faint_mark_is_asked_back(paper):
    rng = np.random.default_rng(4)
    dotted = paper.copy()
    x, y = (round(at * tick_photos.PPI / 25.4) for at in (SHEET.boxes[7].x_mm, SHEET.boxes[7].y_mm))
    dotted.paste(40, (x - 1, y - 1, x + 2, y + 2))
    read, _ = tick_photo.read("photo.jpg", tick_photos.photographed(dotted, rng, shadow=0))
    assert read["boxes"][7] == tick_photo.ASKED
    assert {*read["boxes"][:7], *read["boxes"][8:]} == {tick_photo.BLANK}


def test_a_photo_upside_down_is_read_the_same(paper):
    rng = np.random.default_rng(5)
    stems, _ = tick_photos.some_boxes(SHEET, rng, 40)
    photo = Image.open(io.BytesIO(tick_photos.photographed(tick_photos.marked(paper, stems, "cross", rng), rng))).rotate(180)
    out = io.BytesIO()
    photo.save(out, "JPEG", quality=80)
    assert tick_photo.read("photo.jpg", out.getvalue())[0]["boxes"] == wanted(SHEET.boxes, set(stems))


def test_boxes_that_lie_elsewhere_are_refused(paper):
    # The lower half of the paper folded up by 4 mm: squares and code are there, half of the frames are not.
    folded, fold = paper.copy(), round(150 * tick_photos.PPI / 25.4)
    shift = round(4 * tick_photos.PPI / 25.4)
    lower = paper.crop((0, fold, paper.width, round(245 * tick_photos.PPI / 25.4)))
    folded.paste(lower, (0, fold - shift))
    with pytest.raises(Misuse, match="do not lie where the sheet has them"):
        tick_photo.read("photo.jpg", tick_photos.photographed(folded, np.random.default_rng(6)))


@pytest.mark.parametrize(("where", "says"), [((0.78, 0.04, 0.97, 0.18), "no code"), ((0.0, 0.9, 0.2, 1.0), "four squares")])
def test_a_sheet_without_its_code_or_a_corner_is_refused_in_words(paper, where, says):
    covered = paper.copy()
    left, top, right, bottom = where
    covered.paste(255, tuple(round(at) for at in (left * paper.width, top * paper.height, right * paper.width, bottom * paper.height)))
    with pytest.raises(Misuse, match=says):
        tick_photo.read("photo.jpg", tick_photos.photographed(covered, np.random.default_rng(7), tilt=0.02))


def test_sheets_go_on_from_a_plot_and_end():
    assert [len(one["looked"]) for one in content()["sheets"]] == [5, 5]
    assert [one["point"] for one in content(first=11)["sheets"][0]["looked"]] == ["11", "12", "13", "14"]
    with pytest.raises(Misuse, match="no plot 15"):
        content(first=15)


def test_the_code_of_something_else_is_refused():
    with pytest.raises(Misuse, match="not that of a sheet"):
        tick_sheet.of_code("stand S2, point 1")
    with pytest.raises(Misuse, match="not that of a sheet"):
        tick_sheet.of_code(f"overwood ticks 1|S2|0.00136054|{','.join(SPECIES)}|1,2,3,4,5,6")


@pytest.mark.parametrize("name", ["A 1", "1,2", "a|b"])
def test_a_plot_whose_name_would_be_read_back_as_another_is_not_printed(name):
    with pytest.raises(Misuse, match="cannot stand on a sheet of boxes"):
        content([{"point": name, "lon": None, "lat": None}, *POINTS])


def test_a_count_without_a_plot_size_has_no_sheet_of_boxes():
    with pytest.raises(Misuse, match="or their size"):
        content(area=None)
