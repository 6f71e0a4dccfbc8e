"""Commands on a file of weather alone that leaves things unsaid. The weather is invented."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest
from cli_running import Run
from estate_makers import table


@pytest.fixture
def two(tmp_path: Path) -> Path:
    """Hours of two stations in one file, by a clock with summer time, month first."""
    lines = ["station,date,clock,temp_f,rh_percent,rain_in,wind_mph,wind_from_deg"]
    for station, more in (("hill", 10), ("river", 0)):
        for hour in range(24 * 20):
            when = dt.datetime(2031, 4, 20) + dt.timedelta(hours=hour)
            warm = 60 + more + 10 * (9 < when.hour < 18)
            lines.append(f"{station},{when:%m/%d/%Y},{when:%H:%M},{warm},60,0,5,270")
    path = tmp_path / "two.csv"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


COMMANDS = (
    ("pressure", "{two}", "--out", "{out}"),
    ("stage", "--weather", "{two}", "--out", "{out}"),
    ("rot", "--weather", "{two}", "--out", "{out}"),
    ("wind", "--weather", "{two}", "--lat", "38.6", "--lon", "-122.7", "--out", "{out}"),
)


@pytest.mark.parametrize("command", COMMANDS, ids=[each[0] for each in COMMANDS])
def test_one_of_several_stations_has_to_be_named(run: Run, two: Path, tmp_path: Path, command: tuple[str, ...]) -> None:
    out = tmp_path / "out.csv"
    words = [each.format(two=two, out=out) for each in command]
    said = run(*words)
    assert said.code == 2
    assert said.err.strip() == "two.csv holds several stations: hill, river. Say which one: --station NAME."
    said = run(*words, "--station", "moon")
    assert said.err.strip() == "two.csv holds no station moon: hill, river. Say which one: --station NAME."
    assert run(*words, "--station", "hill").code == 0
    assert table(out)


def test_stations_differ_and_a_summer_clock_is_an_hour_off(run: Run, two: Path, tmp_path: Path) -> None:
    out = tmp_path / "out.csv"

    def told(*more: str) -> list[dict[str, str]]:
        assert run("pressure", two, "--offset", "-8", "--out", out, *more).code == 0
        return table(out)

    hill, river = (told("--station", each)[5] for each in ("hill", "river"))
    # 80 °F from 10:00 to 17:00 in the hills, 70 °F at the river: both within the band, all day warm only in the hills
    assert (hill["highest_c"], river["highest_c"]) == ("26.7", "21.1")
    assert float(hill["hours_in_band"]) == 24.0
    assert float(river["hours_in_band"]) == 8.0
    by_clock = told("--station", "river", "--clock", "America/Los_Angeles")
    assert by_clock[0]["date"] == "2031-04-19", "the first hour by the summer clock is the last of the day before"


def test_a_season_says_it_itself(run: Run, tmp_path: Path) -> None:
    season = tmp_path / "a.vinemap"
    for command in ("stage", "rot", "wind"):
        said = run(command, "--season", season, "--out", tmp_path / "o.csv", "--clock", "utc")
        assert said.err.strip() == "--clock goes with --weather; a season says it itself. Leave it away."
