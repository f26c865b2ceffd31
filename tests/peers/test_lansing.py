"""The Lansing Woods stem map (Gerrard 1969, open data in Debian's r-cran-spatstat.data) through the whole program.

The map has places and kinds but no diameters; those are made up here, so figures only show that the plumbing holds.
"""

from __future__ import annotations

import csv
import json
from collections import Counter

import numpy as np
import pytest
from click.testing import CliRunner
from scipy.spatial import cKDTree

import spatstat
from conftest import missing
from overwood.faces.cli.main import cli

CODES = {"blackoak": 837, "hickory": 407, "maple": 318, "misc": 951, "redoak": 833, "whiteoak": 802}


@pytest.fixture(scope="module")
def trees():
    data = spatstat.folder()
    if data is None:
        missing("r-cran-spatstat.data")
    return spatstat.lansing(data)


def test_the_map_is_the_published_one(trees):
    # Counts of the package's help page (rdrr.io/cran/spatstat.data/man/lansing.html).
    east, north, kinds = trees

    assert Counter(kinds) == {"blackoak": 135, "hickory": 703, "maple": 514, "misc": 105, "redoak": 346, "whiteoak": 448}
    assert (min(east), min(north)) >= (0, 0)
    assert (max(east), max(north)) <= (924, 924)


def _nearest_ratio(east, north):
    """Mean distance to the nearest tree over that of trees at random (Clark and Evans 1954), on a torus."""
    places = np.column_stack((east, north)) % 924.0
    apart, _ = cKDTree(places, boxsize=924.001).query(places, k=2)
    return apart[:, 1].mean() * 2 * np.sqrt(len(places)) / 924


def test_the_trees_stand_nearly_at_random(trees):
    # What blocks drawn from a cruise assume; single kinds are clumped.
    east, north, kinds = trees
    oaks = np.isin(kinds, ["blackoak", "redoak", "whiteoak"])

    assert _nearest_ratio(east, north) == pytest.approx(1.03, abs=0.01)
    assert _nearest_ratio(east[oaks], north[oaks]) == pytest.approx(1.01, abs=0.01)
    maples = np.isin(kinds, ["maple"])
    assert _nearest_ratio(east[maples], north[maples]) == pytest.approx(0.80, abs=0.01)


def _sheets(trees, folder):
    east, north, kinds = trees
    dbh = np.clip(np.random.default_rng(1).lognormal(np.log(10.0), 0.45, len(kinds)), 2, 36)
    stems = [
        {"visit": "L", "stem": n, "species": CODES[k], "dbh_in": round(d, 1), "east_ft": round(x, 1), "north_ft": round(y, 1)}
        for n, (x, y, k, d) in enumerate(zip(east, north, kinds, dbh, strict=True))
    ]
    tables = {
        "properties": [{"property": "L"}],
        "stands": [{"stand": "L", "property": "L", "area_ac": 19.6}],
        "visits": [{"visit": "L", "stand": "L", "kind": "stem map", "visited_on": "2025-06-01"}],
        "stem_maps": [{"visit": "L", "width_ft": 924, "height_ft": 924, "edge": "torus"}],
        "stems": stems,
    }
    for name, rows in tables.items():
        with (folder / f"{name}.csv").open("w", newline="", encoding="utf-8") as stream:
            writer = csv.DictWriter(stream, fieldnames=list(rows[0]))
            writer.writeheader()
            writer.writerows(rows)


def test_the_map_goes_in_and_its_light_and_marking_come_out(trees, tmp_path):
    sheets = tmp_path / "sheets"
    sheets.mkdir()
    _sheets(trees, sheets)
    book = ["--book", str(tmp_path / "b.sqlite3")]

    def run(*words):
        found = CliRunner().invoke(cli, [*words, *book], catch_exceptions=False)
        assert found.exit_code == 0, found.output
        return found.output

    run("import", str(sheets))
    light = json.loads(run("light", "L", "--json"))
    marked = json.loads(run("mark", "L", "--moves", "600", "--json"))

    means = {state["state"]: state["mean_pct"] for state in light["states"]}
    assert 2 < means["uncut"] < means["midstory out"] < 60
    after = marked["marking"]["light_after"]
    assert means["midstory out"] < after["mean_pct"] < 80
    assert len(marked["trees"]) == 2251
    assert 50 <= marked["marking"]["residual_ba_ft2_ac"] <= 70
    assert min(tree["dbh_in"] for tree in marked["trees"] if tree["call"] == "leave") >= 10
    # A made-up diameter for each real place: oaks of 16 in. and more are what a seed cut lives on.
    large = [tree["call"] for tree in marked["trees"] if tree["dbh_in"] >= 16 and "oak" in tree["species"]]
    assert large.count("leave") / len(large) > 0.6
