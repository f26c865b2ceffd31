"""Our cubic volumes against 31 felled black cherry trees, measured (open data that comes with R)."""

from __future__ import annotations

import csv
import io
import shutil
import subprocess

import numpy as np
import pytest

from conftest import ROOT, missing
from overwood.judgement.rules import load
from overwood.science import timber


@pytest.fixture(scope="module")
def cherry():
    if shutil.which("Rscript") is None:
        missing("R, whose base data carry the felled cherry trees")
    done = subprocess.run(["Rscript", "-e", "write.csv(datasets::trees, row.names = FALSE)"], capture_output=True, text=True, check=True)
    rows = list(csv.DictReader(io.StringIO(done.stdout)))
    return tuple(np.array([float(row[key]) for row in rows]) for key in ("Girth", "Height", "Volume"))


def test_the_data_are_the_known_ones(cherry):
    # Means of diameter, height and volume.
    assert [round(float(column.mean()), 4) for column in cherry] == [13.2484, 76.0, 30.171]


def test_bias_and_error_are_those_the_docs_print(cherry):
    dbh, height, measured = cherry
    top = load().number("cubic_top_in")

    off = timber.tree_cubic_ft3(dbh, timber.merchantable_height_ft(dbh, height, top_in=top)) - measured

    bias, rmse = float(off.mean()), float(np.sqrt((off**2).mean()))
    printed = f"bias {bias:.2f} ft3 ({100 * bias / measured.mean():.1f}%), RMSE {rmse:.2f} ft3 ({100 * rmse / measured.mean():.1f}%)"
    assert printed in (ROOT / "docs" / "timber.md").read_text(encoding="utf-8")
    assert abs(bias) < 0.10 * measured.mean()
