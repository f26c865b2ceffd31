"""Doubts: each code that the program names has its words, and the words make a sentence of the values."""

from __future__ import annotations

import datetime as dt
import re

import pytest

from conftest import ROOT
from overwood.ground import tables
from overwood.ground.doubt import TABLE, Doubt, joined
from overwood.ground.figure import Figure, doubted
from overwood.judgement import gates
from overwood.judgement.reason import Reason


@pytest.mark.parametrize("kind", [Doubt, Reason])
def test_every_code_of_a_table_is_named_in_the_code_and_every_one_has_words(kind):
    text = "\n".join(file.read_text(encoding="utf-8") for file in (ROOT / "src/overwood").rglob("*.py"))
    named = set(re.findall(rf'\b{kind.__name__}\(\s*"(\w+)"', text))
    codes = [row["code"] for table in kind.TABLES for row in tables.rows(table)]

    assert named <= set(codes) and len(codes) == len(set(codes))
    assert all(f'"{code}"' in text for code in codes)


def test_a_doubt_told_by_a_gate_names_one_that_is_asked():
    assert {row["gate"] for row in tables.rows(TABLE)} - {""} <= set(gates.GATES)


@pytest.mark.parametrize(
    ("doubt", "words"),
    [
        (Doubt("fewer_plots", {"plots": 1}), "narrow: 1 stocked plot fewer would change the verdict"),
        (Doubt("more_plots", {"plots": 3}), "narrow: 3 stocked plots more would change the verdict"),
        (Doubt("dead_stems", {"on": dt.date(2025, 8, 3)}), "stems injected in Aug 2025 stand dead: a felling hazard"),
        (Reason("seed_cut_from", {"winter": 2028, "to": 9}), "the seed cut can follow in a good crop year from winter 2028-09"),
        (
            Reason(
                "no_course_others",
                {
                    "on": dt.date(2025, 8, 3),
                    "answer": 4,
                    "wanted": 0.3,
                    "course": "burn",
                    "age_yr": 30,
                    "chance": 0.071,
                    "part": 0.5,
                    "others": "red maple",
                },
            ),
            "the forecast of 3 Aug 2025 (answer 4) gives no course the 30 of 100 that are wanted: its best, burn, leads to an oak stand at 30 in 7 of 100, oak a part of it in 50; red maple would lead instead",
        ),
        (
            Reason(
                "mature_by_rule",
                {"age_yr": 90.0, "sizes": Reason("mature_sizes", {"large": 0.8, "middle": 0.1, "thick": 17.0, "medium": 11.0})},
            ),
            "90 years old and 80% of overwood basal area in trees of 17 in. or larger, 10% in 11 to 17 in.: mature by the trade's rule",
        ),
        (
            Reason("limit_turns", {"rule": "large oaks", "to": 0.125, "now": 0.1, "unit": "ft", "step": "wait"}),
            "large oaks: 0.125 ft instead of 0.1 ft makes it 'wait'",
        ),
        (Doubt("little_oak", {"share": 0.254}), "oak is only 25% of the overwood: this course is made for oak stands"),
    ],
)
def test_a_doubt_is_worded_at_the_end_from_its_values(doubt, words):
    assert doubt.words == words


def test_a_doubted_figure_tells_its_doubts_before_its_own_note():
    doubts = (Doubt("age_unknown"), Doubt("rule_by_sprouts"))
    figure = doubted(Figure(name="x", value=1.0, note="by hand", doubts=(Doubt("forecast_is_a_bet"),)), doubts)

    assert figure.note == f"{joined(doubts)}; by hand"
    assert [doubt.code for doubt in figure.doubts] == ["age_unknown", "rule_by_sprouts", "forecast_is_a_bet"]
