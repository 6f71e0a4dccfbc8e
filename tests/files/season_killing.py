"""Kill a process again and again while it writes a season, and tell after each kill what the file then holds.

    python season_killing.py SEASON edit|import KILLS

Prints one JSON object a kill, and at the end the names left in the folder. One child per kill marks one vine more per
edit, or brings one more round of stops in by the way that all files take; it says so on a pipe as soon as it is saved.
"""

from __future__ import annotations

import json
import os
import random
import signal
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from season_makers import make_season

from vinemap.files.season_file import create, open_season
from vinemap.season.edits import mark_vines
from vinemap.service.bring_in import bring_in

HEADS = "round,date,scout,block,row,vine,examined,infected,sample_type"
MOST_STEPS = 50


def mark_on(path, pipe):
    """Mark one vine more, and again."""
    with open_season(path) as opened:
        while True:
            done = opened.position
            after = mark_vines(opened.season, "Long Acre", "1", 9, 9 + done % 20, 1 + done // 20)
            opened.apply(f"edit {done + 1}", after, done)
            os.write(pipe, b"x")


def import_on(path, pipe):
    """Bring in a round of twenty stops, and the next."""
    table = path.parent / "stops.csv"
    with open_season(path) as opened:
        while True:
            done = opened.position
            lines = [f"{10 + done},2031-06-{1 + done % 28:02d},Ada,Long Acre,1,{vine},10,1,random" for vine in range(1, 21)]
            table.write_text("\n".join([HEADS, *lines]), encoding="utf-8")
            after, report = bring_in([table], opened.season, "")
            if report.problems:
                os._exit(2)
            opened.apply(f"import {done + 1}", after, done)
            os.write(pipe, b"x")


WORKS = {"edit": mark_on, "import": import_on}


def kill_once(work, path, steps, wait_s):
    """How many steps the child told as saved before it was killed, and the signal that ended it."""
    near, far = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(near)
        WORKS[work](path, far)
        os._exit(1)
    os.close(far)
    told = 0
    while told < steps:
        more = os.read(near, steps - told)
        if not more:
            break
        told += len(more)
    time.sleep(wait_s)
    os.kill(child, signal.SIGKILL)
    ended = os.waitpid(child, 0)[1]
    while more := os.read(near, 4096):
        told += len(more)
    os.close(near)
    return told, os.WTERMSIG(ended)


def main(path, work, kills):
    """Kill, look, tell, so many times."""
    create(path, make_season(), 0).close()
    chance = random.Random(5)
    before = 0
    for number in range(kills):
        told, signal_number = kill_once(work, path, 1 + number % 3, chance.random() * 0.02)
        journal = os.path.exists(f"{path}-journal")
        with open_season(path) as opened:
            found = {
                "told": told,
                "saved": len(opened.labels) - 1 - before,
                "label": opened.labels[-1],
                "vines": len(opened.season.block("Long Acre").exceptions.vine),
                "stops": [len(each.stops) for each in opened.season.rounds if each.number >= 10],
                "sound": opened._db.execute("PRAGMA integrity_check").fetchone()[0],
                "signal": signal_number,
                "journal": journal,
            }
            before = len(opened.labels) - 1
        sys.stdout.write(f"{json.dumps(found)}\n")
        if before > MOST_STEPS:
            path.unlink()
            create(path, make_season(), 0).close()
            before = 0
    left = sorted(each.name for each in path.parent.iterdir() if each.suffix != ".csv")
    sys.stdout.write(f"{json.dumps(left)}\n")


if __name__ == "__main__":
    main(Path(sys.argv[1]), sys.argv[2], int(sys.argv[3]))
