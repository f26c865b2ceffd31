"""Timber of a stand: products, defect, missing notes, prices, and nothing ever silently zero."""

from __future__ import annotations

import dataclasses
import datetime as dt
import re

import numpy as np
import pytest

from overwood.ground.errors import BadRule
from overwood.judgement import prices
from overwood.judgement.evidence import timber
from overwood.judgement.rules import load
from overwood.science import timber as science
from records import cruise

RULES = load()

LIST = """
date = "2025-09-01"
source = "a test"
log_rule = "doyle"
[[price]]
product = "sawlog"
species = "white oak"
low = 400
mean = 500
high = 600
unit = "US$/MBF"
[[price]]
product = "stave"
species = "white oaks"
low = 900
mean = 1000
high = 1100
unit = "US$/MBF"
"""


def listed(tmp_path, text=LIST):
    (tmp_path / "prices.toml").write_text(text)
    return prices.load(tmp_path / "prices.toml")


def valued(trees, price_list=None):
    file = cruise(trees)
    return timber.value_of(timber.timber_of(file, RULES, "doyle"), price_list)


def butt(**more):
    return {"logs": 2.0, "grade": "2", "quality": "sawlog", **more}


def test_a_sawlog_tree_counts_by_the_table():
    found = valued([("1", 802, 16.0, butt())])

    per_tree = float(science.tree_bf("doyle", 16, 2, 78))
    assert found.sawtimber_bf_ac.number == pytest.approx(per_tree * 10 / (0.005454154 * 256) / 5, rel=1e-6)


def test_defect_is_deducted():
    sound, poor = (valued([("1", 802, 16.0, butt(defect_pct=d))]).sawtimber_bf_ac.number for d in (0.0, 25.0))

    assert poor == pytest.approx(0.75 * sound)


def test_a_stave_butt_is_only_the_butt_log():
    lines = {line.product: line.volume.number for line in valued([("1", 802, 16.0, butt(quality="stave"))]).lines}

    whole = valued([("1", 802, 16.0, butt())]).sawtimber_bf_ac.number
    assert lines["stave"] + lines["sawlog"] == pytest.approx(whole)
    assert lines["stave"] > lines["sawlog"]


def test_a_red_oak_called_stave_is_a_sawlog_and_said():
    found = valued([("1", 833, 16.0, butt(quality="stave"))])

    assert [line.product for line in found.lines] == ["sawlog"]
    assert "not white oak" in " ".join(found.notes)


def test_small_and_pulpwood_trees_are_tons_and_culls_are_nothing():
    lines = valued([("1", 802, 8.0), ("2", 802, 14.0, butt(quality="pulpwood")), ("3", 802, 20.0, butt(quality="cull"))]).lines

    assert [(line.product, line.volume.unit) for line in lines] == [("pulpwood", "tons/ac")]


def test_missing_logs_and_grades_are_assumed_aloud():
    found = valued([("1", 802, 18.0)])

    assert found.sawtimber_bf_ac.number > 0
    assert "trees of sawlog size without logs noted, assumed from dbh: 1" in " ".join(found.notes)
    assert "trees of sawlog size without a grade: 1" in " ".join(found.notes)
    assert found.lines[0].grade == "not graded"


def test_a_grade_too_good_for_the_size_is_questioned():
    assert "cannot have" in " ".join(valued([("1", 802, 12.0, butt(grade="1"))]).notes)


def test_heights_are_scaled_to_the_stands_own():
    trees = [("1", 802, 18.0, {"height_ft": 70.0}), ("2", 802, 8.0)]

    assert "scaled by 0.76 to measured heights: 1" in " ".join(valued(trees).notes)
    assert "from dbh alone: none was measured" in " ".join(valued([("1", 802, 18.0)]).notes)


def test_value_is_volume_times_price_with_a_span(tmp_path):
    found = valued([(str(p), 802, 16.0, butt()) for p in range(1, 6)], listed(tmp_path))

    assert found.value_usd_ac.number == pytest.approx(found.sawtimber_bf_ac.number * 0.5)
    assert found.price_low_usd_ac == pytest.approx(found.sawtimber_bf_ac.number * 0.4)
    assert found.value_usd_ac.low < found.value_usd_ac.number < found.value_usd_ac.high
    assert "not an appraisal" in found.value_usd_ac.note


def test_species_have_sums_with_a_span_that_add_up_to_the_stand(tmp_path):
    trees = [(str(point), code, dbh, butt()) for point in range(1, 6) for code, dbh in ((802, 16.0 + point), (621, 14.0))]
    found = valued([*trees, ("1", 802, 8.0)], listed(tmp_path))

    assert [one.species for one in found.species] == ["white oak", "yellow-poplar"]
    assert sum(one.boards.number for one in found.species) == pytest.approx(found.sawtimber_bf_ac.number)
    for one in found.species:
        assert 0 < one.boards.low < one.boards.number < one.boards.high
    oak, poplar = (one.value for one in found.species)
    assert oak.number == pytest.approx(found.value_usd_ac.number)
    assert 0 < oak.low < oak.number < oak.high
    assert poplar is None
    assert all(one.value is None for one in valued(trees).species)


def test_what_a_whole_stand_holds_has_the_span_of_its_acres():
    found = valued([(str(point), 802, 15.0 + point, butt()) for point in range(1, 6)])
    acre, whole = found.sawtimber_bf_ac, timber.on_all(found.sawtimber_bf_ac, 34.0, "sawtimber_bf", "bd ft")

    for one, all_ in zip((acre.low, acre.number, acre.high), (whole.low, whole.number, whole.high), strict=True):
        assert all_ == pytest.approx(34 * one, rel=0.005)
    assert (whole.unit, whole.level) == ("bd ft", acre.level)
    assert "area is taken as known" in whole.note


def test_a_species_without_a_price_is_named_and_not_a_silent_zero(tmp_path):
    found = valued([("1", 802, 16.0, butt()), ("2", 621, 16.0, butt())], listed(tmp_path))

    assert found.unpriced == ("yellow-poplar sawlog",)
    line = next(line for line in found.lines if line.species == "yellow-poplar")
    assert (line.value, line.note) == (None, "no price: not in the value")


def test_a_group_price_stands_in_and_says_so(tmp_path):
    price, note = listed(tmp_path).find("stave", 832, "1")

    assert (price.mean, note) == (1000, "priced as white oaks")


def test_the_log_rules_differ_and_stand_side_by_side():
    by_rule = {rule: figure.number for rule, figure in valued([("1", 802, 14.0, butt())]).by_rule.items()}

    assert by_rule["doyle"] < by_rule["scribner"] < by_rule["international-1/4"]


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('date = "2025-09-01"', 'date = "soon"', "date is 'soon'"),
        ('source = "a test"', "", "names no source"),
        ('log_rule = "doyle"', 'log_rule = "dolye"', "log_rule is 'dolye'"),
        ("mean = 500", "mean = 5000", "line 5: low 400, mean 5000 and high 600 are not in order"),
        ("mean = 500\n", "", "line 5: a price has no mean"),
        ("low = 400", 'low = "cheap"', "the low is 'cheap'"),
        ('species = "white oak"\n', 'species = "whit oak"\n', "The nearest is 'white oak'"),
        ('product = "stave"', 'product = "barrel"', "line 13: product is 'barrel'"),
        ('unit = "US$/MBF"', 'unit = "US$"', "unit is 'US$'"),
        ("[[price]]", "[[price", "not readable TOML"),
        ('source = "a test"', 'source = "a test"\n[cost]\nchocolate = 3', "no cost 'chocolate'"),
        ('source = "a test"', 'source = "a test"\n[cost]\nburn = -3', "the cost burn is -3"),
        ('source = "a test"', 'source = "a test"\n[[cost_share]]\nwork = "picnic"', "for 'picnic'"),
    ],
)
def test_a_wrong_price_list_is_named(tmp_path, old, new, words):
    text = LIST.replace(old, new, 1)
    if "[cost" in new:
        text = LIST + new.replace('source = "a test"', "")
    with pytest.raises(BadRule) as caught:
        listed(tmp_path, text)
    assert words in str(caught.value)


def test_a_price_list_that_is_not_there_is_said(tmp_path):
    with pytest.raises(BadRule, match="cannot be read"):
        prices.load(tmp_path / "none.toml")


def test_dates_are_kept_as_days(tmp_path):
    assert listed(tmp_path).date == dt.date(2025, 9, 1)
    assert dataclasses.is_dataclass(listed(tmp_path))


def price(tmp_path, product, unit, species="white oak", more=""):
    text = f"""
date = "2025-09-01"
source = "a test"
log_rule = "doyle"
{more}
[[price]]
product = "{product}"
species = "{species}"
low = 40
mean = 40
high = 40
unit = "{unit}"
"""
    return listed(tmp_path, text)


@pytest.mark.parametrize(
    ("product", "unit"), [("sawlog", "US$/cord"), ("pulpwood", "US$/MBF"), ("firewood", "US$/MBF"), ("veneer", "US$/cord")]
)
def test_a_price_in_a_unit_its_product_is_not_sold_in_is_refused_with_what_was_expected(tmp_path, product, unit):
    with pytest.raises(BadRule, match=rf"line 12: the price of {product} is in {re.escape(unit)}; expected US\$/"):
        price(tmp_path, product, unit)


def test_logs_priced_by_the_ton_are_refused_without_a_stated_weight(tmp_path):
    with pytest.raises(BadRule, match="sawlog is priced in US\\$/ton, but logs are measured in board feet") as fault:
        price(tmp_path, "sawlog", "US$/ton")

    assert "tons_per_mbf" in fault.value.remedy


def test_logs_priced_by_the_ton_are_weighed_as_the_list_states_and_say_so(tmp_path):
    weight = '[weight]\ntons_per_mbf = 9\nsource = "Texas price report"'
    found = valued([("1", 802, 16.0, butt())], price(tmp_path, "sawlog", "US$/ton", more=weight))

    # Nine tons to a thousand board feet at 40 US$ a ton are 360 US$ a thousand.
    assert found.value_usd_ac.number == pytest.approx(found.sawtimber_bf_ac.number * 0.360)
    assert "9 tons/MBF (Texas price report)" in found.lines[0].note


@pytest.mark.parametrize("weight", ["tons_per_mbf = 0.009", 'tons_per_mbf = "nine"', "tons_per_mbf = 900"])
def test_a_weight_that_cannot_be_is_refused(tmp_path, weight):
    with pytest.raises(BadRule, match="tons_per_mbf"):
        price(tmp_path, "sawlog", "US$/ton", more=f'[weight]\n{weight}\nsource = "x"')


def test_pulpwood_by_the_ton_and_by_the_cord_is_the_same_wood(tmp_path):
    tree = [("1", 802, 10.0, {"quality": "pulpwood"})]

    by_ton, by_cord = (valued(tree, price(tmp_path, "pulpwood", unit)).value_usd_ac.number for unit in ("US$/ton", "US$/cord"))

    # State reports: 2.8 (Texas) to 3.0 (Arkansas) green tons a cord of hardwood; Missouri 5,600 lb of hard hardwood.
    assert 2.8 <= by_ton / by_cord <= 3.0


def test_a_price_that_meets_no_unit_of_the_wood_stops_the_valuation(tmp_path):
    wrong = dataclasses.replace(price(tmp_path, "sawlog", "US$/MBF").prices[0], unit="US$/ton")
    with pytest.raises(BadRule, match="expected US\\$/MBF"):
        valued([("1", 802, 16.0, butt())], dataclasses.replace(listed(tmp_path), prices=(wrong,)))


@pytest.mark.parametrize(("spcd", "low", "high"), [(802, 2.7, 3.0), (837, 2.7, 3.0), (621, 2.0, 2.3)])
def test_a_cord_weighs_what_state_reports_say(spcd, low, high):
    # Texas 2.8, Arkansas 3.0, Missouri 2.8 tons for hard hardwood and 2.1 for soft hardwood.
    assert low <= science.green_tons_per_cord(spcd) <= high


def test_a_small_tree_never_holds_more_than_a_larger_one():
    dbh = np.arange(4.05, 12, 0.05)
    volume = science.tree_cubic_ft3(dbh, science.merchantable_height_ft(dbh, np.full(len(dbh), 40.0), top_in=4))

    assert (np.diff(volume) > 0).all()
    assert volume[0] < 0.1
