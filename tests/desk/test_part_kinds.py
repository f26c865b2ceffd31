"""Futures of many stands by kinds: what stands for each, how far off it is, and that a run goes on where it was."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import polars as pl
import pytest

import synthetic
from overwood.desk import part_advice, part_kinds, part_screen
from overwood.desk.part_tasks import Ask
from overwood.desk.question import question
from overwood.judgement.evidence import all_figures
from overwood.judgement.futures import courses
from overwood.judgement.futures.run import run
from overwood.judgement.futures.start import start_of
from overwood.judgement.plan.kinds import FIGURES, kinds_by

ASK, HOW = Ask(synthetic.ON, None, None), part_kinds.KindsAsked(kinds=4, futures=50, checked=1)


@pytest.fixture(scope="module")
def done(tmp_path_factory):
    folder = tmp_path_factory.mktemp("kinds")
    files = synthetic.write_part(folder / part_advice.PARTS, range(12))
    return folder, files, part_kinds.futures_by_kind(folder, ASK, asked=HOW)


def test_a_stand_is_shaded_for_its_kind_where_it_is_for_its_futures(done):
    folder, files, _ = done
    [screened] = folder.glob("screen-*")
    rules = question(synthetic.ON, None).rules
    able = part_kinds._with_start(pl.read_parquet(f"{screened}/*.parquet").filter(part_kinds._has_futures()), rules)
    for name, opened, shaded in able.select("stand", "opened", "shaded").iter_rows():
        begun = start_of(files[name], all_figures(files[name], rules, synthetic.ON), rules).stand
        assert (opened, shaded) == (begun["opened_yr"] >= 0, begun["midstory"] > 0), name


def test_every_stand_with_a_count_and_an_overwood_has_a_kind_of_its_own_stage(done):
    folder, _, found = done
    [screened] = folder.glob("screen-*")
    table = pl.read_parquet(f"{screened}/*.parquet")
    stands = pl.read_parquet(Path(found.folder) / part_kinds.STANDS)
    assert (found.stands + found.without, stands.height, found.refused) == (12, found.stands, ())
    opened = dict(zip(table["stand"], table["stage"] == "opened", strict=True))
    assert all(opened[stand] == opened[kind] for stand, kind in stands.select("stand", "kind").iter_rows())
    assert found.kinds <= 4
    assert (stands.filter(pl.col("stand") == pl.col("kind"))["distance"] == 0).all()
    assert (
        table.filter(~pl.col("stand").is_in(stands["stand"].to_list()))
        .filter(pl.col("free_oaks_ac").is_not_null())
        .select(((pl.col("overwood_ba_ft2_ac").fill_null(0) == 0) | (pl.col("stage") == "released")).all())
        .item()
    )


def test_a_kind_has_the_futures_that_its_stand_has_alone_and_the_error_is_told(done):
    _, files, found = done
    kinds, ask = pl.read_csv(Path(found.folder) / part_kinds.KINDS, infer_schema_length=None), question(synthetic.ON, None)
    name = kinds["kind"][0]
    alone = run(files[name], all_figures(files[name], ask.rules, ask.on), ask.rules, courses.load(), futures=50, sets=100, seed=1)
    told = kinds.filter(pl.col("kind") == name)
    assert dict(told.select("course", "oak_stand_chance").iter_rows()) == {one.course.name: one.oak_stand_chance for one in alone.outcomes}
    assert told.filter("is_best")["course"].to_list() == [alone.best.course.name]
    assert 0 <= found.error.mean <= found.error.nine_of_ten <= 1
    assert found.error.stands == 1


def test_given_again_nothing_is_worked_out_and_nothing_changes(done):
    folder, _, found = done
    files = {file.name: file.read_bytes() for file in Path(found.folder).iterdir()}
    assert part_kinds.futures_by_kind(folder, ASK, asked=HOW).parts_now == 0
    assert {file.name: file.read_bytes() for file in Path(found.folder).iterdir()} == files


def test_among_many_stands_each_is_of_the_nearest_kind():
    """Held against all distances, worked out one by one."""
    rng = np.random.default_rng(5)
    figures, same = rng.normal(size=(5000, 3)) * (1, 10, 100), rng.integers(0, 2, 5000)
    place, distance = kinds_by(same, figures, 40)
    scaled = (figures - figures.mean(axis=0)) / figures.std(axis=0)
    assert len(set(place)) <= 42
    for stand in range(0, 5000, 500):
        able = [one for one in set(place) if same[one] == same[stand]]
        apart = {one: float(np.linalg.norm(scaled[one] - scaled[stand])) for one in able}
        assert (int(place[stand]), distance[stand]) == (min(apart, key=apart.get), pytest.approx(min(apart.values())))


def test_the_table_holds_what_tells_the_kinds_apart():
    assert set(FIGURES) - set(part_screen.FIGURES) == {"browse_share"}
