"""The page of the plan: limits of its form become those of a file, the plan it makes is shown in strips, and its orders are a paper."""

from __future__ import annotations

import functools
import html

import pytest
from icalendar import Calendar

from overwood.desk import plan as desk
from overwood.faces.pages import plan as page
from overwood.ground.errors import BadRule
from overwood.judgement.plan import limits
from overwood.judgement.rules import load

COURSES = '[[course]]\nname = "cut all now"\ncut_year = 0\n'


@pytest.fixture
def few(monkeypatch, tmp_path):
    """Few draws of one course."""
    file = tmp_path / "courses.toml"
    file.write_text(COURSES)
    monkeypatch.setattr(desk, "PlanAsked", functools.partial(desk.PlanAsked, draws=20, paths=50, courses=file))


def test_the_form_says_what_a_file_of_limits_says(owner):
    form = {
        "years": "8", "crew_days": "12.5", "spend_usd": "20,000", "old_share": ".2", "together": "S1, S4; S2, S3", "alone S6": "yes",
        "course S5": "two cuts", "begin S5": "2027", "burn_days": "3; 2.5", "apart_yr": "3", "neighbors": "S1, S2; S2, S3", "chance": "0.2",
        "largest_ac": "60", "old_age": "90",
    }  # fmt: skip
    found = limits.parse(page.limits_text(form), load())
    assert (found.years, found.crew_days[0], found.spend_usd[0], found.old_share) == (8, 12.5, 20_000, 0.2)
    assert found.begin_together == (("S1", "S4"), ("S2", "S3"))
    assert (found.left_alone, found.pins) == (("S6",), (limits.Pin(stand="S5", course="two cuts", begin=2027),))
    assert (found.burn_days[:3], found.neighbors, found.opening_chance) == ((3, 2.5, 2.5), (("S1", "S2"), ("S2", "S3")), 0.2)
    assert (found.largest_ac, found.old_age_yr) == (60, 90)
    assert limits.parse(page.limits_text({}), load()).crew_days == ()
    # A plan made of a file fills the form with its limits, so that to plan again is to plan under the same.
    for one in (found, limits.parse("", load()), limits.parse("years = 6\n[openings]\napart_yr = 2\nneighbors = [['S1', 'S2']]", load())):
        assert limits.parse(page.limits_text(page._form_of(one)), load()) == one


def test_a_plan_made_on_the_page_is_shown_and_printed(owner, few):
    assert b"Nothing binds that you leave blank" in owner.get("/plan/").content
    assert owner.get("/plan/orders.pdf").status_code == owner.get("/api/plan").status_code == 404

    done = page.do_run({"stand": "", "on": "2025-10-15", "limits": 'leave_alone = ["S4"]\nyears = 5'}, lambda done, note: True)

    shown = html.unescape(owner.get("/plan/").content.decode())
    assert f"Answer {done['answer']} (plan)" in shown
    assert "leave alone" in shown and "Cut now: the removal cut in one entry" not in shown.split("Limits")[1]
    assert 'name="years" inputmode="decimal" value="5"' in shown and 'aria-label="S4 left alone" checked' in shown
    assert "S4 left alone, beside the best plan without it: " in shown
    assert 'id="plan-year" type="range" min="0" max="4"' in shown and shown.count("data-shades=") == 7
    assert "Trees are felled by trained people" in shown
    paper = owner.get("/plan/orders.pdf")
    assert paper["Content-Type"] == "application/pdf" and paper.content.startswith(b"%PDF")
    told = owner.get("/api/plan").json()
    assert (told["years"], len(told["stands"]), told["limits"]["left_alone"]) == (5, 7, ["S4"])
    listed = [event.get("SUMMARY") for event in Calendar.from_ical(owner.get("/plan/plan.ics").content).walk("VEVENT")]
    assert listed and not any("S4" in title for title in listed)


def test_a_form_with_a_limit_that_cannot_be_used_is_refused_and_begins_nothing(owner):
    refused = owner.post("/plan/run/", {"years": "3"})
    assert refused.status_code == 400
    assert "years is 3" in html.unescape(refused.content.decode())
    assert owner.post("/plan/run/", {"a": "b"}).status_code == 400


def test_a_plan_asked_for_waits_its_turn_and_its_limits_stand_in_the_form_again(owner):
    asked = owner.post("/plan/run/", {"years": "7", "crew_days": "12", "alone S6": "yes"})
    assert asked.status_code == 200
    assert b"Stop and keep the best so far" in asked.content
    begun = owner.post("/api/plan", {"limits": "years = 7"}, content_type="application/json")
    assert (begun.status_code, begun.json()["what"]) == (200, "plan of the property")
    refused = owner.post("/api/plan", {"limits": "years = 3"}, content_type="application/json")
    assert (refused.status_code, "years is 3" in refused.json()["what"]) == (400, True)
    assert b'href="/plan/"' in owner.get("/work/").content
    form = owner.get("/plan/").content.decode()
    assert 'name="crew_days" inputmode="decimal" value="12"' in form
    assert 'name="alone S6" value="yes" aria-label="S6 left alone" checked' in form


def test_numbers_and_names_of_the_form_are_read_as_they_were_typed(demo_book):
    found = limits.parse(page.limits_text({"crew_days": "1,200", "together": "Ñ 🌳, S2"}), load())

    assert (set(found.crew_days), found.begin_together) == ({1200.0}, (("Ñ 🌳", "S2"),))
    with pytest.raises(BadRule, match="days_a_year is '1,5'"):
        limits.parse(page.limits_text({"crew_days": "1,5"}), load())
