"""Parts worked on a Dask cluster."""

from __future__ import annotations

import dataclasses
import sys

import pytest

import synthetic
from overwood.desk import part_advice, part_cluster, part_tasks
from overwood.ground.errors import Misuse
from overwood.memory.exchange import parts

ASK = part_advice.Ask(synthetic.ON, None, None, part_advice.BY_COLUMNS)


@pytest.fixture
def folder(tmp_path):
    for letter, seeds in (("a", range(3)), ("b", range(3, 6))):
        synthetic.write_part(tmp_path / letter, seeds)
        [place] = parts.parts_of(tmp_path / letter)
        place.rename(tmp_path / letter / "whole")
        (tmp_path / part_advice.PARTS).mkdir(exist_ok=True)
        (tmp_path / letter / "whole").rename(tmp_path / part_advice.PARTS / letter)
    return tmp_path


def results(folder):
    return {file.name: file.read_bytes() for file in sorted(folder.glob("screen-*/*"))}


@pytest.mark.slow
def test_a_cluster_writes_the_bytes_of_one_process(folder, monkeypatch):
    distributed = pytest.importorskip("distributed", reason="the extra part 'cluster' is not installed")
    part_advice.run(folder, ASK)
    alone = results(folder)
    for file in folder.glob("screen-*/*"):
        file.unlink()
    # Workers of this process: those of others are tried by bench/region.py, where one is ended in mid-run.
    with distributed.Client(processes=False, n_workers=2, threads_per_worker=1, dashboard_address=None) as client:
        standing = part_advice.run(folder, ASK, part_advice.Hands(2, client.scheduler.address))
    assert (standing.parts_now, standing.refused) == (2, ())
    assert results(folder) == alone


def test_without_the_extra_part_the_line_that_installs_it_is_said(folder, monkeypatch):
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(Misuse, match="cluster is missing") as said:
        part_advice.run(folder, ASK, part_advice.Hands(2, part_cluster.LOCAL))
    assert 'pip install "overwood[cluster]"' in str(said.value.remedy)


def test_a_worker_of_another_version_writes_nothing(folder):
    [part, _] = parts.parts_of(folder / part_advice.PARTS)
    mine = part_advice.Task(part, folder / "mine.parquet", ASK, part_tasks.mark_of(ASK))
    other = dataclasses.replace(mine, target=folder / "other.parquet", mark="0123456789abcdef")
    assert part_advice.judge_part(mine) == ""
    assert part_advice.judge_part(other).startswith("a: the program, the tables or the rules of this worker are others")
    assert mine.target.is_file() and not other.target.exists()
