"""Every command once on the sample, from its files to paper."""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
import math
import shutil
from pathlib import Path

import pytest
from cli_running import Run
from estate_makers import table

FIGURES = ("incidence", "low", "high", "chance_above", "logit_mean", "logit_sd")


def test_all_files_of_the_sample_are_good(run: Run, sample: Path) -> None:
    for name in ("marlquill", "wattlequern"):
        files = sorted((sample / name).iterdir())
        assert len(files) > 8
        said = run("check", *files, sample / f"{name}.vinemap")
        assert (said.code, said.out) == (0, "")
        # its hours are standard time all summer, as the README asks, and no file can say so by itself
        assert [line.partition(":")[0] for line in said.err.splitlines()] == ["weather.csv"]
        assert "carry no zone and were taken as local standard time" in said.err


@pytest.mark.parametrize("name", ["truth.csv", "stops_round_1.csv", "weather.csv", "passes.csv", "vines.csv", "rows.geojson"])
def test_one_good_file_by_itself_is_good(run: Run, sample: Path, name: str) -> None:
    said = run("check", sample / "wattlequern" / name)
    assert (said.code, said.out) == (0, "")


def test_field_of_a_round_at_every_living_vine(run: Run, sample: Path, tmp_path: Path) -> None:
    out = tmp_path / "field.csv"
    said = run("field", "--season", sample / "wattlequern.vinemap", "--round", 1, "--out", out)
    assert said.code == 0
    lines = table(out)
    assert f"round 1: {len(lines)} living vines" in said.out
    assert "Quern Flat" in said.out
    for line in lines:
        low, middle, high = (float(line[name]) for name in ("low", "incidence", "high"))
        assert 0.0 <= low <= middle <= high <= 1.0
        assert 0.0 <= float(line["chance_above"]) <= 1.0
    gone = {("Quern Flat", "1", "4"), ("Quern Flat", "2", "19")}  # missing and dead in vines.csv
    assert not gone & {(line["block"], line["row"], line["vine"]) for line in lines}
    assert {line["certainty"] for line in lines} <= {"known", "unsure", "not known"}


def test_field_as_geojson_holds_the_same(run: Run, sample: Path, tmp_path: Path) -> None:
    season = sample / "wattlequern.vinemap"
    assert run("field", "--season", season, "--round", 2, "--out", tmp_path / "f.csv").code == 0
    assert run("field", "--season", season, "--round", 2, "--out", tmp_path / "f.geojson").code == 0
    lines = table(tmp_path / "f.csv")
    found = json.loads((tmp_path / "f.geojson").read_text(encoding="utf-8"))
    assert sorted(found) == ["features", "type"]  # RFC 7946 section 4: no crs member
    assert found["type"] == "FeatureCollection"
    assert len(found["features"]) == len(lines)
    for each, line in zip(found["features"], lines, strict=True):
        assert each["geometry"] == {"type": "Point", "coordinates": [float(line["lon"]), float(line["lat"])]}
        assert 145 < each["geometry"]["coordinates"][0] < 146  # longitude first
        assert each["properties"]["vine"] == int(line["vine"])
        assert isinstance(each["properties"]["row"], str)
        for name in FIGURES:
            assert each["properties"][name] == float(line[name])


def test_a_place_is_written_to_seven_decimals(run: Run, sample: Path, tmp_path: Path) -> None:
    out = tmp_path / "f.geojson"
    run("field", "--season", sample / "wattlequern.vinemap", "--round", 1, "--out", out)
    written = json.loads(out.read_text(encoding="utf-8"), parse_float=str)["features"]
    decimals = {len(part.split(".")[1]) for each in written for part in each["geometry"]["coordinates"]}
    assert max(decimals) == 7


def test_a_threshold_moves_the_chance_and_nothing_else(run: Run, sample: Path, tmp_path: Path) -> None:
    season = sample / "wattlequern.vinemap"
    for share in (0.05, 0.3):
        assert (
            run("field", "--season", season, "--round", 1, "--threshold", share, "--out", tmp_path / f"{share}.csv").code == 0
        )
    few, many = table(tmp_path / "0.05.csv"), table(tmp_path / "0.3.csv")
    assert [line["incidence"] for line in few] == [line["incidence"] for line in many]
    pairs = [(float(a["chance_above"]), float(b["chance_above"])) for a, b in zip(few, many, strict=True)]
    assert all(a > b for a, b in pairs)


def test_the_sample_shows_the_round_it_was_left_at(run: Run, sample: Path, tmp_path: Path) -> None:
    said = run("rank", "--season", sample / "marlquill.vinemap", "--out", tmp_path / "r.csv")
    assert said.code == 0
    assert said.out.startswith("round 2: ")  # the round the sample is shown at, of five
    lines = table(tmp_path / "r.csv")
    assert f"{len(lines)} lines" in said.out
    for kind in ("open", "spray"):
        mine = [line for line in lines if line["work"] == kind]
        assert [int(line["rank"]) for line in mine] == list(range(1, len(mine) + 1))
        hours = [float(line["clusters_per_hour"]) for line in mine]
        assert hours == sorted(hours, reverse=True)
        assert {line["fits_into_week"] for line in mine} == {"yes", "no"}
    for line in lines:
        figures = [float(line[name]) for name in ("incidence_low", "incidence", "incidence_high")]
        assert figures == sorted(figures)
        assert not any(math.isnan(each) for each in figures)
        assert len(line["why"]) > 100


def test_paper_has_a_sheet_for_every_block(run: Run, sample: Path, tmp_path: Path) -> None:
    said = run("paper", "--season", sample / "wattlequern.vinemap", "--round", 1, "--out", tmp_path / "new" / "folder")
    assert said.code == 0
    path = tmp_path / "new" / "folder" / "wattlequern-round-1-crew-maps.pdf"
    assert str(path) in said.out
    data = path.read_bytes()
    assert data.startswith(b"%PDF-")
    pages = int(said.out.split()[0])
    assert pages >= 2  # two blocks
    assert f"/Count {pages}\n".encode() in data


def test_pressure_of_each_day(run: Run, sample: Path, tmp_path: Path) -> None:
    out = tmp_path / "pressure.csv"
    said = run("pressure", sample / "marlquill" / "weather.csv", "--out", out)
    assert (said.code, said.err) == (0, "")
    lines = table(out)
    days = [dt.date.fromisoformat(line["date"]) for line in lines]
    assert days == [days[0] + dt.timedelta(days=number) for number in range(len(days))]
    assert len(days) == 175  # 4,200 hours
    for line in lines:
        index = int(line["index"])
        assert 0 <= index <= 100
        # Gubler et al. 1999: low to 30, moderate to 50, high from 60
        assert line["class"] in (("low",) if index <= 30 else ("moderate",) if index <= 50 else ("high", "moderate"))
        assert (index >= 60) == (line["class"] == "high")


def test_faces_of_a_row(run: Run) -> None:
    said = run("faces", "--lat", 38.6, "--lon", -122.7, "--bearing", 0, "--date", "2026-06-12")
    assert said.code == 0
    head, first, second = csv.reader(io.StringIO(said.out))
    assert head[:3] == ["face", "order", "sun_hours"]
    # a north-south row: the morning side is cooler than the afternoon side
    assert (first[0], first[1], second[0]) == ("east", "first", "west")
    assert float(first[4]) > float(second[4])
    assert float(first[5]) < float(second[5])
    assert "nan" not in said.out


def test_layers_of_the_season_open_in_a_map_program(run: Run, sample: Path, tmp_path: Path) -> None:
    from pyogrio import list_layers, read_info

    copy = tmp_path / "copy.gpkg"
    shutil.copy(sample / "wattlequern.vinemap", copy)
    layers = {str(name) for name, _ in list_layers(copy)}
    assert {"blocks", "rows", "stops"} <= layers
    assert read_info(copy, layer="blocks")["features"] == 2
    stops = sum(len(table(each)) for each in (sample / "wattlequern").glob("stops_round_*.csv"))
    assert read_info(copy, layer="stops")["features"] == stops


def test_the_sample_can_be_written_again(run: Run, sample: Path, tmp_path: Path) -> None:
    assert run("sample", tmp_path).code == 0
    season = tmp_path / "wattlequern.vinemap"
    from vinemap.service.book import open_book

    book = open_book(season)
    try:
        said = run("sample", tmp_path)
        assert said.code == 2
        assert "already open in another window" in said.err
        assert season.exists()
    finally:
        book.close()
    assert run("sample", tmp_path).code == 0


def test_every_span_with_its_gain(run: Run, sample: Path, tmp_path: Path) -> None:
    season = sample / "wattlequern.vinemap"
    assert run("rank", "--season", season, "--round", 1, "--by", "span", "--out", tmp_path / "s.csv").code == 0
    assert run("rank", "--season", season, "--round", 1, "--out", tmp_path / "r.csv").code == 0
    spans, rows = table(tmp_path / "s.csv"), table(tmp_path / "r.csv")
    assert {line["work"] for line in spans} == {"open", "spray"}
    best = rows[0]
    inside = [
        float(line["clusters_saved"])
        for line in spans
        if (line["work"], line["block"], line["row"]) == (best["work"], best["block"], best["row"])
        and int(best["first_vine"]) <= int(line["first_vine"])
        and int(line["last_vine"]) <= int(best["last_vine"])
    ]
    assert sum(inside) == pytest.approx(float(best["clusters_saved"]), abs=0.1)
    for line in spans:
        assert float(line["clusters_low"]) <= float(line["clusters_saved"]) <= float(line["clusters_high"])
        saved = float(line["saved_in_span"]) + float(line["saved_around"]) - float(line["burned"])
        assert saved == pytest.approx(float(line["clusters_saved"]), abs=0.02)


@pytest.mark.parametrize("date", ["2026-06-21", "2026-09-20", "2026-12-20"])
@pytest.mark.parametrize(
    ("lat", "bearing", "first"), [(38, 90, "north"), (-38, 90, "south"), (38, 0, "east"), (-38, 0, "east")]
)
def test_faces_on_any_date_in_both_hemispheres(run: Run, date: str, lat: int, bearing: int, first: str) -> None:
    """The pole-facing and the morning face come first (common practice); after a harvest the next one is meant."""
    said = run("faces", "--lat", lat, "--lon", 15, "--bearing", bearing, "--date", date)
    assert said.code == 0
    assert said.out.splitlines()[1].startswith(f"{first},first,")


def test_times_with_a_zone_are_cut_into_local_days(run: Run, tmp_path: Path) -> None:
    """Six hours of 75 F from 15:00 lie on one local day, on two days of UTC (rules of Gubler et al. 1999)."""
    naive, zoned = ["time,temp_c"], ["time,temp_c"]
    for hour in range(72):
        at = dt.datetime(2026, 5, 1) + dt.timedelta(hours=hour)
        degrees = "23.89" if at.hour in range(15, 21) else "10.00"
        naive.append(f"{at:%Y-%m-%dT%H:%M},{degrees}")
        zoned.append(f"{at + dt.timedelta(hours=8):%Y-%m-%dT%H:%MZ},{degrees}")
    (tmp_path / "naive.csv").write_text("\n".join(naive), encoding="utf-8")
    (tmp_path / "zoned.csv").write_text("\n".join(zoned), encoding="utf-8")
    assert run("pressure", tmp_path / "naive.csv", "--out", tmp_path / "n.csv").code == 0
    assert run("pressure", tmp_path / "zoned.csv", "--offset", -8, "--out", tmp_path / "z.csv").code == 0
    assert [line["index"] for line in table(tmp_path / "n.csv")] == ["20", "40", "60"]
    assert table(tmp_path / "z.csv") == table(tmp_path / "n.csv")
    assert run("pressure", tmp_path / "zoned.csv", "--offset", 99, "--out", tmp_path / "z.csv").code == 2


def test_faces_of_every_row_of_a_season(run: Run, sample: Path, tmp_path: Path) -> None:
    out = tmp_path / "faces.csv"
    said = run("faces", "--season", sample / "marlquill.vinemap", "--date", "2026-06-12", "--out", out)
    assert (said.code, said.err) == (0, "")
    lines = table(out)
    assert f"{len(lines):,} lines written" in said.out
    assert {line["order"] for line in lines} >= {"first", "in part"}
    assert all(line["why"] for line in lines)
    assert run("faces", "--season", sample / "marlquill.vinemap", "--date", "2026-06-12", "--bearing", 3).code == 2


def test_what_shades_a_row_and_the_warmth_of_a_station(run: Run, sample: Path) -> None:
    row = ("faces", "--lat", 38.6, "--lon", -122.7, "--bearing", 0, "--date", "2026-06-12")
    free = list(csv.DictReader(io.StringIO(run(*row).out)))
    beside = list(csv.DictReader(io.StringIO(run(*row, "--next-row", 1.8, 0.8, 2.5, "--slope", 10, "--aspect", 90).out)))
    assert float(beside[0]["sun_hours"]) < float(free[0]["sun_hours"])
    assert len(run(*row, "--free").out.splitlines()) == 9
    warm = run(*row, "--weather", sample / "marlquill" / "weather.csv")
    assert "days read or forecast" in warm.out
    assert run(*row, "--next-row", 1.8, 3, 2.5).code == 2
