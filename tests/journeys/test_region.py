"""Another oak region is a folder: its species, thresholds, courses and cautions take the place of the program's."""

from __future__ import annotations

import json
import os
import subprocess
import sys

import pytest

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
