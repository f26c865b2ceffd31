"""A stand from above at the desk and at the command: looked at, kept as proposals, checked on the ground, never a record."""

from __future__ import annotations

import csv
import dataclasses
import json

import numpy as np
import pytest

import canopy as made
from conftest import DEMO_DAY
from overwood.desk import answers, canopy, kept
from overwood.ground.errors import BadRecords, Misuse, NotFound
from overwood.judgement.canopy import Verdict

FLOWN = DEMO_DAY.replace(year=2024)
pytestmark = pytest.mark.usefixtures("read_here")


@pytest.fixture(scope="module")
def raster(tmp_path_factory):
    """Crowns every 9 m over the demo's first stand."""
    heights = np.zeros((380, 490), dtype=np.float32)
    rows, columns = np.indices(heights.shape)
    heights[:] = 26 - ((rows % 9 - 4) ** 2 + (columns % 9 - 4) ** 2) / 4
    return made.geotiff(tmp_path_factory.mktemp("canopy") / "s1.tif", heights, unit="metre")


@pytest.fixture
def few(ask):
    """A question whose light is drawn twice only."""
    return dataclasses.replace(ask, rules=ask.rules.with_value("canopy_light_draws", 2))


def _look(raster, few):
    return canopy.look("S1", {raster.name: raster.read_bytes()}, few, flown_on=FLOWN)


@pytest.mark.slow
def test_a_kept_map_comes_back_as_it_was_and_is_no_record(demo_book, raster, few):
    before = answers.evidence("S1", few), answers.advice("S1", few)
    seen = _look(raster, few)
    with pytest.raises(NotFound, match="no map from above is kept for S1"):
        canopy.newest("S1", few)
    number = canopy.keep(seen, few).number
    again, answer = canopy.newest("S1", few)

    assert again == seen and answer.number == number and not answer.is_old
    assert (answers.evidence("S1", few), answers.advice("S1", few)) == before
    # The outline of the stand has 28 acres.
    assert seen.acres == pytest.approx(28, rel=0.01)


def test_a_kept_map_opens_no_midstory_gate(sqlite_book, raster, few):
    from overwood.desk import entering

    outline = "POLYGON ((-50 37.5, -49.996 37.5, -49.996 37.502563, -50 37.502563, -50 37.5))"
    rows = {"properties": [{"property": "P"}], "stands": [{"stand": "A", "property": "P", "area_ac": "25", "boundary_wkt": outline}]}
    entering.enter(rows, today=DEMO_DAY, name="made")
    before = answers.advice("A", few)
    seen = canopy.look("A", {raster.name: raster.read_bytes()}, few, flown_on=FLOWN)
    canopy.keep(seen, few)

    after = answers.advice("A", few)
    gate = next(gate for gate in after.gates if gate.name == "midstory shades")
    assert gate.answer == "not looked at" and after == before
    assert seen.light is None and "there is no cruise" in seen.light_lacking
    # The stand's figures say as before that nothing was measured, however many crowns were seen.
    assert len(seen.crowns) > 500 and not answers.evidence("A", few)["overwood_trees_ac"].measured


def test_pieces_of_a_raster_give_its_crowns_and_none_twice_at_a_seam(demo_book, raster, few):
    whole, cut = _look(raster, few), made.pieces(raster, [151, 203], [97, 260], 5)
    seen = canopy.look("S1", cut, few, flown_on=FLOWN)
    assert len(cut) == 9 and (seen.crowns, seen.gaps) == (whole.crowns, whole.gaps)
    assert len({(crown.longitude_deg, crown.latitude_deg) for crown in seen.crowns}) == len(seen.crowns)


@pytest.mark.slow
def test_what_people_found_is_kept_beside_the_map_as_it_was(demo_book, raster, few, tmp_path):
    canopy.keep(_look(raster, few), few)
    text = canopy.sheet(canopy.newest("S1", few)[0])
    rows = list(csv.DictReader(text.splitlines()))
    rows[0] |= {"verdict": "One tree", "species": "white oak", "dbh_in": "17.5"}
    rows[1] |= {"verdict": "no tree"}
    filled = "\n".join([",".join(rows[0]), *(",".join(row.values()) for row in rows)])
    judged = canopy.check("S1", canopy.verdicts_of("s.csv", filled), few, by="Cruiser A")

    first, second, third = judged.crowns[:3]
    assert (first.verdict, first.species, first.dbh_in, first.checked_on) == ("one tree", 802, 17.5, DEMO_DAY)
    assert (second.verdict, third.verdict, judged.check.checked) == ("no tree", "proposed", 2)
    assert canopy.newest("S1", few)[0] == judged and len(kept.all_of("S1", "canopy")) == 2
    # The same raster looked at again keeps what was found.
    assert _look(raster, few).crowns[:3] == judged.crowns[:3]


@pytest.mark.slow
def test_a_map_is_checked_on_the_records_it_was_made_from_and_by_its_day(demo_book, raster, few):
    from overwood.desk import entering

    seen = _look(raster, few)
    canopy.keep(seen, few)
    west = next(crown for crown in seen.crowns[40:] if crown.longitude_deg < -49.998)
    row = [Verdict(crown=west.number, verdict="no tree")]
    canopy.check("S1", row, few, by="A")
    smaller = {
        "stand": "S1",
        "property": "Vesperlick",
        "boundary_wkt": "POLYGON ((-50 37.5, -49.996 37.5, -49.996 37.502563, -50 37.502563, -50 37.5))",
    }
    entering.enter({"stands": [smaller]}, today=DEMO_DAY, name="drawn", replace=entering.ALL)
    with pytest.raises(Misuse, match="records of S1 changed since"):
        canopy.check("S1", row, few, by="A")

    # Of the smaller stand crowns are numbered anew; what was found goes with the crown, not with its number.
    again = _look(raster, few)
    found = [crown for crown in again.crowns if crown.verdict == "no tree"]
    assert len(again.crowns) < len(seen.crowns)
    assert [crown.longitude_deg for crown in found] == pytest.approx([west.longitude_deg], abs=1e-9)
    assert found[0].number != west.number
    before = dataclasses.replace(few, on=FLOWN)
    with pytest.raises(NotFound, match="no map from above"):
        canopy.newest("S1", before)


def test_a_sheet_with_faults_is_taken_by_no_row(demo_book, raster, few):
    text = "crown,verdict,species,dbh_in\n1,one tree,white oak,12\nx,one tree,,\n2,tree,,\n3,one tree,red,\n4,one tree,,thick\n5,,,\n"
    with pytest.raises(BadRecords) as fault:
        canopy.verdicts_of("s.csv", text)
    assert [(problem.row, problem.column) for problem in fault.value.problems] == [
        (3, "crown"),
        (4, "verdict"),
        (5, "species"),
        (6, "dbh_in"),
    ]
    with pytest.raises(BadRecords, match="has no column crown"):
        canopy.verdicts_of("s.csv", "tree,species\n1,802\n")
    with pytest.raises(Misuse, match="no sheet of text"):
        canopy.text_of("s.xlsx", b"PK\x03\x04\xff\xfe")
    with pytest.raises(Misuse, match="of no crown is it said"):
        canopy.check("S1", [], few, by="A")


def test_a_stand_without_outline_is_told_to_draw_one(sqlite_book, raster, few):
    from overwood.desk import entering

    rows = {"properties": [{"property": "P"}], "stands": [{"stand": "A", "property": "P"}]}
    entering.enter(rows, today=DEMO_DAY, name="made")
    with pytest.raises(Misuse, match="A has no outline"):
        canopy.look("A", {raster.name: raster.read_bytes()}, few, flown_on=FLOWN)


def test_the_command_prints_what_it_cannot_see_and_tells_the_same_in_json(demo_book, raster, tmp_path, run, monkeypatch, few):
    monkeypatch.setattr(answers, "question", lambda *_: few)
    sheet = tmp_path / "sheet.csv"
    words = ("canopy", "s1", raster, "--flown", FLOWN, "--on", DEMO_DAY, "--book", demo_book)
    status, out, _ = run(*words, "--keep", "--sheet", sheet)
    _, told, _ = run("canopy", "S1", "--on", DEMO_DAY, "--book", demo_book, "--json")
    answer = json.loads(told)

    assert status == 0
    assert "Not seen from above" in out and "Whether the midstory shades the forest floor is not answered from above" in out
    assert f"{len(answer['crowns'])} crowns proposed on" in out
    assert len(sheet.read_text().splitlines()) == len(answer["crowns"]) + 1
    assert answer["crowns"][0]["verdict"] == "proposed" and answer["refusals"][0]["reason"] == "seen_from_above_only"
    assert f"Light by these crowns and the cruise's {answer['light']['small_stems_ac']:.0f} other stems" in out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("{raster}",), "--flown DAY is needed"),
        (("--flown", "2024-07-01"), "belong to a raster"),
        (("{raster}", "--flown", "2024-07-01", "--check", "{raster}"), "leave the raster out"),
        (("--check", "{raster}"), "--by NAME"),
    ],
)
def test_options_that_do_not_go_together_are_told_so(demo_book, raster, run, words, said):
    status, _, err = run("canopy", "S1", "--book", demo_book, *(word.format(raster=raster) for word in words))
    assert status == 2 and said in err
