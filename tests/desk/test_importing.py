"""What becomes of the rows of a file adds up, whatever stands in them; and a look writes nothing."""

from __future__ import annotations

import dataclasses
import shutil

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from conftest import TODAY
from overwood.desk import entering, importing, session
from overwood.memory.book import store
from records import SHEETS, write

ANSWERS = importing.Answers(settings={"stand": "A1", "visited_on": "2025-05-14", "baf_ft2_ac": "10"})
POINTS = st.sampled_from(("1", "2", "3", "Total", ""))
SPECIES = st.sampled_from(("WO", "BO", "none", "zebra tree", "", "-"))
SIZES = st.sampled_from(("18", "21.5", "x", "", "-3", "12"))
LINES = st.lists(st.tuples(POINTS, SPECIES, SIZES), min_size=1, max_size=12)


@pytest.fixture(scope="module")
def stand_file(tmp_path_factory, empty_book_file):
    """A book with one stand nobody has visited."""
    folder = tmp_path_factory.mktemp("sums")
    shutil.copy(empty_book_file, folder / "one.sqlite3")
    session.open_book(folder / "one.sqlite3")
    importing.bring_in(write(folder, {name: SHEETS[name] for name in ("properties", "stands")}), today=TODAY)
    session.close()
    return folder / "one.sqlite3"


def _sent(lines):
    rows = [f"{point},{number},{species},{size}" for number, (point, species, size) in enumerate(lines, start=1)]
    return importing.FileSent(name="cruise.csv", content=("Pt,Tree,Sp,DBH (in)\n" + "\n".join(rows) + "\n").encode())


@pytest.mark.slow
@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(lines=LINES)
def test_the_rows_of_any_sheet_add_up_before_and_after_and_a_look_writes_nothing(stand_file, tmp_path, lines):
    session.open_book(stand_file)
    before = session.data_version()
    sent = _sent(lines)

    look = importing.consider(sent, today=TODAY, answers=ANSWERS)

    assert session.data_version() == before and store.records("trees") == []
    if look.report is None:
        assert look.open_questions or not look.understood
        return
    sums = look.report.review.sums
    assert sums.closes
    assert sums.rows == sum(1 for line in sent.content.decode().splitlines() if line.replace(",", "").strip())


@settings(max_examples=10, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(lines=st.lists(st.tuples(st.sampled_from(("1", "2", "x y")), st.sampled_from(("802", "833", "")), st.sampled_from(("18", "x", ""))), min_size=1, max_size=8))  # fmt: skip
def test_the_rows_of_the_programs_own_sheets_add_up_too(stand_file, lines):
    session.open_book(stand_file)
    trees = "".join(f"V,{point},{number},{species},{size}\n" for number, (point, species, size) in enumerate(lines, start=1))
    sheets = {
        "visits": "visit,stand,kind,visited_on\nV,A1,cruise,2025-05-14\n",
        "points": "visit,point\nV,1\nV,2\n",
        "trees": f"visit,point,tree,species,dbh_in\n{trees}",
    }
    from records import zipped

    look = importing.consider(importing.FileSent(name="own.zip", content=zipped(sheets)), today=TODAY)

    sums = look.report.review.sums
    assert sums.closes and sums.rows == sum(text.count("\n") for text in sheets.values())


def test_a_file_that_changes_a_visit_stores_nothing_until_its_visit_is_named(sqlite_book, tmp_path):
    importing.bring_in(write(tmp_path, dict(SHEETS)), today=TODAY)
    changed = {name: text.replace("18.2", "19.9") for name, text in SHEETS.items()}

    report = importing.bring_in(write(tmp_path, changed, "second.zip"), today=TODAY)

    assert (report.batch, report.needs_consent) == (None, ("A1-c",))
    assert [(change.before, change.after) for visit in report.review.visits for change in visit.changes] == [("18.2", "19.9")]
    assert 18.2 in [tree.dbh_in for tree in store.records("trees")]
    report = importing.bring_in(tmp_path / "second.zip", today=TODAY, replace=frozenset({"A1-c"}))
    assert report.batch and 19.9 in [tree.dbh_in for tree in store.records("trees")]


def test_a_mapping_of_the_old_kind_moves_without_its_answers(sqlite_book):
    from importlib import import_module

    moved = import_module("overwood.memory.book.migrations.0018_layouts")
    old = {
        "sheet": "cruise",
        "table": "trees",
        "columns": {"species": {"from": "Sp", "unit": ""}, "dbh_in": {"from": "DBH", "unit": "cm"}},
        "codes": {"species": {"WO": "802", "RO": ""}},
        "constants": {"stand": "K1", "visited_on": "2025-05-14", "baf_ft2_ac": "10"},
        "not_used": ["Crew"],
    }

    layout = importing.Mapping.from_json(moved.layout(old))

    assert dataclasses.asdict(layout)["columns"] == {"Sp": "species", "DBH": "dbh_in"}, "what nobody was asked about is not left out"
    assert (layout.units, layout.codes) == ({"dbh_in": "cm"}, {"species": {"WO": "802"}})
    assert "K1" not in str(layout) and "2025" not in str(layout)


def test_consent_to_all_is_one_word(sqlite_book, tmp_path):
    importing.bring_in(write(tmp_path, dict(SHEETS)), today=TODAY)
    changed = {name: text.replace("18.2", "19.9") for name, text in SHEETS.items()}

    assert importing.bring_in(write(tmp_path, changed, "second.zip"), today=TODAY, replace=entering.ALL).batch


def _brought_in(folder, text):
    (folder / "factors.csv").write_text(text)
    answers = importing.Answers(settings={"stand": "A1", "visited_on": "2025-05-14"})
    return importing.bring_in(folder / "factors.csv", today=TODAY, answers=answers, accept=True, replace=entering.ALL)


def test_a_mended_sheet_with_one_factor_takes_away_the_factors_that_points_had_of_their_own(stand_file, tmp_path):
    shutil.copy(stand_file, tmp_path / "book.sqlite3")
    session.open_book(tmp_path / "book.sqlite3")

    first = _brought_in(tmp_path, "Plot,Tree,Sp,DBH (in),BAF\n1,1,WO,12,10\n2,1,WO,12,20\n")
    own = [(point.point, point.baf_ft2_ac) for point in store.records("points")]
    second = _brought_in(tmp_path, "Plot,Tree,Sp,DBH (in),BAF\n1,1,WO,12,10\n2,1,WO,12,10\n")

    assert own == [("1", 10.0), ("2", 20.0)]
    assert [(point.point, point.baf_ft2_ac) for point in store.records("points")] == [("1", None), ("2", None)]
    assert [ring.baf_ft2_ac for ring in store.records("rings")] == [10.0]
    # One tree at each point: (10 + 20) / 2 ft2/ac, then 10.
    assert [report.review.visits[0].after.ba_ft2_ac for report in (first, second)] == pytest.approx([15, 10])


# A sheet of each kind: its headings, what its cells may hold, and the answers it needs.
KINDS = {
    "midstory": (
        "Plot,Species,DBH (in)",
        (("1", "2", "Total", ""), ("RM", "BE", "none", "?"), ("1.5", "3", "", "x")),
        {"plot_area_ac": "0.02", "layer": "midstory", "low_dbh_in": "1", "high_dbh_in": "5"},
    ),
    "seedlings": (
        "Plot,Species,Ht class,Count",
        (("1", "2", ""), ("WO", "none", "zebra tree", ""), ("1-3", "3-4.5", "tall", ""), ("2", "0", "x", "-1", "")),
        {"plot_area_ac": "0.001", "blank_count": "1"},
    ),
    "acorns": ("Tree,Species,DBH (in),Acorns", (("1", "2", ""), ("WO", "BO", "?"), ("18", "x", ""), ("0", "12", "x", "")), {}),
    "stands": ("Stand,Acres,Property", (("B1", "B2", "Total", ""), ("20", "x", ""), ("P1", "")), {}),
}


@pytest.mark.slow
@pytest.mark.parametrize("kind", KINDS)
@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_the_rows_of_a_sheet_of_any_kind_add_up(stand_file, kind, data):
    session.open_book(stand_file)
    head, cells, said = KINDS[kind]
    lines = data.draw(st.lists(st.tuples(*map(st.sampled_from, cells)), min_size=1, max_size=8))
    sent = importing.FileSent(name="sheet.csv", content="\n".join([head, *map(",".join, lines), ""]).encode())
    place = {} if kind == "stands" else {"stand": "A1", "visited_on": "2025-05-14"}

    asked = importing.consider(sent, today=TODAY).open_questions
    keys = {key for one in asked for key in (one.key, *one.also)}
    answers = importing.Answers(
        settings={key: value for key, value in {**place, **said}.items() if key in keys | set(said) - {"blank_count"}}
    )
    look = importing.consider(sent, today=TODAY, answers=answers)

    if look.report is None:
        assert look.open_questions or not look.understood
        return
    sums = look.report.review.sums
    assert sums.closes
    assert sums.rows == 1 + sum(1 for line in lines if any(line))


def test_a_list_of_stands_in_foreign_words_comes_in_beside_the_sheet_of_its_property(sqlite_book, tmp_path):
    # "acres" is no heading of the contract, so this sheet is read as a foreign one; its property has a name of its own.
    (tmp_path / "properties.csv").write_text("property,name\nHome,Home tract\n", encoding="utf-8")
    (tmp_path / "stands.csv").write_text("stand,property,acres\nRidge 4,Home,22\nRidge 5,Away,10\n", encoding="utf-8")

    report = importing.bring_in(tmp_path, today=TODAY, accept=True)

    assert [str(fault) for fault in report.faults] == []
    assert {land.property: land.name for land in store.records("properties")} == {"Home": "Home tract", "Away": ""}
    assert {stand.stand: stand.area_ac for stand in store.records("stands")} == {"Ridge 4": 22, "Ridge 5": 10}


@pytest.mark.parametrize(("points", "is_right"), [(1, True), (2, False)])
def test_a_factor_under_one_is_right_of_a_sum_at_one_point_and_a_slip_of_a_prism_at_several(sqlite_book, points, is_right):
    rows = {
        "properties": [{"property": "P"}],
        "stands": [{"stand": "A", "property": "P"}],
        "visits": [{"visit": "A-1", "stand": "A", "kind": "cruise", "visited_on": "2025-06-01"}],
        "rings": [
            {"visit": "A-1", "layer": "overstory", "design": "prism", "baf_ft2_ac": "0.8333", "low_dbh_in": "5"},
            {"visit": "A-1", "layer": "midstory", "design": "fixed", "plot_area_ac": "0.02", "low_dbh_in": "1", "high_dbh_in": "5"},
        ],
        "points": [{"visit": "A-1", "point": str(number)} for number in range(points)],
    }
    report = entering.enter(rows, today=TODAY, name="made")
    assert (not report.faults) is is_right
    assert is_right or "basal area factor of 0.8333" in str(report.faults[0])
    if is_right:
        # One more point, by another file, makes it wrong.
        more = {"points": [{"visit": "A-1", "point": "later"}]}
        assert "2 points and a basal area factor" in str(entering.enter(more, today=TODAY, name="more").faults[0])


def test_a_factor_of_a_visit_of_several_points_is_not_mended_to_one_of_their_sum(stand_file, tmp_path):
    def files(folder, **sheets):
        (tmp_path / folder).mkdir()
        for name, text in sheets.items():
            (tmp_path / folder / f"{name}.csv").write_text(text)
        return importing.bring_in(tmp_path / folder, today=TODAY, accept=True, replace=entering.ALL)

    shutil.copy(stand_file, tmp_path / "book.sqlite3")
    session.open_book(tmp_path / "book.sqlite3")
    ring = "visit,layer,design,baf_ft2_ac\nF,overstory,prism,{}\n"
    head = {"visits": "visit,stand,kind,visited_on\nF,A1,cruise,2025-06-01\n", "points": "visit,point\nF,1\nF,2\n"}
    trees = "visit,point,tree,species,dbh_in\nF,1,1,802,14\nF,2,1,837,12\n"

    waits = files("slip", rings=ring.format(0.5), trees=trees, **head)
    importing.release(waits.quarantine, today=TODAY)
    assert not [one for name in ("points", "trees") for one in store.records(name) if one.visit == "F"], "no tree without its point"
    assert not files("right", rings=ring.format(10), trees=trees, **head).faults
    assert "2 points and a basal area factor of 0.5" in str(files("mended", rings=ring.format(0.5)).faults[0])
