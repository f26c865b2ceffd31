"""Stands side by side, what is due as a calendar, and pages that come before their numbers."""

from __future__ import annotations

import html
import re
import threading
import time

import pytest

from conftest import DEMO_DAY
from overwood.desk import answers, futures, session, timber
from overwood.desk.calendar import write
from overwood.faces.pages import across, asking, counted
from overwood.judgement.course.due import due_of

BROWSER = {"Sec-Fetch-Mode": "navigate"}


def _said(answer):
    """The words of the page's own part."""
    main = answer.content.decode().split("<main")[1].split("</main>")[0]
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", main)).split())


def test_stands_side_by_side_say_what_their_own_pages_say(owner):
    ask = answers.question(DEMO_DAY)
    page = _said(owner.get("/compare/?stand=S2&stand=S4&stand=S2"))

    for name in ("S2", "S4"):
        advice = answers.advice(name, ask)
        own = _said(owner.get(f"/stand/{name}/"))
        for words in (advice.title, str(advice.window), advice.firm.words.split(";")[0]):
            assert words in page and words in own
        # Each number beside its limit stands on the stand's own page in the same words.
        value = f"{100 * advice.figures['oak_share'].number:.0f}"
        assert value in page.split("Oak in the main canopy")[1].split("Age")[0]
    assert page.count("Next step") == 1 and "Pays best" in page


def test_one_stand_or_five_are_not_compared_and_an_unknown_one_is_named(owner):
    one, five = (owner.get("/compare/?" + "&".join(f"stand=S{n}" for n in range(1, 1 + count))) for count in (1, 5))

    assert "1 stand chosen. Choose 2 to 4." in _said(one) and "5 stands chosen. Choose 2 to 4." in _said(five)
    assert owner.get("/compare/?stand=S1&stand=S99").status_code == 404


def test_oak_and_money_across_the_property_are_those_of_each_stand(owner, ask):
    answer, prices = owner.get("/across/?now=yes"), asking.prices()
    page = _said(answer)

    totals = []
    for stand in session.stands():
        figures = answers.advice(stand.stand, ask).figures
        row = page.split(f"{stand.stand} {stand.name}")[1]
        assert row.startswith(f" canopy {figures['oak_share'].number:.0%};")
        plots = figures["oak_stocked_4_5ft_share"]
        assert row.split("; ")[1].startswith(f"plots {plots.number:.0%}, " if plots.measured else "plots not counted")
        worth = timber.timber(stand.stand, ask, prices, "").valued.value_usd_ac
        assert f"{worth.number:,.0f} ({worth.low:,.0f} to {worth.high:,.0f})" in row
        totals.append(worth.number * stand.area_ac)
    assert f"8 of 8 stands together about US$ {round(sum(totals), -3):,.0f} , standing" in page
    # Nothing is drawn beyond its scale.
    places = [float(place) for place in re.findall(r'(?:cx|x1|x2)="([\d.]+)%"', answer.content.decode())]
    assert len(places) > 40 and min(places) >= 0 and max(places) == 100


def test_a_program_that_asks_for_all_stands_is_answered_in_a_turn_and_told_what_is_left(owner, monkeypatch):
    asking.DESK.judged.clear()
    monkeypatch.setattr(across, "_TURN_S", 0.0)
    assert "stands are still to be worked out" in _said(owner.get("/across/"))
    assert "8 of 8 stands together" in _said(owner.get("/across/?now=yes"))


def test_the_calendar_page_holds_what_the_calendar_file_holds(owner, tmp_path):
    ask = answers.question(DEMO_DAY)
    owner.get("/stands.pdf")  # Waits until every stand is judged.
    page = _said(owner.get("/due/?stand=S1"))
    due = due_of(answers.stand_file("S1"), answers.advice("S1", ask), ask.rules)
    write(tmp_path / "due.ics", due, DEMO_DAY)

    soon = [one for one in due if (one.window.start - DEMO_DAY).days < 365]
    assert len(soon) > 1
    for one in soon:
        assert one.what in page and str(one.window) in page
        assert one.what in (tmp_path / "due.ics").read_text().replace("\r\n ", "")
    assert "October 2025 open now" in page and "S2" not in page.split("Show")[1]


def test_a_page_comes_before_its_numbers_and_whole_once_they_are_there(owner):
    first = owner.get("/money/S6/", headers=BROWSER).content.decode()
    assert "data-coming" in first and 'hx-get="/money/S6/"' in first and "What stands there" not in first

    assert owner.get("/money/S6/", headers={"HX-Request": "true", "HX-Target": "section#coming"}).headers["HX-Refresh"] == "true"
    whole = owner.get("/money/S6/", headers=BROWSER).content.decode()
    assert "What stands there" in whole
    # The page says which stand it is of, by name, and leads to the same page of the stands around it.
    assert "Money, S6 Pole Ground" in " ".join(re.sub(r"<[^>]+>", " ", whole).split())
    assert 'href="/money/S5/" rel="prev"' in whole and 'href="/money/S7/" rel="next"' in whole


OPENED = [
    "/", "/due/", "/across/", "/compare/?stand=S6&stand=S7", "/plan/", "/import/", "/ground/", "/outlines/", "/records/visits/", "/walks/",
    *(f"/{place}/S6/" for place in ("stand", "light", "fire", "futures", "money", "papers", "tally", "canopy", "ticks", "owner-walk")),
    "/stand/S6/why/oak_share/",
]  # fmt: skip


@pytest.mark.parametrize("path", OPENED)
def test_the_first_paint_of_a_page_waits_for_no_calculation(owner, monkeypatch, path):
    owner.get(path, headers=BROWSER)  # What a process loads once is no calculation.
    for held in (asking.DESK.kept, asking.DESK.judged, asking.DESK.drawn):
        held.clear()
    here, advise = threading.get_ident(), answers._advise
    monkeypatch.setattr(answers, "_advise", lambda file, ask: pytest.fail("judged") if threading.get_ident() == here else advise(file, ask))
    begun = time.thread_time()
    assert owner.get(path, headers=BROWSER).status_code == 200
    assert time.thread_time() - begun < 0.3


@pytest.mark.parametrize(
    "path, says",
    [("/papers/S6/", "For the owner"), ("/stand/S6/", "Decisions"), ("/futures/S6/", "Simulate"), ("/owner-walk/S6/", "Ten stops")],
)
def test_a_page_of_a_stand_comes_first_and_whole_once_it_is_worked_out(owner, path, says):
    asking.DESK.kept.clear()
    first = owner.get(path, headers=BROWSER).content.decode()
    assert "data-coming" in first and says not in first
    owner.get(path, headers={"HX-Request": "true", "HX-Target": "section#coming"})
    assert says in owner.get(path, headers=BROWSER).content.decode()


def test_a_stand_that_is_not_there_is_refused_at_once(owner):
    assert owner.get("/stand/S99/", headers=BROWSER).status_code == 404


def test_young_oaks_are_drawn_count_by_count_as_the_table_below_has_them(owner):
    ask = answers.question(DEMO_DAY)
    found, panels = futures.monitored("S3", ask), counted.panels(futures.monitored("S3", ask).counts, ask.rules)
    page = html.unescape(owner.get("/futures/S3/").content.decode())

    assert [panel.heading for panel in panels] == ["Oaks 1 ft or taller", "Oaks 3 ft or taller", "Oaks 4.5 ft or taller"]
    for panel in panels:
        told = next(row for row in found.between[-1].measures if row.what == panel.heading.replace("Oaks", "oaks of"))
        assert panel.value == f"{told.after:,.0f} /ac" and panel.says in page
        assert [dot.on for dot in panel.dots] == [found.between[0].first_on, *(pair.later_on for pair in found.between)]
        # Heights go by the number from zero: by eye a count may be compared with another.
        values = [float(dot.says.split(", likely")[0].replace(",", "")) for dot in panel.dots]
        up = [98 - dot.y for dot in panel.dots]
        assert all(abs(up[-1] * value / values[-1] - tall) < 0.6 for value, tall in zip(values, up, strict=True))
    # Only of one height is a number wanted.
    assert [panel.limit for panel in panels] == ["", "400 wanted", ""]
    assert abs((98 - panels[1].limit_y) / (98 - panels[1].dots[-1].y) - 400 / found.between[-1].measures[2].after) < 0.02
    assert counted.panels((), ask.rules) == []


def test_a_stand_read_before_is_read_anew_once_its_records_change(owner):
    held = answers.stand_file("S6")
    assert answers.stand_file("S6") is held
    wait = {"step": "wait", "by": "Forester", "reason": "later"}
    assert owner.post("/stand/S6/decide/", wait).status_code == 302
    assert len(answers.stand_file("S6").decisions) == len(held.decisions) + 1


def test_a_page_without_numbers_says_why_instead_of_waiting_for_ever(owner):
    worked = owner.get("/light/S99/", headers={"HX-Request": "true", "HX-Target": "section#coming"})
    assert worked.headers["HX-Redirect"] == "/light/S99/?now=yes"
    assert owner.get("/light/S99/?now=yes", headers=BROWSER).status_code == 404
