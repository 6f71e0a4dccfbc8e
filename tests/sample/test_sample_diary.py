"""The invented weather and work: possible, usual, and without anything that a careful manager would not do."""

from __future__ import annotations

import datetime as dt
import itertools
from typing import Any

import numpy as np

from vinemap.vineclock.pressure import pressure
from vinemap.vineclock.weather import Weather

DAY = dt.timedelta(days=1)


def column(lines: list[dict[str, str]], name: str) -> np.ndarray:
    return np.array([float(line[name]) for line in lines])


def spray_times(estate: Any) -> list[tuple[dt.datetime, dt.datetime, dict[str, str]]]:
    return [
        (dt.datetime.fromisoformat(line["start"]), dt.datetime.fromisoformat(line["end"]), line)
        for line in estate.table("sprays.csv")
    ]


def test_weather_is_hourly_without_gaps(estate: Any) -> None:
    times = [dt.datetime.fromisoformat(line["time"]) for line in estate.table("weather.csv")]
    assert times[0].hour == 0
    assert times[-1].hour == 23
    assert {later - sooner for sooner, later in itertools.pairwise(times)} == {dt.timedelta(hours=1)}
    assert times[0].date() < dt.date.fromisoformat(estate.page["budbreak"])
    assert times[-1].date() >= dt.date.fromisoformat(estate.rounds[-1][0]["date"])


def test_marlquill_has_the_weather_of_a_mediterranean_coast(marlquill: Any) -> None:
    lines = marlquill.table("weather.csv")
    month = np.array([int(line["time"][5:7]) for line in lines])[::24]
    temp = column(lines, "temp_c").reshape(-1, 24)
    summer = (month >= 6) & (month <= 8)
    assert 10 < np.median(temp.min(axis=1)[summer]) < 14
    assert 26 < np.median(temp.max(axis=1)[summer]) < 32
    hot = temp.max(axis=1) > 35
    spells = int((np.diff(hot.astype(int), prepend=0) == 1).sum())
    assert 3 <= spells <= 6
    rain = column(lines, "rain_mm").reshape(-1, 24).sum(axis=1)
    assert rain[(month == 4) | (month == 5)].sum() > 50
    assert rain[month >= 7].sum() == 0


def test_index_is_low_in_april_high_at_bloom_and_falls_in_fog_and_heat(marlquill: Any) -> None:
    lines = marlquill.table("weather.csv")
    offset = dt.timedelta(hours=marlquill.page["time_offset_hours"])
    times = [dt.datetime.fromisoformat(line["time"]).replace(tzinfo=dt.UTC) - offset for line in lines]
    unknown = np.full(len(lines), np.nan)
    weather = Weather(
        "mast",
        marlquill.page["time_offset_hours"],
        np.array([int(time.timestamp()) for time in times]),
        column(lines, "temp_c"),
        *[unknown] * 5,
    )
    found = pressure(weather, dt.date.fromisoformat(marlquill.page["budbreak"]))
    index = {dt.date.fromordinal(int(day)): int(value) for day, value in zip(found.date, found.index, strict=True)}
    highest = dict(zip(index, column(lines, "temp_c").reshape(-1, 24).max(axis=1), strict=True))
    bloom = dt.date.fromisoformat(marlquill.page["bloom"])
    assert max(value for day, value in index.items() if day.month == 4) <= 30
    assert min(index[bloom + ahead * DAY] for ahead in range(-3, 4)) >= 80
    season = {day: value for day, value in index.items() if day.month >= 5}
    assert 0.25 < np.mean([value == 100 for value in season.values()]) < 0.5
    for month in (5, 6, 7, 8):
        values = [value for day, value in season.items() if day.month == month]
        assert min(values) <= 60
        assert max(values) == 100
    fog = [day for day in season if highest[day] < 20.5]
    heat = [day for day in season if highest[day] >= 35]
    assert len(fog) >= 15
    assert len(heat) >= 12
    assert all(index[day] <= index[day - DAY] for day in fog + heat)


def test_weather_figures_are_possible(estate: Any) -> None:
    lines = estate.table("weather.csv")
    for name, least, most in (("rh_frac", 0, 1), ("wet_frac", 0, 1), ("wind_from_deg", 0, 359), ("wind_ms", 0, 15)):
        values = column(lines, name)
        assert values.min() >= least, name
        assert values.max() <= most, name
    assert (column(lines, "wet_frac")[column(lines, "rain_mm") > 0] == 1).all()


def test_afternoon_wind_comes_from_the_sea(marlquill: Any) -> None:
    lines = [line for line in marlquill.table("weather.csv") if line["time"][11:13] in ("14", "15", "16", "17")]
    towards = np.exp(1j * np.radians(column(lines, "wind_from_deg")))
    mean = (column(lines, "wind_ms") * towards).mean()
    # West-north-west is 292.5 degrees.
    assert abs(np.degrees(np.angle(mean)) % 360 - 292.5) < 8
    assert column(lines, "wind_ms").mean() > 2.3


def test_one_sprayer_is_at_one_place_at_a_time(estate: Any) -> None:
    times = sorted((start, end) for start, end, _ in spray_times(estate))
    assert all(start < end for start, end in times)
    assert all(end <= later for (_, end), (later, _) in itertools.pairwise(times))


def test_nobody_walks_into_a_block_within_a_day_of_its_spray(estate: Any) -> None:
    entries = [(line["block"], dt.date.fromisoformat(line["date"])) for line in estate.table("passes.csv")]
    entries += [(stop["block"], dt.date.fromisoformat(stop["date"])) for stops in estate.rounds for stop in stops]
    for start, end, line in spray_times(estate):
        for block, date in entries:
            if block == line["block"]:
                morning = dt.datetime.combine(date, dt.time(6))
                evening = dt.datetime.combine(date, dt.time(18))
                # 24 hours is the longest usual re-entry for these materials; the label rules.
                assert evening < start or morning >= end + dt.timedelta(hours=10), (block, date, start)
                assert date != start.date(), (block, date)


def test_sulfur_is_kept_from_hot_days(estate: Any) -> None:
    highest: dict[str, float] = {}
    for line in estate.table("weather.csv"):
        day = line["time"][:10]
        highest[day] = max(highest.get(day, -99.0), float(line["temp_c"]))
    for start, _, line in spray_times(estate):
        if "sulfur" in line["materials"]:
            # Common practice: not when the day or the next two reach 32 degrees.
            days = [(start.date() + ahead * DAY).isoformat() for ahead in range(3)]
            assert max(highest[day] for day in days) < 32, days


def test_no_chemical_group_is_used_more_than_twice_and_none_near_harvest(estate: Any) -> None:
    groups = {"tebuconazole": "3", "penconazole": "3", "quinoxyfen": "13", "metrafenone": "50"}
    uses: dict[tuple[str, str], int] = {}
    harvest = dt.date.fromisoformat(estate.page["harvest"])
    for start, _, line in spray_times(estate):
        assert line["materials"] in {*groups, "sulfur", "potassium bicarbonate"}
        assert (harvest - start.date()).days >= 45
        assert 0 < float(line["rate_kg_per_ha"]) <= 6
        assert 400 <= float(line["water_l_per_ha"]) <= 1000
        if line["materials"] in groups:
            key = (line["block"], groups[line["materials"]])
            uses[key] = uses.get(key, 0) + 1
    assert max(uses.values()) <= 2


def test_work_names_blocks_rows_and_faces_that_exist(estate: Any) -> None:
    faces = {"both", "north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"}
    for line in estate.table("passes.csv") + estate.table("sprays.csv"):
        labels = set(estate.blocks[line["block"]].rows.labels)
        for part in filter(None, line["rows"].split(";")):
            first, _, last = part.partition("-")
            between = {str(number) for number in range(int(first), int(last or first) + 1)}
            assert between <= labels
            # "3-5" leaves open whether row 4a belongs to it, so no range here runs past such a row.
            assert not {label for label in labels if label.rstrip("abc") in between and label not in between}
    for line in estate.table("passes.csv"):
        assert line["face"] in faces
        assert line["kind"] in "LFDRTCV"


def test_hours_of_passes_come_to_usual_minutes_a_vine(estate: Any) -> None:
    for line in estate.table("passes.csv"):
        vines = estate.vines[line["block"]]
        labels = estate.blocks[line["block"]].rows.labels
        first, _, last = line["rows"].partition("-")
        wanted = {str(number) for number in range(int(first), int(last) + 1)} if first else set(labels)
        count = int((vines.is_living & np.array([labels[row] in wanted for row in vines.row])).sum())
        minutes = float(line["hours"]) * int(line["people"]) * 60 / count
        # 0.4 to 2.5 minutes a vine (common practice), over a productive share of 0.8.
        assert 0.4 < minutes < 2.5 / 0.8, line


def test_some_blocks_were_opened_early(marlquill: Any) -> None:
    bloom = dt.date.fromisoformat(marlquill.page["bloom"])
    early = {
        line["block"]
        for line in marlquill.table("passes.csv")
        if line["kind"] in "LFDR" and 0 <= (dt.date.fromisoformat(line["date"]) - bloom).days <= 21
    }
    assert {"Peña Alta", "Dogleg", "Pumphouse Piece"} <= early
    assert "Crookbeam" not in early
