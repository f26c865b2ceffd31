"""A second file never speaks for the first: by the command and by the page alike."""

from __future__ import annotations

import contextlib
import html
import io
import re
import shutil
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

from overwood.memory.book import store

NORTH = "Pt,Tree,Sp,DBH (in)\n1,1,WO,18\n1,2,BO,21.5\n2,1,WO,17\n"
SOUTH = "Pt,Tree,Sp,DBH (in)\n1,1,YP,15.4\n1,2,RM,8\n2,1,YP,12\n"
CODES = "Plot,Tree,Sp,DBH (in)\n1,1,WO,18\n1,2,ZORK,14\n1,3,PLUGH,12\n"
PRISM = {"stand": "K1", "visited_on": "2025-05-14", "baf_ft2_ac": "10"}
PLOTS = {"stand": "K2", "visited_on": "2025-06-01", "plot_area_ac": "0.1"}


@dataclass(frozen=True)
class Came:
    """What a door said, and whether it took the file."""

    taken: bool
    text: str


@dataclass
class Command:
    """`overwood import`, as a user without a terminal types it."""

    book: Path
    more: dict[str, Any] = field(default_factory=dict)

    def send(self, path, answers=None, *, yes=True, codes=None, replace=()):
        words = ["import", str(path), "--book", str(self.book), *(["--yes"] if yes else [])]
        words += [word for name, value in (answers or {}).items() for word in ("--set", f"{name}={value}")]
        words += [word for name, value in (codes or {}).items() for word in ("--code", f"{name}={value}")]
        words += [word for mark in replace for word in ("--replace", mark)]
        return self.run(*words)

    def run(self, *words):
        from overwood.faces.cli import main as door

        out = io.StringIO()
        status = 0
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(out):
            try:
                door.main([str(word) for word in words])
            except SystemExit as done:
                status = int(done.code or 0)
        return Came(status == 0, " ".join(out.getvalue().split()))


@dataclass
class Page:
    """The import page, as a browser sends to it."""

    client: Any

    def send(self, path, answers=None, *, yes=True, codes=None, replace=()):
        from django.core.files.uploadedfile import SimpleUploadedFile

        fields: dict[str, Any] = {"file": SimpleUploadedFile(path.name, path.read_bytes()), "accept": "yes" if yes else "no"}
        fields |= {f"set.{name}": value for name, value in (answers or {}).items()}
        fields |= {f"code.{name}": value for name, value in (codes or {}).items()}
        fields["replace"] = list(replace)
        answer = self.client.post("/import/", fields)
        return Came(answer.status_code == 200, " ".join(answer.content.decode().split()))


@pytest.fixture(scope="module")
def pages():
    from django.test import override_settings

    from overwood.faces.served.serving import Told, web_settings

    with override_settings(**web_settings(Told()) | {"ALLOWED_HOSTS": ["testserver"]}):
        yield


@pytest.fixture(scope="module")
def woods_file(tmp_path_factory, empty_book_file):
    """A property with seven stands nobody has visited."""
    from overwood.desk import session

    folder = tmp_path_factory.mktemp("mill")
    book = folder / "woods.sqlite3"
    shutil.copy(empty_book_file, book)
    (folder / "properties.csv").write_text("property,name\nmillrun,Mill Run\n")
    (folder / "stands.csv").write_text("Stand,Acres\n" + "".join(f"K{n},20\n" for n in range(1, 8)))
    door = Command(book)
    assert door.send(folder / "properties.csv", yes=False).taken
    came = door.send(folder / "stands.csv", {"property": "millrun"})
    assert came.taken, came.text
    session.backup(folder / "copy.sqlite3")
    return folder / "copy.sqlite3"


@pytest.fixture
def woods(woods_file, tmp_path):
    from django.db import connections

    from overwood.desk import session

    book = tmp_path / "book.sqlite3"
    shutil.copy(woods_file, book)
    session.open_book(book)
    yield book
    connections.close_all()


@pytest.fixture(params=["command", "page"])
def door(request, woods, pages):
    if request.param == "command":
        return Command(woods)
    from django.core import signing
    from django.test import Client

    from overwood.faces.pages import asking, guard
    from overwood.faces.served.serving import Told

    asking.begin(Told(book=str(woods), on="2026-01-15"))
    client = Client()
    client.cookies[guard.COOKIE] = signing.dumps("owner", salt=guard.COOKIE)
    return Page(client)


@pytest.fixture
def command(woods):
    return Command(woods)


@pytest.fixture
def sheet(tmp_path):
    def written(name, text):
        path = tmp_path / name
        path.parent.mkdir(exist_ok=True)
        path.write_text(text)
        return path

    return written


def dbh_by_stand():
    stands = {visit.visit: visit.stand for visit in store.records("visits")}
    trees: dict[str, list[float]] = {}
    for tree in store.records("trees"):
        trees.setdefault(stands[tree.visit], []).append(tree.dbh_in)
    return {stand: sorted(sizes) for stand, sizes in trees.items()}


def test_the_property_keeps_its_name_when_stands_come_in_without_it(woods):
    assert [one.name for one in store.records("properties")] == ["Mill Run"]
    assert len(store.records("stands")) == 7


def test_a_second_file_with_known_headings_is_asked_for_its_own_stand_day_and_plot(door, sheet):
    assert door.send(sheet("north/cruise.csv", NORTH), PRISM).taken

    came = door.send(sheet("south/cruise.csv", SOUTH), yes=False)

    assert dbh_by_stand() == {"K1": [17, 18, 21.5]}
    for asked in ("stand", "visited_on", "baf_ft2_ac"):
        assert asked in came.text
    assert door.send(sheet("south/cruise.csv", SOUTH), PLOTS).taken
    assert dbh_by_stand() == {"K1": [17, 18, 21.5], "K2": [8, 12, 15.4]}


def test_a_second_file_without_answers_is_not_taken_even_with_a_yes(door, sheet):
    door.send(sheet("north/cruise.csv", NORTH), PRISM)

    assert not door.send(sheet("south/cruise.csv", SOUTH)).taken

    assert dbh_by_stand() == {"K1": [17, 18, 21.5]}


def test_another_file_of_the_same_visit_shows_old_beside_new_and_changes_nothing_without_a_yes(door, sheet):
    door.send(sheet("north/cruise.csv", NORTH), PRISM)
    (visit,) = [one.visit for one in store.records("visits")]

    came = door.send(sheet("south/cruise.csv", SOUTH), PRISM)

    assert not came.taken
    assert "18" in came.text and "15.4" in came.text and visit in came.text
    assert dbh_by_stand() == {"K1": [17, 18, 21.5]}
    assert door.send(sheet("south/cruise.csv", SOUTH), PRISM, replace=[visit]).taken
    assert dbh_by_stand() == {"K1": [8, 12, 15.4]}


def test_known_headings_are_known_under_any_file_name(door, sheet):
    door.send(sheet("north/cruise.csv", NORTH), PRISM)

    came = door.send(sheet("ridge.csv", SOUTH), yes=False)

    assert "known" in came.text and "not understood" not in came.text
    assert door.send(sheet("ridge.csv", SOUTH), {**PLOTS, "visited_on": "2025-06-20"}).taken
    assert dbh_by_stand()["K2"] == [8, 12, 15.4]


def test_known_headings_keep_their_name_unless_another_is_told(command, sheet):
    command.send(sheet("north/cruise.csv", NORTH), PRISM)
    book = ("--book", command.book)

    came = command.send(sheet("ridge.csv", SOUTH), PLOTS)
    assert "kept as 'cruise'" in came.text and "ridge" not in command.run("mappings", *book).text

    more = sheet("third.csv", NORTH.replace("18", "19"))
    command.run("import", more, "--yes", "--save-as", "prism sheet", "--set", "stand=K3", "--set", "visited_on=2025-06-02",
                "--set", "baf_ft2_ac=10", *book)  # fmt: skip
    assert "prism sheet" in command.run("mappings", *book).text


def test_rows_there_already_are_told_once_and_the_same_everywhere(command, sheet):
    looked = command.run("import", sheet("more.csv", "Stand,Acres\nL1,20\nL2,30\n"), "--set", "property=millrun", "--book", command.book)
    came = command.send(sheet("more.csv", "Stand,Acres\nL1,20\nL2,30\n"), {"property": "millrun"})

    assert "3 rows = 2 to store + 0 empty plots" in looked.text
    assert "3 rows = 2 stored + 0 empty plots + 1 headings, totals and notes + 0 refused + 0 already there" in came.text
    assert "rows were" not in came.text


def test_every_empty_sheet_is_named_with_its_own_file(command, tmp_path):
    (tmp_path / "empty").mkdir()
    for name in ("trees", "points"):
        (tmp_path / "empty" / f"{name}.csv").write_text("visit,point\n")

    came = command.send(tmp_path / "empty", yes=False)

    assert "points.csv, points" in came.text and "trees.csv, trees" in came.text


def test_a_file_of_which_nothing_was_stored_can_be_sent_again(door, sheet):
    nothing = sheet("songs.csv", "Alpha,Beta\nla,li\n")

    for _ in range(2):
        came = door.send(nothing, yes=True)
        assert not came.taken and "already in the book" not in came.text
    assert not [one for one in store.batches() if one["file_name"] == "songs.csv"]


def test_an_answer_that_led_to_faults_is_not_kept(door, sheet):
    bad = {"stand": "K1", "visited_on": "5/12/2026", "baf_ft2_ac": "ten"}
    assert not door.send(sheet("w.csv", "Plot,Tree,Sp,DBH (in)\n1,1,WO,18\n1,2,BO,21\n"), bad).taken

    came = door.send(sheet("w.csv", "Plot,Tree,Sp,DBH (in)\n1,1,WO,18\n1,2,BO,21\n"), yes=False)

    assert "baf_ft2_ac" in came.text and "visited_on" in came.text
    assert "ten" not in re.findall(r"\w+", came.text.replace("Listen", ""))
    good = {**PRISM, "visited_on": "2025-05-12"}
    assert door.send(sheet("w.csv", "Plot,Tree,Sp,DBH (in)\n1,1,WO,18\n1,2,BO,21\n"), good).taken


def test_the_same_file_with_other_codes_takes_the_place_of_its_earlier_entry(door, sheet):
    answers = {"stand": "K6", "visited_on": "2025-05-14", "plot_area_ac": "0.1"}
    path = sheet("codes.csv", CODES)
    assert door.send(path, answers).taken
    (visit,) = [one.visit for one in store.records("visits")]

    came = door.send(path, answers, codes={"ZORK": "403", "PLUGH": "541"})
    assert "already in the book" not in came.text and "403" in came.text
    assert sorted(tree.species for tree in store.records("trees")) == [802, 999, 999]
    came = door.send(path, answers, codes={"ZORK": "403", "PLUGH": "541"}, replace=[visit])

    assert came.taken
    assert sorted(tree.species for tree in store.records("trees")) == [403, 541, 802]
    assert "already in the book" in door.send(path, answers, codes={"ZORK": "403", "PLUGH": "541"}).text


def test_a_code_that_stands_in_no_sheet_is_refused(door, sheet):
    came = door.send(sheet("north/cruise.csv", NORTH), PRISM, codes={"TYPO": "833"})

    assert not came.taken and "TYPO" in came.text
    assert dbh_by_stand() == {}


def test_a_missing_stand_is_one_fault(door, sheet):
    answers = {"stand": "K99", "visited_on": "2025-05-14", "plot_area_ac": "0.1"}

    came = door.send(sheet("codes.csv", CODES), answers)

    assert not came.taken
    assert "There is no stand 'K99' in the book: which one is it?" in html.unescape(came.text)
    assert "There is no such visit" not in came.text


def test_unknown_species_are_mended_after_with_their_history(command, sheet):
    command.send(sheet("codes.csv", CODES), {"stand": "K6", "visited_on": "2025-05-14", "plot_area_ac": "0.1"})
    listed = command.run("mend-species", "--book", command.book).text
    assert "ZORK" in listed and "PLUGH" in listed and "K6" in listed

    assert command.run("mend-species", "ZORK=403", "--book", command.book).taken

    trees = {tree.tree: tree for tree in store.records("trees")}
    assert [trees[number].species for number in ("1", "2", "3")] == [802, 403, 999]
    history = store.history("trees", trees["2"].id)
    assert [row["species"] for row in history] == [403, 999]
    assert "ZORK" not in command.run("mend-species", "--book", command.book).text
    assert not command.run("mend-species", "ZORK=403", "--book", command.book).taken


def test_a_kept_mapping_holds_headings_and_no_answers(command, sheet):
    command.send(sheet("north/cruise.csv", NORTH), PRISM)
    numbers = sorted(map(int, re.findall(r'"number": (\d+)', command.run("mappings", "--json", "--book", command.book).text)))

    shown = command.run("mappings", numbers[-1], "--json", "--book", command.book).text

    assert "dbh_in" in shown and "K1" not in shown and "2025-05-14" not in shown and "baf" not in shown


def test_a_kept_mapping_is_mended_and_forgotten(command, sheet):
    command.send(sheet("north/cruise.csv", NORTH), PRISM)
    listed = command.run("mappings", "--json", "--book", command.book).text
    number = max(map(int, re.findall(r'"number": (\d+)', listed)))

    assert "height_ft" in command.run("mappings", number, "--map", "Tree=height_ft", "--book", command.book).text
    assert not command.run("mappings", number, "--map", "Tree=songs", "--book", command.book).taken
    assert command.run("mappings", number, "--forget", "--book", command.book).taken
    assert not command.run("mappings", number, "--book", command.book).taken


def test_the_command_without_a_yes_says_what_to_answer_and_is_no_error(command, sheet):
    came = command.send(sheet("codes.csv", CODES), yes=False)

    assert came.taken and "Error" not in came.text and "Usage" not in came.text
    assert "nothing was written. Answer, look at how it is read, and add --yes:" in came.text


def test_an_undo_names_what_hangs_on_it_and_can_be_taken_back(command, sheet):
    command.send(sheet("north/cruise.csv", NORTH), PRISM)
    (entry,) = [one["id"] for one in store.batches() if one["file_name"] == "cruise.csv"]

    undone = command.run("entries", "--undo", entry, "--yes", "--book", command.book)

    assert undone.taken and "3 trees" in undone.text and dbh_by_stand() == {}
    number = re.search(r"--redo (\d+)", undone.text)[1]
    assert command.run("entries", "--redo", number, "--book", command.book).taken
    assert dbh_by_stand() == {"K1": [17, 18, 21.5]}


def test_a_cruise_fuller_than_stands_are_is_doubted(command, sheet):
    # 6 trees of 18 in. at one point of factor 40 are 240 ft2/ac and 136 trees/ac, by hand.
    trees = "Plot,Tree,Sp,DBH (in)\n" + "".join(f"1,{n},WO,18\n" for n in range(1, 7))
    answers = {"stand": "K1", "visited_on": "2025-05-14", "baf_ft2_ac": "40"}

    came = command.send(sheet("full.csv", trees), answers)

    text = html.unescape(came.text)
    assert re.search(r"240\.0\s+ft2/ac basal area,\s+136\s+trees/ac", text), text
    assert re.search(r"%\s+stocked,\s+more\s+than\s+stands\s+are", text), text


def test_a_file_told_of_a_third_stand_asks_before_it_leaves_the_second(door, sheet):
    path = sheet("north/cruise.csv", NORTH)
    assert door.send(path, PRISM).taken

    for before, name in (("K1", "K2"), ("K2", "K3")):
        answers = {**PRISM, "stand": name}
        asked = door.send(path, answers)
        assert dbh_by_stand().get(name) is None, "one file never stands in two stands without a word"
        assert "withdrawn" in asked.text.lower()
        door.send(path, answers, replace=(f"{before}-2025-05-14-cruise",))
        assert dbh_by_stand() == {name: [17, 18, 21.5]}

    assert "already in the book" in door.send(path, {**PRISM, "stand": "K3"}).text


def test_a_file_whose_visit_was_undone_comes_in_again_and_is_one_entry_then(command, sheet):
    path, book = sheet("north/cruise.csv", NORTH), ("--book", command.book)
    assert command.send(path, PRISM).taken
    undone = command.run("entries", "--undo-visit", "K1-2025-05-14-cruise", "--yes", *book)
    assert undone.taken and dbh_by_stand() == {}

    assert command.send(path, PRISM).taken
    assert dbh_by_stand() == {"K1": [17, 18, 21.5]}
    assert "already in the book (entry 4)" in command.send(path, PRISM).text


def test_a_visit_undone_is_named_with_its_rows_and_can_be_taken_back(command, sheet):
    book = ("--book", command.book)
    assert command.send(sheet("north/cruise.csv", NORTH), PRISM).taken

    undone = command.run("entries", "--undo-visit", "K1-2025-05-14-cruise", "--yes", *book)
    assert "3 trees would be taken out" in undone.text and "--redo 1" in undone.text

    assert command.run("entries", "--redo", "1", *book).taken
    assert dbh_by_stand() == {"K1": [17, 18, 21.5]}
    assert not command.run("entries", "--undo-visit", "K9-2025-05-14-cruise", *book).taken


def test_a_visit_undone_of_a_file_in_the_own_form_comes_in_again(command, tmp_path):
    folder = tmp_path / "own"
    folder.mkdir()
    (folder / "visits.csv").write_text("visit,stand,kind,visited_on\nA,K1,cruise,2025-05-14\nB,K2,cruise,2025-05-14\n")
    assert command.send(folder, yes=False).taken
    assert command.run("entries", "--undo-visit", "A", "--yes", "--book", command.book).taken

    came = command.send(folder, yes=False)

    assert came.taken and "already in the book" not in came.text
    assert {row.visit for row in store.records("visits")} == {"A", "B"}


def test_an_answer_to_copy_is_one_word_for_a_shell(command, sheet):
    import shlex

    path = sheet("wide.csv", "Plot,Species,Ht class,Count\n1,WO,4.5'+,2\n2,RM,>4.5,3\n")

    text = command.send(path, {"stand": "K3", "visited_on": "2025-08-01", "plot_area_ac": "0.001"}, yes=False).text

    told = shlex.split(text.rpartition("Answer, look at how it is read, and add --yes: ")[2])
    assert told == ["--code", "height_class.4.5'+=4.5-10", "--code", "height_class.>4.5=4.5-10"]


def test_a_line_that_stands_twice_is_named(door, sheet):
    path = sheet("twice.csv", "Pt,Tree,Sp,DBH (in)\n1,1,WO,18\n1,1,WO,18\n1,2,BO,14\n")

    came = door.send(path, PRISM, yes=True)

    assert came.taken and dbh_by_stand()["K1"] == [14, 18]
    assert "a line stands twice and counts once (row 3)" in came.text


def test_what_was_left_out_and_what_looks_wrong_is_said_when_a_file_is_taken_at_once(door, sheet):
    path = sheet("tot.csv", "Pt,Sp,DBH (in)\n1,WO,18\n4,WO,17\n2,none,\nTotal trees,,\n")

    assert "No line names plots 3" in door.send(path, PRISM).text
    came = door.send(path, PRISM | {"empty_plots": "add"})

    assert came.taken and [one.point for one in store.records("points")] == ["1", "4", "2", "3"]
    assert "Left out as totals: row 5" in came.text and "Looked at, nothing counted: row 4" in came.text


MORE = "Pt,Tree,Sp,DBH (in)\n2,11,BO,14\n3,1,WO,16\n"


def test_a_file_that_adds_stems_to_points_that_have_a_tally_asks_first(door, sheet):
    assert door.send(sheet("north/cruise.csv", NORTH), PRISM).taken

    asked = door.send(sheet("more.csv", MORE), PRISM)
    assert not asked.taken and dbh_by_stand()["K1"] == [17, 18, 21.5]
    assert "adds stems to points that have a tally" in asked.text or "would get further stems: 2" in asked.text

    assert door.send(sheet("more.csv", MORE), PRISM, replace=("K1-2025-05-14-cruise",)).taken
    assert dbh_by_stand()["K1"] == [14, 16, 17, 18, 21.5]


def test_a_file_of_other_points_of_a_cruise_only_adds_to_it(door, sheet):
    assert door.send(sheet("north/cruise.csv", NORTH), PRISM).taken

    assert door.send(sheet("rest.csv", "Pt,Tree,Sp,DBH (in)\n3,1,WO,16\n4,1,RM,9\n"), PRISM).taken

    assert dbh_by_stand()["K1"] == [9, 16, 17, 18, 21.5]


@pytest.mark.parametrize("mended", ["Pt,Tree,Sp,DBH (in)\n1,1,WO,18\n2,1,WO,17\n", "Pt,Tree,Sp,DBH (in)\n1,1,WO,18\n2,1,WO,17\n9,,none,\n"])
def test_a_tree_that_a_mended_file_no_longer_has_stays_and_is_named(command, sheet, mended):
    assert command.send(sheet("north/cruise.csv", NORTH), PRISM).taken

    came = command.send(sheet("mended.csv", mended), PRISM, yes=True)

    assert "not in this file and still in the book at its points: trees 1 2" in came.text
    assert dbh_by_stand()["K1"] == [17, 18, 21.5]


def test_a_plot_that_a_mended_file_calls_empty_names_the_trees_that_stay(command, sheet):
    assert command.send(sheet("north/cruise.csv", NORTH), PRISM).taken

    came = command.send(sheet("mended.csv", "Pt,Tree,Sp,DBH (in)\n1,,none,\n2,,none,\n"), PRISM, yes=True)

    assert "still in the book at its points: trees 1 1, trees 1 2, trees 2 1" in came.text


def test_a_file_of_other_points_names_nothing_that_stays(command, sheet):
    assert command.send(sheet("north/cruise.csv", NORTH), PRISM).taken

    assert "still in the book" not in command.send(sheet("rest.csv", "Pt,Tree,Sp,DBH (in)\n3,1,WO,16\n"), PRISM).text


NEW_STAND = "Stand,Pt,Tree,Sp,DBH (in)\nK5,1,1,WO,18\nNew1,1,1,BO,16\n"


def test_a_stand_added_while_a_file_waits_lets_the_file_in(door, sheet):
    path, said = sheet("ns.csv", NEW_STAND), {"visited_on": "2025-05-14", "baf_ft2_ac": "10"}
    came = door.send(path, said)
    assert not came.taken and "New1" in came.text and dbh_by_stand() == {}

    if isinstance(door, Command):
        assert door.send(sheet("new.csv", "Stand,Acres\nNew1,12\n"), {"property": "millrun"}).taken
    else:
        assert "/records/stands/?stand=New1" in came.text
        assert door.client.post("/records/stands/", {"stand": "New1", "property": "millrun"}).status_code == 200

    assert door.send(path, said).taken
    assert dbh_by_stand() == {"K5": [18], "New1": [16]}
    assert store.held() == []


def test_an_office_s_own_limits_decide_what_is_doubted(door, sheet, monkeypatch):
    from overwood.faces.pages import asking

    # 22 trees on one point of factor 10 are 220 ft2/ac: under the limit of the program (250), over the office's.
    full = sheet("full.csv", "Pt,Tree,Sp,DBH (in)\n" + "".join(f"1,{n},WO,18\n" for n in range(22)))
    own = sheet("own.toml", '[ba_doubted_ft2_ac]\nvalue = 210\nnote = "ridge stands"\n')
    doubt = "220 ft2/ac of basal area, more than any upland oak stand carries"

    assert doubt not in door.send(full, PRISM, yes=False).text
    monkeypatch.setenv("OVERWOOD_RULES", str(own))
    monkeypatch.setattr(asking.DESK, "overlay", own)
    assert doubt in door.send(full, PRISM, yes=False).text
    monkeypatch.delenv("OVERWOOD_RULES")
    monkeypatch.setattr(asking.DESK, "overlay", None)
    assert doubt not in door.send(full, PRISM, yes=False).text


def test_plots_that_a_note_calls_empty_are_asked_about_and_belong_to_the_mean(door, sheet):
    import datetime as dt

    from overwood.desk import answers

    # Three trees under a factor of 10 on five points, two of them empty: 6 ft2/ac, and not the 10 of three points.
    text = sheet("gaps.csv", "Pt,Tree,Sp,DBH (in)\n1,1,WO,18\n2,1,BO,21.5\n5,1,WO,17\nPoints with no trees: 3 and 4,,,\n")

    asked = door.send(text, PRISM)
    assert not asked.taken
    assert "speaks of plots without lines of their own (3, 4)" in asked.text
    assert door.send(text, PRISM | {"empty_plots": "add"}).taken

    found = answers.evidence("K1", answers.question(dt.date(2025, 10, 1)))["ba_ft2_ac"]
    assert (found.value, found.n) == (pytest.approx(6.0), 5)
