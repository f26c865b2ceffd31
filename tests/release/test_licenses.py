"""Licenses of every part travel with the program."""

from __future__ import annotations

import csv
import re
import tomllib

from conftest import ROOT

FOLDER = ROOT / "src" / "overwood" / "licenses"


def _locked(lock="run"):
    text = (ROOT / "requirements" / f"{lock}.txt").read_text(encoding="utf-8")
    return set(re.findall(r"^([A-Za-z0-9._-]+)==([^\s;\\]+)", text, flags=re.MULTILINE))


def _listed():
    with (FOLDER / "locked.csv").open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def test_every_locked_part_has_its_licence_in_the_list():
    assert {(row["part"], row["version"]) for row in _listed()} == _locked()
    assert all(row["license"] for row in _listed())


def test_no_part_asks_that_the_program_take_its_own_licence():
    copyleft = [row["part"] for row in _listed() if re.search(r"\b[AL]?GPL|General Public", row["license"]) and "MIT" not in row["license"]]

    assert copyleft == []


def test_an_office_has_a_lock_of_its_own_which_its_container_installs():
    run, office = _locked(), _locked("office")
    parts = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]["optional-dependencies"]["office"]
    wanted = {re.match(r"[a-z0-9-]+", part)[0] for part in parts}

    # psycopg's compiled half is a package of its own.
    assert office >= run and {name for name, _ in office - run} == {*wanted, "psycopg-binary"}
    assert "requirements/office.txt" in (ROOT / "deploy" / "Containerfile").read_text(encoding="utf-8")
    third = (ROOT / "THIRD-PARTY.md").read_text(encoding="utf-8")
    assert all(f"{name}," in third for name in wanted)


def test_what_is_bundled_into_the_pages_has_its_licence_text():
    text = (FOLDER / "bundled.txt").read_text(encoding="utf-8")
    third = (ROOT / "THIRD-PARTY.md").read_text(encoding="utf-8")

    for part, owner in (
        ("ol", "OpenLayers"),
        ("rbush", "rbush"),
        ("quickselect", "quickselect"),
        ("pbf", "pbf"),
        ("idb", "idb"),
        ("uqr", "uqr"),
    ):
        assert re.search(rf"^=+\n{part}\n", text, flags=re.MULTILINE)
        assert owner in third
    assert text.count("Copyright") >= 5


def test_the_wheel_takes_the_demo_along():
    told = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    included = told["tool"]["hatch"]["build"]["targets"]["wheel"]["force-include"]

    assert all((ROOT / source).exists() for source in included)
    assert included["demo/vesperlick"] == "overwood/demo/vesperlick"
