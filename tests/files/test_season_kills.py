"""Kill the program while it saves one edit after another: all edits that were reported as saved are in the file."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

KILLS = 20

# Runs in a process of its own, which starts one child per kill. The child marks one vine more per edit and then says so.
RUN = """
import json, os, random, signal, sys, time
from pathlib import Path
sys.path.insert(0, sys.argv[2])
from season_makers import make_season
from vinemap.files.season_file import create, open_season
from vinemap.season.edits import mark_vines

def work(path, pipe):
    with open_season(path) as opened:
        while True:
            done = opened.position
            after = mark_vines(opened.season, "Long Acre", "1", 9, 9 + done % 20, 1 + done // 20)
            opened.apply(f"edit {done + 1}", after, done)
            os.write(pipe, b"x")

def kill_once(path, edits, wait_s):
    near, far = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(near)
        work(path, far)
        os._exit(1)
    os.close(far)
    told = len(os.read(near, edits))
    while told < edits:
        told += len(os.read(near, edits - told))
    time.sleep(wait_s)
    os.kill(child, signal.SIGKILL)
    ended = os.waitpid(child, 0)[1]
    while more := os.read(near, 4096):
        told += len(more)
    os.close(near)
    return told, os.WTERMSIG(ended)

path = Path(sys.argv[1])
create(path, make_season(), 0).close()
chance = random.Random(5)
before = 0
for number in range(int(sys.argv[3])):
    told, signal_number = kill_once(path, 1 + number % 3, chance.random() * 0.02)
    journal = os.path.exists(str(path) + "-journal")
    with open_season(path) as opened:
        labels = opened.labels
        vines = len(opened.season.block("Long Acre").exceptions.vine)
        sound = opened._db.execute("PRAGMA integrity_check").fetchone()[0]
    print(json.dumps({"told": told, "saved": len(labels) - 1 - before, "label": labels[-1], "vines": vines, "sound": sound,
                      "signal": signal_number, "journal": journal}))
    before = len(labels) - 1
    if before > 50:
        path.unlink()
        create(path, make_season(), 0).close()
        before = 0
print(json.dumps(sorted(each.name for each in path.parent.iterdir())))
"""


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork")
def test_killing_loses_at_most_the_edit_being_written(tmp_path: Path) -> None:
    here = str(Path(__file__).parent)
    ran = subprocess.run(
        [sys.executable, "-c", RUN, str(tmp_path / "a.vinemap"), here, str(KILLS)],
        capture_output=True,
        text=True,
        timeout=120,
    )
    assert ran.returncode == 0, ran.stderr
    *kills, left = [json.loads(line) for line in ran.stdout.splitlines()]
    assert len(kills) == KILLS
    for kill in kills:
        assert kill["signal"] == 9
        assert kill["sound"] == "ok"
        assert kill["told"] <= kill["saved"] <= kill["told"] + 1, kill
        assert kill["told"] >= 1
        # two vines differ from the start; each of the first twenty edits marks one vine more
        edits = int(kill["label"].split()[1])
        assert kill["vines"] == 2 + min(edits, 20)
    assert any(kill["journal"] for kill in kills), "no kill came while an edit was being written"
    assert left == ["a.vinemap"]
