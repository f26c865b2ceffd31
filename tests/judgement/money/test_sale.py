"""A sale: marked trees and nothing else, summed by species, by a named log rule; refused where nothing is marked."""

from __future__ import annotations

import csv

import pytest

from conftest import DEMO_DAY, ROOT
from overwood.desk import answers, marking, timber
from overwood.ground.errors import BadRecords, NotFound
from overwood.judgement.rules import load
from overwood.science.timber import tree_bf

RULES = load()
ASK = answers.Question(DEMO_DAY, RULES)


def tally(tmp_path, text):
    (tmp_path / "marked.csv").write_text(text)
    return tmp_path / "marked.csv"


def test_without_a_marking_there_is_no_sale(demo_book):
    with pytest.raises(NotFound, match="no tree of S1 is marked to be sold") as fault:
        timber.sale("S1", ASK, None)

    assert "--marking" in fault.value.remedy


def test_only_trees_marked_to_be_taken_are_sold(demo_book, tmp_path):
    path = tally(
        tmp_path,
        "call,species,dbh_in,logs,quality\ntake,white oak,20,2,sawlog\nleave,white oak,30,3,sawlog\ncut,black oak,18,2,sawlog\n"
        "inject,red maple,4,,\nlet be,blackgum,3,,\n",
    )

    found = timber.sale("S1", ASK, None, "international-1/4", path)

    form = RULES.number("form_class_pct")
    white, black = (float(tree_bf("international-1/4", dbh, 2, form)) for dbh in (20, 18))
    assert found.trees == 2 and found.log_rule == "international-1/4"
    assert {row.species: row.boards_bf for row in found.species} == {"white oak": pytest.approx(white), "black oak": pytest.approx(black)}
    assert found.boards_bf == pytest.approx(white + black) == pytest.approx(found.by_rule["international-1/4"])
    assert found.by_rule["doyle"] < found.by_rule["international-1/4"]


def test_a_tree_list_is_tallied_tree_by_tree_and_priced(demo_book, tmp_path):
    listed = timber.price_list(ROOT / "demo" / "prices.toml")
    path = tally(tmp_path, "species,dbh_in,logs,quality\n" + "white oak,20,2,sawlog\n" * 3)

    found = timber.sale("S1", ASK, listed, "", path)

    # The demo list: white oak sawlogs 350, 520 and 700 US$ a thousand by Doyle.
    boards = 3 * float(tree_bf("doyle", 20, 2, RULES.number("form_class_pct")))
    assert found.value_usd == pytest.approx(tuple(boards * price / 1000 for price in (350, 520, 700)))


def test_stems_of_a_map_are_sold_by_their_number(demo_book, tmp_path):
    stems = [stem for stem in answers.stand_file("S2").stems if stem.dbh_in > 12][:3]
    path = tally(tmp_path, "stem,call\n" + "".join(f"{stem.stem},take\n" for stem in stems[:2]) + f"{stems[2].stem},leave\n")

    found = timber.sale("S2", ASK, None, "", path)

    assert found.trees == 2


@pytest.mark.parametrize(
    ("text", "column"),
    [
        ("call,species,dbh_in\nsell,white oak,20\n", "call"),
        ("species,dbh_in\nfern,20\n", "species"),
        ("species,dbh_in\nwhite oak,much\n", "dbh_in"),
        ("species,dbh_in,logs\nwhite oak,20,9\n", "logs"),
        ("species,dbh_in,grade\nwhite oak,20,best\n", "grade"),
        ("stem,call\nnone such,take\n", "stem"),
    ],
)
def test_a_bad_row_of_a_tree_list_is_named_and_nothing_is_sold(demo_book, tmp_path, text, column):
    with pytest.raises(BadRecords) as fault:
        timber.sale("S1", ASK, None, "", tally(tmp_path, text))

    assert [(problem.row, problem.column) for problem in fault.value.problems] == [(2, column)]


def test_a_list_on_which_every_tree_stays_is_no_sale(demo_book, tmp_path):
    with pytest.raises(NotFound, match="marked to be sold"):
        timber.sale("S1", ASK, None, "", tally(tmp_path, "call,species,dbh_in\nleave,white oak,20\n"))


@pytest.mark.slow
def test_the_list_that_marking_writes_is_the_list_a_sale_reads(demo_book, tmp_path):
    made = marking.mark("S2", ASK, marking.wants(ASK), marking.Effort(1, 200), years=5)
    marking.write_trees(made, tmp_path / "trees.csv")
    with (tmp_path / "trees.csv").open(encoding="utf-8") as stream:
        taken = sum(row["call"] == "take" for row in csv.DictReader(stream))

    assert timber.sale("S2", ASK, None, "", tmp_path / "trees.csv").trees == taken
