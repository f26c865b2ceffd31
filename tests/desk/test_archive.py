"""The archive of a stand: all that was stored is in it, and whatever is changed afterwards shows, without the book."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import os
import zipfile

import pypdf
import pytest

import pdf_text
from conftest import DEMO_DAY
from overwood.desk import answers, archive, kept, session
from overwood.faces.papers import stand_file
from overwood.ground.errors import BadRecords
from overwood.memory.book import store, view
from tags import faults

PAPER = b"%PDF-1.7 a paper that was kept"


@pytest.fixture
def written(demo_book, ask, tmp_path):
    """The archive of a stand with an answer, a paper and a record that was set aside, its seal and its front page."""
    wrong = answers.stand_file("S2").sightings[0].id
    view.set_aside({"sightings": [wrong]}, kind="undo", about="a sighting", because="seen in another stand", by="Forester")
    kept.keep("S2", "trial", ask, {"seed": 1}, {"says": [1, 2.5, "three"]})
    session.keep_paper(
        "S2",
        session.Printed(which="brief", title="Owner's brief", own_words="", made_on=DEMO_DAY, rules_version=ask.rules.version),
        PAPER,
    )
    made = archive.gather("S2", ask)
    front = stand_file.made(made, ask.on)
    return tmp_path / "s2.zip", archive.write(made, front, tmp_path / "s2.zip"), front, wrong


def members_of(path):
    with zipfile.ZipFile(path) as content:
        return {name: content.read(name) for name in content.namelist()}


def rewrite(path, members):
    with zipfile.ZipFile(path, "w") as content:
        for name, body in members.items():
            content.writestr(name, body)


def table(members, name):
    return list(csv.DictReader(io.StringIO(members[f"records/{name}.csv"].decode())))


def test_every_record_is_in_the_archive_also_what_was_set_aside_and_why(written):
    path, _, _, wrong = written
    members = members_of(path)
    visits = {row["visit"] for row in table(members, "visits")}

    for name in ("trees", "seedlings", "stems"):
        assert len(table(members, name)) == len([row for row in store.raw_rows(name) if row[1] in visits])
    aside = next(row for row in table(members, "sightings") if row["id"] == wrong)
    assert aside["in_force"] == "no"
    assert [ruling["because"] for ruling in json.loads(members["rulings.json"])] == ["seen in another stand"]
    assert members["papers/000001-brief.pdf"] == PAPER
    assert json.loads(members["rules.json"])["entries"]["injection_dead_share"]["value"] == 0.9


def test_an_archive_is_whole_by_this_program_and_by_the_list_alone(written):
    path, seal, _, _ = written
    checked, members = archive.check(path, seal[:8]), members_of(path)

    assert checked.is_whole and checked.seal == seal and checked.stand == "S2"
    lines = [line.split("  ") for line in members[archive.LIST].decode().splitlines()]
    assert {name: digest for digest, name in lines} == {
        name: hashlib.sha256(body).hexdigest() for name, body in members.items() if name != archive.LIST
    }


def test_the_pdf_carries_every_file_of_the_archive(written):
    path, _, front, _ = written
    assert faults(front) == []
    members, pdf = members_of(path), pypdf.PdfReader(io.BytesIO(front))
    attached = {name.removeprefix("/attached/").removeprefix("attached/"): bodies[0] for name, bodies in pdf.attachments.items()}

    assert attached == {name: body for name, body in members.items() if name not in (archive.LIST, archive.FRONT)}
    text = pdf_text.whole(front)
    assert "the 2023 crop was only fair" in text and "SHA-256 begins" in text and "Cautions" in text


def resealed(members):
    """The members with a list of digests that fits them again."""
    return {**members, archive.LIST: archive.digests({name: body for name, body in members.items() if name != archive.LIST})}


def answer_changed(members):
    name = next(name for name in members if name.startswith("answers/"))
    answer = json.loads(members[name])
    answer["result"]["says"] = [9]
    return {**members, name: json.dumps(answer).encode()}


CHANGES = {
    "a tree is thicker": (lambda m: {**m, "records/trees.csv": m["records/trees.csv"].replace(b",12.", b",22.", 1)}, "records/trees.csv"),
    "a paper is gone": (lambda m: {name: body for name, body in m.items() if not name.startswith("papers/")}, "papers/000001-brief.pdf"),
    "a paper is added": (lambda m: {**m, "papers/000002-brief.pdf": PAPER}, "papers/000002-brief.pdf"),
    "the list is gone": (lambda m: {name: body for name, body in m.items() if name != archive.LIST}, archive.LIST),
    "an answer and the list are changed": (lambda m: resealed(answer_changed(m)), "answers/"),
    "rows are cut off and the list is changed": (
        lambda m: resealed({**m, "records/trees.csv": m["records/trees.csv"][: len(m["records/trees.csv"]) // 2]}),
        "records/trees.csv",
    ),
}


def test_whatever_is_changed_afterwards_is_named(written):
    path, seal, _, _ = written
    members = members_of(path)
    for name, (change, where) in CHANGES.items():
        rewrite(path, change(members))
        assert any((problem.file or "").startswith(where) for problem in archive.check(path).problems), name
    rewrite(path, resealed({**members, "advice.json": b"{}"}))
    assert archive.check(path).is_whole
    assert [problem.file for problem in archive.check(path, seal).problems] == [archive.LIST]


def test_a_file_that_is_no_archive_is_refused_in_words(written, tmp_path):
    path, *_ = written
    (tmp_path / "half.zip").write_bytes(path.read_bytes()[:-400])
    (tmp_path / "text.zip").write_text("no zip")
    with zipfile.ZipFile(tmp_path / "twice.zip", "w") as content, pytest.warns(UserWarning, match="Duplicate"):
        content.writestr("about.json", "{}")
        content.writestr("about.json", "{}")

    for name in ("half.zip", "text.zip", "twice.zip"):
        with pytest.raises(BadRecords, match=name):
            archive.check(tmp_path / name)


@pytest.mark.slow
def test_the_command_checks_without_a_book_and_ends_with_a_fault_where_one_file_differs(written, run, monkeypatch, tmp_path):
    path, seal, *_ = written
    monkeypatch.setitem(os.environ, "OVERWOOD_BOOK", str(tmp_path / "no" / "book.sqlite3"))

    assert run("archive-check", path, "--seal", seal)[0] == 0
    rewrite(path, {**members_of(path), "advice.json": b"{}"})
    status, out, _ = run("archive-check", path)
    assert status == 1 and "advice.json" in out
    assert run("archive-check", path, "--seal", "xyz")[0] == 2
