"""Files as stations write them, up to the words of pressure, stage, rot and wind. Estate and weather are invented."""

from __future__ import annotations

import csv
import datetime as dt
import json
import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from vinemap.cli import main
from vinemap.files.season_file import read_season
from vinemap.files.weather_reader import read_stations
from vinemap.files.weather_times import WeatherAsk
from vinemap.service.pressure_table import read_named_weather
from vinemap.vineclock.rot import Prone, explain_rot, has_bunches, rot_days
from vinemap.vineclock.weather import Weather

FIRST = dt.datetime(2026, 6, 1)
DAYS = 20
UTC_HEADS = ("Time (UTC)", "Datetime UTC", "time_utc", "Timestamp (GMT)", "valid_utc")
HOME = WeatherAsk(-8.0)


def moments(days: int = DAYS) -> list[dt.datetime]:
    return [FIRST + dt.timedelta(hours=hour) for hour in range(24 * days)]


def warmth_degc(moment: dt.datetime) -> float:
    """A sine by day, warmest at three; to a fifth of a degree, which is whole in tenths of Fahrenheit's too."""
    return round(5 * (20 + 8 * math.sin(2 * math.pi * (moment.hour - 9) / 24))) / 5


def rain_in(moment: dt.datetime) -> float:
    """A tenth of an inch before dawn, every third day."""
    return 0.1 if moment.hour == 5 and moment.day % 3 == 0 else 0.0


def save(path: Path, head: str, lines: list[str], encoding: str = "utf-8") -> Path:
    path.write_bytes("\n".join([head, *lines, ""]).encode(encoding))
    return path


def metric(folder: Path, days: int = DAYS) -> Path:
    lines = [f"{each:%Y-%m-%dT%H:%M},{warmth_degc(each):.1f},{25.4 * rain_in(each):.2f},5.0,225" for each in moments(days)]
    return save(folder / "hill.csv", "time,temp_c,rain_mm,wind_ms,wind_from_deg", lines)


def american(folder: Path) -> tuple[Path, str]:
    wind_mph = 5.0 / 0.44704
    lines = [
        f"{each:%m/%d/%y},{each:%I:%M %p},{warmth_degc(each) * 1.8 + 32:.2f},{rain_in(each):.2f},{wind_mph:.4f},225"
        for each in moments()
    ]
    head = "Date,Time,Temp (°F),Rain (in),Wind Speed (mph),Wind Dir (deg)"
    ours = ("date", "clock", "temp_f", "rain_in", "wind_mph", "wind_from_deg")
    return save(folder / "us.csv", head, lines), ",".join(map("=".join, zip(head.split(","), ours, strict=True)))


def french(folder: Path) -> tuple[Path, str]:
    def comma(value: float) -> str:
        return f"{value:.2f}".replace(".", ",")

    lines = [
        f"{each:%d/%m/%Y};{each:%H:%M};{comma(warmth_degc(each))};{comma(25.4 * rain_in(each))};18,0;225"
        for each in moments()
    ]
    head = "Date;Heure;Température (°C);Pluie (mm);Vent (km/h);Direction vent (°)"
    ours = ("date", "clock", "temp_c", "rain_mm", "wind_kmh", "wind_from_deg")
    path = save(folder / "météo.csv", head, lines, "cp1252")
    return path, ",".join(map("=".join, zip(head.split(";"), ours, strict=True)))


def utc_heads(folder: Path, head: str = "Time (UTC)") -> tuple[Path, str]:
    lines = [
        f"{each + dt.timedelta(hours=8):%Y-%m-%d %H:%M},{warmth_degc(each):.1f},{25.4 * rain_in(each):.2f},5.0,225"
        for each in moments()
    ]
    path = save(folder / "net.csv", f"{head},temp_c,rain_mm,wind_ms,wind_from_deg", lines)
    return path, f"{head}=time"


@pytest.mark.parametrize("make", [american, french, utc_heads])
def test_one_summer_in_many_spellings_is_one(tmp_path: Path, make: Callable[[Path], tuple[Path, str]]) -> None:
    plain = read_named_weather(metric(tmp_path), HOME).value
    path, columns = make(tmp_path)
    read = read_named_weather(path, HOME, columns)
    assert not read.problems
    assert read.value.time_utc.tolist() == plain.time_utc.tolist()
    for name in ("temp_degc", "rain_mm", "wind_ms", "wind_from_deg"):
        np.testing.assert_allclose(getattr(read.value, name), getattr(plain, name), atol=2e-3)


@pytest.mark.parametrize("head", UTC_HEADS)
def test_a_column_that_is_called_utc_is_not_taken_as_local_time(tmp_path: Path, head: str) -> None:
    path, columns = utc_heads(tmp_path, head)
    read = read_named_weather(path, HOME, columns)
    # midnight of 1 June, eight hours behind
    assert read.value.time_utc[0] == int(dt.datetime(2026, 6, 1, 8, tzinfo=dt.UTC).timestamp())
    assert any("read as UTC, not as local time" in note for note in read.notes)
    assert not any("carry no zone" in note for note in read.notes)


def test_hours_under_utc_and_a_zone_of_their_own(tmp_path: Path) -> None:
    path = save(tmp_path / "a.csv", "Date (UTC),Time (UTC),temp_c", ["2026-06-12,13,15", "2026-06-12,1400,15"])
    read = read_named_weather(path, HOME, "Date (UTC)=date,Time (UTC)=clock")
    assert [dt.datetime.fromtimestamp(each, dt.UTC).hour for each in read.value.time_utc.tolist()] == [13, 14]
    path = save(tmp_path / "b.csv", "Time (UTC),temp_c", ["2026-06-12T05:00-08:00,15", "2026-06-12 02:00 PM,15"])
    read = read_named_weather(path, HOME, "Time (UTC)=time")
    assert [dt.datetime.fromtimestamp(each, dt.UTC).hour for each in read.value.time_utc.tolist()] == [13, 14]


@pytest.mark.parametrize(
    ("first", "last", "lat_deg", "is_told"),
    [
        # put forward within it, but never back: nothing in it shows a clock of summer time
        (dt.date(2026, 2, 1), dt.date(2026, 7, 31), 38.6, True),
        (dt.date(2026, 1, 1), dt.date(2026, 12, 31), 38.6, False),
        (dt.date(2025, 9, 1), dt.date(2026, 1, 31), -38.0, True),
        (dt.date(2025, 9, 1), dt.date(2026, 5, 31), -38.0, False),
    ],
)
def test_a_clock_that_was_never_put_back_is_asked_about(
    tmp_path: Path, first: dt.date, last: dt.date, lat_deg: float, is_told: bool
) -> None:
    days = [first + dt.timedelta(days=day) for day in range((last - first).days + 1)]
    path = save(tmp_path / "hill.csv", "time,temp_c", [f"{each}T{hour:02d}:00,15" for each in days for hour in (0, 12)])
    read = read_stations(path, WeatherAsk(-8.0, lat_deg=lat_deg))
    assert any("If the station’s clock goes over to summer time" in note for note in read.notes) is is_told


def ground(folder: Path) -> Path:
    ring = [[-122.701, 38.6], [-122.7, 38.6], [-122.7, 38.6006], [-122.701, 38.6006], [-122.701, 38.6]]
    told = {"block": "Long Acre", "row_spacing_m": 3.0, "vine_spacing_m": 2.0}
    shapes = [
        (told, "Polygon", [ring]),
        ({"block": "Long Acre", "row": "1"}, "LineString", [[-122.7008, 38.6001], [-122.7008, 38.6005]]),
    ]
    features = [
        {"type": "Feature", "properties": each, "geometry": {"type": kind, "coordinates": at}} for each, kind, at in shapes
    ]
    path = folder / "blocks.geojson"
    path.write_text(json.dumps({"type": "FeatureCollection", "features": features}), encoding="utf-8")
    return path


@pytest.fixture
def season(tmp_path: Path) -> Path:
    estate = tmp_path / "estate.json"
    estate.write_text(
        '{"estate": "Walk", "invented": true, "time_offset_hours": -8, "bloom": "2026-05-28"}', encoding="utf-8"
    )
    path = tmp_path / "walk.vinemap"
    assert main(["add", str(estate), str(ground(tmp_path)), str(metric(tmp_path)), "--season", str(path)]) == 0
    return path


def table(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(lines))


def test_days_alone_beside_hours_that_were_read_are_left_aside_and_not_called_there(
    season: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = read_season(season).weather
    lines = [f"{FIRST + dt.timedelta(days=day):%Y-%m-%d},10,30" for day in range(3)]
    days = save(tmp_path / "days.csv", "date,temp_min_c,temp_max_c", lines)
    assert main(["add", str(days), "--season", str(season), "--station", "hill"]) == 0
    said = capsys.readouterr().out
    assert "days.csv: the 72 readings of it were left aside, for better ones of station hill are there already." in said
    after = read_season(season).weather
    assert before is not None
    assert after is not None
    assert after.temp_degc.tolist() == before.temp_degc.tolist()


def test_rot_is_not_known_where_nothing_tells_wetness(
    season: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["rot", "--season", str(season), "--out", str(tmp_path / "rot.csv")]) == 0
    said = capsys.readouterr().out
    wanted = "Long Acre: 0 of 20 days with bunches at risk of rot, 0 of them high; on 20 it is not known"
    assert wanted in said
    last = table(tmp_path / "rot.csv")[-1]
    assert last["class_here"] == "none to high"
    # the model was fitted on 20 hours of wetness at most: an index of weeks of it is no figure to show
    assert "If it was wet in the hours that were not read: high risk." in last["why"]
    assert "index up to" not in last["why"].casefold()


def test_rot_before_flowers_and_after_harvest_finds_no_bunches() -> None:
    assert has_bunches([1.0, 11.9, 12.0, 38.0, 38.1, float("nan")]).tolist() == [False, False, True, True, False, True]
    hours = np.arange(30)
    wet = Weather("hill", 0.0, hours * 3600, *(np.full(30, each) for each in (20.0, 0.0, 1.0, 0.95, 1.0, 180.0)))
    days = rot_days(wet)
    assert "There are no flowers yet to catch it." in explain_rot(days, 0, Prone(), 4.0)
    assert "The bunches are picked by then." in explain_rot(days, 0, Prone(), 40.0)


def test_a_forecast_is_called_so_by_growth_rot_and_the_sum(
    season: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    lines = [f"{each + dt.timedelta(days=DAYS):%Y-%m-%dT%H:%M},22,0" for each in moments(2)]
    ahead = save(tmp_path / "next.csv", "time,temp_c,rain_mm", lines)
    assert main(["add", str(ahead), "--season", str(season), "--station", "hill", "--forecast"]) == 0
    assert "next.csv: 48 readings of a forecast" in capsys.readouterr().out
    for command in ("stage", "rot"):
        out = tmp_path / f"{command}.csv"
        assert main([command, "--season", str(season), "--out", str(out)]) == 0
        marked = [each["date"] for each in table(out) if "The hours of this day are from a forecast." in each["why"]]
        assert marked == ["2026-06-21", "2026-06-22"]


def test_wind_between_along_and_across_is_called_neither(season: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["wind", "--season", str(season)]) == 0
    # wind from the south-west on rows that run north and south: the sine and cosine of 45 degrees
    (row,) = csv.DictReader(capsys.readouterr().out.splitlines()[-2:])
    assert float(row["along"]) == pytest.approx(float(row["across"]), abs=0.02)
    assert row["why"].startswith("The drying wind blows as much along as across this row;")


def test_a_date_for_all_names_the_block_that_keeps_its_own(season: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["edit", "--season", str(season), "bloom of Long Acre 30 May", "bloom 5 June"]) == 0
    assert "Bloom of all blocks is 5 June 2026. It was 28 May 2026. Long Acre keeps its own." in capsys.readouterr().out
    assert main(["edit", "--season", str(season), "bloom of Long Acre 5 June", "bloom 4 June", "undo"]) == 0
    assert "Taken back: bloom 4 June." in capsys.readouterr().out
