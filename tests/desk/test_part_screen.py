"""The look at every stand by columns says what the full advice says."""

from __future__ import annotations

import dataclasses
import shutil

import numpy as np
import polars as pl
import pytest
from polars.testing import assert_frame_equal

import synthetic
from overwood.desk import part_advice, part_columns, part_screen
from overwood.desk.question import question
from overwood.ground.errors import BadRecords
from overwood.judgement.course import advise, standings
from overwood.memory.exchange import parts

ASK = question(synthetic.ON, None)
_GATES = ("cruise fresh", "midstory shades", "crop good", "oak enough")


@pytest.fixture(scope="module")
def part(tmp_path_factory):
    folder = tmp_path_factory.mktemp("region") / part_advice.PARTS
    return folder, synthetic.write_part(folder, range(60))


def screened(folder, look=part_advice.BY_COLUMNS):
    [place] = parts.parts_of(folder)
    target = folder.parent / f"{look}.parquet"
    assert part_advice.judge_part(part_advice.Task(place, target, part_advice.Ask(synthetic.ON, None, None, look))) == ""
    return pl.read_parquet(target)


@pytest.mark.slow
def test_gates_steps_and_figures_by_columns_are_those_of_the_full_advice(part):
    folder, files = part
    table = screened(folder)
    assert table["stand"].to_list() == sorted(files)
    by_columns = 0
    for row in table.iter_rows(named=True):
        advice = advise(files[row["stand"]], ASK.rules, synthetic.ON)
        answers = {gate.name: gate.answer for gate in advice.gates}
        assert [row[f"gate_{name.replace(' ', '_')}"] for name in _GATES] == [answers[name] for name in _GATES], row["stand"]
        assert (row["branch"], row["step"], row["maturity"], row["stage"]) == (
            advice.branch, advice.step, advice.maturity.verdict, advice.stage,
        ), row["stand"]  # fmt: skip
        for name in part_screen.FIGURES:
            figure = advice.figures[name]
            assert row[name] == (pytest.approx(figure.number, rel=1e-9) if figure.measured else None), (row["stand"], name)
        by_columns += row["told_by"] == "columns"
    assert by_columns > 50
    assert table["branch"].n_unique() > 10


def test_an_office_that_moves_its_limits_moves_the_columns_with_the_advice(part):
    folder, files = part
    moved = {
        "waist_high_ft": 4.5,
        "overwood_low_dbh_in": 7.0,
        "midstory_high_dbh_in": 9.5,
        "mature_large_dbh_in": 18.0,
        "acorn_group_share": 0.4,
    }
    ask = dataclasses.replace(ASK, rules=ASK.rules.with_values(moved))
    screen = part_screen.screened(parts.frames(parts.parts_of(folder)[0], ask.on), ask, set())
    table = part_screen.table(screen, "", ask, [])
    for row in table.head(20).iter_rows(named=True):
        advice = advise(files[row["stand"]], ask.rules, ask.on)
        assert row["branch"] == advice.branch, row["stand"]
        for name in part_screen.FIGURES:
            figure = advice.figures[name]
            assert row[name] == (pytest.approx(figure.number, rel=1e-9) if figure.measured else None), (row["stand"], name)


@pytest.mark.slow
def test_full_advice_is_wanted_where_a_gate_is_unsure_or_there_is_work_and_is_then_given(part):
    folder, _ = part
    table, wanted = screened(folder), screened(folder, part_advice.WHERE_WANTED)
    assert wanted["stand"].to_list() == table.filter("advice_wanted")["stand"].to_list()
    unsure = pl.any_horizontal([pl.col(f"gate_{name.replace(' ', '_')}") == "unsure" for name in _GATES])
    assert table.filter(unsure & ~pl.col("advice_wanted")).is_empty()
    assert 0 < wanted.height < table.height
    assert dict(table.select("stand", "step").iter_rows()).items() >= dict(wanted.select("stand", "step").iter_rows()).items()


@pytest.mark.parametrize(
    ("table", "cells"),
    [
        ("points", {"cluster": "line 1"}),
        ("rings", {"low_dbh_in": None}),
        ("rings", {"looked_for": "oaks"}),
        ("points", {"baf_ft2_ac": 20.0}),
    ],
)
def test_what_the_columns_cannot_tell_of_is_told_by_its_full_advice(part, table, cells):
    folder, _ = part
    found = dict(parts.frames(parts.parts_of(folder)[0], synthetic.ON))
    plain = part_columns.columns_of(found, ASK.rules, synthetic.ON).not_plain
    visit = found["visits"].filter((pl.col("kind") == "cruise") & ~pl.col("stand").is_in(list(plain))).row(0, named=True)
    first = (pl.col("visit") == visit["visit"]) & (pl.lit(value=True) if table == "points" else pl.col("layer") == "overstory")
    changed = [pl.when(first).then(pl.lit(value)).otherwise(pl.col(name)).alias(name) for name, value in cells.items()]
    found[table] = found[table].with_columns(changed)
    assert part_columns.columns_of(found, ASK.rules, synthetic.ON).not_plain - plain == {visit["stand"]}


def test_several_counts_that_each_cover_less_are_left_to_the_full_advice(part):
    folder, _ = part
    found = dict(parts.frames(parts.parts_of(folder)[0], synthetic.ON))
    plain = part_columns.columns_of(found, ASK.rules, synthetic.ON).not_plain
    counted = found["points"].filter(pl.col("visit").str.starts_with("r")).group_by("visit").len().filter(pl.col("len") > 20)["visit"]
    own = found["visits"].filter(pl.col("visit").is_in(counted.implode()) & ~pl.col("stand").is_in(list(plain))).head(1)
    later = own.with_columns(pl.lit("later").alias("visit"), pl.lit(synthetic.ON).alias("visited_on"))
    found["visits"] = pl.concat([found["visits"], later])
    found["points"] = pl.concat([found["points"], found["points"].head(1).with_columns(pl.lit("later").alias("visit"))])
    assert part_columns.columns_of(found, ASK.rules, synthetic.ON).not_plain - plain == set(own["stand"])


def test_typed_columns_are_read_as_their_text_is(part, tmp_path):
    folder, _ = part
    [place] = parts.parts_of(folder)
    as_text = tmp_path / "text"
    as_text.mkdir()
    for file in place.glob("*.parquet"):
        pl.read_parquet(file).with_columns(pl.all().cast(pl.String)).write_parquet(as_text / file.name)
    typed, text = parts.frames(place, synthetic.ON), parts.frames(as_text, synthetic.ON)
    assert typed.keys() == text.keys()
    for name, frame in typed.items():
        assert frame.equals(text[name].select(frame.columns)), name


def test_rows_in_any_order_lie_at_their_points_and_say_the_same(part, tmp_path):
    folder, _ = part
    [place] = parts.parts_of(folder)
    mixed = tmp_path / part_advice.PARTS / place.name
    mixed.mkdir(parents=True)
    for file in place.glob("*.parquet"):
        pl.read_parquet(file).sample(fraction=1.0, shuffle=True, seed=4).write_parquet(mixed / file.name)
    found = parts.frames(mixed, synthetic.ON)
    for name in ("trees", "seedlings"):
        at = found["points"][found[name][parts.AT] - 1]
        assert at.select("visit", "point").equals(found[name].select("visit", "point")), name
    assert_frame_equal(screened(mixed.parent), screened(folder), abs_tol=1e-9)


def test_one_word_among_thousands_is_refused_with_its_row_or_freed_of_its_spaces(part, tmp_path):
    folder, _ = part
    spoiled = tmp_path / "spoiled"
    shutil.copytree(parts.parts_of(folder)[0], spoiled)
    trees = pl.read_parquet(spoiled / "trees.parquet")

    def spoil(word):
        words = [*trees["status"][:700], word, *trees["status"][701:]]
        trees.with_columns(pl.Series("status", words)).write_parquet(spoiled / "trees.parquet")
        return parts.frames(spoiled, synthetic.ON)

    with pytest.raises(BadRecords, match=r"trees\.parquet, row 701, column status"):
        spoil("gone")
    assert spoil("dead ")["trees"]["status"][700] == "dead"


def test_a_cruise_without_a_point_says_nothing(part):
    folder, _ = part
    found = dict(parts.frames(parts.parts_of(folder)[0], synthetic.ON))
    for name in ("points", "trees", "seedlings"):
        found[name] = found[name].clear()
    screen = part_screen.screened(found, ASK, set())
    assert (np.broadcast_to(screen.found.standings.cruise, 60) == standings.NOT_LOOKED).all()
    assert set(screen.found.standings.branch) == {"cruise_needed"}


def test_points_of_no_visit_are_refused_whatever_stands_on_them(part, tmp_path):
    folder, _ = part
    [place] = parts.parts_of(folder)
    lost = tmp_path / "lost"
    shutil.copytree(place, lost)
    visits = pl.read_parquet(lost / "visits.parquet")
    visits.filter(pl.col("visit") != "c0").write_parquet(lost / "visits.parquet")
    (lost / "rings.parquet").unlink()
    with pytest.raises(BadRecords, match=r"points\.parquet, row 1: c0 is not in visits"):
        parts.frames(lost, synthetic.ON)
