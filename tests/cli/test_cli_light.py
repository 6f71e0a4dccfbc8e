"""What a scout saw through the vines, from the notes to the reason why a row stands where it does."""

from __future__ import annotations

import csv
import shutil
from pathlib import Path

from cli_running import run_command


def closed(path: Path) -> dict[tuple[str, str], str]:
    """How closed each row is and how that is known, from the reasons."""
    with path.open(encoding="utf-8", newline="") as stream:
        lines = [each for each in csv.DictReader(stream) if each["work"] == "open"]
    return {(each["block"], each["row"]): each["why"].partition("leaves closed, ")[2].partition(";")[0] for each in lines}


def test_a_word_on_light_and_rods_tell_how_closed_a_row_is(sample: Path, tmp_path: Path) -> None:
    season, out = tmp_path / "w.vinemap", tmp_path / "rank.csv"
    shutil.copy(sample / "wattlequern.vinemap", season)
    assert run_command("rank", "--season", season, "--round", 2, "--out", out).code == 0
    before = closed(out)
    (block, row), other, *_ = before
    given = run_command("give", "--season", season, "--what", "stops", "--round", 2, "--out", tmp_path / "stops.csv")
    assert given.code == 0
    with (tmp_path / "stops.csv").open(encoding="utf-8", newline="") as stream:
        date = next(csv.DictReader(stream))["date"]
    notes = tmp_path / "notes.csv"
    notes.write_text(
        f"round,date,block,row,vine,examined,infected,light\n9,{date},{block},{row},1,10,1,daylight\n", encoding="utf-8"
    )
    assert run_command("add", notes, "--season", season).code == 0
    rods = f"rods in row {other[1]} of {other[0]} on {date}: LLL LLLC LLL LLLL"
    said = run_command("edit", "--season", season, rods)
    assert "3.2 layers of leaves, 0 % gaps" in said.out
    assert run_command("rank", "--season", season, "--round", 2, "--out", out).code == 0
    after = closed(out)
    assert after[other] == "seen today: 100 %" != before[other]
    # a row that is open already may drop out of the list: nothing would be gained there
    assert after.get((block, row), "seen today: 0 %") == "seen today: 0 %" != before[block, row]
