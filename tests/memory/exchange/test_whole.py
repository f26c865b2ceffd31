"""Figures no upland hardwood stand has, and sizes that part in two, are asked about; usual ones are not."""

import time

import pytest

from foreign_files import FLOOR, PLACE, PRISM, proposed, question, read, rows
from overwood.memory.exchange import whole
from overwood.memory.exchange.proposal import Answers
from overwood.memory.exchange.said import Said
from overwood.memory.exchange.straighten import Line, Lines

SIZES = (8, 9, 11, 12, 14, 10, 9, 16, 12, 11, 10, 13)
LARGE = (28, 31, 24, 40, 22, 33, 26, 29)


def sheet(*sizes):
    lines = (f"{1 + at // 4},{at},WO,{size}" for at, size in enumerate(sizes))
    return "Plot,Tree,Sp,DBH (in)\n" + "\n".join(lines) + "\n"


@pytest.mark.parametrize(
    "text, settings, key",
    [
        (sheet(*SIZES), PRISM, ""),
        (sheet(*SIZES, 92, 11), PRISM, "apart_dbh_in"),
        (sheet(*SIZES, 1.2, 11), PRISM, "apart_dbh_in"),
        ("Plot,Sp,DBH (in),CR %\n1,WO,12,40\n1,WO,12,35\n2,WO,12,50\n2,WO,12,45\n3,WO,12,4\n3,WO,12,30\n", PRISM, "apart_crown_ratio_pct"),
        # Large trees among small ones, and a few saplings, are what stands hold.
        (sheet(*SIZES, 30, 22, 4, 3), PRISM, ""),
        (sheet(*SIZES[:8], *LARGE), PRISM, "two_units"),
        (sheet(*SIZES[:8], *(size * 1.4 for size in SIZES[:8])), PRISM, ""),
        (sheet(*(size * 4 for size in SIZES)), PRISM, "figures"),
        (sheet(*(size / 5 for size in SIZES)), PRISM, "figures"),
        (sheet(*SIZES), {**PLACE, "plot_area_ac": "0.9"}, "figures"),
        (sheet(*SIZES), {**PLACE, "plot_area_ac": "0.1"}, ""),
        ("Plot,Species,Ht class,Count\n1,RM,1-3,900\n2,WO,1-3,4\n", FLOOR, "figures"),
        ("Plot,Species,Ht class,Count\n1,RM,1-3,90\n2,WO,1-3,4\n", FLOOR, ""),
    ],
)  # fmt: skip
def test_what_a_stand_hardly_holds_is_asked_about(text, settings, key):
    keys = ("apart_dbh_in", "apart_crown_ratio_pct", "two_units", "figures")
    assert [one.key for one in proposed(text, settings=settings).open_questions if one.key in keys] == [key] * bool(key)


@pytest.mark.parametrize(
    "text, answer, row, size",
    [
        (sheet(*SIZES, 92, 11), {"apart_dbh_in": "tenth"}, 14, 9.2),
        (sheet(*SIZES, 1.2, 11), {"apart_dbh_in": "tenfold"}, 14, 12.0),
        (sheet(*SIZES[:8], *LARGE), {"two_units": "larger in cm"}, 10, 28 / 2.54),
        (sheet(*SIZES[:8], *LARGE), {"two_units": "smaller in in"}, 2, 8 * 2.54),
        (sheet(*SIZES[:8], *LARGE), {"two_units": "as written"}, 10, 28.0),
    ],
)
def test_its_answer_makes_the_sizes_right(text, answer, row, size):
    (told,) = [one for one in rows(read(text, settings={**PRISM, **answer}), "trees") if one["__row"] == row]
    assert float(told["dbh_in"]) == pytest.approx(size, abs=1e-3)


@pytest.mark.parametrize(
    "text, settings, key, first",
    [
        ("All DBH in inches\nPlot,Sp,DBH (cm)\n1,WO,14\n2,BO,12\n", PRISM, "dbh_in", "cm"),
        ("Points 1-2 10 BAF; points 3-4 20 BAF\nPt,Sp,DBH (in)\n1,WO,14\n3,BO,12\n", PRISM, "other_factor", "as written"),
        ("Plot,Sp,DBH (in),Comment\n1,WO,14,\n1,RM,9,stump cut last year\n", PRISM, "note_mark.stump cut last year", "gone"),
        ("Plot,Sp,DBH (in),Status\n1,WO,14,1\n1,RM,9,2\n", PRISM, "status.2", "dead"),
        ("Plot,Sp,DBH (in)\n1,WO,14\n2,BO,12\nSnags,,\n1,RM,9\n", PRISM, "remarks", "dead"),
        ("Plot,Frames,Sp,Ht class,Count\n1,4,WO,1-3,3\n2,2,WO,1-3,1\n", FLOOR, "plot_names", "as written"),
        ("Sp,10,12\nWO,3,2\nBO,1,2\n8 points BAF 10\n", {**PRISM, "point": "1"}, "own_sums", "as written"),
    ],
)  # fmt: skip
def test_what_is_asked_offers_first_what_is_likeliest(text, settings, key, first):
    asked = question(proposed(text, settings=settings), key)
    assert asked.is_open and asked.choices[0].value == first


@pytest.mark.parametrize(
    "text, records",
    [
        # One slip of a point in a short column makes no other unit of it.
        ("Plot,Sp,DBH (in)\n1,WO,14\n1,RM,9\n2,BO,12\n2,WO,13\n3,WO,11\n4,WO,101\n", 5),
        ("Plot,Sp,DBH (in)\n1,WO,14\n---,---,---\n2,WO,12\nAve,,13\n", 2),
        ("Pt,Sp,Count,Avg DBH (in)\n1,WO,5,14\n2,BO,4,16\n", 2),
        ("Plot,Common,Scientific,DBH (in)\n1,white oak,Quercus alba,14\n2,red maple,Acer rubrum,12\n", 2),
        ("Plot,Sp,DBH (in)\n1,WO,14\nplot 2 skipped, road\n3,WO,12\n", 2),
    ],
)
def test_what_is_plain_is_read_without_a_question(text, records):
    settings = {**PRISM, "apart_dbh_in": "leave out"} if "101" in text else PRISM
    assert len(rows(read(text, settings=settings), "trees")) == records


def test_the_points_in_doubt_are_named_with_their_sizes():
    asked = question(proposed(sheet(*SIZES[:8], *LARGE), settings=PRISM), "two_units")
    assert asked.evidence[0] == "points 4, 3: 22.0 to 40.0 in; all others: 8.0 to 16.0 in"


def test_many_points_take_no_longer_each_than_few():
    # Every gap between points, each over all lines, took minutes for 5,000 points.
    every = tuple(Line(row=at, cells=(str(at // 4), str(5 + at % 17))) for at in range(8000))
    start = time.process_time()
    asked = whole.sizes("trees", Lines(("point", "dbh_in"), every), Said(answers=Answers(), sheet="s"))
    assert asked[0] == [] and time.process_time() - start < 2
