"""A disk that takes no more while an edit is written: the edit is refused in plain words and nothing before it is lost."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

# in a process of its own: a limit can't be taken back
RUN = """
import resource, signal, sys
from pathlib import Path
sys.path.insert(0, sys.argv[2])
from season_makers import make_round, make_season, same
from vinemap.errors import FileError
from vinemap.files.season_file import create, read_season
from vinemap.season.edits import with_round

path = Path(sys.argv[1])
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
with create(path, make_season(), 0) as opened:
    room = path.stat().st_size + 8192
    resource.setrlimit(resource.RLIMIT_FSIZE, (room, resource.RLIM_INFINITY))
    said = ""
    for number in range(3, 40):
        before = opened.season
        try:
            opened.apply("round", with_round(before, make_round(number, stops=60)), number)
        except FileError as error:
            said = str(error)
            break
    assert opened.season is before
    assert same(read_season(path), before)
    resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
    after = opened.apply("round", with_round(before, make_round(number, stops=60)), number)
assert same(read_season(path), after)
print(said)
"""


@pytest.mark.skipif(os.name == "nt", reason="needs limits that are not there")
def test_no_room_for_an_edit(tmp_path: Path) -> None:
    here = str(Path(__file__).parent)
    ran = subprocess.run(
        [sys.executable, "-c", RUN, str(tmp_path / "a.vinemap"), here],
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert ran.returncode == 0, ran.stderr
    assert "disk" in ran.stdout
    assert "full" in ran.stdout
    assert [each.name for each in tmp_path.iterdir()] == ["a.vinemap"]
