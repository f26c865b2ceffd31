"""An answer is made once, lies in the book under its name, and page, paper, command and API tell that one."""

from __future__ import annotations

import html
import json
import re

import pytest
from django.db import OperationalError

from conftest import DEMO_DAY, ROOT
from overwood.desk import book, kept, office, work
from overwood.faces.pages import fire as fire_page
from overwood.faces.pages import light
from overwood.faces.papers import press

PRICES = ROOT / "demo" / "prices.toml"
WEATHER = (("weather", "weather.csv", (ROOT / "demo" / "weather.csv").read_bytes()),)
NAME = re.compile(r"Answer (\d+) \(([a-z ]+)\), digest ([0-9a-f]{12}), rulebook \S+\.")


@pytest.fixture
def foot(here, monkeypatch):
    """The answer that the foot of a paper names; the paper is not set."""
    feet = []
    monkeypatch.setattr(press, "_compiled", lambda template, data, kind, **more: feet.append(press._ANSWER.get()) or b"")

    def named(path):
        status, _, body = here.ask(path)
        assert status == 200, body.decode()
        return feet.pop()

    return named


def shown(here, path, kind):
    """The one name of a kind on a page."""
    (name,) = {found[0] for found in NAME.finditer(html.unescape(here.page(path))) if found[2] == kind}
    return name


def answer_of(name):
    found = NAME.fullmatch(name)
    answer = kept.of(int(found[1]))
    assert (answer.kind, answer.digest, kept.digest_of(answer.result)) == (found[2], found[3], found[3])
    return answer


@pytest.mark.parametrize(
    ("stand", "page", "paper", "kind", "settings"),
    [
        ("S1", "/fire/S1/", "injection", "injection", {"product"}),
        ("S8", "/fire/S8/", "plan", "burn", {"weather", "law", "prices"}),
        ("S1", "/money/S1/", "choices", "choices", {"prices", "extras"}),
        ("S1", "", "brief", "advice", {"prices"}),
        ("S1", "", "prescription", "prescription", {"prices", "product"}),
        ("S1", "", "walk", "owner walk", set()),
        ("S4", "", "marking", "rule", {"wants"}),
    ],
)
def test_a_paper_prints_the_kept_answer_that_its_page_shows(here, foot, stand, page, paper, kind, settings):
    before = len(kept.all_of(stand, kind))
    first = shown(here, page, kind) if page else foot(f"/papers/{stand}/{paper}.pdf")
    for _ in range(2):
        assert foot(f"/papers/{stand}/{paper}.pdf") == first

    answer = answer_of(first)
    assert len(kept.all_of(stand, kind)) <= before + 1
    assert (answer.made_on, answer.is_old, answer.stand) == (DEMO_DAY, False, stand) and answer.data_version
    assert settings <= set(answer.settings)


@pytest.mark.parametrize(
    ("address", "page", "kind", "command"),
    [
        ("injection", "/fire/S3/", "injection", ("injection", "S3")),
        ("choices", "/money/S3/", "choices", ("choices", "S3", "--prices", PRICES)),
        ("burn", "/fire/S3/", "burn", ("burn", "S3", "--prices", PRICES)),
    ],
)
def test_page_api_and_command_tell_one_answer_by_one_name(here, run, address, page, kind, command):
    name = shown(here, page, kind)
    told = json.loads(here.page(f"/api/stands/S3/{address}"))
    status, out, _ = run(*command, "--book", here.book, "--on", DEMO_DAY.isoformat())

    assert status == 0 and name in out
    assert {key: told[key] for key in told if key != "cautions"} == answer_of(name).result
    assert len(kept.all_of("S3", kind)) == 1


def test_an_answer_asked_with_other_settings_has_another_name(here, run):
    name = shown(here, "/money/S2/", "choices")
    _, out, _ = run("choices", "S2", "--with", "burn", "--prices", PRICES, "--book", here.book, "--on", DEMO_DAY.isoformat())
    other = NAME.search(out)[0]

    assert other != name and answer_of(other).settings == answer_of(name).settings | {"extras": ["burn"]}
    assert shown(here, "/money/S2/", "choices") == name


def test_a_burn_counted_by_a_weather_file_is_one_answer_for_everybody_until_records_change(here, foot):
    without = shown(here, "/fire/S8/", "burn")
    assert here.send("/fire/S8/", {"wind_height": "20ft"}, files=WEATHER)[0] == 302
    fire_page.do_days(work.mine()[0].asked, lambda done, note: True)
    name = shown(here, "/fire/S8/", "burn")
    answer = answer_of(name)

    assert name != without and answer.settings["weather"]["file"] == "weather.csv" and answer.result["days"]
    assert foot("/papers/S8/plan.pdf") == name
    assert json.loads(here.page("/api/stands/S8/burn"))["days"] == answer.result["days"]
    with office.acting_as(office.Person("Ada", "forester")):
        assert foot("/papers/S8/plan.pdf") == name

    row = {"visit": "LATER", "stand": "S8", "kind": "acorn", "visited_on": "2025-10-01"}
    token = re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', here.page("/records/visits/"))[1]
    headers = {"X-CSRFToken": token, "Content-Type": "application/json", "Referer": here.base + "/"}
    assert here.ask("/api/records/visits", method="POST", body=json.dumps({"row": row}), headers=headers)[0] == 200
    status, _, body = here.ask("/papers/S8/plan.pdf")
    assert kept.of(answer.number).is_old and shown(here, "/fire/S8/", "burn") not in (name, without)
    assert status == 400 and b"have changed since the burn days were counted" in body


def test_a_page_is_shown_while_an_import_holds_the_book_and_its_answer_is_kept_later(here, foot, monkeypatch):
    def busy(*_given, **_more):
        raise OperationalError("database is locked")

    with monkeypatch.context() as held:
        held.setattr(book.outputs, "keep_answer", busy)
        assert "Not kept (choices), digest" in here.page("/money/S5/")
    assert answer_of(foot("/papers/S5/choices.pdf")).digest in here.page("/money/S5/")


def test_a_marking_keeps_how_it_was_made_and_its_papers_bear_one_name(here, foot):
    asked = {"stand": "S2", "on": DEMO_DAY.isoformat(), "moves": 20, "seed": 5, "rows": ["edge north 20"]}
    light.do_search(asked, lambda done, note: True)
    name = foot("/papers/S2/marking.pdf")
    answer = answer_of(name)

    assert answer.settings["made"] == {"by": "a search", "seed": 5, "moves": 20, "rows": asked["rows"]}
    assert answer.settings["wants"]["edges"] and answer.result["left"]
    assert foot("/papers/S2/cuts.pdf") == foot("/papers/S2/notice.pdf") == name

    light._after("S2", lambda table: table.flip(answer.result["left"][0]))
    after = answer_of(foot("/papers/S2/marking.pdf"))
    assert after.digest != answer.digest and after.settings["made"]["by"] == "a search, then by hand"
