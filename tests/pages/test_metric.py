"""No US unit is left on any page of the demo that is asked for in metric."""

from __future__ import annotations

import functools
import html
import json
import re
import uuid
from types import SimpleNamespace
from urllib.parse import quote

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from conftest import ROOT
from overwood.desk import formulas, own_lists, session, walks
from overwood.desk import plan as desk
from overwood.desk import work as desk_work
from overwood.desk.incoming import Report
from overwood.desk.tally_forms import FORMS
from overwood.faces.pages import asking, futures, plan, start
from overwood.faces.pages.urls import PLACES
from overwood.faces.papers import year_orders
from overwood.ground import measures
from overwood.ground.records import TABLES
from overwood.judgement.crew_words import sentence
from unit_words import left_on_paper, said, us_units

# What machines read, sheets to be typed, files as they were kept, and the app of the woods, which asks its walk.
NO_PAGE = {
    "outlines/outlines.<str:kind>", "light/<str:name>/trees.csv", "canopy/<str:name>/crowns.csv", "law.toml", "prices/prices.toml",
    "import/template.xlsx", "tally/<str:name>/draft/", "walks/codes/", "walks/<str:number>/photos/<str:name>.jpg",
    "woods/", "woods/door.json", "woods/walk/<str:number>.json", "woods/up", "woods/<str:name>",
    "units/<str:system>/", "trust/authority.pem", "guest/<str:token>/", "guest/<str:token>/paper.pdf",
}  # fmt: skip
PAGES = (
    "/", "/due/", "/compare/", "/across/?now=yes", "/ground/", "/stand/S1/", "/stand/S5/", "/stand/S3/why/site_index_ft/", "/stand/S3/chart/diameters.svg",
    "/stand/S3/chart/floor.svg", "/light/S2/", "/light/S3/", "/fire/S1/", "/money/S3/", "/owner-walk/S1/", "/papers/S3/",
    "/futures/S3/", "/futures/S1/", "/plan/", "/rules/", "/prices/", "/law/", "/work/", "/words/", "/conflicts/", "/walks/", "/outlines/", "/import/", "/canopy/S3/", *(f"/tally/S3/?kind={quote(kind)}" for kind in FORMS),
)  # fmt: skip


@pytest.fixture
def few(monkeypatch, tmp_path):
    """Few draws of one course."""
    file = tmp_path / "courses.toml"
    file.write_text('[[course]]\nname = "cut all now"\ncut_year = 0\n')
    monkeypatch.setattr(desk, "PlanAsked", functools.partial(desk.PlanAsked, draws=20, paths=50, courses=file))


RECORDS = tuple(f"/records/{table}/" for table in TABLES)


def test_every_page_speaks_metric():
    assert {place.route for place in PLACES if not place.metric} == NO_PAGE


def test_no_page_of_the_demo_that_speaks_metric_leaves_a_us_unit(owner, few):
    go_on = lambda done, note: True  # noqa: E731
    plan.do_run({"stand": "", "on": "2025-10-15", "limits": 'leave_alone = ["S4"]\nyears = 5'}, go_on)
    futures.do_run({"stand": "S3", "on": "2025-10-15", "count": 20, "sets": 10, "seed": 1}, go_on)
    owner.get("/units/metric/?next=/")

    left = {}
    for path in (*PAGES, "/records/", *RECORDS):
        page = owner.get(path)
        assert page.status_code == 200, path
        if found := us_units(page):
            left[path] = found
    with measures.in_units(measures.METRIC):
        left |= {"orders": found} if (found := left_on_paper(year_orders.content(plan.newest()[0]))) else {}

    assert left == {}


def test_a_limit_of_the_plan_typed_in_meters_is_kept_in_feet_and_shown_as_it_was_typed(owner, monkeypatch):
    begun = []
    monkeypatch.setattr(plan, "begin", lambda limits: begun.append(limits) or desk_work.begin("plan", "a plan", {"stand": ""}, 1))
    owner.get("/units/metric/?next=/")

    owner.post("/plan/run/", {"years": "8", "touching_ft": "30", "units": "metric"})
    metric = owner.get("/plan/").content.decode()
    owner.post("/plan/run/", {"years": "8", "touching_ft": "30", "units": "metric"})
    owner.get("/units/US/?next=/")
    us = owner.get("/plan/").content.decode()
    owner.post("/plan/run/", {"years": "8", "touching_ft": "98.42519685"})

    # 30 m by hand: 30 / 0.3048.
    assert [text.split("touching_ft = ")[1].split()[0] for text in begun] == ["98.42519685"] * 3
    assert 'name="touching_ft" inputmode="decimal" value="30"' in metric and "touch, m<br>" in metric
    assert 'name="touching_ft" inputmode="decimal" value="98.42519685"' in us and "touch, ft<br>" in us


def _as_shown(page, action):
    """What a browser would send of a form that nobody touched."""
    form = re.search(rf'<form method="post" action="{action}">(.*?)</form>', page.content.decode(), re.DOTALL)[1]
    sent = {name: value for name, value in re.findall(r'<input [^>]*?name="([^"]+)"[^>]*?value="([^"]*)"', form)}
    for name, choices in re.findall(r'<select name="([^"]+)"[^>]*>(.*?)</select>', form, re.DOTALL):
        options = re.findall(r'<option( value="([^"]*)")?( selected)?>([^<]*)', choices)
        values = [(value if given else words, chosen) for given, value, chosen, words in options]
        sent[name] = next((value for value, chosen in values if chosen), values[0][0])
    return {name: html.unescape(value) for name, value in sent.items()}


def test_a_price_list_kept_untouched_in_metric_is_the_same_list_and_a_new_cost_is_turned(owner):
    before = own_lists.price_form(asking.prices())
    owner.get("/units/metric/?next=/")

    shown = _as_shown(owner.get("/prices/"), "/prices/")
    kept = owner.post("/prices/", shown)
    assert kept.status_code == 302, kept.content.decode()
    after = own_lists.price_form(asking.prices())
    owner.post("/prices/", _as_shown(owner.get("/prices/"), "/prices/") | {"cost.injection": "250", "cost.fence_per_ft": "10"})
    costs = asking.prices().costs

    assert (dict(after.costs), list(after.lines.values()), list(after.shares.values())) == (
        dict(before.costs), list(before.lines.values()), list(before.shares.values())
    )  # fmt: skip
    assert len(before.lines) > 5 and before.costs["injection"]
    # A hectare is 10,000 / 4,046.8564224 acres, a foot 0.3048 m.
    assert costs["injection"] == pytest.approx(250 * 0.40468564224, rel=1e-9)
    assert costs["fence_per_ft"] == pytest.approx(3.048, rel=1e-9)


def test_a_form_means_the_units_it_was_shown_in_whatever_the_switch_says_since(owner):
    owner.get("/units/metric/?next=/")
    shown = _as_shown(owner.get("/prices/"), "/prices/")
    owner.get("/units/US/?next=/")

    owner.post("/prices/", shown | {"cost.injection": "250"})

    assert asking.prices().costs["injection"] == pytest.approx(250 * 0.40468564224, rel=1e-9)


def test_a_limit_of_the_rulebook_typed_in_metric_is_kept_in_its_own_unit(owner, monkeypatch, tmp_path):
    monkeypatch.setattr(asking.DESK, "own_rules", tmp_path / "own.toml")
    monkeypatch.setattr(asking.DESK, "overlay", None)
    owner.get("/units/metric/?next=/")

    def typed(value):
        return owner.post("/rules/", {"name": "several_hundred_ac", "value": value, "note": "ours", "units": "metric"})

    def shown():
        return said(owner.get("/rules/?text=several_hundred_ac"))

    assert {"988.42", "741.32 to 1235.5", "stems/ha"} <= set(shown())
    # As it is shown it is the value in force; 1,000 stems a hectare are 404.68564224 an acre.
    assert typed("988.42").status_code == 302
    assert asking.question().rules["several_hundred_ac"].value == 400
    assert typed("1000").status_code == 302
    assert asking.question().rules["several_hundred_ac"].value == pytest.approx(404.68564224, rel=1e-9)
    assert "1000" in shown()
    refused = typed("5000")
    assert refused.status_code == 400 and "expected 741.32 to 1235.5 stems/ha" in html.unescape(refused.content.decode())


def _typed(page):
    """What a form of a record holds, as a browser would send it."""
    form = page.content.decode()
    sent = dict(re.findall(r'<input name="([^"]+)"[^>]* value="([^"]*)"', form)) | {"units": "metric"}
    return sent | dict(re.findall(r'<input type="hidden" name="(correcting)" value="([^"]*)"', form))


def test_a_tree_typed_in_metric_is_stored_in_inches_and_comes_back_as_it_was_typed(owner):
    owner.get("/units/metric/?next=/")
    tree = {"visit": "S1-2025-cruise", "point": "1", "tree": "991", "species": "833", "dbh_in": "30.5", "height_ft": "21", "stems": "1"}

    shown = owner.get("/records/trees/").content.decode()
    written = owner.post("/records/trees/", tree | {"units": "metric"})
    number = re.search(r'href="\?id=([\w-]+)" aria-label="Correct [^"]* 991"', written.content.decode())[1]
    again = _typed(owner.get(f"/records/trees/?id={number}"))
    same = owner.post("/records/trees/", again)
    refused = html.unescape(owner.post("/records/trees/", tree | {"tree": "992", "dbh_in": "1000", "units": "metric"}).content.decode())

    assert "dbh (cm)" in shown and "height (m)" in shown
    # 30.5 / 2.54 and 21 / 0.3048, to four decimals as metric sheets are read.
    assert (session.record_history("trees", uuid.UUID(number).hex)[0]["dbh_in"]) == 12.0079
    assert (session.record_history("trees", uuid.UUID(number).hex)[0]["height_ft"]) == 68.8976
    assert "dbh 30.5 cm" in written.content.decode() and "height 21 m" in written.content.decode()
    assert (again["dbh_in"], again["height_ft"]) == ("30.5", "21")
    assert "says so already" in same.content.decode()
    assert "Found 1000." in refused and " cm" in refused.split("Found 1000. Expected")[1][:60]
    assert us_units(owner.get(f"/records/trees/{number}/")) == []


def test_a_correction_in_metric_says_before_and_after_in_metric(owner):
    owner.get("/units/metric/?next=/")
    number = re.search(r'href="\?id=([\w-]+)" aria-label="Correct S1"', owner.get("/records/stands/?text=S1").content.decode())[1]
    given = _typed(owner.get(f"/records/stands/?id={number}"))

    written = html.unescape(owner.post("/records/stands/", given | {"area_ac": "12"}).content.decode())

    # 28 acres are 11.33 ha; 12 ha are 29.6526 acres.
    assert given["area_ac"] == "11.3312" and "area, ha 11.33 -> 12" in written
    assert session.record_history("stands", uuid.UUID(number).hex)[0]["area_ac"] == 28
    assert "29.6526" in str(session.newest_records("stands", "S1", 1))


def test_a_tally_typed_in_metric_is_stored_in_us_units_and_its_draft_is_found_in_either_system(owner):
    owner.get("/units/metric/?next=/")
    lines = {
        "point": ["1", "2"],
        "species": ["white oak", "red maple"],
        "dbh_in": ["30.5", "41"],
        "stems": ["1", "1"],
        "height_ft": ["21", ""],
    }
    typed = {"kind": "cruise", "visited_on": "2025-09-10", "baf_ft2_ac": "2.3", "units": "metric", "form": "one", **lines}
    page = owner.get("/tally/S4/?kind=cruise").content.decode()

    owner.post("/tally/S4/draft/", typed | {"stamp": "0"})
    metric = owner.get("/tally/S4/?kind=cruise").content.decode()
    owner.get("/units/US/?next=/")
    us = owner.get("/tally/S4/?kind=cruise").content.decode()
    owner.get("/units/metric/?next=/")
    refused = owner.post(
        "/tally/S4/", typed | {"foot_lines": "2", "foot_plots": "2", "foot_dbh_in": "71", "foot_stems": "2"}
    ).content.decode()
    written = owner.post(
        "/tally/S4/", typed | {"foot_lines": "2", "foot_plots": "2", "foot_dbh_in": "71.5", "foot_stems": "2", "foot_height_ft": "21"}
    )

    assert "factor, m²/ha" in page and "Dbh, cm" in page and "Height, m" in page
    assert 'aria-label="Dbh, line 1" value="30.5"' in metric and 'name="baf_ft2_ac" value="2.3"' in metric
    assert 'aria-label="Dbh, line 1" value="12.0079"' in us
    assert "dbh_in 71, and what was typed comes to 71.5" in refused
    assert written.status_code == 200, said(written)
    stored = session.newest_records("trees", "S4-2025-09-10-cruise", 9)
    # 30.5 / 2.54, 41 / 2.54, 21 / 0.3048 and 2.3 / 0.2295684, to four decimals as metric sheets are read.
    assert sorted(row.dbh_in for row in stored) == [12.0079, 16.1417]
    assert {row.height_ft for row in stored} == {68.8976, None}
    assert session.newest_records("rings", "S4-2025-09-10-cruise", 1)[0].baf_ft2_ac == pytest.approx(10.0188, abs=5e-5)


def test_plots_of_a_count_are_told_in_square_meters_and_stored_as_ever(owner):
    owner.get("/units/metric/?next=/")
    page = owner.get("/tally/S4/").content.decode()
    size = re.search(r'name="plot_area_ac" value="([^"]*)"', page)[1]
    typed = {"kind": "reproduction", "visited_on": "2025-09-10", "plot_area_ac": size, "units": "metric", "form": "two"}

    done = owner.post("/tally/S4/", typed | {"point": "1", "species": "white oak", "height_class": "1-3", "stems": "2"})

    # 4,046.8564224 m2 / 735, on a radius of 1.324 m.
    assert size == "5.5059" and "5.51 m2, radius 1.324 m".replace("m2", "m²") in page
    assert '<option value="1-3">0.3-0.9 m</option>' in page
    assert done.status_code == 200, said(done)
    assert session.newest_records("rings", "S4-2025-09-10-reproduction", 1)[0].plot_area_ac == 0.00136054
    assert session.newest_records("seedlings", "S4-2025-09-10-reproduction", 1)[0].height_class == "1-3"


def test_the_prism_of_a_walk_is_typed_in_metric(owner):
    owner.get("/units/metric/?next=/")
    asked = {"act": "make", "stand": "S4", "kind": "cruise", "days": "7", "points": "5", "anew": "yes", "units": "metric"}

    page = owner.get("/walks/").content.decode()
    refused = owner.post("/walks/", asked | {"baf": "40"})
    made = owner.post("/walks/", asked | {"baf": "3"})

    # Ten square feet an acre are 2.295684 m2/ha, 3 m2/ha 13.0680 square feet an acre.
    assert 'name="baf" value="2.295684"' in page
    assert refused.status_code == 422 and "Give a number from 0.2 to 27.5 m2/ha" in refused.content.decode().replace("m²", "m2")
    held = walks.walk_of(made.headers["Location"].strip("/").rpartition("/")[2])
    assert [ring["baf_ft2_ac"] for ring in held.content["stands"][0]["visits"][0]["rings"] if ring.get("baf_ft2_ac")] == ["13.068"]


def test_no_formula_leaves_a_us_unit_and_values_go_in_and_come_out_in_metric(owner):
    owner.get("/units/metric/?next=/")

    left = {one: found for one in ("", *formulas.every()) if (found := us_units(owner.get(f"/calc/{one}{'/' if one else ''}")))}
    shown = said(owner.get("/calc/basal-area/?units=metric&dbh_in=30,40&tpa=100,50"))
    refused = html.unescape(owner.get("/calc/crown-width/?units=metric&species=833&dbh_in=9999").content.decode())
    linked = said(owner.get("/calc/basal-area/?units=US&dbh_in=10&tpa=100"))

    assert left == {}
    # pi / 40,000 x (100 x 900 + 50 x 1,600) m2/ha; the quadratic mean of 30, 40 by 100, 50 is 33.6650 cm.
    assert float(shown[shown.index("ba:") + 1]) == pytest.approx(13.3518, abs=0.0002)
    assert float(shown[shown.index("qmd:") + 1]) == pytest.approx(33.6650, abs=0.0002)
    assert "dbh_in=9999 is outside" in refused and " cm" in refused.split("Expected")[1][:60]
    # A link says the units it means: 100 trees of 10 in. are 54.54 square feet.
    assert float(linked[linked.index("ba_ft2_ac:") + 1]) == pytest.approx(54.54, abs=0.01)


def test_the_search_says_in_metric_what_it_kept_in_us_units(owner, monkeypatch):
    found = sentence("short_ba_least", got="61", low="70")
    result = {
        "moves": 9, "mean_light_pct": 31.0, "residual_ba_ft2_ac": 61.0, "leave_trees_ac": 40.0,
        "shortfalls": [str(found)], "short_of": [[found.code, found.values]],
    }  # fmt: skip
    ended = SimpleNamespace(ended=True, fault="", result=json.loads(json.dumps(result)), number=1)
    monkeypatch.setattr(desk_work, "of", lambda number: ended)
    owner.get("/units/metric/?next=/")

    page = owner.get("/light/S2/search/1/")

    # 61 and 70 ft2/ac are 14.0 and 16.1 m2/ha, 40 trees an acre 98.8 a hectare.
    assert us_units(page) == []
    assert "14.0 m²/ha left, 98.8 trees a hectare" in " ".join(said(page))
    assert "14.0 m²/ha, wanted 16.1" in " ".join(said(page))


def test_the_first_stand_of_a_book_is_typed_in_hectares(owner, monkeypatch):
    entered = []
    monkeypatch.setattr(start.session, "stands", list)
    monkeypatch.setattr(start.entering, "enter", lambda tables, **_: entered.append(tables) or Report("typed first stand", batch=1))
    owner.get("/units/metric/?next=/")

    owner.post("/start/", {"property": "Home", "stand": "N1", "area_ac": "5", "units": "metric"})
    owner.post("/start/", {"property": "Home", "stand": "N1", "area_ac": "5", "units": "US"})

    # 5 ha x 2.47105.
    assert [tables["stands"][0]["area_ac"] for tables in entered] == ["12.3553", "5"]


def test_outlines_that_come_in_are_told_in_hectares(owner):
    known = owner.get("/outlines/outlines.geojson")
    shapes = json.loads(b"".join(known.streaming_content) if known.streaming else known.content)
    first = next(one for one in shapes["features"] if one["properties"]["stand"] == "S1")
    # Half as tall: half the land.
    ring = first["geometry"]["coordinates"][0] if first["geometry"]["type"] == "Polygon" else first["geometry"]["coordinates"][0][0]
    south = min(y for _, y in ring)
    first["geometry"] = {"type": "Polygon", "coordinates": [[[x, south + (y - south) / 2] for x, y in ring]]}
    file = SimpleUploadedFile("one.geojson", json.dumps({**shapes, "features": [first]}).encode())
    owner.get("/units/metric/?next=/")

    page = owner.post("/outlines/", {"file": file})

    text = " ".join(said(page))
    assert us_units(page) == []
    # 28 acres are 11.33 ha.
    assert "Outline and noted hectares differ" in text and "noted 11.33 ha" in text


def test_a_file_with_its_own_headings_is_looked_at_in_metric(owner):
    owner.get("/units/metric/?next=/")
    file = SimpleUploadedFile("second.xlsx", (ROOT / "demo" / "second_cruiser.xlsx").read_bytes())

    page = owner.post("/import/", {"file": file})
    number = re.search(r'action="/import/file/([0-9]+)/"', page.content.decode())[1]
    given = {"set.back forty cruise.baf_ft2_ac": "10", "set.regen.plot_area_ac": "0.00136054", "code.RO": "833", "code.HM": "318"}
    given |= {f"set.{sheet}.old_days": "as written" for sheet in ("back forty cruise", "regen")}
    faulty = owner.post(f"/import/file/{number}/", given | {"accept": "yes"})

    assert (us_units(page), us_units(faulty)) == ([], [])
    # The file's own feet stand in brackets: 4.5 ft are 1.37 m.
    assert faulty.status_code == 422 and "a number from 1.37 to" in " ".join(said(faulty))


def test_what_a_file_would_change_is_told_in_hectares(owner):
    owner.get("/units/metric/?next=/")
    stands = (ROOT / "demo" / "vesperlick" / "stands.csv").read_text().replace(",28,", ",12,", 1)

    page = owner.post("/import/", {"file": SimpleUploadedFile("stands.csv", stands.encode())})

    # 28 acres are 11.33 ha, 12 are 4.856 ha.
    assert us_units(page) == []
    assert "area, ha: 11.33" in " ".join(said(page))
