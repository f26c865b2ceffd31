"""Another oak region is a folder: its species, thresholds, courses and cautions take the place of the program's."""

from __future__ import annotations

import json
import os
import subprocess
import sys

import pytest

import pdf_text
from conftest import DEMO_DAY, ROOT

EXAMPLE = ROOT / "tests" / "region_example"


def asked(*words, region=None):
    """A command in a process of its own, for a region is set before anything is read."""
    given = [] if region is None else ["--region", str(region)]
    environment = os.environ | {"PYTHONPATH": str(ROOT / "src")}
    return subprocess.run(
        [sys.executable, "-m", "overwood", *given, *map(str, words)], capture_output=True, text=True, env=environment, check=False
    )


def test_a_region_has_its_own_species_courses_and_cautions(demo_book):
    assert "Oregon white oak" not in asked("species", "815").stdout
    found = asked("species", "OWO", region=EXAMPLE)
    assert "Oregon white oak" in found.stdout, found.stderr
    assert "unsourced example of another oak region" in found.stderr
    day = ("--book", demo_book, "--on", DEMO_DAY.isoformat(), "--json")
    own, other = (json.loads(asked("advise", "S6", *day, region=region).stdout) for region in (None, EXAMPLE))
    assert own["step"] == other["step"] == "thin"
    assert "Unsourced example of a region's own caution for felling." in other["cautions"]
    assert not any("Unsourced" in text for text in own["cautions"])
    assert (own["rulebook_version"], other["rulebook_version"]) == ("2025.1", "2025.1/example.1")


# One process answers all: commands apart by a line of their own.
ALL = """
import json, sys
from overwood.faces.cli.main import main
for words in json.loads(sys.argv[1]):
    try:
        main(words)
    except SystemExit as done:
        print("stopped with", done.code)
    print("----")
"""


def rooms(asked_of, region):
    """What each of some commands says, under a region or without one."""
    environment = os.environ | {"PYTHONPATH": str(ROOT / "src")} | ({} if region is None else {"OVERWOOD_REGION": str(region)})
    done = subprocess.run(
        [sys.executable, "-c", ALL, json.dumps([[*map(str, words)] for words in asked_of])],
        capture_output=True, text=True, env=environment, check=False,
    )  # fmt: skip
    said = done.stdout.split("----\n")
    assert len(said) == len(asked_of) + 1, done.stderr
    return said


def test_every_room_reads_the_region(demo_book, tmp_path):
    sheet, brief = tmp_path / "tally.csv", tmp_path / "brief.pdf"
    sheet.write_text("stand,date,point,species,ganzdick,baf\nN1,2025-06-01,1,WO,14.2,10\nN1,2025-06-01,2,RM,9.1,10\n")
    day = ["--book", demo_book, "--on", DEMO_DAY.isoformat()]
    figures = [["light", "S1", *day, "--json"], ["choices", "S1", *day, "--prices", ROOT / "demo" / "prices.toml", "--json"]]
    others = [
        ["import", sheet, "--look", "--json", "--book", demo_book],
        ["futures", "S3", *day, "--futures", "50", "--sets", "10", "--json"],
        ["brief", "S6", *day, "--to", brief],
    ]
    own = [json.loads(said) for said in rooms(figures, None)[:2]]
    said = rooms([*figures, *others], EXAMPLE)
    light, money, came, futures = (json.loads(one) for one in said[:4])

    curve = [one["figures"]["floor_light_curve_pct"]["value"] for one in (own[0], light)]
    assert curve[0] > 1.5 * curve[1]
    assert (own[1]["rate"], money["rate"]) == (0.04, 0.12)
    # A heading that only the region knows.
    assert ("ganzdick", "dbh_in") in [(one["heading"], one["column"]) for one in came["sheets"][0]["headings"]]
    assert [one["course"]["name"] for one in futures["outcomes"]] == ["the example's only course"]
    pages = pdf_text.whole(brief)
    assert "Unsourced example of a region's own words" in pages


def test_a_threshold_of_a_region_changes_the_step_that_hangs_on_it(demo_book):
    day = ("--book", demo_book, "--on", DEMO_DAY.isoformat(), "--json")
    own, other = (json.loads(asked("advise", "S3", *day, region=region).stdout) for region in (None, EXAMPLE))
    assert own["branch"] == "count_unsettled"
    assert other["branch"] in ("oak_enough", "enough_by_too_few_plots")


@pytest.mark.parametrize(
    ("head", "words"),
    [(None, "is no region"), ("name = 'x'", "cannot be used"), ("name='x'\nabout='y'\nstatus='sure'", "has status 'sure'")],
)
def test_a_folder_that_is_no_region_is_refused_in_words(tmp_path, head, words):
    if head is not None:
        (tmp_path / "region.toml").write_text(head)
    found = asked("species", "802", region=tmp_path)
    assert found.returncode == 1 and words in found.stderr
