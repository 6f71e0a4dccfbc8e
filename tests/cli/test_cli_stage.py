"""The commands of growth and rot, on the invented sample and on weather files made here."""

from __future__ import annotations

import csv
import datetime as dt
import shutil
from pathlib import Path

import numpy as np
import pytest
from cli_running import Run

from vinemap.service.stage_tables import ROT_COLUMNS, STAGE_COLUMNS


def lines_of(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def weather_file(path: Path, first: dt.date, days: int, wet_hours: int = 11, rest: str = "wet_frac") -> Path:
    """Hours at 20 degC of which so many are wet each day from midnight on; or damp air instead."""
    rows = [f"time,temp_c,{rest}"]
    for day in range(days):
        for hour in range(24):
            wet = hour < wet_hours
            value = ("0.95" if wet else "0.40") if rest == "rh_frac" else f"{float(wet):.0f}"
            rows.append(f"{first + dt.timedelta(days=day)}T{hour:02d}:00,20.0,{value}")
    path.write_text("\n".join(rows), encoding="utf-8")
    return path


@pytest.fixture
def season(sample: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(sample / "marlquill.vinemap", tmp_path / "m.vinemap"))


def test_every_block_of_a_season_on_every_day(run: Run, season: Path, tmp_path: Path) -> None:
    said = run("stage", "--season", season, "--out", tmp_path / "s.csv")
    assert (said.code, said.err) == (0, "")
    assert (
        "Peña Alta, harvest of 2026: budbreak 1 April (entered), bloom 1 June (entered), colour 31 July (entered)" in said.out
    )
    assert "Winkler’s sum until" in said.out
    lines = lines_of(tmp_path / "s.csv")
    assert tuple(lines[0]) == STAGE_COLUMNS
    assert len({line["block"] for line in lines}) == 8
    bloom = next(line for line in lines if line["block"] == "Peña Alta" and line["date"] == "2026-06-01")
    assert (bloom["days_since_bloom"], bloom["modified_el"], bloom["bbch"], bloom["fruit"]) == ("0", "23.0", "65", "1.00")
    assert bloom["why"].startswith("Bloom was 1 June, 0 days ago. Berries resist from about 29 June.")


def test_what_is_typed_is_what_the_table_tells(run: Run, season: Path, tmp_path: Path) -> None:
    typed = ("bloom of Dogleg 4 June", "Dogleg at BBCH 75 on 1 July", "Brix of Dogleg 8.5 on 3 August")
    assert run("edit", "--season", season, *typed).code == 0
    assert run("stage", "--season", season, "--block", "Dogleg", "--out", tmp_path / "s.csv").code == 0
    by_date = {line["date"]: line for line in lines_of(tmp_path / "s.csv")}
    assert {line["block"] for line in by_date.values()} == {"Dogleg"}
    assert (by_date["2026-06-04"]["bbch"], by_date["2026-07-01"]["modified_el"]) == ("65", "31.0")
    assert by_date["2026-08-01"]["fruit"] == "0.10"
    assert by_date["2026-08-03"]["fruit"] == "0.00"
    assert (
        "above 8 since about 3 August: no new infection of fruit; colonies there stop above 15."
        in by_date["2026-08-04"]["why"]
    )


@pytest.mark.parametrize(("south", "first"), [(False, dt.date(2031, 3, 1)), (True, dt.date(2030, 8, 30))])
def test_weather_alone_tells_bloom_on_both_halves_of_the_globe(run: Run, tmp_path: Path, south: bool, first: dt.date) -> None:
    weather = weather_file(tmp_path / "station.csv", first, 100)
    options = ["--south"] if south else []
    said = run("stage", "--weather", weather, "--variety", "Chardonnay", *options, "--out", tmp_path / "s.csv")
    assert (said.code, said.err) == (0, "")
    # 1217 degC days (Parker et al. 2011, from memory) at 20 degC are 61 days.
    bloom = first + dt.timedelta(days=60)
    line = next(line for line in lines_of(tmp_path / "s.csv") if line["date"] == bloom.isoformat())
    assert (line["days_since_bloom"], line["mean_degc"], line["sum_degc_days"]) == ("0", "20.0", "1220")
    assert "estimated from warmth, a week either way" in line["why"]
    assert f"bloom {bloom.day} {bloom:%B} (by warmth)" in said.out


def test_weather_that_begins_too_late_says_so(run: Run, tmp_path: Path) -> None:
    weather = weather_file(tmp_path / "station.csv", dt.date(2031, 5, 1), 5)
    said = run("stage", "--weather", weather, "--out", tmp_path / "s.csv")
    assert said.code == 0
    assert "Bloom can't be estimated: the weather begins after 1 March." in said.out
    entered = run("stage", "--weather", weather, "--bloom", "2031-05-03", "--out", tmp_path / "t.csv")
    assert "bloom 3 May (entered)" in entered.out


def test_rot_is_told_with_its_hours_and_raised_where_bunches_are_prone(run: Run, tmp_path: Path) -> None:
    weather = weather_file(tmp_path / "station.csv", dt.date(2031, 7, 20), 4)
    bloom = ("--bloom", "2031-05-20")
    plain = run("rot", "--weather", weather, *bloom, "--out", tmp_path / "a.csv")
    assert plain.code == 0
    lines = lines_of(tmp_path / "a.csv")
    assert tuple(lines[0]) == ROT_COLUMNS
    # Broome et al. 1995, 11 h at 20 degC: -2.647866 + 11 * (-0.374927 + 1.23202 - 0.6044) = 0.1318
    first = lines[0]
    assert (first["event_hours"], first["event_degc"], first["index"], first["class"]) == ("11.0", "20.0", "0.13", "low")
    prone = run("rot", "--weather", weather, *bloom, "--variety", "Zinfandel", "--mildew", "0.3", "--out", tmp_path / "b.csv")
    assert prone.code == 0
    raised = lines_of(tmp_path / "b.csv")[0]
    # prone 0.5, tight 0.25, 30 % of clusters scarred 0.3
    assert (raised["class"], raised["raised_by"], raised["class_here"]) == ("low", "1.05", "high")
    assert "30 % of clusters carried mildew, and scarred berries crack (+0.30). How much is assumed." in raised["why"]
    assert "4 of 4 days with bunches at risk of rot, 4 of them high." in prone.out


def test_wetness_from_humidity_is_marked(run: Run, tmp_path: Path) -> None:
    weather = weather_file(tmp_path / "station.csv", dt.date(2031, 7, 20), 2, rest="rh_frac")
    assert run("rot", "--weather", weather, "--out", tmp_path / "a.csv").code == 0
    line = lines_of(tmp_path / "a.csv")[0]
    assert (line["wet_hours"], line["estimated_hours"], line["class"]) == ("11.0", "11.0", "low")
    assert "estimated from rain and humidity" in line["why"]


def test_rot_of_a_season_takes_the_mildew_of_its_rounds(run: Run, season: Path, tmp_path: Path) -> None:
    assert run("rot", "--season", season, "--block", "Dogleg", "--out", tmp_path / "a.csv").code == 0
    ripening = [line for line in lines_of(tmp_path / "a.csv") if line["modified_el"] and float(line["modified_el"]) >= 33]
    assert {float(line["raised_by"]) > 0 for line in ripening} == {True}
    early = [line for line in lines_of(tmp_path / "a.csv") if line["date"] < "2026-06-10"]
    assert {line["raised_by"] for line in early} == {"0.00"}


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("stage", "--season", "{season}", "--south"), "--south goes with --weather"),
        (("stage", "--weather", "{weather}", "--block", "Dogleg"), "--block goes with --season"),
        (("rot", "--weather", "{weather}", "--mildew", "30"), "Give a share of clusters from 0 to 1"),
        (("rot", "--weather", "{dry}"), "Nothing tells when leaves were wet"),
        (("rot", "--season", "{season}", "--block", "Nowhere"), "Nowhere"),
        (("stage",), "one of the arguments --season --weather is required"),
        (("stage", "--weather", "{weather}", "--bloom", "28 May"), "is not a date"),
    ],
)
def test_what_can_not_be_told_is_refused_in_plain_words(run: Run, season: Path, tmp_path: Path, arguments, said) -> None:
    weather = weather_file(tmp_path / "station.csv", dt.date(2031, 7, 20), 2)
    dry = weather_file(tmp_path / "dry.csv", dt.date(2031, 7, 20), 2, rest="wind_ms")
    given = [each.format(season=season, weather=weather, dry=dry) for each in arguments]
    found = run(*given, "--out", tmp_path / "x.csv")
    assert found.code == 2
    assert said in found.err
    assert not (tmp_path / "x.csv").exists()


def test_hours_that_are_missing_give_a_range(run: Run, tmp_path: Path) -> None:
    weather = weather_file(tmp_path / "station.csv", dt.date(2031, 7, 20), 2, wet_hours=5)
    kept = np.r_[0:6, 14:49]
    lines = weather.read_text(encoding="utf-8").splitlines()
    weather.write_text("\n".join(lines[at] for at in kept), encoding="utf-8")
    assert run("rot", "--weather", weather, "--out", tmp_path / "a.csv").code == 0
    line = lines_of(tmp_path / "a.csv")[0]
    assert line["not_read_hours"] == "8.0"
    assert line["class"] == "none to moderate"
