"""What a season holds is given out on the command line, and brought in again."""

from __future__ import annotations

import csv
import io
import zipfile
from functools import cache
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pyogrio
import pytest
from cli_running import Run

from vinemap.cli_asked import opened
from vinemap.scouting.rounds import Round
from vinemap.season.value import Season
from vinemap.service.answers import Answers
from vinemap.service.give_out import CHECK_SPRAY, give_out
from vinemap.service.given import WHATS, Asked
from vinemap.service.given_tables import ESTATE, TABLES


@pytest.fixture(scope="module")
def season(sample: Path) -> Path:
    return sample / "wattlequern.vinemap"


@pytest.fixture(scope="module")
def answers() -> Answers:
    """What is computed once for all tests."""
    return Answers()


@cache
def asked_for(path: Path, number: int) -> tuple[Season, Round]:
    """A season and one of its rounds."""
    return opened(path, number)


def table(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


@pytest.mark.parametrize("what", sorted(set(WHATS) - {*TABLES, ESTATE}))
def test_everything_with_a_place_is_given_out_for_any_map_program(
    season: Path, tmp_path: Path, what: str, answers: Answers
) -> None:
    held, scouted = asked_for(season, 1)
    said = give_out(held, scouted, answers, Asked(what, tmp_path / "a.gpkg", 600.0))
    assert (said[1:] == (CHECK_SPRAY,)) == (what == "zones")
    count, _, rest = said[0].partition(" ")
    assert pyogrio.read_info(tmp_path / "a.gpkg")["features"] == int(count.replace(",", ""))
    # in the words of the trade
    assert rest.split()[0] in ("blocks", "rows", "vines", "marked", "stops", "next", "runs", "strips")
    assert [each.name for each in tmp_path.iterdir()] == ["a.gpkg"]


def test_an_estate_given_out_and_brought_in_again_is_the_same(run: Run, season: Path, tmp_path: Path) -> None:
    names = {"blocks": "b.shp", "rows": "r.gpkg", "marks": "m.csv", "stops": "s.csv", "passes": "p.csv", "sprays": "y.csv"}
    for what, name in names.items():
        assert run("give", "--season", season, "--what", what, "--out", tmp_path / name).code == 0
    files = [tmp_path / name for name in names.values()]
    again = tmp_path / "again.vinemap"
    added = run("add", *files, "--season", again)
    assert (added.code, added.err) == (0, "")
    for what in ("marks", "stops", "passes", "sprays"):
        out = tmp_path / f"{what}-again.csv"
        assert run("give", "--season", again, "--what", what, "--out", out).code == 0
        before, after = table(tmp_path / names[what]), table(out)
        assert len(before) == len(after) > 0
        for one, other in zip(before, after, strict=True):
            off = [abs(float(one.pop(name)) - float(other.pop(name))) for name in ("lon", "lat") if name in one]
            assert max(off, default=0.0) < 2e-7
            assert one == other


def test_one_round_of_stops_can_be_asked_for(run: Run, season: Path, tmp_path: Path) -> None:
    assert run("give", "--season", season, "--what", "stops", "--out", tmp_path / "a.csv").code == 0
    assert run("give", "--season", season, "--what", "stops", "--round", "1", "--out", tmp_path / "b.csv").code == 0
    every, first = table(tmp_path / "a.csv"), table(tmp_path / "b.csv")
    assert {each["round"] for each in first} == {"1"}
    assert first == [each for each in every if each["round"] == "1"] != every


def test_a_spray_task_holds_the_rows_of_the_week_and_nothing_else(
    run: Run, season: Path, tmp_path: Path, answers: Answers
) -> None:
    rate = ("--rate", "450", "--cell-m", "0.5")
    said = run("give", "--season", season, "--what", "zones", *rate, "--round", "1", "--out", tmp_path / "task.zip")
    assert (said.code, said.err) == (0, "")
    assert CHECK_SPRAY in said.out
    held, scouted = asked_for(season, 1)
    give_out(held, scouted, answers, Asked("zones", tmp_path / "zones.csv", 450.0))
    zones = table(tmp_path / "zones.csv")
    assert {each["rate_l_per_ha"] for each in zones} == {"450.0"}
    chosen = [each for each in answers.ranking(held, scouted).spraying if each.is_first]
    wanted = [[each.block, each.label, str(each.first_vine), str(each.last_vine)] for each in chosen]
    assert [[each[name] for name in ("block", "row", "first_vine", "last_vine")] for each in zones] == wanted
    with zipfile.ZipFile(tmp_path / "task.zip") as archive:
        root = ElementTree.parse(io.BytesIO(archive.read("TASKDATA/TASKDATA.XML"))).getroot()
        grids = list(root.iter("GRD"))
        cells = [np.frombuffer(archive.read(f"TASKDATA/{each.attrib['G']}.BIN"), "<i4") for each in grids]
    assert len(grids) == len({each["block"] for each in zones}) > 0
    assert {int(value) for each in cells for value in np.unique(each)} == {0, 4_500_000}
    sprayed_m2 = sum(int((each > 0).sum()) for each in cells) * 0.5**2
    assert sprayed_m2 == pytest.approx(sum(float(each["area_m2"]) for each in zones), rel=0.02)
    give_out(held, scouted, answers, Asked("zones", tmp_path / "TASKDATA.XML", 450.0))
    assert (tmp_path / "GRD00001.BIN").exists()


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (("--what", "rows", "--out", "rows.doc"), "no ending that is known"),
        (("--what", "rows", "--out", "rows"), "no ending that is known"),
        (("--what", "rows", "--out", "no/rows.kml"), "There is no folder"),
        (("--what", "rows", "--out", "."), "can't be|is a folder"),
        (("--what", "nothing", "--out", "a.kml"), "can't be given out"),
        (("--what", "work", "--out", "a.gpx"), "only places to go to"),
        (("--what", "weather", "--out", "a.kml"), "no place for weather"),
        (("--what", "zones", "--out", "a.kml"), "need a rate"),
        (("--what", "zones", "--out", "a.kml", "--rate", "0"), "no rate to spray"),
        (("--what", "rows", "--out", "a.kml", "--rate", "600"), "--what zones only"),
        (("--what", "zones", "--out", "a.xml", "--rate", "600"), "TASKDATA.XML"),
        (("--what", "zones", "--out", "a.zip", "--rate", "600", "--cell-m", "9"), "can't tell rows"),
        (("--what", "zones", "--out", "a.zip", "--rate", "600", "--cell-m", "0"), "too small"),
        (("--what", "stops", "--round", "99", "--out", "a.kml"), "There is no round 99"),
    ],
)
def test_refusals_are_plain_and_leave_nothing_behind(
    run: Run, season: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, asked: tuple[str, ...], said: str
) -> None:
    monkeypatch.chdir(tmp_path)
    done = run("give", "--season", season, *asked)
    assert done.code == 2
    assert any(part in done.err for part in said.split("|")), done.err
    assert done.err.count("\n") == 1
    assert list(tmp_path.iterdir()) == []


def test_the_season_itself_is_never_written_over(run: Run, season: Path, tmp_path: Path) -> None:
    before = season.read_bytes()
    link = tmp_path / "rows.gpkg"
    link.hardlink_to(season)
    for out in (season, link):
        done = run("give", "--season", season, "--what", "rows", "--out", out)
        assert done.code == 2
        assert "can't be written over" in done.err
    assert season.read_bytes() == before


def test_without_a_round_there_is_a_walk_but_no_work(run: Run, season: Path, tmp_path: Path) -> None:
    for what in ("blocks", "rows"):
        run("give", "--season", season, "--what", what, "--out", tmp_path / f"{what}.kml")
    bare = tmp_path / "bare.vinemap"
    assert run("add", tmp_path / "blocks.kml", tmp_path / "rows.kml", "--season", bare).code == 0
    walk = run("give", "--season", bare, "--what", "walk", "--out", tmp_path / "walk.gpx")
    assert (walk.code, walk.err) == (0, "")
    names = ElementTree.parse(tmp_path / "walk.gpx").getroot().iter("{http://www.topografix.com/GPX/1/1}name")
    assert sum(each.text.count(" / ") == 2 for each in names) == int(walk.out.split()[0])
    for what in ("work", "field", "zones"):
        done = run("give", "--season", bare, "--what", what, "--rate", "600", "--out", tmp_path / "a.kml")
        assert done.code == 2
    done = run("give", "--season", bare, "--what", "stops", "--out", tmp_path / "a.kml")
    assert "nothing to write: no stops" in done.err
