"""A task for a sprayer of a whole estate: by the published rules, and each vine at the rate it is due."""

from __future__ import annotations

import io
import sys
import zipfile
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import numpy as np

from vinemap.cli_asked import opened
from vinemap.files.projection import to_lonlat
from vinemap.service.answers import Answers
from vinemap.service.give_out import give_out
from vinemap.service.given import Asked

sys.path.append(str(Path(__file__).parents[1] / "files"))
from taskdata_rules import faults


def test_each_vine_of_the_week_s_runs_lies_in_a_cell_of_the_rate_and_no_other_vine_does(sample: Path, tmp_path: Path) -> None:
    season, scouted = opened(sample / "wattlequern.vinemap", 1)
    # so few hours that most rows have to wait
    season = replace(season, assumptions=replace(season.assumptions, sprayer_hours=0.4))
    answers, out = Answers(), tmp_path / "task.zip"
    give_out(season, scouted, answers, Asked("zones", out, 450.0, 0.5))
    with zipfile.ZipFile(out) as archive:
        held = {Path(name).name: archive.read(name) for name in archive.namelist()}
    root = ElementTree.parse(io.BytesIO(held.pop("TASKDATA.XML"))).getroot()
    assert faults(root, held) == []

    chosen = [work for work in answers.ranking(season, scouted).spraying if work.is_first]
    blocks = [block for block in season.blocks if block.name in {work.block for work in chosen}]
    due = not_due = 0
    for block, grid in zip(blocks, root.iter("GRD"), strict=True):
        vines = answers.vines(block)
        lon, lat = to_lonlat(season.estate.frame, vines.x_m, vines.y_m)
        south, west, north_step, east_step = (float(grid.attrib[letter]) for letter in "ABCD")
        cells = np.frombuffer(held[f"{grid.attrib['G']}.BIN"], "<i4").reshape(int(grid.attrib["F"]), int(grid.attrib["E"]))
        rate = cells[((lat - south) // north_step).astype(int), ((lon - west) // east_step).astype(int)]
        is_inside, is_near = np.zeros(rate.size, dtype=bool), np.zeros(rate.size, dtype=bool)
        for work in chosen:
            if work.block == block.name:
                # at the ends of a run the middle of a vine's cell may lie on either side
                is_row = vines.row == work.row
                is_inside |= is_row & (vines.ordinal > work.first_vine) & (vines.ordinal < work.last_vine)
                is_near |= is_row & (vines.ordinal >= work.first_vine - 1) & (vines.ordinal <= work.last_vine + 1)
        assert set(rate[is_inside].tolist()) == {4_500_000}
        assert set(rate[~is_near].tolist()) <= {0}
        due, not_due = due + int(is_inside.sum()), not_due + int((~is_near).sum())
    assert min(due, not_due) > 100
