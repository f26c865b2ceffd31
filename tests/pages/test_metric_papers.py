"""No US unit is left on any paper of the demo in metric but in brackets behind the metric value; what is kept stays in US units. Each paper is
set as well, and its tags are read."""

from __future__ import annotations

import re
from urllib.parse import quote

import pytest

from conftest import DEMO_DAY, ROOT
from overwood.desk import answers, fire, kept, management_plan
from overwood.desk.tally_forms import FORMS
from overwood.faces.cli.main import COMMANDS
from overwood.faces.pages import asking, futures, papers
from overwood.faces.papers import burn_plan, press, stand_table
from overwood.faces.papers import management_plan as management_paper
from overwood.ground import measures
from pages.test_percent import APART
from tags import faults
from unit_words import left_on_paper, texts

# Each paper of the page Papers, at a stand that has it.
STANDS = {
    "brief": "S3", "brief-sources": "S3", "prescription": "S3", "walk": "S3", "stations": "S3", "forecast": "S3", "injection": "S1", "plan": "S8",
    "marking": "S2", "cuts": "S2", "residual": "S1", "monitoring": "S1", "tally": "S3", "notice": "S2", "choices": "S3",
}  # fmt: skip
RULE = "S1/marking"
# A person with a paper in the hand has no command to give.
COMMAND = re.compile(rf"\boverwood ({'|'.join(COMMANDS)})\b|(^|[\s(])--[a-z]")
# These print figures alone, and name no answer.
WITHOUT_ANSWER = {"residual", "monitoring", "tally"}


def printed(owner, monkeypatch, path):
    """What the printings of a paper were set from, with the template; the setting itself is looked at below."""
    made = []
    monkeypatch.setattr(
        press,
        "_compiled",
        lambda template, data, kind, **more: made.append(data | {"answer named": press._ANSWER.get(), "set by": template}) or b"",
    )
    page = owner.get(path)
    assert page.status_code == 200, page.content.decode()
    return made


def test_no_paper_in_metric_leaves_a_us_unit_in_either_language_and_none_sets_a_percent_sign_apart(owner, monkeypatch):
    futures.do_run({"stand": "S3", "on": DEMO_DAY.isoformat(), "count": 20, "sets": 10, "seed": 1}, lambda done, note: True)
    assert owner.post("/light/S2/keep/", {"title": "first"}).status_code == 200
    left, apart, commands, tags, compiled = {}, {}, {}, {}, press._compiled
    for name in [f"{stand}/{which}" for which, stand in STANDS.items()] + [RULE]:
        which = name.partition("/")[2]
        for tongue in ("en", "both") if which in papers.CREW else ("en",):
            path = f"/papers/{name}.pdf?language={tongue}"
            owner.get("/units/US/?next=/")
            (before,) = printed(owner, monkeypatch, path)
            owner.get("/units/metric/?next=/")
            (made,) = printed(owner, monkeypatch, path)
            # The answer is made and kept in US units, and the paper in metric names that one.
            assert before["answer named"] == made["answer named"] and (which in WITHOUT_ANSWER or made["answer named"]), name
            if found := left_on_paper(made):
                left[name, tongue] = found
            if found := [text for text in texts(before) if APART.search(text)]:
                apart[name, tongue] = found
            if found := [text for text in texts(made) if COMMAND.search(text)]:
                commands[name, tongue] = found
            if found := faults(compiled(made["set by"], made, "pdf")):
                tags[name, tongue] = found

    assert (left, apart, commands, tags) == ({}, {}, {}, {})
    assert set(STANDS) == set(papers.PAPERS)


@pytest.mark.parametrize("tongue", ["en", "es", "both"])
def test_no_sheet_for_the_woods_leaves_a_us_unit(owner, monkeypatch, tongue):
    owner.get("/units/metric/?next=/")
    sheets, compiled = [*(quote(kind) for kind in FORMS), "map", "labels"], press._compiled

    made = {name: printed(owner, monkeypatch, f"/papers/S3/woods/{name}.pdf?language={tongue}")[-1] for name in sheets}

    assert {name: found for name, sheet in made.items() if (found := left_on_paper(sheet))} == {}
    assert {name: found for name, sheet in made.items() if (found := faults(compiled(sheet["set by"], sheet, "pdf")))} == {}
    # 1/735 acre is 5.51 m2, its radius 4.34 ft 1.324 m; a prism of 10 square feet an acre is one of 2.30 m2/ha.
    count, cruise = str(made["reproduction"]), str(made["cruise"])
    assert "5.51 m2" in count and "1.324 m" in count and "0.3-0.9 m" in count
    assert "2.30 m²/ha, 12.7 cm dbh or larger" in cruise or tongue == "es"


def test_papers_of_metric_say_the_values_that_hand_arithmetic_gives(owner, monkeypatch):
    owner.get("/units/metric/?next=/")

    injection = printed(owner, monkeypatch, "/papers/S1/injection.pdf")[-1]
    plan = printed(owner, monkeypatch, "/papers/S8/plan.pdf")[-1]

    # An inch is 2.54 cm: by whole centimeters a sixth of the cuts would be missing.
    assert "for each 2.5 cm of dbh" in str(injection)
    # 5 acres x 0.404686; 20 ft x 0.3048; 4 ft x 0.3048.
    assert "2 hectares (5 acres)" in str(plan)
    assert "wind at 6.1 m" in str(plan) and "vines 1.2 m from every leave tree" in str(plan)


def test_the_table_of_all_stands_leaves_no_us_unit(owner):
    with measures.in_units(measures.METRIC):
        advised = [answers.judge(name, asking.question())[0] for name in ("S1", "S3", "S5", "S8")]
        made = stand_table.content(advised)

    assert left_on_paper(made) == [] and len(made["rows"]) == 4


def test_the_management_plan_leaves_no_us_unit(owner):
    with measures.in_units(measures.METRIC):
        made = management_paper.content(management_plan.management_plan(asking.question()))

    assert left_on_paper(made) == []
    assert len(made["prescriptions"]) > 4 and "hectares" in made["subtitle"]


def test_a_burn_plan_with_weather_says_its_fire_in_metric(owner):
    with measures.in_units(measures.METRIC):
        weather = fire.read_weather(ROOT / "demo" / "weather.csv")
        burn = fire.burn("S7", asking.question(), weather=weather, override="trial", law=asking.law(), prices=asking.prices())
        made = burn_plan.content(burn, DEMO_DAY)

    first, row = burn.days[0].behaviour[0], made["behaviour"][0]
    assert left_on_paper(made) == []
    # A chain is 20.1168 m, a British thermal unit a foot and second 3.4613 kW/m.
    assert float(row["spread"]) == pytest.approx(first.spread_ch_h * 20.1168 / 60, abs=0.006)
    assert float(row["intensity"]) == pytest.approx(first.intensity_btu_ft_s * 3.4613, abs=0.6)
    assert made["behaviour_heads"][2:] == ["Spread, m/min", "Flame, m", "kW/m"]


def test_an_answer_is_kept_in_us_units_whatever_the_paper_says(owner, monkeypatch):
    printed(owner, monkeypatch, "/papers/S3/brief.pdf")
    us = kept.newest("S3", "advice")
    owner.get("/units/metric/?next=/")
    printed(owner, monkeypatch, "/papers/S3/brief.pdf")

    assert [answer.digest for answer in kept.all_of("S3", "advice")] == [us.digest]
    assert "m2/ha" not in str(us.result)
