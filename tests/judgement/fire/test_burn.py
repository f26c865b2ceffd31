"""Burns judged: the card, the law, days, gates, harm and the floor after fire."""

from __future__ import annotations

import dataclasses
import datetime as dt
import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from conftest import DEMO_DAY, ROOT
from overwood.desk import answers
from overwood.desk import fire as desk
from overwood.ground import tables
from overwood.ground.errors import BadRule, Misuse
from overwood.ground.figure import Figure
from overwood.ground.records import Fuel, Operation, Point, Seedling, Visit
from overwood.ground.weather import Weather
from overwood.judgement import prices
from overwood.judgement.evidence import all_figures
from overwood.judgement.fire import card, day_by_day, days, gates, harm, pool
from overwood.judgement.gates.windows import season
from overwood.judgement.rules import load
from overwood.science.fire import moisture, trees
from records import cruise

RULES = load()
SITE = days.Site(10, 0, 0.17)
PRICES = prices.load(ROOT / "demo" / "prices.toml")
OAKS = [(str(n % 5 + 1), 802 if n % 2 else 833, 12.0 + n / 4, {"crown_class": "codominant", "grade": "2", "logs": 2.0}) for n in range(40)]


def weather(hours=None, **more):
    """A winter in which every hour fits the card."""
    hours = np.arange("2024-01-01", "2024-04-01", dtype="datetime64[h]") if hours is None else hours
    n = len(hours)
    fit = {
        "temp_f": np.full(n, 50.0), "rh_pct": np.full(n, 40.0), "wind_mi_h": np.full(n, 9.0), "gust_mi_h": np.full(n, np.nan),
        "wind_from_deg": np.full(n, 180.0), "rain_in": np.zeros(n), "mixing_ft": np.full(n, np.nan), "transport_mi_h": np.full(n, np.nan), "wet": np.zeros(n, dtype=bool),
    } | more  # fmt: skip
    if "rain_in" not in more:
        # A tenth of an inch every fourth midnight keeps days since rain between 0 and 4.
        fit["rain_in"] = np.where(np.arange(n) % 96 == 0, 0.1, 0.0)
    return Weather(hours, composite=False, file="w", notes=(), **fit)


def found(record, law=None, fuel="FM9", rules=RULES, site=SITE):
    return days.burn_days(record, site, fuel, rules, law or card.Law())


def test_days_that_fit_are_days_since_rain_two_to_four():
    seasons = found(weather()).seasons

    # From the second day after a wet midnight to the next one: two days of every four, 1 Feb to 15 Mar, 44 days of a leap year.
    assert [s.year for s in seasons] == [2024]
    assert len(seasons[0].days) == 22
    day = seasons[0].days[0]
    assert (day.first_hour, day.last_hour, day.hours) == (10, 16, 7)
    assert 0.5 <= day.head_flame_ft[0] <= day.head_flame_ft[1] <= 2
    # Flame to intensity by Byram 1959, scorch by Van Wagner 1973 as in Albini 1976, both from memory; 50 F and a steady wind all day.
    for flame_ft, scorch_ft in zip(day.head_flame_ft, day.head_scorch_ft, strict=True):
        intensity = (flame_ft / 0.45) ** (1 / 0.46)
        wind = 9.0 * SITE.wind_factor
        assert scorch_ft == pytest.approx(63 / (140 - 50) * intensity ** (7 / 6) / (intensity + wind**3) ** 0.5, rel=1e-3)


def test_every_day_of_the_window_is_a_burn_day_or_says_what_kept_it_out():
    dry, damp = found(weather()), found(weather(rh_pct=np.where(np.arange(91 * 24) % 24 < 13, 52.0, 40.0)))
    blown = found(weather(wind_mi_h=np.where(np.arange(91 * 24) < 40 * 24, 20.0, np.nan)))
    every = day_by_day.window_days(dry)

    # 1 Feb to 15 Mar of a leap year; what are burn days here are burn days there.
    assert len(every) == 44 and {one.day for one in every if one.state == "burn"} == {day.day for day in dry.seasons[0].days}
    assert {one.reasons[0][0] for one in every if one.state != "burn"} == {"days since rain"}
    # Damp until noon: of 7 hours from 10 to 16 three are too damp.
    short = {one.day: one for one in day_by_day.window_days(damp)}
    assert all(dict(one.reasons)["humidity"] == 3 for one in short.values() if one.state in ("short", "out"))
    # Wind over its limit shuts every hour of a day, and a day without wind is not known.
    windy = {one.day: (one.state, dict(one.reasons).get("wind at 20 ft")) for one in day_by_day.window_days(blown)}
    assert windy[dt.date(2024, 2, 1)] == ("out", 7) and windy[dt.date(2024, 3, 1)] == ("unknown", None)


@pytest.mark.parametrize(
    ("change", "line"),
    [
        ({"temp_f": 33.0}, "air temperature"),
        ({"rh_pct": 52.0}, "humidity"),
        ({"wind_mi_h": 20.0}, "wind at 20 ft"),
        ({"gust_mi_h": 25.0}, "wind at 20 ft"),
    ],
)
def test_a_line_that_fails_leaves_no_day_and_is_named(change, line):
    n = len(weather().hour)
    result = found(weather(**{name: np.full(n, value) for name, value in change.items()}))

    assert result.mean_days == 0
    assert result.lost_to[line] > 100 or line == "humidity"


def test_below_the_floor_of_humidity_no_hour_stands_even_if_the_card_is_widened():
    wide = RULES.with_value("burn_rh_low_pct", 21)
    n = len(weather().hour)

    assert found(weather(rh_pct=np.full(n, 24.0)), rules=wide).seasons[0].hours_inside == 0
    assert found(weather(rh_pct=np.full(n, 26.0)), rules=wide.with_value("burn_moisture_1h_low_pct", 6)).seasons[0].hours_inside > 0


def test_the_fuel_model_matters_more_than_the_hour():
    assert found(weather(), fuel="FM9").mean_days > 20
    assert found(weather(), fuel="TL2").mean_days == 0


def test_a_gap_is_no_burn_hour():
    n = len(weather().hour)
    temp = np.where(np.arange(n) < n // 2, np.nan, 50.0)
    result = found(weather(temp_f=temp))

    assert result.seasons[0].hours_known < result.seasons[0].hours_in_window
    assert 0 < len(result.seasons[0].days) < 22


def test_rain_that_is_not_known_shuts_nothing_and_is_told():
    n = len(weather().hour)
    record = weather(rain_in=np.full(n, np.nan))

    assert not days.dryness(record, RULES).rain_known
    assert found(record).mean_days == 44


def test_each_year_has_its_own_season():
    hours = np.arange("2022-12-01", "2024-04-01", dtype="datetime64[h]")
    result = found(weather(hours))

    assert [s.year for s in result.seasons] == [2023, 2024]
    assert [s.hours_in_window for s in result.seasons] == [43 * 7, 44 * 7]
    assert min(result.counts) >= 20


@settings(deadline=None, max_examples=60)
@given(st.lists(st.booleans(), min_size=1, max_size=60))
def test_hours_since_counts_from_the_last_mark(marks):
    since = days.hours_since(np.array(marks))
    for place, value in enumerate(since):
        earlier = [n for n in range(place + 1) if marks[n]]
        assert np.isnan(value) if not earlier else value == place - earlier[-1]


LAW = """
filled_by = "forester"
filled_on = "2026-01-10"
asked = "state office"
permit = "none needed"
[[closed]]
from = "02-15"
to = "04-30"
first_hour = 6
last_hour = 17
why = "daytime ban"
"""


def law_of(tmp_path, text):
    (tmp_path / "law.toml").write_text(text, encoding="utf-8")
    return card.load_law(tmp_path / "law.toml")


def test_an_empty_law_is_loud_and_a_filled_one_closes_hours(tmp_path):
    assert card.Law().words == card.UNFILLED
    law = law_of(tmp_path, LAW)

    assert law.filled
    assert "daytime ban" in law.words and "Ask again" in law.words
    shut = found(weather(), law)
    assert len(shut.seasons[0].days) < 22
    assert all(day.day < dt.date(2024, 2, 15) for day in shut.seasons[0].days)
    assert shut.lost_to["law"] > 0


def test_closed_hours_may_pass_midnight_and_the_turn_of_the_year(tmp_path):
    law = law_of(tmp_path, LAW.replace("first_hour = 6", "first_hour = 20").replace("last_hour = 17", "last_hour = 5"))
    day = dt.date(2026, 3, 1)

    assert [hour for hour in range(24) if not law.allows(day, hour)] == [0, 1, 2, 3, 4, 5, 20, 21, 22, 23]
    assert all(law.allows(dt.date(2026, 6, 1), hour) for hour in range(24))


def test_the_template_of_the_law_is_empty_and_loud(tmp_path):
    card.write_law_template(tmp_path / "new.toml")
    assert not card.load_law(tmp_path / "new.toml").filled


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (LAW.replace("02-15", "02-35"), "closed block 1: from is '02-35'"),
        (LAW.replace("first_hour = 6", "first_hour = 26"), "first_hour is 26"),
        (LAW.replace("last_hour = 17", ""), "last_hour is None"),
        (LAW.replace("[[closed]]", "[[close]]"), "line 6: there is no entry 'close' here"),
        (LAW.replace("last_hour = 17", "last_hours = 17"), "there is no entry 'last_hours' here"),
        (LAW.replace("permit =", "permitt ="), "there is no entry 'permitt' here"),
        ("filled_by = ", "not readable TOML"),
    ],
)
def test_a_law_that_cannot_be_used_says_where(tmp_path, text, words):
    with pytest.raises(BadRule, match=words):
        law_of(tmp_path, text)
    with pytest.raises(BadRule, match="cannot be read"):
        card.load_law(tmp_path / "none.toml")


def gate_of(file, name, planned=dt.date(2026, 2, 10), on=dt.date(2025, 10, 15)):
    made = gates.burn_gates(file, all_figures(file, RULES, on), RULES, on, planned)
    return next(gate for gate in made.gates if gate.name == name), made


def test_a_growing_season_burn_in_valuable_timber_is_refused_unless_overridden():
    file = cruise(OAKS)
    assert gate_of(file, "dormant season")[0].answer == "yes"

    gate, made = gate_of(file, "dormant season", planned=dt.date(2026, 7, 15))
    assert gate.answer == "no" and "July and August" in gate.why
    assert made.refused
    assert not dataclasses.replace(made, override="research plot").refused


def test_a_growing_season_burn_in_poles_is_doubted_only():
    poles = [(str(n % 5 + 1), 802, 6.0, {"crown_class": "codominant"}) for n in range(30)]
    assert gate_of(cruise(poles), "dormant season", planned=dt.date(2026, 7, 15))[0].answer == "unsure"


def test_germinants_at_the_last_count_shut_the_gate():
    file = cruise(OAKS)
    day = Visit(visit="r", stand="A", kind="reproduction", visited_on=dt.date(2025, 8, 1))
    line = Seedling(visit="r", point="1", line="1", species=802, height_class="<0.5", stems=9, origin="germinant")
    young = dataclasses.replace(file, visits=(*file.visits, day), points=(*file.points, Point(visit="r", point="1")), seedlings=(line,))

    gate, made = gate_of(young, "burn safe")

    assert gate.answer == "no" and "9 oak germinants" in gate.why and "2028" in str(gate.settle)
    assert made.refused


@pytest.mark.parametrize(("debris", "state"), [(0, "yes"), (1, "yes"), (3, "unsure")])
def test_fuel_at_the_foot_of_leave_trees_warns(debris, state):
    file = cruise(OAKS)
    day = Visit(visit="f", stand="A", kind="fuel", visited_on=dt.date(2025, 9, 1))
    row = Fuel(visit="f", point="1", leave_trees=10, leave_trees_with_debris=debris)

    assert gate_of(dataclasses.replace(file, visits=(*file.visits, day), fuels=(row,)), "foot clear")[0].answer == state
    assert gate_of(file, "foot clear")[0].answer == "not looked at"
    old = dataclasses.replace(day, visited_on=dt.date(2023, 9, 1))
    assert gate_of(dataclasses.replace(file, visits=(*file.visits, old), fuels=(row,)), "foot clear")[0].answer == "too old"


@pytest.mark.parametrize(
    ("kind", "gate", "words"), [("injection", "snags down", "burn as torches"), ("seed cut", "before the harvest", "release burn")]
)
def test_work_done_before_is_weighed(kind, gate, words):
    work = Operation(operation="o", stand="A", kind=kind, state="done", started_on=dt.date(2024, 1, 10))
    file = dataclasses.replace(cruise(OAKS), operations=(work,))

    assert gate_of(cruise(OAKS), gate)[0].answer == "yes"
    found_gate = gate_of(file, gate)[0]
    assert found_gate.answer == "unsure" and words in found_gate.why


def harmed(listed=PRICES, years=5.0, rules=RULES):
    return harm.harm(cruise(OAKS), rules, listed, years)


def loss(result, technique="head", debris="cleared"):
    return next(x for x in result.losses if (x.technique, x.debris) == (technique, debris))


def test_loss_grows_with_time_at_the_stem_debris_and_years():
    now = harmed()
    minutes = RULES["burn_debris_min_per_tree"]
    assert now.debris_hours_ac[0] == pytest.approx(now.debris_trees_ac * minutes.low / 60)
    assert now.debris_hours_ac[-1] == pytest.approx(now.debris_trees_ac * minutes.high / 60)

    backing, head, slash = (loss(now, *which).value_usd_ac[1] for which in (("backing",), ("head",), ("head", "at the foot")))
    assert head < backing < slash
    assert loss(harmed(years=20.0)).value_usd_ac[1] > head
    for each in now.losses:
        for three in (each.wounded_share, each.dead_trees_ac, each.boards_bf_ac, each.value_usd_ac):
            assert three[0] <= three[1] <= three[2]
        assert 0 <= each.wounded_share[2] <= 1


def test_the_published_share_stands_beside_it_and_a_wide_gap_is_said():
    # Mann et al. 2020: 1.5 % of value a burn; on 3,000 US$/ac that is 45.
    assert harm._published(3000.0, south=False)[1] == pytest.approx(45)
    assert harm._published(3000.0, south=True)[1] == pytest.approx(90)
    wild = RULES.with_value("burn_death_large", 0.1).with_value("burn_heating_head_min", 2.0)
    far = harmed(rules=wild, years=30.0)
    times = loss(far).value_usd_ac[1] / far.published_usd_ac[1]
    wide = RULES.number("burn_ways_apart")
    assert (times > wide or times < 1 / wide) == any("times apart" in note for note in far.notes)


def test_trees_that_lose_a_grade_are_as_many_as_published():
    # Saunders et al. 2023: 29.1 % wounded x 7.0 % of wounded = 2.04 % of trees.
    assert 100 * 0.291 * harm._percent("grade_lost_of_wounded", "value") == pytest.approx(2.04, abs=0.01)


def test_without_prices_the_loss_is_in_boards():
    found_harm = harmed(None)
    assert found_harm.value_usd_ac is None and found_harm.published_usd_ac is None
    assert any("no price list is named" in note for note in found_harm.notes)
    assert loss(found_harm).boards_bf_ac[1] > 0


@pytest.mark.parametrize(("years", "part"), [(1, 0.2), (5, 0.2), (12, 1.0), (30, 1.0)])
def test_decay_comes_with_the_years(years, part):
    assert harm.decay(RULES, 1, years) == pytest.approx(part)


def test_thick_bark_is_wounded_least():
    dbh, bark = np.array([6.0, 6.0, 20.0]), np.array([0.1, 0.3, 0.7])
    wound, death = harm.chances(dbh, bark, "head", "cleared", RULES)

    assert wound[0] > wound[1] > wound[2] >= 0.10 * 0.85 - 1e-12
    assert (death <= wound).all()


def test_the_floor_after_fire_keeps_oak_best_and_falls_with_every_burn(demo_book):
    result = desk.burn("S1", answers.question(DEMO_DAY), weather=None).pool

    for group in result.groups:
        likely = [group.after_ac[burns][1] for burns in pool.BURNS]
        assert group.now_ac >= likely[0] >= likely[1] >= likely[2] >= 0
        assert all(three[0] <= three[1] <= three[2] for three in group.after_ac.values())
    assert {group.size for group in result.groups} == {"under 3 ft", "3 ft or taller"}
    assert result.season == "dormant season"
    assert {row["status"] for row in result.published} == {"published"}
    shares = [result.oak_share_now, *result.oak_share_after.values()]
    assert shares == sorted(shares)
    assert "prepares" in result.honest


def test_stems_under_3_ft_are_counted_under_their_own_words():
    heights = {label: Figure(name=label, value=stems) for label, stems in (("<0.5", 1.0), ("0.5-1", 2.0), ("1-3", 4.0), ("3-4.5", 8.0))}

    groups = [pool._group("oak", size, heights, RULES, False) for size in ("small", "large")]

    assert [(group.size, group.now_ac) for group in groups] == [("under 3 ft", 7.0), ("3 ft or taller", 8.0)]


def test_a_growing_season_burn_is_harder_on_competitors_alone(demo_book):
    winter, summer = (
        desk.burn("S1", answers.question(DEMO_DAY), weather=None, planned_on=day).pool
        for day in (dt.date(2026, 2, 10), dt.date(2026, 6, 10))
    )

    assert summer.season == "growing season"
    for before, after in zip(winter.groups, summer.groups, strict=True):
        if before.group == "oak":
            assert after.after_ac == before.after_ac
        else:
            assert after.after_ac[1][1] < before.after_ac[1][1]


def test_published_deaths_by_char_stand_beside_the_wounds():
    rows = {(stem.species, stem.dbh_in): stem for stem in harmed().stems}

    assert rows["white oak", 8].dead_2yr == pytest.approx(float(trees.mortality_by_char(802, 8, 1.0)))
    assert rows["northern red oak", 8].dead_2yr is None
    assert rows["white oak", 4].kill_min < rows["white oak", 18].kill_min


def test_ways_to_fuel_moisture_stand_side_by_side():
    ways = found(weather()).moistures_pct

    assert len(ways) == 4
    # Air of 50 F and 40 %: the equilibrium itself (Simard 1968).
    assert ways["equilibrium of the air, fine fuel"] == pytest.approx(float(moisture.equilibrium_pct(50, 40)), abs=0.01)


def test_survival_falls_within_what_was_published():
    # Alexander et al. 2008: after one spring burn 50 of 70 white oaks (0.71) and 40 of 80 red maples (0.50), five years on.
    oak, maple = (pool.survival(f"burn_rootstock_small_{kind}", RULES) for kind in ("oak", "maple"))
    assert oak > maple
    ends = [pool.survival("burn_rootstock_small_oak", RULES, end) for end in (2, 0)]
    assert ends[0] <= 0.71 <= ends[1]
    assert pool.survival("burn_rootstock_small_maple", RULES, 2) <= 0.60


def test_a_burn_of_the_demo_has_three_fuels_the_seen_ones_first(demo_book):
    result = desk.burn("S7", answers.question(DEMO_DAY), weather=desk.read_weather(ROOT / "demo" / "weather.csv"), fuels=["9", "TL6"])

    # Gusts stand in a fifth of the file's hours; the other two in none.
    assert "fuel model 9 is read as FM9: bare numbers are those of the first 13" in result.notes
    (lacks,) = (note for note in result.notes if "not judged" in note and "weather.csv" not in note)
    assert re.fullmatch(
        r"not in this file, so not judged: gusts \(after \d of \d+ days\), mixing height, transport wind; ask the forecast", lacks
    )
    assert set(result.fuels) == {"FM9", "TL6", "TL2"}
    assert [len(block.seasons) for block in result.days] == [3, 3, 3]
    backing, flanking, head = result.days[0].behaviour
    assert backing.spread_ch_h < flanking.spread_ch_h < head.spread_ch_h
    assert backing.spread_high_ch_h > backing.spread_ch_h


def test_an_unknown_fuel_is_refused(demo_book):
    with pytest.raises(Misuse, match="no fuel model 'FM99'"):
        desk.burn("S1", answers.question(DEMO_DAY), weather=None, fuels=["FM99"])


def test_the_window_of_the_trade_is_february_to_mid_march():
    window = season(RULES, "window_burn", 2026)
    assert (window.start, window.end) == (dt.date(2026, 2, 1), dt.date(2026, 3, 15))


def test_hours_go_out_as_a_calendar(demo_book, tmp_path):
    from icalendar import Calendar

    result = desk.burn("S7", answers.question(DEMO_DAY), weather=desk.read_weather(ROOT / "demo" / "weather.csv"))

    count = desk.write_hours(result, tmp_path / "b.ics", DEMO_DAY)

    events = Calendar.from_ical((tmp_path / "b.ics").read_bytes()).walk("VEVENT")
    days_inside = [day for block in result.days[:1] for season_ in block.seasons for day in season_.days]
    assert count == len(events) == len(days_inside) > 0
    first = days_inside[0]
    assert events[0]["DTSTART"].dt == dt.datetime.combine(first.day, dt.time(first.first_hour))
    assert events[0]["DTEND"].dt == dt.datetime.combine(first.day, dt.time(first.last_hour + 1))
    assert "NOT FILLED IN" in events[0]["DESCRIPTION"]


def _at(hour, value, base):
    """A value of one hour of the made-up winter, the base at every other."""
    hours = np.arange("2024-01-01", "2024-04-01", dtype="datetime64[h]")
    return np.where(hours == np.datetime64(hour), value, base)


@pytest.mark.parametrize(("name", "value", "why"), [("wind_mi_h", 16.0, "wind"), ("gust_mi_h", 22.0, "gusts")])
def test_a_day_whose_evening_blows_is_no_burn_day(name, value, why):
    base = 9.0 if name == "wind_mi_h" else 12.0
    calm, blown = found(weather()), found(weather(**{name: _at("2024-02-20T21", value, base)}))
    lost = [day for season in blown.seasons for day in season.broken]

    assert [day.day for day in lost] == [dt.date(2024, 2, 20)]
    assert lost[0].after.breaks == (why,)
    assert sum(blown.counts) == sum(calm.counts) - 1


def test_the_day_after_is_told_and_what_the_file_does_not_say_is_asked_of_the_forecast():
    told = found(weather(wind_from_deg=_at("2024-02-21T15", 270.0, 180.0), rh_pct=_at("2024-02-21T15", 19.0, 40.0)))
    day = next(day for season in told.seasons for day in season.days if day.day == dt.date(2024, 2, 20))

    assert day.after.shift_most_deg == pytest.approx(90)
    assert day.after.rh_least_pct == 19
    assert day.after.unknown == ("gusts", "mixing height", "transport wind")
    assert "ask the forecast: gusts, mixing height, transport wind" in day.after.words


def test_mixing_height_and_transport_wind_are_those_of_the_burn_itself():
    told = found(weather(mixing_ft=_at("2024-02-20T13", 900.0, 3000.0), transport_mi_h=_at("2024-02-20T23", 2.0, 12.0)))
    day = next(day for season in told.seasons for day in season.days if day.day == dt.date(2024, 2, 20))

    assert (day.after.mixing_least_ft, day.after.transport_least_mi_h) == (900, 12)
    assert day.after.unknown == ("gusts",)


def test_a_dead_tree_is_lost_once_and_a_wounded_one_by_its_grade_and_its_catface():
    # Worked by hand: 0.1 die, 0.2 more are wounded and lose the grade step and 5 % of volume, the decay complete.
    wound, death, share = np.array([0.3]), np.array([0.1]), np.array([0.05])
    grade = 0.07 * RULES.number("burn_grade_step_share")

    lost = harm._lost_share(wound, death, share, RULES, 1, RULES.number("burn_decay_full_yr"))

    assert lost[0] == pytest.approx(0.1 + 0.2 * (grade + 0.05))


def test_a_catface_takes_its_published_boards_as_often_as_wounds_are_catfaces():
    rows = {row["name"]: float(row["value"]) for row in tables.rows(harm.LOSS)}

    share = harm._volume_share(np.array([0.0, 100.0]))

    assert share.tolist() == pytest.approx([0.0, rows["catface_bf"] * rows["catface_share"] / 100 / 100])
