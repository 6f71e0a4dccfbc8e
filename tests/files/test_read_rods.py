"""Rods from tables. The estate is invented."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest
import shapely

from vinemap.canopy.rods import RodNote
from vinemap.errors import FileError
from vinemap.files.kinds import kind_of
from vinemap.files.projection import frame_for
from vinemap.files.rod_reader import read_rods
from vinemap.ground.block import Block
from vinemap.ground.rowmaker import make_rows
from vinemap.season.value import Estate, Season
from vinemap.service.bring_in import bring_in
from vinemap.service.given_tables import write_part

OUTLINE = shapely.box(0, 0, 60, 80)
BLOCK = Block("Peña Alta", OUTLINE, make_rows(OUTLINE, 0.0, 3.0, 2.0), 3.0, 2.0)
SEASON = Season(Estate("Invented", frame_for(-122.7, 38.6), -8.0, True), (BLOCK,))
DAY = dt.date(2026, 6, 10)


def save(tmp_path, *lines):
    path = tmp_path / "rods.csv"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def test_lines_of_one_place_and_day_are_one_note(tmp_path):
    path = save(
        tmp_path,
        "block,row,date,insertions",
        "Peña Alta,3,2026-06-10,LCL G",
        "Peña Alta,3,2026-06-10,ll",
        "Peña Alta,,2026-06-10,C · L",
    )
    assert kind_of(path) == "rods"
    read = read_rods(path, [BLOCK])
    assert read.problems == ()
    assert read.value == (
        RodNote("Peña Alta", "3", DAY, ("LCL", "", "LL")),
        RodNote("Peña Alta", "", DAY, ("C", "L")),
    )


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("Elsewhere,3,2026-06-10,L", "no block of this name. The blocks are Peña Alta."),
        ("Peña Alta,999,2026-06-10,L", "no row of this label"),
        ("Peña Alta,3,10/06/2026,L", "two different dates"),
        ("Peña Alta,3,2026-06-10,", "insertions: No rods are written"),
        ("Peña Alta,3,2026-06-10,LXL", "insertions = LXL: “LXL” is not what a rod can touch. Write L"),
    ],
)
def test_a_line_that_is_wrong_is_left_out_with_the_reason(tmp_path, line, words):
    read = read_rods(save(tmp_path, "block,row,date,insertions", line, "Peña Alta,1,2026-06-10,G"), [BLOCK])
    assert [each.row for each in read.value] == ["1"]
    assert "line 2" in str(read.problems[0])
    assert words in str(read.problems[0])


def test_a_table_without_insertions_is_refused(tmp_path):
    with pytest.raises(FileError, match="insertions"):
        read_rods(save(tmp_path, "block,row,date", "Peña Alta,1,2026-06-10"), [BLOCK])


def test_rods_that_are_given_out_are_read_back(tmp_path):
    notes = (RodNote("Peña Alta", "3", DAY, ("LCL", "", "LL")), RodNote("Peña Alta", "", DAY, ("C",)))
    path = tmp_path / "out.csv"
    assert write_part(path, replace(SEASON, rods=notes), "rods").startswith("2 places with rods")
    assert read_rods(path, [BLOCK]).value == notes


def test_rods_come_into_a_season_once_and_their_figures_are_told(tmp_path):
    path = save(tmp_path, "block,row,date,insertions", "Peña Alta,3,2026-06-10,LCL G L CL LLL LLCL G C LC LL")
    season, report = bring_in([path], SEASON, "x")
    assert len(season.rods) == 1
    assert any("Peña Alta, row 3, 2026-06-10: 1.3 layers of leaves, 20 % gaps" in note for note in report.notes)
    again, report = bring_in([path], season, "x")
    assert again.rods == season.rods
    assert any("1 were in the season already" in note for note in report.notes)
