"""Weather files: what is repaired with a note, and what is refused with a reason."""

from __future__ import annotations

import numpy as np
import pytest

from overwood.ground.errors import Misuse, NotFound
from overwood.memory.exchange import weather

HOURS = np.arange("2024-01-25", "2024-03-25", dtype="datetime64[h]")


def rows(hours=HOURS, temp=None, **more):
    """A plain winter: coldest at five, warmest at three in the afternoon."""
    clock = (hours - hours.astype("datetime64[D]")).astype(int)
    table = {
        "time": [str(hour).replace("T", " ") + ":00" for hour in hours],
        "temp_f": 45 + 12 * np.cos((clock - 15) * 2 * np.pi / 24) if temp is None else temp,
        "rh": np.full(len(hours), 40.0),
        "wind_mph": np.full(len(hours), 8.0),
        "rain_in": np.where(np.arange(len(hours)) % 120 < 3, 0.1, 0.0),
    } | more
    return {name: values for name, values in table.items() if values is not None}


def read(tmp_path, table, **how):
    file = tmp_path / "w.csv"
    names = list(table)
    lines = [",".join(names)] + [",".join("" if v is None or v != v else str(v) for v in row) for row in zip(*table.values(), strict=True)]
    file.write_text("\n".join(lines), encoding="utf-8")
    return weather.read(file, weather.Reading(**how))


def said(found, words):
    return any(words in note for note in found.notes)


def test_a_plain_file_is_taken_as_it_is(tmp_path):
    found = read(tmp_path, rows())

    assert len(found.hour) == len(HOURS)
    assert found.temp_f.max() == pytest.approx(57)
    assert found.wind_mi_h[0] == pytest.approx(8 / 1.15)
    assert found.rain_in.sum() == pytest.approx(0.1 * 3 * len(HOURS) / 120)
    assert found.wet.sum() == (found.rain_in > 0).sum()


@pytest.mark.parametrize(
    ("column", "unit", "of_plain"),
    [("temp_c", None, lambda t: (t["temp_f"] - 32) / 1.8), ("temp", "F", lambda t: t["temp_f"]), ("tmpf", None, lambda t: t["temp_f"])],
)
def test_temperature_is_read_in_its_unit(tmp_path, column, unit, of_plain):
    plain = rows()
    table = rows(temp_f=None) | {column: of_plain(plain)}

    found = read(tmp_path, table, units={"temp": unit} if unit else {})

    np.testing.assert_allclose(found.temp_f, plain["temp_f"])


def test_knots_and_metres_a_second_are_turned_with_a_note(tmp_path):
    knots = read(tmp_path, rows(wind_mph=None, sknt=np.full(len(HOURS), 10.0)), wind_height="20ft")
    metres = read(tmp_path, rows(wind_mph=None, **{"wind (m/s)": np.full(len(HOURS), 4.0)}), wind_height="20ft")

    assert knots.wind_mi_h[0] == pytest.approx(11.50779)
    assert said(knots, "knots")
    assert metres.wind_mi_h[0] == pytest.approx(8.9477, abs=1e-4)


def test_a_wrong_unit_is_refused(tmp_path):
    hot = rows(temp=100 + 30 * np.cos(np.arange(len(HOURS))))
    with pytest.raises(Misuse, match=r"cannot be, read as F.*--unit temp=C"):
        read(tmp_path, hot)
    with pytest.raises(Misuse, match="wind cannot be in 'furlongs'"):
        read(tmp_path, rows(), units={"wind": "furlongs"})


def test_humidity_over_100_is_trimmed_or_dropped(tmp_path):
    rh = np.full(len(HOURS), 40.0)
    rh[5], rh[50] = 103, 400

    found = read(tmp_path, rows(rh=rh))

    assert found.rh_pct[5] == 100
    assert found.rh_pct[50] == pytest.approx(40)
    assert said(found, "2 humidities over 100%: 1 trimmed to 100, 1 dropped")


def test_a_share_is_read_as_percent(tmp_path):
    assert read(tmp_path, rows(rh=np.full(len(HOURS), 0.4))).rh_pct[0] == pytest.approx(40)


def test_humidity_comes_from_the_dew_point_where_there_is_none(tmp_path):
    found = read(tmp_path, rows(rh=None, dew_f=np.full(len(HOURS), 30.0)))

    assert said(found, "computed from the dew point")
    assert 20 < found.rh_pct.min() < found.rh_pct.max() <= 100


def test_short_gaps_are_bridged_and_long_ones_stay(tmp_path):
    table = rows()
    keep = np.ones(len(HOURS), dtype=bool)
    keep[100:102] = keep[300:320] = False

    found = read(tmp_path, {name: np.array(values)[keep] for name, values in table.items()})

    assert len(found.hour) == len(HOURS)
    assert not np.isnan(found.temp_f[100:102]).any()
    assert np.isnan(found.temp_f[300:320]).all()
    assert said(found, "22 hours are missing")


def test_an_hour_twice_counts_once(tmp_path):
    table = {name: np.concatenate((np.array(values), np.array(values)[40:41])) for name, values in rows().items()}

    found = read(tmp_path, table)

    assert len(found.hour) == len(HOURS)
    assert said(found, "1 hours stand twice")


def test_universal_time_needs_the_zone_and_is_turned(tmp_path):
    table = rows()
    utc = [str(hour + np.timedelta64(5, "h")).replace("T", " ") + ":00Z" for hour in HOURS]

    with pytest.raises(Misuse, match="--zone -5"):
        read(tmp_path, table | {"time": utc})
    found = read(tmp_path, table | {"time": utc}, zone_h=-5.0)

    assert found.hour[0] == HOURS[0]
    assert said(found, "turned to local standard time, -5 h")


def test_a_clock_that_is_warmest_at_night_is_refused(tmp_path):
    shifted = [str(hour + np.timedelta64(8, "h")).replace("T", " ") + ":00" for hour in HOURS]

    with pytest.raises(Misuse, match="warmest at 23:00"):
        read(tmp_path, rows() | {"time": shifted})
    assert len(read(tmp_path, rows() | {"time": shifted}, clock="local").hour) == len(HOURS)


def test_leap_days_are_kept_and_their_lack_is_said(tmp_path):
    days = HOURS.astype("datetime64[D]")
    assert (read(tmp_path, rows()).day == np.datetime64("2024-02-29")).sum() == 24

    keep = days != np.datetime64("2024-02-29")
    found = read(tmp_path, {name: np.array(values)[keep] for name, values in rows().items()})

    assert said(found, "without 29 February")
    assert np.isnan(found.temp_f[found.day == np.datetime64("2024-02-29")]).sum() >= 18


def test_rain_that_cannot_be_is_read_as_tenths(tmp_path):
    found = read(tmp_path, rows(rain_in=None, rain_mm=np.where(np.arange(len(HOURS)) % 40 < 3, 50.0, 0.0)))

    assert said(found, "cannot be: read as tenths of mm")
    assert found.rain_in.max() == pytest.approx(5 / 25.4)


def test_no_rain_column_is_said(tmp_path):
    found = read(tmp_path, rows(rain_in=None))

    assert np.isnan(found.rain_in).all()
    assert said(found, "days since rain are not known")


def test_an_impossible_wind_is_dropped_and_its_hour_bridged(tmp_path):
    wind = np.full(len(HOURS), 8.0)
    wind[77] = 1048

    found = read(tmp_path, rows(wind_mph=wind))

    assert found.wind_mi_h[77] == pytest.approx(8 / 1.15)
    assert said(found, "1 impossible winds dropped, the worst 1048")


@pytest.mark.parametrize(
    ("table", "how", "fault", "words"),
    [
        (rows(temp_f=None), {}, Misuse, "no column is known as temp.*--column temp="),
        (rows(rh=None), {}, Misuse, "neither humidity nor dew point"),
        (rows(time=None), {}, Misuse, "no column of times"),
        (rows() | {"station": ["A", "B"] * (len(HOURS) // 2)}, {}, Misuse, "holds 2 stations: A, B"),
        (rows() | {"station": ["A"] * len(HOURS)}, {"station": "Z"}, Misuse, "no station 'Z'"),
        (rows(), {"columns": {"gust": "blow"}}, Misuse, "no column 'blow'"),
        (rows() | {"time": ["soon"] * len(HOURS)}, {}, Misuse, "0 hours with a readable time"),
    ],
)
def test_a_file_that_cannot_be_read_says_what_to_do(tmp_path, table, how, fault, words):
    with pytest.raises(fault, match=words):
        read(tmp_path, table, **how)


def test_a_missing_file_is_named(tmp_path):
    with pytest.raises(NotFound, match="cannot be read"):
        weather.read(tmp_path / "none.csv", weather.Reading())


def test_words_in_a_column_are_counted(tmp_path):
    wind = [8.0] * len(HOURS)
    wind[9] = "calm"

    assert said(read(tmp_path, rows(wind_mph=wind)), "1 cells of wind are no numbers")


def test_columns_can_be_named_by_hand(tmp_path):
    table = rows(wind_mph=None) | {"blow": np.full(len(HOURS), 5.0)}

    found = read(tmp_path, table, columns={"wind": "blow"}, units={"wind": "m/s"}, wind_height="20ft")

    assert found.wind_mi_h[0] == pytest.approx(5 / 0.44704)


@pytest.mark.parametrize(("year", "words"), [("0203", "1 times lie outside 1850 to 2100, the first 0203-"), ("9998", "the first 9998-")])
def test_a_year_that_cannot_be_is_refused_and_named(tmp_path, year, words):
    table = rows()
    table["time"][700] = year + table["time"][700][4:]

    with pytest.raises(Misuse, match=words):
        read(tmp_path, table)


def test_a_gap_of_years_is_not_filled_hour_by_hour(tmp_path):
    table = rows()
    table["time"][700] = "1924" + table["time"][700][4:]

    with pytest.raises(Misuse, match="nothing lies between 1924-02-23T04 and 2024-01-25T00, which is 100 years"):
        read(tmp_path, table)


def test_one_season_a_year_is_no_gap_of_years(tmp_path):
    hours = np.concatenate([HOURS, HOURS + np.timedelta64(365 * 24, "h")])

    assert len(read(tmp_path, rows(hours)).hour) == 365 * 24 + len(HOURS)


@pytest.mark.parametrize("zone", ["-06:00", "-0600", " -06:00"])
@pytest.mark.parametrize("how", [{}, {"clock": "local"}])
def test_times_that_name_their_zone_are_read_by_it(tmp_path, zone, how):
    # ISO 8601: 13:00-06:00 is one in the afternoon on the spot, whatever it is elsewhere.
    plain = read(tmp_path, rows())
    zoned = [f"{hour!s}:00{zone}" for hour in HOURS]

    found = read(tmp_path, rows(time=zoned), **how)

    np.testing.assert_array_equal(found.hour, plain.hour)
    np.testing.assert_array_equal(found.temp_f, plain.temp_f)
    assert said(found, "local standard time, -6 h")


def test_summer_time_that_names_its_zone_becomes_standard_time(tmp_path):
    # In 2024 clocks of the United States went from 01:59 standard to 03:00 summer time on 10 March (15 U.S.C. 260a).
    change = np.datetime64("2024-03-10T02", "h")
    zoned = [f"{hour}:00-06:00" if hour < change else f"{hour + np.timedelta64(1, 'h')}:00-05:00" for hour in HOURS]

    found = read(tmp_path, rows(time=zoned))

    np.testing.assert_array_equal(found.hour, HOURS)


def test_a_file_that_names_the_zone_of_some_times_only_is_refused(tmp_path):
    zoned = [f"{hour}:00-06:00" for hour in HOURS]
    zoned[40] = f"{HOURS[40]}:00"

    with pytest.raises(Misuse, match="1 times name no zone while others do"):
        read(tmp_path, rows(time=zoned))


@pytest.mark.parametrize("word", ["now", "today", "2024", "20240215", "2024-02-15 230", "2024-02-15 13:00\0"])
def test_a_time_that_is_none_is_never_taken_for_one(tmp_path, word):
    times = [f"{hour}:00" for hour in HOURS]
    times[40] = word

    found = read(tmp_path, rows(time=times, temp_f=np.where(np.arange(len(HOURS)) == 40, 99.0, rows()["temp_f"])))

    assert found.temp_f.max() < 60


@pytest.mark.parametrize("zone", ["-6", "z", "+5:30"])
def test_a_zone_written_oddly_is_never_taken_off_without_a_word(tmp_path, zone):
    odd = [f"{hour}:00" for hour in HOURS]
    odd[40] += zone

    found = read(tmp_path, rows(time=odd, temp_f=np.where(np.arange(len(HOURS)) == 40, 99.0, rows()["temp_f"])))

    assert found.temp_f.max() < 60
