"""Files brought into a season, at once and in steps, and what is answered from it."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from cli_running import Run, Said
from estate_makers import (
    HOME_DEG,
    SOUTH_DEG,
    STOP_HEAD,
    degrees,
    feature,
    outline,
    row,
    table,
    write_lines,
    write_map,
    write_stops,
    write_weather,
)

from vinemap.files.projection import from_projected, to_local
from vinemap.files.season_file import read_season

PATCH = (0, 0, 1, 0, 3, 9, 8, 1, 4, 12, 7, 2, 0, 1, 1, 0)


def season_of(run: Run, folder: Path, *files: Path) -> Path:
    path = folder / "season.vinemap"
    said = run("add", *files, "--season", path)
    assert (said.code, said.err) == (0, ""), said.err
    return path


def answers(run: Run, season: Path, *which: object) -> tuple[list[dict[str, str]], list[dict[str, str]], list[Said]]:
    """Field and ranking of a round, checked for what can never be, and what the commands said; the paper is made too."""
    folder = season.parent
    said = [
        run("field", "--season", season, *which, "--out", folder / "field.csv"),
        run("field", "--season", season, *which, "--out", folder / "field.geojson"),
        run("rank", "--season", season, *which, "--out", folder / "rank.csv"),
        run("paper", "--season", season, *which, "--out", folder / "paper"),
    ]
    assert [(each.code, each.err) for each in said] == [(0, "")] * 4
    assert [path.read_bytes()[:5] for path in (folder / "paper").iterdir()] == [b"%PDF-"]
    field, rank = table(folder / "field.csv"), table(folder / "rank.csv")
    assert "nan" not in (folder / "field.geojson").read_text(encoding="utf-8").lower()
    for lines, names in ((field, ("low", "incidence", "high")), (rank, ("incidence_low", "incidence", "incidence_high"))):
        for line in lines:
            if line["incidence"]:
                low, middle, high = (float(line[name]) for name in names)
                assert 0.0 <= low <= middle <= high <= 1.0
            assert "nan" not in [cell.lower() for cell in line.values()]
    assert all(math.isfinite(float(line["clusters_saved"])) for line in rank)
    return field, rank, said


def test_all_at_once_and_in_steps_make_the_same_season(run: Run, sample: Path, tmp_path: Path) -> None:
    files = {path.name: path for path in (sample / "wattlequern").iterdir() if path.name != "truth.csv"}
    at_once, in_steps = tmp_path / "once.vinemap", tmp_path / "steps.vinemap"
    assert run("add", *files.values(), "--season", at_once).code == 0
    steps: list[Sequence[str]] = [
        ("outlines.geojson", "rows.geojson"),
        ("vines.csv",),
        ("stops_round_1.csv",),
        ("weather.csv",),
    ]
    steps += [("estate.json",), ("weather.csv", "passes.csv"), ("stops_round_2.csv", "sprays.csv")]
    for names in steps:
        said = run("add", *(files[name] for name in names), "--season", in_steps)
        assert (said.code, said.err) == (0, "")
    for season in (at_once, in_steps):
        run("rank", "--season", season, "--round", 2, "--out", season.with_suffix(".csv"))
    assert table(at_once.with_suffix(".csv")) == table(in_steps.with_suffix(".csv"))
    one, other = read_season(at_once), read_season(in_steps)
    assert one.estate == other.estate
    assert one.stages == other.stages
    assert len(one.passes) == len(other.passes) == len(table(files["passes.csv"]))
    assert one.weather is not None
    assert other.weather is not None
    np.testing.assert_array_equal(one.weather.time_utc, other.weather.time_utc)


def test_rows_are_made_from_an_outline_alone(run: Run, tmp_path: Path) -> None:
    outlines = write_map(tmp_path / "o.geojson", outline("Long Acre"))
    season = season_of(run, tmp_path, outlines, write_stops(tmp_path / "s.csv", infected=PATCH))
    field, rank, _ = answers(run, season)
    # 16 rows of 2.5 m in 41 m, 30 vines of 2 m in 61 m
    assert len(field) == 16 * 30
    assert rank
    assert {line["work"] for line in rank} == {"open", "spray"}


def test_a_block_with_one_row(run: Run, tmp_path: Path) -> None:
    drawn = write_map(tmp_path / "o.geojson", outline("Strip", size_m=(3.0, 61.0), bearing_deg=None), row("Strip", "A", 1.5))
    lines = [(1, "2031-06-11", "A. Scout", "Strip", "A", vine, 20, vine // 3) for vine in (2, 9, 16, 23, 30)]
    season = season_of(run, tmp_path, drawn, write_lines(tmp_path / "s.csv", STOP_HEAD, lines))
    field, rank, _ = answers(run, season)
    assert len(field) == 30
    assert {line["row"] for line in rank} == {"A"}


@pytest.mark.parametrize(("count", "low", "high"), [(0, 0.0, 0.1), (20, 0.9, 1.0)])
def test_a_round_all_clean_or_all_infected(run: Run, tmp_path: Path, count: int, low: float, high: float) -> None:
    outlines = write_map(tmp_path / "o.geojson", outline("Long Acre"))
    season = season_of(run, tmp_path, outlines, write_stops(tmp_path / "s.csv", infected=[count] * 16))
    field, _, _ = answers(run, season)
    assert all(low <= float(line["incidence"]) <= high for line in field)


def test_a_block_without_stops_is_said_to_be_not_known(run: Run, tmp_path: Path) -> None:
    outlines = write_map(tmp_path / "o.geojson", outline("Long Acre"), outline("Far Acre", east_m=100.0))
    season = season_of(run, tmp_path, outlines, write_stops(tmp_path / "s.csv", infected=PATCH))
    field, rank, said = answers(run, season)
    unscouted = [line for line in field if line["block"] == "Far Acre"]
    assert len(unscouted) == 480
    assert {(line["incidence"], line["high"], line["certainty"]) for line in unscouted} == {("", "", "not known")}
    assert "Far Acre" not in {line["block"] for line in rank}
    for each in (said[0], said[2]):
        assert "Far Acre: not known: No clusters were examined." in each.out


def test_a_season_without_stops_says_so(run: Run, tmp_path: Path) -> None:
    season = season_of(run, tmp_path, write_map(tmp_path / "o.geojson", outline("Long Acre")))
    for command in ("field", "rank", "paper"):
        said = run(command, "--season", season, "--out", tmp_path / "out")
        assert (said.code, said.out) == (2, "")
        assert said.err == "season.vinemap has no scouting round yet. Bring in the stops first.\n"


def test_stops_by_vine_by_degrees_and_by_metres_come_to_the_same_vines(run: Run, tmp_path: Path) -> None:
    ground = write_map(
        tmp_path / "o.geojson", outline("Long Acre"), *(row("Long Acre", f"{n}", 2.5 * n) for n in range(1, 9))
    )
    stops = write_stops(tmp_path / "1.csv", infected=PATCH)
    season = season_of(run, tmp_path, ground, stops)
    frame = read_season(season).estate.frame
    vines = [(int(line["row"]), int(line["vine"])) for line in table(stops)]
    # row n lies 2.5 n metres east, vine k 2 (k - 1) metres north of its first
    places = [degrees(HOME_DEG, 2.5 * row_, 1.0 + 2.0 * (vine - 1)) for row_, vine in vines]
    metres = np.column_stack(to_local(frame, *np.array(places).T))
    assert np.allclose(from_projected(frame, frame.origin_x_m, frame.origin_y_m), 0.0)
    metres += np.array([frame.origin_x_m, frame.origin_y_m])
    head = ("round", "date", "examined", "infected")
    lines = [(2, "2031-06-12", 20, infected) for infected in PATCH]
    by_degrees = [(*line, *place) for line, place in zip(lines, places, strict=True)]
    by_metres = [(3, *line[1:], *place) for line, place in zip(lines, metres.tolist(), strict=True)]
    points = [
        feature({"round": 4, "date": "2031-06-12", "examined": 20, "infected": infected}, "Point", place)
        for infected, place in zip(PATCH, places, strict=True)
    ]
    files = [
        write_lines(tmp_path / "2.csv", (*head, "lon", "lat"), by_degrees),
        write_lines(tmp_path / "3.csv", (*head, "x_m", "y_m"), by_metres),
        write_map(tmp_path / "4.geojson", *points),
    ]
    said = run("add", *files, "--season", season)
    assert (said.code, said.err) == (0, "")
    rounds = read_season(season).rounds
    assert [each.number for each in rounds] == [1, 2, 3, 4]
    for each in rounds:
        assert [(int(label), int(vine)) for label, vine in zip(each.stops.rows, each.stops.vine, strict=True)] == vines
        assert each.stops.infected.tolist() == list(PATCH)


def test_nothing_but_ground_and_stops_still_ranks_and_says_what_it_lacks(run: Run, tmp_path: Path) -> None:
    outlines = write_map(tmp_path / "o.geojson", outline("Long Acre"))
    season = season_of(run, tmp_path, outlines, write_stops(tmp_path / "s.csv", infected=PATCH))
    _, rank, _ = answers(run, season)
    why = rank[0]["why"]
    assert "no weather brought in: taken as moderate" in why
    assert "Bloom is not entered" in why
    assert "Harvest is not entered: 15 September" in why
    assert "last opened: not this season" in why


def test_the_southern_half_of_the_world(run: Run, tmp_path: Path) -> None:
    outlines = write_map(tmp_path / "o.geojson", outline("Quern", home=SOUTH_DEG))
    stops = write_stops(tmp_path / "s.csv", "Quern", infected=PATCH, date="2031-12-02")
    season = season_of(run, tmp_path, outlines, stops)
    estate = read_season(season).estate
    assert (estate.frame.crs, estate.offset_hours) == ("EPSG:32755", 10.0)
    _, rank, _ = answers(run, season)
    assert "Harvest is not entered: 15 March" in rank[0]["why"]


def test_an_estate_far_away_is_left_out(run: Run, tmp_path: Path) -> None:
    """Half the corners lie 80 km off: the middle of all would be on neither place."""
    far = outline("Far", home=(HOME_DEG[0] - 0.92, HOME_DEG[1]))
    outlines = write_map(tmp_path / "o.geojson", outline("Near"), far)
    said = run("add", outlines, "--season", tmp_path / "s.vinemap")
    assert said.code == 1
    assert said.err.startswith("left out: o.geojson, feature 2, block Far: ")
    assert "km from the rest of the estate" in said.err
    assert [block.name for block in read_season(tmp_path / "s.vinemap").blocks] == ["Near"]
    south = write_map(tmp_path / "south.geojson", outline("South", home=SOUTH_DEG))
    said = run("add", south, "--season", tmp_path / "s.vinemap")
    assert (said.code, said.err.count("\n")) == (1, 1)
    assert "km from the rest of the estate" in said.err
    assert run("check", outlines).out.count("\n") == 1


def test_the_same_stops_again_are_refused_and_the_rest_is_kept(run: Run, tmp_path: Path) -> None:
    outlines = write_map(tmp_path / "o.geojson", outline("Long Acre"))
    first, second = write_stops(tmp_path / "1.csv", infected=PATCH), write_stops(tmp_path / "2.csv", number=2)
    season = season_of(run, tmp_path, outlines, first)
    before = read_season(season)
    said = run("add", first, second, "--season", season)
    assert said.code == 1
    assert said.err.count("\n") == 1
    assert "1.csv, line 2: round = 1: there is already a round of this number; its 16 stops were left out" in said.err
    now = read_season(season)
    assert [each.number for each in now.rounds] == [1, 2]
    assert now.rounds[0].stops.infected.tolist() == before.rounds[0].stops.infected.tolist()


def test_two_scouts_of_one_round_are_brought_in_together(run: Run, tmp_path: Path) -> None:
    outlines = write_map(tmp_path / "o.geojson", outline("Long Acre"))
    one, other = write_stops(tmp_path / "ines.csv", infected=PATCH), write_stops(tmp_path / "bram.csv", infected=PATCH)
    season = season_of(run, tmp_path, outlines, one, other)
    now = read_season(season)
    assert [each.number for each in now.rounds] == [1]
    assert len(now.rounds[0].stops) == 32


def test_bad_lines_are_left_out_one_by_one(run: Run, tmp_path: Path) -> None:
    outlines = write_map(tmp_path / "o.geojson", outline("Long Acre"), outline("Crossed", row_spacing_m=-2.0))
    date, who = "2031-06-11", "A. Scout"
    lines = [
        (1, date, who, "Long Acre", 2, 3, 20, 1),
        (1, date, who, "Long Acre", 2, 99, 20, 1),
        (1, date, who, "Long Acre", 2, 8, 20, 21),
        (1, "11/06/2031", who, "Long Acre", 2, 9, 20, 1),
        (1, date, who, "Nobody's\nAcre", 2, 9, 20, 1),
        (1, date, who, "Long Acre", 4, 3, 20, 6),
    ]
    stops = write_lines(tmp_path / "s.csv", STOP_HEAD, lines)
    said = run("add", outlines, stops, "--season", tmp_path / "s.vinemap")
    assert said.code == 1
    found = said.err.splitlines()
    assert len(found) == 5
    starts = (
        "o.geojson, feature 2, block Crossed: row_spacing_m = -2: ",
        "s.csv, line 4: infected = 21: is more than the 20 examined. ",
        "s.csv, line 5: date = 11/06/2031: may be read as two different dates. Write year-month-day",
        "s.csv, lines 6 to 7: block = Nobody's Acre: there is no block of this name. The blocks are Long Acre.",
        "s.csv, line 3: vine = 99: ",
    )
    for start in starts:
        assert len([line for line in found if line.startswith(f"left out: {start}")]) == 1, (start, found)
    season = read_season(tmp_path / "s.vinemap")
    assert [block.name for block in season.blocks] == ["Long Acre"]
    assert season.rounds[0].stops.infected.tolist() == [1, 6]
    # the same is said before anything is made
    checked = run("check", outlines, stops)
    assert checked.code == 1
    assert [f"left out: {line}" for line in checked.out.splitlines()] == found


def test_nothing_good_makes_no_season(run: Run, tmp_path: Path) -> None:
    season = tmp_path / "s.vinemap"
    cases: list[tuple[Any, str]] = [
        (write_map(tmp_path / "bad.geojson", outline("A", vigour=7), outline("B", vigour=8)), "Nothing could be brought in"),
        (write_stops(tmp_path / "s.csv"), "There is no block to put this on"),
        (write_map(tmp_path / "rows.geojson", row("A", "1", 0.0)), "No block could be brought in"),
        (tmp_path / "nothing.csv", "Nothing could be brought in"),
    ]
    for path, words in cases:
        said = run("add", path, "--season", season)
        assert (said.code, said.out) == (2, "")
        assert words in said.err.splitlines()[-1]
        assert all(line.startswith(f"left out: {path.name}") for line in said.err.splitlines()[:-1])
        assert not season.exists()


def test_an_outline_alone_comes_in_and_its_stops_once_it_has_rows(run: Run, tmp_path: Path) -> None:
    season, stops = tmp_path / "s.vinemap", write_stops(tmp_path / "s.csv")
    said = run("add", write_map(tmp_path / "bare.geojson", outline("Long Acre", bearing_deg=None)), "--season", season)
    assert said.code == 0
    assert "Long Acre: it has no rows yet." in said.out
    said = run("add", stops, "--season", season)
    assert said.code == 1
    assert "block = Long Acre: has no rows yet. Bring in its rows or make them from its outline" in said.err
    plan = ("--bearing", "0", "--row-spacing", "3", "--vine-spacing", "2")
    assert run("rows", "--season", season, "--block", "Long Acre", *plan).code == 0
    said = run("add", stops, "--season", season)
    assert (said.code, said.err) == (0, "")


def test_dates_of_a_block_that_was_left_out_do_not_cost_the_rest(run: Run, tmp_path: Path) -> None:
    estate = tmp_path / "estate.json"
    estate.write_text(
        '{"estate": "Invented", "time_offset_hours": -8, "bloom": "2031-05-28", "stages": ['
        '{"block": "Lost", "bloom": "2031-05-30"}, {"block": "Long Acre", "bloom": "2031-06-01"}]}',
        encoding="utf-8",
    )
    outlines = write_map(tmp_path / "o.geojson", outline("Long Acre"), outline("Lost", vigour=9))
    said = run("add", estate, outlines, "--season", tmp_path / "s.vinemap")
    assert said.code == 1
    assert "estate.json, block Lost: stages: there is no block of this name" in said.err
    stages = {each.block: each.bloom for each in read_season(tmp_path / "s.vinemap").stages}
    assert stages == {"": dt.date(2031, 5, 28), "Long Acre": dt.date(2031, 6, 1)}
    # a later file speaks only of what it names
    estate.write_text('{"estate": "Renamed", "time_offset_hours": -7, "harvest": "2031-09-20"}', encoding="utf-8")
    said = run("add", estate, "--season", tmp_path / "s.vinemap")
    assert said.code == 0
    assert "called Invented; it is now called Renamed" in said.out
    assert "was UTC-8 h; it is now UTC-7 h" in said.out
    after = read_season(tmp_path / "s.vinemap").stages
    assert [each.bloom for each in after if each.block == "Long Acre"] == [dt.date(2031, 6, 1)]


def test_weather_of_the_next_weeks_joins_what_was_there(run: Run, tmp_path: Path) -> None:
    outlines = write_map(tmp_path / "o.geojson", outline("Long Acre"))
    season = season_of(run, tmp_path, outlines, write_weather(tmp_path / "w 2031-06-01.csv", 1, 10, 20.0))
    said = run("add", write_weather(tmp_path / "w 2031-06-08 (1).csv", 8, 7, 25.0), "--season", season)
    assert said.code == 0
    assert "168 readings of that stay" in said.out  # seven whole days before the eighth
    weather = read_season(season).weather
    assert weather is not None
    assert np.diff(weather.time_utc).tolist() == [3600] * (14 * 24 - 1)
    assert weather.temp_degc.tolist() == [20.0] * 168 + [25.0] * 168
    bad = write_lines(tmp_path / "w3.csv", ("time", "temp_c"), [("yesterday", 20)])
    assert run("add", bad, "--season", season).code == 1
    kept = read_season(season).weather
    assert kept is not None
    assert len(kept) == 336


def test_other_rows_only_while_nothing_stands_on_the_old_ones(run: Run, tmp_path: Path) -> None:
    season = season_of(run, tmp_path, write_map(tmp_path / "o.geojson", outline("Long Acre")))
    real = write_map(tmp_path / "r.geojson", *(row("Long Acre", f"{n}", 2.5 * n) for n in range(1, 5)))
    assert run("add", real, "--season", season).code == 0
    assert read_season(season).blocks[0].rows.labels == ("1", "2", "3", "4")
    head = ("date", "block", "rows", "kind", "face", "people", "hours")
    work = write_lines(tmp_path / "p.csv", head, [("2031-06-01", "Long Acre", "2-4", "L", "east", 2, 3.5)])
    assert run("add", work, "--season", season).code == 0
    again = run("add", work, "--season", season)
    assert (again.code, "p.csv: 1 were in the season already." in again.out) == (0, True)
    other = write_map(tmp_path / "r2.geojson", row("Long Acre", "Z", 2.5))
    said = run("add", other, "--season", season)
    assert said.code == 1
    assert "the block already has passes on named rows, which stand on its present rows. Put its rows right" in said.err
    assert said.out.splitlines() == ["Nothing came in.", "r2.geojson: none of 1 row"]
    assert read_season(season).blocks[0].rows.labels == ("1", "2", "3", "4")
