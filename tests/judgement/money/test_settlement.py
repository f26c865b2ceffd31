"""The settlement after a sale, and the cut list it is held against: sums that close, groups that the mill did not part."""

from __future__ import annotations

import csv
import dataclasses

import pytest

import pdf_text
from overwood.desk import marking, timber
from overwood.faces.papers import cut_list, settlement_sheet
from overwood.ground.errors import BadRecords
from overwood.judgement.crew_words import sentence
from overwood.judgement.money.settlement import Load, settle
from overwood.judgement.rules import load

RULES = load()
HEAD = "ticket,species,boards_bf,log_rule\n"


@pytest.fixture
def cuts(demo_book, ask):
    """Every second thick stem of the demo's map, sold."""
    stems = {stem.stem for stem in timber._mapped(timber.stand_file("S2")) if stem.dbh_in > 12 and int(stem.stem) % 2}
    return timber.cut_list_of_stems("S2", ask, None, stems, "every second stem")


def test_trees_of_a_cut_list_add_up_to_the_sale_and_stand_in_walking_order(cuts, tmp_path):
    timber.write_cut_list(cuts, tmp_path / "cut.csv")

    with (tmp_path / "cut.csv").open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert len(rows) == cuts.sale.trees == len({row["tree"] for row in rows})
    assert sum(float(row["boards_bf_doyle"]) for row in rows) == pytest.approx(cuts.sale.boards_bf, abs=0.05 * len(rows))
    assert [int(row["strip"]) for row in rows] == sorted(int(row["strip"]) for row in rows)
    stems = {stem.stem: stem for stem in timber._mapped(timber.stand_file("S2"))}
    assert all(float(row["dbh_in"]) == stems[row["tree"]].dbh_in for row in rows)
    assert cuts.sale.mapped_ac == pytest.approx(5.0, abs=0.01)


def test_volume_of_a_settlement_is_in_exactly_one_row_on_each_side(cuts):
    loads = [Load("1", "red oak", (833, 837, 806, 812), 9000), Load("2", "white oak", (802,), 7000), Load("2", "black cherry", (762,), 300)]

    made = settle(cuts.sale, loads, RULES)

    assert sum(row.marked_bf for row in made.rows) == pytest.approx(cuts.sale.boards_bf)
    assert sum(row.scaled_bf for row in made.rows) == made.scaled_bf == 16_300
    assert sum(row.trees for row in made.rows) == cuts.sale.trees
    assert "black oak, northern red oak, scarlet oak" in {row.species for row in made.rows}
    assert made.tickets == 2


def test_each_kind_of_gap_is_told_apart(cuts):
    marked = {row.species: row.boards_bf for row in cuts.sale.species}
    loads = [
        Load("1", "white oak", (802,), 1.05 * marked["white oak"]),
        Load("1", "black oak", (837,), 1.3 * marked["black oak"]),
        Load("1", "northern red oak", (833,), 0.7 * marked["northern red oak"]),
        Load("1", "black cherry", (762,), 300),
    ]

    codes = {row.species: row.verdict.code for row in settle(cuts.sale, loads, RULES).rows}

    assert codes["white oak"] == "settle_near"
    assert codes["black oak"] == "settle_over"
    assert codes["northern red oak"] == "settle_under"
    assert codes["black cherry"] == "settle_unmarked"
    assert codes["yellow-poplar"] == "settle_unscaled"


def test_tickets_by_another_rule_or_without_a_species_are_refused_by_row_and_column(cuts, tmp_path):
    (tmp_path / "t.csv").write_text(
        HEAD + "1,white oak,500,scribner\n2,nothing known,400,doyle\n3,white oak,many,doyle\n", encoding="utf-8"
    )

    with pytest.raises(BadRecords) as fault:
        timber.settle(cuts.sale, tmp_path / "t.csv", RULES)

    assert {(problem.row, problem.column) for problem in fault.value.problems} == {(2, "log_rule"), (3, "species"), (4, "boards_bf")}


def texts_of(content):
    """Every string of a paper's content."""
    if isinstance(content, str):
        return [content]
    return [text for part in (content.values() if isinstance(content, dict) else content) for text in texts_of(part)]


def test_a_settlement_in_spanish_names_what_was_assumed_in_spanish(demo_book, ask):
    stems = {stem.stem for stem in timber._mapped(timber.stand_file("S2")) if stem.dbh_in > 20}
    sold = timber.cut_list_of_stems("S2", ask, None, stems, sentence("marked_table")).sale
    made = settle(sold, [Load("1", "red oak", (833, 837), 900), Load("1", "white oak", (802,), 9e5)], RULES)

    spanish = " ".join(texts_of(settlement_sheet.content(made, ask.on, "es")))

    assert any(note.code == "timber_logs" for note in sold.notes)
    assert "trozas anotadas" in spanish and "clase de forma 78" in spanish and "white oak (Quercus alba)" in spanish
    for english in (*sold.notes, *made.lessons, sold.marking, "form class", "assumed", "marking"):
        assert english not in spanish


def test_grades_and_heights_are_no_reason_why_board_feet_differ(demo_book, ask):
    stems = {stem.stem for stem in timber._mapped(timber.stand_file("S2")) if stem.dbh_in > 20}
    sold = timber.cut_list_of_stems("S2", ask, None, stems, "thick ones").sale
    told = dataclasses.replace(sold, notes=tuple(note for note in sold.notes if note.code != "timber_logs"))

    lessons = {lesson.code: lesson for lesson in settle(told, [Load("1", "white oak", (802,), 900)], RULES).lessons}

    assert "settle_teach_assumed" not in lessons
    assert [note.code for note in lessons["settle_teach_form"].values["notes"]] == ["timber_form"]
    assert "grade" not in lessons["settle_teach_form"] and "heights" not in lessons["settle_teach_form"]


@pytest.mark.slow
@pytest.mark.parametrize("tongue", ["en", "both"])
def test_cut_list_and_settlement_print_every_tree_and_the_total(cuts, ask, tmp_path, tongue):
    (tmp_path / "t.csv").write_text(HEAD + "1,white oak,500,doyle\n", encoding="utf-8")
    cut_list.write(cuts, ask.on, tmp_path / "c.pdf", tongue)
    settlement_sheet.write(timber.settle(cuts.sale, tmp_path / "t.csv", RULES), ask.on, tmp_path / "s.pdf", tongue)

    text = {name: pdf_text.whole(tmp_path / f"{name}.pdf").split() for name in "cs"}

    assert text["c"].count("□") >= cuts.sale.trees
    assert f"{cuts.sale.boards_bf:,.0f}" in text["c"] and f"{cuts.sale.boards_bf:,.0f}" in text["s"]


@pytest.mark.slow
def test_what_a_marking_sells_is_what_its_sheet_calls_to_cut_and_no_stem_that_is_injected(demo_book, ask):
    wanted = marking.wants(ask)
    leave = {stem.stem for stem in timber._mapped(timber.stand_file("S2")) if stem.dbh_in > 20}
    marked = marking.marked_as("S2", ask, wanted, leave, years=5)

    sold = marking.to_sell("S2", ask, wanted, leave)

    assert sold == {stop.stem.stem for stop in marked.walk("take")}
    assert {stop.stem.stem for stop in marked.walk("inject")} and not sold & {stop.stem.stem for stop in marked.walk("inject")}
    assert timber.sale_of_stems("S2", ask, None, sold, "a marking").trees == marked.calls.count("take")


def test_a_load_sent_twice_a_ticket_without_a_number_and_a_comma_for_a_point_are_refused(cuts, tmp_path):
    rows = '17,white oak,1200,doyle\n17,white oak,800,doyle\n17,white oak,1200,doyle\n,black oak,900,doyle\n18,black oak,"1,5",doyle\n'
    (tmp_path / "t.csv").write_text(HEAD + rows, encoding="utf-8")

    with pytest.raises(BadRecords) as fault:
        timber.settle(cuts.sale, tmp_path / "t.csv", RULES)

    assert {(problem.row, problem.column) for problem in fault.value.problems} == {(4, "ticket"), (5, "ticket"), (6, "boards_bf")}
    assert any("row 2 again" in problem.found for problem in fault.value.problems)
