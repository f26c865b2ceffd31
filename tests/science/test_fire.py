"""Fire: the equation set against an independent grid, moisture against closed forms and psychrolib, stems against publications."""

from __future__ import annotations

import csv

import numpy as np
import psychrolib
import pytest
import scipy
from hypothesis import given
from hypothesis import strategies as st

from conftest import ROOT
from overwood.judgement.rules import load
from overwood.science import timber
from overwood.science.fire import moisture, spread, trees

with (ROOT / "tests" / "published" / "fire_grid.csv").open(encoding="utf-8", newline="") as stream:
    GRID = list(csv.DictReader(stream))

# Once: with numba about, psychrolib compiles itself anew at each change of units.
psychrolib.SetUnitSystem(psychrolib.IP)


def fire(code="FM9", one=8.0, ten=8.0, hundred=8.0, wind=5.0, slope=0.0, herb=100.0, woody=100.0, **more):
    return spread.surface_fire(
        code, moisture_1h_pct=one, moisture_10h_pct=ten, moisture_100h_pct=hundred, live_herb_pct=herb, live_woody_pct=woody,
        midflame_mi_h=wind, slope_pct=slope, **more,
    )  # fmt: skip


def test_the_equations_give_every_row_of_the_grid():
    for code in {row["fuel_model"] for row in GRID}:
        rows = [row for row in GRID if row["fuel_model"] == code]
        for slope in {row["slope_tan"] for row in rows}:
            part = [row for row in rows if row["slope_tan"] == slope]
            columns = {
                name: np.array([float(row[name]) for row in part]) for name in part[0] if name not in ("fuel_model", "source", "status")
            }

            found = fire(
                code, columns["m1h_pct"], columns["m10h_pct"], columns["m100h_pct"], columns["midflame_wind_mph"], 100 * float(slope)
            )

            np.testing.assert_allclose(found.spread_ch_h, columns["spread_ch_h"], rtol=0.005, atol=0.002)
            np.testing.assert_allclose(found.flame_ft, columns["flame_length_ft"], rtol=0.005, atol=0.002)
            np.testing.assert_allclose(
                found.intensity_btu_ft_s * spread.KW_M_PER_BTU_FT_S, columns["fireline_intensity_kW_m"], rtol=0.01, atol=0.02
            )
            np.testing.assert_allclose(found.heat_btu_ft2, columns["heat_per_area_btu_ft2"], rtol=0.005)
            np.testing.assert_allclose(found.no_wind_ch_h, columns["no_wind_no_slope_ch_h"], rtol=0.005, atol=0.002)
            np.testing.assert_allclose(found.by("backing").spread_ch_h, columns["backing_by_ellipse_ch_h"], rtol=0.01, atol=0.002)


def test_wind_across_a_slope_adds_as_an_arrow():
    # Rothermel 1972, computed apart from the program: FM9, 10 % all, 3 mi/h across a 30 % slope, head 3.396 ch/h.
    found = fire(one=10.0, ten=10.0, hundred=10.0, wind=3.0, slope=30.0, wind_from_upslope_deg=90.0)
    assert float(found.spread_ch_h) == pytest.approx(3.396, rel=0.005)


@pytest.mark.parametrize("code", list(spread.fuel_models()))
def test_more_wind_spreads_every_fuel_faster_and_more_water_slower(code):
    wind = fire(code, wind=np.linspace(0, 12, 7), herb=60.0).spread_ch_h
    wet = fire(code, np.linspace(3, 40, 12), np.linspace(3, 40, 12), np.linspace(3, 40, 12), herb=120.0).spread_ch_h

    assert (np.diff(wind) >= 0).all()
    assert (np.diff(wet) <= 1e-9).all()
    assert np.isfinite(wind).all() and (wet >= 0).all()


@pytest.mark.parametrize(
    ("code", "sav"), [("TL1", 1716), ("TL2", 1806), ("TL6", 1936), ("TL8", 1770), ("TL9", 1733), ("GR1", 2054), ("SH1", 1674)]
)
def test_a_model_has_the_residence_time_of_its_published_fineness(code, sav):
    # Characteristic surface to volume on the pages of Scott and Burgan 2005 (from memory); residence is 384 over it.
    assert fire(code, herb=120.0).residence_min == pytest.approx(384 / sav, rel=0.001)


def test_there_are_thirteen_and_forty_models():
    codes = list(spread.fuel_models())
    assert sum(code.startswith("FM") for code in codes) == 13
    assert len(codes) == 53


def test_a_bare_number_is_one_of_the_thirteen():
    # Anderson 1982 numbers his models 1 to 13; TL8 and TL9 of Scott and Burgan 2005 are other fuels.
    assert [spread.fuel_model(code).code for code in ("1", "08", " 9 ", "13", "fm9")] == ["FM1", "FM8", "FM9", "FM13", "FM9"]
    for code in ("0", "14", "-9"):
        with pytest.raises(KeyError, match="no fuel model"):
            spread.fuel_model(code)


def test_an_unknown_fuel_names_the_nearest():
    with pytest.raises(KeyError, match="TL"):
        spread.fuel_model("TL66")


@given(wind=st.floats(0, 20))
def test_backing_is_slowest_and_head_fastest(wind):
    back, flank, head = (float(spread.spread_share(wind, technique)) for technique in spread.TECHNIQUES)
    assert 0 < back <= flank <= head == 1


def test_the_sides_of_an_ellipse():
    # An ellipse of eccentricity e about its focus: r(angle) = p / (1 - e cos angle); behind over before = (1 - e) / (1 + e).
    wind = 8.0
    ratio = 1 + 0.25 * wind
    e = np.sqrt(ratio**2 - 1) / ratio
    assert float(spread.spread_share(wind, "backing")) == pytest.approx((1 - e) / (1 + e))
    assert float(spread.spread_share(wind, "flanking")) == pytest.approx(1 - e)


def test_a_lag_closes_63_percent_of_a_gap_in_its_time():
    found = moisture.lagged_pct(np.full(10, 8.0), 20.0, 10.0)
    assert (20 - found[-1]) / 12 == pytest.approx(1 - np.exp(-1), abs=1e-12)


def test_a_gap_in_the_weather_keeps_the_moisture():
    found = moisture.lagged_pct(np.array([8.0, np.nan, 8.0]), 20.0, 1.0)
    assert found[1] == found[0] > found[2]


@pytest.mark.parametrize(
    ("start", "celsius", "rh", "km_h", "rain_mm", "expected"),
    [(20, 10, 40, 10, 0, 19.3474), (20, 10, 40, 10, 5, 112.277), (10, 5, 90, 5, 0, 11.2989)],
)
def test_the_litter_code_takes_the_steps_of_its_equations(start, celsius, rh, km_h, rain_mm, expected):
    # Van Wagner 1977 and 1987, computed apart from the program; the second is the moisture after rain, before drying.
    weather = [np.array([value]) for value in (celsius * 1.8 + 32, rh, km_h / 1.609344, rain_mm / 25.4)]
    found = float(moisture.litter_pct(*weather, start_pct=start)[0])
    assert found == pytest.approx(expected, abs=0.8 if rain_mm else 0.001)


def test_the_drought_index_rises_in_the_dry_and_falls_with_rain():
    dry = moisture.drought_index(np.full(30, 85.0), np.zeros(30), 45, start=100)
    rain = np.zeros(30)
    rain[10:12] = [0.15, 0.35]
    wet = moisture.drought_index(np.full(30, 85.0), rain, 45, start=100)

    assert (np.diff(dry) > 0).all() and dry[-1] < 800
    # Of a spell of 0.50 in the first 0.20 wets leaves only: 0.30 in reach the soil.
    step = moisture.drought_step(wet[9], 85, 0.0, 45)
    assert wet[10] == pytest.approx(step)
    assert wet[11] == pytest.approx(moisture.drought_step(step, 85, 0.30, 45))


def test_the_table_is_blank_at_night_and_without_weather():
    found = moisture.table_pct([50, 50, np.nan], [40, 40, 40], [3, 3, 3], [13, 22, 13], shaded=True, slope_pct=0, aspect_deg=0)
    assert np.isnan(found).tolist() == [False, True, True]


@pytest.mark.parametrize("aspect", [0, 90, 180, 270])
def test_shade_and_cool_air_keep_fuel_damper(aspect):
    where = {"slope_pct": 10, "aspect_deg": aspect}
    shaded, sunny = (float(moisture.table_pct(60, 40, 3, 13, shaded=s, **where)) for s in (True, False))
    assert shaded > sunny
    assert float(moisture.table_pct(60, 80, 3, 13, shaded=True, **where)) > shaded


def test_conduction_gives_the_square_law_of_the_kill_time():
    # Heat in a half space, 0.06 cm2/min, from 20 C by 500 C to 60 C: t = x^2 / (4 a z^2), erf(z) = 1 - 40/480; 2.779 min.
    from scipy import special

    z = special.erfinv(1 - 40 / 480)
    by_heat = 1 / (4 * 0.06 * z**2)
    assert by_heat == pytest.approx(2.779, abs=0.005)
    assert float(trees.bark_kill_min(1 / 2.54)) == pytest.approx(by_heat, rel=0.05)


@pytest.mark.parametrize(("dbh_cm", "ratio", "expected"), [(35, 0.040, 0.0738), (15, 0.028, 0.7118)])
def test_the_chance_of_a_wound_is_that_of_the_lognormal(dbh_cm, ratio, expected):
    # The chance is the area of the heating time's density above the kill time (scipy's quadrature).
    bark = ratio * dbh_cm / 2.54
    found = float(trees.wound_share(bark, heating_median_min=1.0, heating_log_sd=1.2))
    kill = float(trees.bark_kill_min(bark))
    area = scipy.integrate.quad(lambda u: np.exp(-(u**2) / (2 * 1.2**2)) / (1.2 * np.sqrt(2 * np.pi)), np.log(kill), 30)[0]

    assert found == pytest.approx(expected, abs=0.0006)
    assert found == pytest.approx(area, abs=1e-6)


@pytest.mark.parametrize(("spcd", "bark_in", "against_stem"), [(802, 0.48, 1.25), (833, 0.36, 0.47), (316, 0.34, 1.94)])
def test_heat_meets_the_bark_at_the_foot_and_not_the_average_of_the_stem(spcd, bark_in, against_stem):
    # Recalled ratios of bark to dbh at breast height: white oak 0.040, northern red oak 0.030, red maple 0.028; kill time goes with the square.
    foot, stem = float(timber.foot_bark_in(spcd, 12)), float(timber.bark_thickness_in(spcd, 12))

    assert foot == pytest.approx(bark_in, abs=0.005)
    assert float(trees.bark_kill_min(foot) / trees.bark_kill_min(stem)) == pytest.approx(against_stem, abs=0.05)
    assert float(timber.foot_bark_in(spcd, 12, "low")) <= foot <= float(timber.foot_bark_in(spcd, 12, "high"))


def test_deaths_of_middle_trees_fall_near_those_seen_in_ohio():
    # Hutchinson et al. 2005: deaths of 10 to 25 cm trees, red maple 33 %, white oak 17 %; the defaults were set to them.
    def deaths(spcd):
        bark = float(timber.foot_bark_in(spcd, 15 / 2.54))
        return load().number("burn_death_middle") * float(trees.wound_share(bark, heating_median_min=1.0, heating_log_sd=1.2))

    assert deaths(316) == pytest.approx(0.33, abs=0.06)
    assert deaths(802) == pytest.approx(0.17, abs=0.05)


@pytest.mark.parametrize(("bark_in", "scorch_pct", "dead"), [(0.5, 0, 0.367), (0.5, 50, 0.6885), (1.0, 100, 0.9644)])
def test_the_western_form_worked_by_hand(bark_in, scorch_pct, dead):
    # Ryan and Reinhardt 1988 (coefficients from memory): half-inch bark dies in part without scorch, inch bark nearly always when all is scorched.
    assert float(trees.mortality_by_scorch_western(bark_in, scorch_pct)) == pytest.approx(dead, abs=0.001)


def test_white_oak_outlives_red_maple_by_char():
    # Keyser et al. 2018: 2-year mortality 6.9 % white oak, the least.
    assert float(trees.mortality_by_char(802, 8, 1)) < float(trees.mortality_by_char(316, 4, 1))
    with pytest.raises(KeyError, match="there are some for"):
        trees.mortality_by_char(621, 8, 1)
