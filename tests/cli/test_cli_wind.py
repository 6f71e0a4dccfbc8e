"""The wind on the command line: the rose of a file, and every row of a season."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest
from cli_running import run_command

HEAD = "time,temp_c,rain_mm,rh_frac,wind_ms,wind_from_deg\n"
# 10 June at 38 N, 122 W, standard time: two dry hours from the west, one from the north, one wet, one calm, one by night
LINES = (
    "2026-06-10T10:00,20,0,0.5,4,270\n2026-06-10T11:00,20,0,0.5,2,270\n2026-06-10T12:00,20,0,0.5,2,0\n"
    "2026-06-10T13:00,20,1,0.5,3,90\n2026-06-10T14:00,20,0,0.5,0.2,90\n2026-06-10T23:00,20,0,0.5,3,180\n"
)


@pytest.fixture
def weather(tmp_path: Path) -> Path:
    path = tmp_path / "weather.csv"
    path.write_text(HEAD + LINES, encoding="utf-8")
    return path


def lines_of(text: str) -> dict[str, dict[str, str]]:
    return {each["from"]: each for each in csv.DictReader(io.StringIO(text))}


def test_a_rose_worked_by_hand(weather: Path) -> None:
    said = run_command("wind", "--weather", weather, "--lat", 38, "--lon", -122, "--bearing", 0)
    assert (said.code, said.err) == (0, "")
    rose = lines_of(said.out)
    assert len(rose) == 18
    west, north = rose["west"], rose["north"]
    assert (west["share"], west["mean_ms"], west["drying_share"], west["drying_ms"]) == ("0.3333", "3.00", "0.6667", "3.00")
    assert (north["share"], north["drying_share"], north["across"], north["why"]) == (
        *("0.1667", "0.3333", "0.0000"),
        "along the rows",
    )
    assert (west["across"], west["face"], west["why"]) == ("1.0000", "west", "straight onto the west face")
    assert rose["calm"]["share"] == "0.1667"
    # 6 m of west wind against 2 m of north wind
    assert rose["all"]["from_deg"] == "288"
    assert rose["all"]["why"].startswith(
        "Of 6 readings 17 % were calm; in 50 % the wind dried: by day, no rain, humidity below 85 %, at least 0.5 m/s. "
        "Drying wind came steadily from the west-north-west, 2.7 m/s. The drying wind blows mostly across this row; 75 %"
    )
    assert sum(float(each["share"]) for name, each in rose.items() if name != "all") == pytest.approx(1.0, abs=1e-3)


def test_without_a_bearing_nothing_is_said_of_rows(weather: Path, tmp_path: Path) -> None:
    out = tmp_path / "rose.csv"
    said = run_command("wind", "--weather", weather, "--lat", 38, "--lon", -122, "--out", out)
    assert said.out == f"18 lines written to {out}\n"
    assert {each["face"] for each in lines_of(out.read_text(encoding="utf-8")).values()} == {""}


def test_every_row_of_a_season(sample: Path, tmp_path: Path) -> None:
    out = tmp_path / "wind.csv"
    said = run_command("wind", "--season", sample / "wattlequern.vinemap", "--out", out)
    assert (said.code, said.err) == (0, "")
    with out.open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert said.out == f"{len(rows)} lines written to {out}\n"
    assert all(0 < float(each["wind_left"]) <= 1 and each["why"].startswith("The drying wind blows") for each in rows)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((), "Say whose wind"),
        (("--weather", "w.csv", "--season", "s.vinemap"), "Say whose wind"),
        (("--weather", "w.csv"), "not said where the station stands"),
        (("--season", "s.vinemap", "--bearing", "3"), "A season knows"),
    ],
)
def test_what_does_not_go_together_is_said(arguments: tuple[str, ...], words: str) -> None:
    said = run_command("wind", *arguments)
    assert said.code == 2
    assert words in said.err


def test_a_place_off_the_globe_and_weather_without_wind_are_refused(weather: Path) -> None:
    assert "no place on the globe" in run_command("wind", "--weather", weather, "--lat", 95, "--lon", 0).err
    weather.write_text("time,temp_c\n2026-06-10T10:00,20\n", encoding="utf-8")
    assert "no drying wind" in run_command("wind", "--weather", weather, "--lat", 38, "--lon", -122).err
