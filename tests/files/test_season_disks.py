"""A season on a disk that is really full or really pulled out: said in plain words, and whole afterwards.

Each run has a small disk in memory to itself, which nobody else sees and which is gone with the run. Only the
administrator of a Linux may have one, so the runs are left out elsewhere; test_season_no_room.py runs everywhere.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

MOUNT = 'mount -t tmpfs -o size=3m none "$1" && shift && exec "$@"'


def on_a_disk(disk: Path, *command: str) -> subprocess.CompletedProcess[str]:
    """Run a command with a disk of 3 MB at a folder, in a namespace of its own."""
    asked = ["unshare", "--mount", "sh", "-c", MOUNT, "sh", str(disk), *command]
    here = os.environ | {"PYTHONPATH": str(Path(__file__).resolve().parents[2])}
    return subprocess.run(asked, env=here, capture_output=True, text=True, timeout=120, check=False)


@pytest.fixture
def disk(tmp_path: Path) -> Path:
    disk = tmp_path / "disk"
    disk.mkdir()
    if sys.platform != "linux" or shutil.which("unshare") is None:
        pytest.skip("no disk of its own: only on Linux")
    tried = on_a_disk(disk, "true")
    if tried.returncode:
        pytest.skip(f"no disk of its own: {tried.stderr.strip()}")
    return disk


FULL = "The disk is full; this edit was not saved. Free some space and do it again. All earlier edits are safe in the file."


@pytest.mark.parametrize(
    ("case", "said"),
    [
        ("editing", [FULL]),
        ("bringing_in", [FULL]),
        (
            "copying",
            [f"The copy “{each}.vinemap” can't be made: there the disk is full. Look whether" for each in ("b", "old")],
        ),
        ("copying_daily", ["Today's copy of the season was not made. The copy “a "]),
        ("pulling_out", ["There is no file “a.vinemap”", "“a.vinemap” is no longer in"]),
    ],
)
def test_a_full_or_lost_disk_is_said_and_nothing_is_lost(disk: Path, tmp_path: Path, case: str, said: list[str]) -> None:
    runs = Path(__file__).with_name("disk_runs.py")
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    ran = on_a_disk(disk, sys.executable, str(runs), case, str(disk), str(elsewhere))
    assert ran.returncode == 0, ran.stderr
    lines = ran.stdout.splitlines()
    assert len(lines) == len(said), ran.stdout
    for line, start in zip(lines, said, strict=True):
        assert line.startswith(start)
