"""The plan on the command line: told in words with its cautions, its orders as a paper, and limits that clash by name."""

from __future__ import annotations

import json
from types import SimpleNamespace

import pytest

import pdf_text
from overwood.faces.telling import planned
from overwood.judgement.plan import rows
from overwood.judgement.plan.answer import Refusal
from overwood.judgement.plan.clash import Clash
from tags import faults


@pytest.fixture
def few(tmp_path):
    """Few draws of one course over five years."""
    file = tmp_path / "courses.toml"
    file.write_text('[[course]]\nname = "cut all now"\ncut_year = 0\n')
    return ("--courses", str(file), "--draws", "20", "--paths", "50", "--years", "5", "--on", "2025-10-15")


def test_a_plan_is_told_with_its_orders_gap_and_cautions(demo_book, run, few, tmp_path):
    status, out, _ = run("plan", "--book", str(demo_book), *few, "--orders", str(tmp_path / "o.pdf"))
    assert status == 0
    for words in ("Plan of 7 stands", "the gap", "2025/26: orders", "S8 has no reproduction count", "Trees are felled by trained people"):
        assert words in out
    assert faults((tmp_path / "o.pdf").read_bytes()) == []
    page = pdf_text.pages((tmp_path / "o.pdf").read_bytes())[0]
    assert "Orders for 2025/26" in page and "Not kept" not in page and "digest" in page

    # In metric units too what is printed is kept, in US units, and bears its name.
    assert run("plan", "--metric", "--book", str(demo_book), *few, "--orders", str(tmp_path / "m.pdf"))[0] == 0
    metric = " ".join(" ".join(pdf_text.pages((tmp_path / "m.pdf").read_bytes())).split())
    status, out, _ = run("plan", "--book", str(demo_book), "--kept", "--json")
    told = json.loads(out)
    assert (status, told["result"]["years"]) == (0, 5)
    assert f"Answer {told['number']} (plan), digest {told['digest']}" in metric and " hectares" in metric.lower()
    assert "m2/ha" not in out and "ft2/ac" not in metric


def test_an_empty_file_of_limits_is_written_and_can_be_read(demo_book, run, tmp_path):
    assert run("plan", "--book", str(demo_book), "--new-limits", str(tmp_path / "plan.toml"))[0] == 0
    (tmp_path / "plan.toml").write_text("[crew]\ndays = 4\n")
    status, _, fault = run("plan", "--book", str(demo_book), "--limits", str(tmp_path / "plan.toml"))
    assert status != 0
    assert "plan.toml line 2: there is no entry 'days' here" in fault


def test_every_kind_of_clash_is_said_in_plain_words():
    kinds = [kind for kind in rows.KINDS if kind != rows.ONE]
    refused = Refusal(clashes=tuple(Clash(kind, "S1", (0, 3)) for kind in kinds), begin_year=2026)
    said = planned.clashes(refused)
    assert len(said) == len(set(said)) == len(kinds)
    assert said[0] == "crew days of 2026/27 and 2029/30"


@pytest.mark.parametrize(("chance", "words"), [(0.0, "under 2%"), (1.0, "over 98%"), (0.25, "25% ± 3")])
def test_a_chance_that_no_path_or_each_came_to_is_told_as_what_they_cannot_tell_apart(chance, words):
    plan = SimpleNamespace(judged=SimpleNamespace(paths=200))
    assert planned.chance(plan, SimpleNamespace(begins=2026, oak_chance=chance, oak_error=0.03)) == words


@pytest.mark.parametrize(("amount", "words"), [(3.21, "3.2 acres given up"), (0.01, "no oak given up"), (-0.4, "0.4 acres more")])
def test_what_is_settled_is_priced_in_plain_words(amount, words):
    assert planned._given_up(amount, f"{abs(amount):.1f} acres", 0.05, "no oak") == words
