"""The JSON API: as its OpenAPI says, never a fault of the program, closed to strangers, and the same words as the desk."""

from __future__ import annotations

import json

import pytest
import schemathesis
from hypothesis import HealthCheck, settings
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import content_type_conformance, response_schema_conformance

from conftest import DEMO_DAY
from overwood.desk import answers
from overwood.judgement.rules import load

pytestmark = pytest.mark.slow
PATHS = (
    "/api/stands",
    "/api/stands/S1/advice",
    "/api/stands/S1/figures",
    "/api/stands/S1/due",
    "/api/stands/S3/counts",
    "/api/rules",
    "/api/formulas",
)


def asked(served, path, body):
    served.page("/records/visits/")
    headers = {"Content-Type": "application/json", "X-CSRFToken": served.cookies["overwood_form"], "Origin": served.base}
    status, _, text = served.ask(path, method="POST", body=json.dumps(body), headers=headers)
    return status, json.loads(text)


def read(served, path):
    status, _, text = served.ask(path)
    assert status == 200, text
    return json.loads(text)


@pytest.mark.parametrize("path", PATHS)
def test_strangers_get_nothing(served, path):
    assert served.ask(path)[0] == 200
    assert served.ask(path, cookies=False)[0] == 401


def test_a_change_without_the_form_token_is_refused(served):
    body = json.dumps({"row": {"property": "X"}})
    status, _, _ = served.ask("/api/records/properties", method="POST", body=body, headers={"Content-Type": "application/json"})
    assert status == 403


def test_the_api_says_what_the_desk_says(served, demo_book):
    ask = answers.question(DEMO_DAY)
    for name in ("S1", "S3", "S8"):
        advice = answers.advice(name, ask, try_rules=False)
        found = read(served, f"/api/stands/{name}/advice")
        assert (found["title"], found["why"]) == (advice.title, list(advice.why))
    figures = {one["name"]: one for one in read(served, "/api/stands/S3/figures")}
    assert figures["oak_stems_3ft_ac"]["value"] == pytest.approx(answers.evidence("S3", ask)["oak_stems_3ft_ac"].number)
    assert len(read(served, "/api/rules")) == len(load().entries)
    assert [stand["stand"] for stand in read(served, "/api/stands")] == [f"S{n}" for n in range(1, 9)]


def test_markings_formulas_and_records_go_through(served):
    status, marked = asked(served, "/api/stands/S2/marking", {"basal_area_ft2_ac": 40})
    assert status == 200 and 35 < marked["residual_ba_ft2_ac"] <= 40
    tree = next(name for name, stays in marked["leave"].items() if stays)
    assert asked(served, "/api/stands/S2/marking", {"flip": tree})[1]["leave"][tree] is False
    assert asked(served, "/api/stands/S1/marking", {})[0] == 404

    status, found = asked(served, "/api/formulas/crop-sequence", {"given": {"years": "10", "good_share": "0.3", "seed": "1"}})
    assert status == 200 and found["values"]["good_count"] == len(found["values"]["good_years"])

    status, fault = asked(served, "/api/records/properties", {"row": {"property": "Q", "latitude_deg": "999"}})
    assert status == 400 and "latitude_deg" in fault["what"] and fault["remedy"] == "Nothing was written."
    status, entered = asked(served, "/api/records/properties", {"row": {"property": "Q", "name": "Q"}})
    assert status == 200 and entered["new"] == {"properties": 1}


@pytest.mark.parametrize(
    ("rule", "value", "status"), [("verdict_level", 0.8, 200), ("verdict_level", 3, 400), ("nonsense", 1, 404), ("window_burn", 1, 400)]
)
def test_what_if_by_the_api(served, rule, value, status):
    assert asked(served, "/api/stands/S3/what-if", {"rule": rule, "value": value})[0] == status


def test_the_api_does_as_its_description_says(served):
    # schemathesis makes requests from the OpenAPI description: no 5xx, and answers as described.
    served.page("/records/visits/")
    schema = schemathesis.openapi.from_dict(read(served, "/api/openapi.json"))
    headers = {
        "Cookie": "; ".join(f"{name}={value}" for name, value in served.cookies.items()),
        "X-CSRFToken": served.cookies["overwood_form"],
        "Origin": served.base,
    }
    checks = [not_a_server_error, content_type_conformance, response_schema_conformance]

    for result in schema.get_all_operations():
        operation = result.ok()

        @settings(max_examples=12, deadline=None, suppress_health_check=list(HealthCheck), database=None)
        @schemathesis_given(operation)
        def run(case):
            case.call_and_validate(base_url=served.base, headers=headers, checks=checks)
            # Made-up names mostly are not there: ask the same of what is.
            known = {"name": "crop-sequence" if "/formulas/" in case.operation.path else "S2", "table": "visits"}
            case.path_parameters.update({name: value for name, value in known.items() if name in case.path_parameters})
            case.call_and_validate(base_url=served.base, headers=headers, checks=checks)

        run()


def schemathesis_given(operation):
    from hypothesis import given

    return given(case=operation.as_strategy())
