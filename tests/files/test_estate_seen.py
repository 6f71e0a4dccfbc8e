"""Stages that were seen and sugar that was measured go out with the estate and come back. All of it is invented."""

from __future__ import annotations

import dataclasses
import json

from season_makers import make_season

from vinemap.files.estate_reader import read_estate
from vinemap.service.answers import Answers
from vinemap.service.bring_in import bring_in
from vinemap.service.give_out import Asked, give_out

ESTATE = {"estate": "Invented", "time_offset_hours": -8}


def save(tmp_path, **more):
    path = tmp_path / "estate.json"
    path.write_text(json.dumps({**ESTATE, **more}), encoding="utf-8")
    return path


def test_what_was_seen_comes_back_as_it_went_out(tmp_path):
    season = make_season()
    assert any(each.seen and each.brix for each in season.stages)
    give_out(season, None, Answers(), Asked("estate", tmp_path / "e.json"))
    read = read_estate(tmp_path / "e.json")
    assert (read.problems, read.notes) == ((), ())
    assert read.value.stages == season.stages


def test_what_can_not_have_been_seen_is_left_out_and_listed(tmp_path):
    seen = [
        {"date": "2031-06-02", "scale": "bbch", "number": 71},
        {"date": "2031-06-01", "scale": "BBCH", "number": 65},
        {"date": "2031-06-03", "scale": "BBCH", "number": 20},
        {"date": "2031-06-03", "number": 23},
        {"date": "3/6/2031", "scale": "BBCH", "number": 71},
        "bloom",
    ]
    read = read_estate(save(tmp_path, stages=[{"block": "A", "seen": seen, "brix": [{"date": "2031-08-03", "brix": 85}]}]))
    (stages,) = read.value.stages
    assert [(each.scale, each.number) for each in stages.seen] == [("BBCH", 65), ("BBCH", 71)]
    assert stages.brix == ()
    said = [str(each) for each in read.problems]
    assert len(said) == 5
    assert "stage 1, block A, seen 3: number = 20: BBCH 20 is no stage of the vine" in said[0]
    assert "seen 4: scale: there is nothing here" in said[1]
    assert "may be read as two different dates" in said[2]
    assert "brix 1: brix = 85: must be from 0 to 45" in said[4]


def test_a_file_that_tells_no_stage_seen_takes_none_away(tmp_path):
    season = make_season()
    path = save(tmp_path, budbreak="2031-03-30", stages=[{"block": "Long Acre", "budbreak": "2031-04-02"}])
    made, report = bring_in([path], season, "again")
    assert report.problems == []
    before, now = (each.stages[1] for each in (season, made))
    assert now == dataclasses.replace(before, budbreak=now.budbreak)
    assert now.budbreak.isoformat() == "2031-04-02"
