"""Records come in by the browser as by the command line: checked, kept, mended, undone."""

from __future__ import annotations

import csv
import io
import re
import zipfile

import pytest

from conftest import DEMO, ROOT


def zipped(folder):
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        for file in sorted(folder.iterdir()):
            archive.write(file, file.name)
    return packed.getvalue()


def given(served, name, content, **fields):
    """A file sent with the yes that writes it."""
    return served.send("/import/", {"accept": "yes"} | fields, files=[("file", name, content)])


def looked_at(served, name, content, **fields):
    """A file sent to be looked at: the address of its own page, and its text."""
    status, _, body = served.send("/import/", fields, files=[("file", name, content)])
    text = body.decode()
    return status, re.search(r'action="(/import/file/\d+/)"', text)[1], text


def test_an_empty_book_says_what_to_do_and_fills(fresh):
    assert "The book is empty" in fresh.judged() and "Bring a file in" in fresh.judged()

    status, _, body = given(fresh, "vesperlick.zip", zipped(DEMO))

    assert status == 200 and b"came in as entry 1" in body
    assert "8 stands, 160 acres" in fresh.judged()
    again = given(fresh, "vesperlick.zip", zipped(DEMO))[2]
    assert b"already in the book" in again


def test_faults_are_told_by_cell_good_rows_are_kept_and_all_is_undone(fresh):
    given(fresh, "vesperlick.zip", zipped(DEMO))
    bad = b"visit,stand,kind,visited_on\nV1,S1,cruise,2025-05-01\nV2,S1,cruse,2025-05-01\nV3,S9,cruise,2025-13-01\n"
    status, _, body = given(fresh, "visits.csv", bad)
    text = body.decode()
    assert status == 422
    assert "so nothing was changed" in text and "cruse" in text and "2025-13-01" in text

    # Every fault, not only those a page shows, as the command writes them.
    assert 'href="/import/waiting/1/"' in fresh.page("/import/")
    status, _, body = fresh.ask("/import/waiting/1/")
    rows = list(csv.DictReader(io.StringIO(body.decode("utf-8-sig"))))
    assert status == 200 and [row["found"] for row in rows] == re.findall(r"<td>(cruse|S9|2025-13-01)</td>", text)

    status, _, body = fresh.send("/import/waiting/1/", {"act": "release"}, form="/import/")
    assert status == 200 and b"1 visits" in body
    assert "V1" in fresh.page("/stand/S1/")

    asked = fresh.page("/import/entry/2/")
    assert "Undo entry 2?" in asked and "1 visits" in asked and "visits.csv" in asked
    assert fresh.send("/import/entry/2/", {})[0] == 302
    # A token of the form may hold the two letters.
    assert not re.search(r"\bV1\b", fresh.page("/stand/S1/"))
    page = fresh.page("/import/")
    assert "undone" in page
    back = re.search(r'action="(/import/redo/\d+/)"', page)[1]
    assert fresh.send(back, {}, form="/import/")[0] == 302
    assert "V1" in fresh.page("/stand/S1/")


def test_what_would_come_in_is_seen_before_it_is_written(fresh):
    status, where, text = looked_at(fresh, "vesperlick.zip", zipped(DEMO))

    assert status == 200
    assert "What would come in" in text and "ft2/ac basal area" in text and "trees/ac" in text and " rows = " in text
    assert "Nothing yet" in fresh.page("/import/")
    status, _, body = fresh.send(where, {"accept": "yes"})
    assert status == 200 and b"came in as entry 1" in body and b" rows = " in body


def test_a_cruise_fuller_than_stands_are_is_doubted_before_it_is_written(fresh):
    given(fresh, "vesperlick.zip", zipped(DEMO))
    head = "visit,stand,kind,visited_on\nX-c,S1,cruise,2025-09-01\n"
    trees = "visit,point,tree,species,dbh_in\n" + "".join(f"X-c,1,{n},802,18\n" for n in range(1, 7))
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        archive.writestr("visits.csv", head)
        archive.writestr("rings.csv", "visit,layer,design,baf_ft2_ac,low_dbh_in\nX-c,overstory,prism,40,5\n")
        archive.writestr("points.csv", "visit,point\nX-c,1\n")
        archive.writestr("trees.csv", trees)
    status, _, text = looked_at(fresh, "full.zip", packed.getvalue())
    assert status == 200
    assert "240.0 ft2/ac basal area, 136 trees/ac" in text
    assert "more than stands are" in text


def test_a_sent_file_survives_a_reload_and_can_be_put_away(fresh):
    _, where, _ = looked_at(fresh, "vesperlick.zip", zipped(DEMO))

    assert "vesperlick.zip" in fresh.page("/import/") and where in fresh.page("/import/")
    assert "What would come in" in fresh.page(where)
    assert fresh.send(where, {"act": "drop"})[0] == 302
    assert where not in fresh.page("/import/")
    assert fresh.ask(where)[0] == 404


def test_a_foreign_sheet_shows_its_mapping_and_is_taken_once_confirmed(fresh):
    given(fresh, "vesperlick.zip", zipped(DEMO))
    content = (ROOT / "demo" / "second_cruiser.xlsx").read_bytes()
    status, where, text = looked_at(fresh, "second.xlsx", content)
    assert status == 200 and "has its own headings" in text
    assert "baf_ft2_ac" in text and "code." in text and "Write it into the book" not in text

    answers = {
        "accept": "yes", "set.back forty cruise.baf_ft2_ac": "10", "set.regen.plot_area_ac": "0.00136054", "code.RO": "833", "code.HM": "318",
        "set.back forty cruise.old_days": "as written", "set.regen.old_days": "as written",
    }  # fmt: skip
    status, _, body = fresh.send(where, answers)
    assert status == 422 and b"smallest allowed is 4.5" in body


STRANGE = "Stand,Datum,Pt,Baum,Umfang,Notiz\nS1,2025-05-02,1,white oak,30.5,2\nS1,2025-05-02,2,red maple,25.4,3\n"


def test_a_mapping_is_mended_heading_by_heading_without_sending_the_file_again(fresh):
    given(fresh, "vesperlick.zip", zipped(DEMO))
    _, where, text = looked_at(fresh, "strange.csv", STRANGE.encode())
    assert 'name="holds.strange"' in text
    text = fresh.send(where, {"holds.strange": "trees"})[2].decode()
    assert "<td>Umfang</td><td>30.5 (1), 25.4 (1)</td>" in text
    changed = {
        "holds.strange": "trees",
        "as.strange.Umfang": "dbh_in",
        "as.strange.Baum": "species",
        "as.strange.Datum": "visited_on",
        "set.strange.columns_left": "left out",
    }
    changed["set.strange.old_days"] = "as written"
    text = fresh.send(where, changed | {"accept": "no"})[2].decode()
    assert "<option selected>dbh_in</option>" in text and 'name="in.strange.dbh_in"' in text
    assert "<option selected>dbh_in</option>" in fresh.page(where), "a reload loses no answer"
    status, _, body = fresh.send(where, changed | {"accept": "yes", "in.strange.dbh_in": "cm"})
    assert status == 422 and "open questions" in body.decode() and "<option selected>cm</option>" in body.decode()
    status, _, body = fresh.send(
        where, changed | {"accept": "yes", "in.strange.dbh_in": "cm", "set.strange.baf_ft2_ac": "10", "save_as": "Strips"}
    )
    assert status == 200 and "2 trees" in body.decode(), body.decode()[-1500:]
    assert "dbh in 10" in fresh.page("/records/trees/?text=S1-2025-05-02")
    assert "Strips" in fresh.page("/import/mappings/")
    assert fresh.ask(where)[0] == 404


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"as.trees.DBH": "height_class", "as.trees.nothing": "dbh_in"}, "no such heading"),
        ({"in.trees.dbh_in": "acres"}, "cannot be read in"),
        ({"holds.trees": "songs"}, "no table"),
    ],
)
def test_a_change_of_the_mapping_that_cannot_be_is_said(fresh, fields, words):
    status, _, body = given(fresh, "trees.csv", b"Stand,Date,Plot,Sp,DBH\nS1,2025-05-02,1,802,12\n", **fields)
    assert status == 422
    assert words in body.decode().lower()


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("cruise.exe", b"MZ", "is of a kind that is not read"),
        ("cruise.zip", b"PK\x03\x04broken", "damaged"),
        ("cruise.xlsx", b"not a workbook", "cruise.xlsx"),
        ("empty.csv", b"", "empty.csv"),
        ("../../up.csv", b"a,b\n1,2\n", "up.csv"),
    ],
)
def test_files_that_cannot_be_read_are_told_and_change_nothing(fresh, name, content, words):
    status, _, body = given(fresh, name, content)
    assert status == (422 if name.endswith("up.csv") else 400), body[-600:]
    assert words in body.decode() and "../" not in body.decode()
    assert "Nothing yet" in fresh.page("/import/")


def test_a_zip_bomb_is_refused(fresh):
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive:
        zeros = b"0" * 2**20
        for number in range(2):
            with archive.open(f"{number}.csv", "w", force_zip64=True) as part:
                for _ in range(130):
                    part.write(zeros)
    status, _, body = given(fresh, "bomb.zip", packed.getvalue())
    assert status == 400 and b"unpacks to more than" in body


def test_a_typed_record_is_checked_kept_on_a_fault_and_written_when_right(fresh):
    form = "/records/properties/"
    assert fresh.send(form, {"property": "P", "name": "Own land", "latitude_deg": "999"})[0] == 422
    status, _, body = fresh.send(form, {"property": "P", "name": "Own land", "latitude_deg": "999"})
    assert b"Nothing was written" in body and b'value="999"' in body
    assert fresh.send(form, {"property": "P", "name": "Own land", "latitude_deg": "38"})[0] == 200
    status, _, body = fresh.send("/records/stands/", {"stand": "A", "property": "P", "area_ac": "12"})
    assert status == 200 and b"Written down as entry" in body
    assert "1 stands, 12 acres" in fresh.judged()
    other = {"stand": "A", "property": "P", "area_ac": "14"}
    status, _, body = fresh.send("/records/stands/", other)
    assert status == 409 and b"12" in body and b"14" in body
    assert "1 stands, 12 acres" in fresh.judged()
    fresh.send("/records/stands/", other | {"replace": "yes"})
    assert "1 stands, 14 acres" in fresh.judged()


def test_a_tally_becomes_a_count_with_its_empty_plots(fresh):
    fresh.send("/records/properties/", {"property": "P"})
    fresh.send("/records/stands/", {"stand": "A", "property": "P", "area_ac": "12"})
    head = [("visit", "A-1"), ("visited_on", "2025-09-10"), ("observer", "Forester"), ("plot_area_ac", "0.00136054"), ("plots", "1 2 3 4")]

    def line(*cells):
        return list(zip(("point", "species", "height_class", "stems", "browsed"), cells, strict=True))

    status, _, body = fresh.send(
        "/tally/A/", [*head, *line("1", "white oak", "4.5-10", "2", "1"), *line("2", "red maple", "1-3", "many", "")]
    )
    assert status == 422 and b"many" in body and b'value="white oak"' in body

    status, _, body = fresh.send("/tally/A/", [*head, *line("1", "white oak", "4.5-10", "2", "1"), *line("2", "red maple", "1-3", "1", "")])
    assert status == 200 and b"2 seedlings" in body and b"4 points" in body
    assert "25.0%" in fresh.page("/stand/A/why/oak_stocked_4_5ft_share/")

    # More lines under the same visit go on after those it holds.
    blank = [(name, "" if name == "observer" else value) for name, value in head]
    fresh.send("/tally/A/", [*blank, *line("1", "red maple", "1-3", "7", "")])
    assert "Forester" in fresh.page("/records/visits/?text=A-1")
    rows = fresh.page("/records/seedlings/?text=A-1")
    assert rows.count("<td>A-1</td>") == 3 and "stems 7" in rows


def test_a_sheet_whose_foot_does_not_fit_stores_nothing(fresh):
    given(fresh, "vesperlick.zip", zipped(DEMO))
    typed = {"kind": "cruise", "visited_on": "2025-09-01", "visit": "S1-foot", "baf_ft2_ac": "10", "plots": "1 2"}
    typed |= {
        "point": "1",
        "species": "802",
        "dbh_in": "12.4",
        "foot_lines": "1",
        "foot_plots": "2",
        "foot_dbh_in": "14.2",
        "foot_stems": "1",
    }
    status, _, body = fresh.send("/tally/S1/", typed, form="/tally/S1/?kind=cruise")
    assert status == 422 and b"says dbh_in 14.2" in body and b"comes to 12.4" in body and b'value="14.2"' in body
    assert "S1-foot" not in fresh.page("/records/visits/?text=S1-foot").split("<tbody>")[-1].split("</table>")[0]

    status, _, body = fresh.send("/tally/S1/", typed | {"dbh_in": "14.2"}, form="/tally/S1/?kind=cruise")
    assert status == 200 and b"Written down as entry" in body and b'value="14.2"' not in body


def test_a_tally_sent_twice_is_stored_once(fresh):
    given(fresh, "vesperlick.zip", zipped(DEMO))
    typed = {"kind": "cruise", "visited_on": "2025-09-01", "baf_ft2_ac": "10", "plots": "1", "form": "a" * 32}
    typed |= {"point": "1", "species": "802", "dbh_in": "18"}
    first = fresh.send("/tally/S1/", typed, form="/tally/S1/?kind=cruise")
    again = fresh.send("/tally/S1/", typed, form="/tally/S1/?kind=cruise")

    assert first[0] == 200 and b"Written down as entry" in first[2]
    assert again[0] == 409 and b"written down before" in again[2]


def _tallied(fresh, kind, head, lines):
    fields = [("kind", kind), ("visited_on", "2025-09-10"), *head.items()]
    for row in lines:
        fields += row.items()
    status, _, body = fresh.send("/tally/A/", fields)
    assert status == 200, body.decode()[-1500:]
    return body.decode()


def test_every_kind_of_visit_is_typed(fresh):
    fresh.send("/records/properties/", {"property": "P"})
    fresh.send("/records/stands/", {"stand": "A", "property": "P", "area_ac": "12"})
    tree = {"species": "white oak", "dbh_in": "12", "stems": "", "status": "live", "crown_class": "codominant"}
    ring = {"baf_ft2_ac": "10", "plot_area_ac": "", "plots": "1 2 3"}
    assert "1 trees" in _tallied(
        fresh, "cruise", ring, [{"point": "1", **tree, "height_ft": "", "logs": "2", "grade": "1", "defect_pct": ""}]
    )
    assert "2 acorn trees" in _tallied(
        fresh, "acorn", {}, [
            {"tree": n, "species": "white oak", "dbh_in": "", "bearing": b, "acorns": "", "method": "", "limbs": "", "seconds": ""}
            for n, b in (("1", "yes"), ("2", "no"))
        ],
    )  # fmt: skip
    radii = {f"radius_{side}_ft": "12" for side in ("north", "east", "south", "west")}
    assert "1 crowns" in _tallied(fresh, "crown", {}, [{"tree": "1", "species": "white oak", "dbh_in": "14", **radii}])
    assert "1 site trees" in _tallied(
        fresh, "site", {}, [{"tree": "1", "species": "white oak", "dbh_in": "14", "age_yr": "88", "height_ft": "80"}]
    )
    assert "1 light readings" in _tallied(fresh, "light", {}, [{"point": "1", "light_pct": "12", "measures": "light", "device": "sensor"}])
    fuel = {
        "point": "1",
        "fuel_model": "FM9",
        "litter_in": "2",
        "duff_in": "1",
        "oak_leaf_pct": "80",
        "leave_trees": "5",
        "leave_trees_with_debris": "1",
    }
    assert "1 fuels" in _tallied(fresh, "fuel", {}, [fuel])
    assert "1 trees" in _tallied(fresh, "marking check", ring, [{"point": "1", **tree}])
    assert "1 trees" in _tallied(fresh, "residual check", ring, [{"point": "1", **tree, "damage": "slight"}])
    dead = {"point": "1", "species": "red maple", "dbh_in": "3", "stems": "9", "status": "dead"}
    assert "1 trees" in _tallied(fresh, "injection check", {}, [dead])
    assert "1 visits" in _tallied(fresh, "inspection", {"note": "deer trails"}, [])
    seen = fresh.page("/stand/A/")
    for kind in ("cruise", "acorn", "crown", "site", "light", "fuel", "marking check", "residual check", "injection check", "inspection"):
        assert f"<td>{kind}</td>" in seen
    assert fresh.ask("/tally/A/?kind=stem+map")[0] == 404
    assert ('value="120.0' not in seen and "100%" in fresh.page("/stand/A/why/bearing_white_share/")) or "50" in fresh.page(
        "/stand/A/why/bearing_white_share/"
    )
