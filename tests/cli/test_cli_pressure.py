"""Pressure on the command line: rules, budbreak, columns of other names, either half of the globe. The hours are invented."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest
from cli_running import Run
from estate_makers import table

from vinemap.service.pressure_table import PRESSURE_COLUMNS


def hours(path: Path, days: int, first: dt.date, head: str = "time,temp_c,rain_mm", swing: float = 0.0) -> Path:
    """Days of 14 degC at night and 24 by day, rain in the second night; ``swing`` [degC] warms January, cools July."""
    lines = [head]
    for number in range(24 * days):
        at = dt.datetime.combine(first, dt.time()) + dt.timedelta(hours=number)
        warmer = swing if at.month in (12, 1, 2) else -swing if at.month in (6, 7, 8) else 0.0
        degc = (14.0 if at.hour < 12 else 24.0) + warmer
        lines.append(f"{at:%Y-%m-%dT%H:%M},{degc:.1f},{4.0 if number == 30 else 0.0}")
    path.write_text("\n".join(lines), encoding="utf-8")
    return path


def test_every_day_with_its_columns(run: Run, tmp_path: Path) -> None:
    weather, out = hours(tmp_path / "w.csv", 8, dt.date(2026, 4, 1)), tmp_path / "p.csv"
    said = run("pressure", weather, "--budbreak", "2026-04-01", "--out", out)
    assert said.code == 0
    assert said.out.startswith("8 days, primary infections by the rule “event”: 1, written to")
    lines = table(out)
    assert tuple(lines[0]) == PRESSURE_COLUMNS
    # the rain of the second day begins it: 20, 40, 60 from then, by hand from Gubler et al. 1999
    assert [line["index"] for line in lines] == ["0", "20", "40", "60", "80", "100", "100", "100"]
    assert [line["infection"] for line in lines] == ["no", "yes"] + ["no"] * 6
    assert (lines[1]["rain_mm"], lines[1]["mean_c"], lines[1]["counts_from"]) == ("4.0", "19.0", "2026-04-02")
    # 1 / (44.7 + 0.067 19² - 3.244 19) = 0.1379 a day (Caffi et al. 2011)
    assert [line["since_infection"] for line in lines] == ["", "0.00", "0.14", "0.28", "0.41", "0.55", "0.69", "0.83"]
    assert lines[0]["counts_from"] == ""
    assert lines[1]["wet_hours"] == ""


def test_rules_and_dates_are_chosen(run: Run, tmp_path: Path) -> None:
    weather, out = hours(tmp_path / "w.csv", 20, dt.date(2026, 4, 1)), tmp_path / "p.csv"
    assert run("pressure", weather, "--budbreak", "2026-04-05", "--out", out).code == 0
    assert [line["index"] for line in table(out)] == ["0"] * 20  # the rain fell before there was a leaf
    assert run("pressure", weather, "--budbreak", "2026-04-05", "--found", "2026-04-18", "--out", out).code == 0
    # 7.25 days at 19 degC: what is seen on the 18th came on the 10th
    assert [line["index"] for line in table(out)][8:13] == ["0", "20", "40", "60", "80"]
    assert run("pressure", weather, "--heat", "2013", "--infection", "2/3 mills", "--out", out).code == 0
    assert "because leaf wetness was not read" in table(out)[0]["why"]


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--heat", "1950"), "--heat"),
        (("--infection", "always"), "--infection"),
        (("--budbreak", "spring"), "is not a date"),
        (("--found", "2026-02-30"), "is not a date"),
        (("--columns", "Nothing=temp_c"), "No file has all of the columns nothing"),
    ],
)
def test_slips_are_told(run: Run, tmp_path: Path, options: tuple[str, str], words: str) -> None:
    weather = hours(tmp_path / "w.csv", 2, dt.date(2026, 4, 1))
    said = run("pressure", weather, *options, "--out", tmp_path / "p.csv")
    assert said.code == 2
    assert words in said.err
    assert not (tmp_path / "p.csv").exists()


def test_columns_of_other_names_are_asked_about(run: Run, tmp_path: Path) -> None:
    weather, out = hours(tmp_path / "w.csv", 4, dt.date(2026, 4, 1), "Date & Time,Air Temp °C,Rain mm"), tmp_path / "p.csv"
    said = run("pressure", weather, "--out", out)
    assert said.code == 2
    assert "--columns" in said.err
    assert not out.exists()
    given = "Date & Time=time,Air Temp °C=temp_c,Rain mm=rain_mm"
    assert run("pressure", weather, "--columns", given, "--out", out).code == 0
    assert [line["index"] for line in table(out)] == ["0", "20", "40", "60"]


@pytest.mark.parametrize(("swing", "turn"), [(8.0, dt.date(2027, 7, 1)), (-8.0, dt.date(2027, 1, 1))])
def test_seasons_turn_in_the_winter_of_either_half(run: Run, tmp_path: Path, swing: float, turn: dt.date) -> None:
    weather, out = hours(tmp_path / "w.csv", 330, dt.date(2026, 9, 15), "time,temp_c,none", swing), tmp_path / "p.csv"
    assert run("pressure", weather, "--out", out).code == 0
    by_date = {line["date"]: line for line in table(out)}
    assert "Infection is assumed since" in by_date[turn.isoformat()]["why"]
    assert by_date[turn.isoformat()]["counts_from"] == turn.isoformat()
    counted = {line["counts_from"] for line in by_date.values()}
    assert counted == {"2026-09-15", turn.isoformat()}
