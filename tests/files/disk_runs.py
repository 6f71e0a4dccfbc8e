"""What a season goes through on a disk that is full or pulled out; run by itself as: python disk_runs.py CASE DISK ELSEWHERE.

DISK is a small disk of its own that may be filled and taken away. Each case prints what was said to the manager.
"""

from __future__ import annotations

import datetime as dt
import os
import subprocess
import sys
from collections.abc import Callable
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import replace
from functools import partial
from io import StringIO
from pathlib import Path

from season_makers import make_round, make_season, same

from vinemap.cli import main
from vinemap.errors import FileError
from vinemap.files.season_copies import copies_folder
from vinemap.files.season_file import create, open_season, read_season
from vinemap.season.edits import with_round
from vinemap.season.value import Season
from vinemap.service.book import new_book


def fill(disk: Path, room: int) -> Path:
    """Leave no more than ``room`` bytes on the disk."""
    ballast = disk / "ballast"
    free = os.statvfs(disk)
    with ballast.open("wb", buffering=0) as stream:
        stream.write(bytes(max(free.f_bavail * free.f_frsize - room, 0)))
    return ballast


def refused(deed: Callable[[], object]) -> str:
    try:
        deed()
    except FileError as error:
        return str(error)
    raise AssertionError("it was done")


def larger(season: Season, number: int) -> Season:
    """The season with another round of 600 stops: about 60 kB."""
    return with_round(season, make_round(number, stops=600))


def editing(disk: Path, elsewhere: Path) -> set[str]:
    path, said = disk / "a.vinemap", set()
    with create(path, make_season(), 0) as file:
        for number, room in enumerate((0, 4096, 8192, 16_384, 32_768), start=3):
            before = file.season
            ballast = fill(disk, room)
            said.add(refused(partial(file.apply, "round", larger(before, number), number)))
            assert file.season is before
            assert same(read_season(path), before)
            ballast.unlink()
            file.apply("round", larger(before, number), number)
            assert same(read_season(path), file.season)
        after = file.season
    # no room is needed to open it and look
    ballast = fill(disk, 0)
    with open_season(path) as file:
        said.add(refused(file.undo))
        assert same(file.season, after)
        ballast.unlink()
        file.undo()
    assert same(read_season(path), before)
    assert [each.name for each in disk.iterdir()] == ["a.vinemap"]
    return said


def bringing_in(disk: Path, elsewhere: Path) -> set[str]:
    path, said = disk / "a.vinemap", set()
    create(path, make_season(), 0).close()
    weather = elsewhere / "weather.csv"
    times = (dt.datetime(2031, 5, 1) + dt.timedelta(hours=each) for each in range(4000))
    lines = [f"{each:%Y-%m-%dT%H:%M},{15 + each.hour / 3:.1f}" for each in times]
    weather.write_text("time,temp_c\n" + "\n".join(lines) + "\n", encoding="utf-8")
    before = read_season(path)
    for room in (0, 16_384):
        ballast = fill(disk, room)
        out, err = StringIO(), StringIO()
        with redirect_stdout(out), redirect_stderr(err):
            code = main(["add", str(weather), "--season", str(path), "--station", "invented"])
        assert (code, out.getvalue()) == (2, ""), out.getvalue()
        said.add(err.getvalue().strip())
        assert same(read_season(path), before)
        # nor is a new season begun by halves
        with redirect_stdout(out), redirect_stderr(err):
            code = main(["sample", str(disk / "sample")])
        assert code == 2
        ballast.unlink()
    with redirect_stdout(StringIO()):
        assert main(["add", str(weather), "--season", str(path), "--station", "invented"]) == 0
    assert not same(read_season(path), before)
    return said


def copying(disk: Path, elsewhere: Path) -> set[str]:
    said = set()
    with create(elsewhere / "a.vinemap", larger(make_season(), 3), 0) as file:
        old = disk / "old.vinemap"
        file.save_copy(old)
        there, ballast = old.read_bytes(), fill(disk, 8192)
        for target in (disk / "b.vinemap", old):
            said.add(refused(partial(file.save_copy, target)))
        assert sorted(each.name for each in disk.iterdir()) == ["ballast", "old.vinemap"]
        assert old.read_bytes() == there
        ballast.unlink()
        file.save_copy(disk / "b.vinemap")
        assert same(read_season(disk / "b.vinemap"), file.season)
    return said


def copying_daily(disk: Path, elsewhere: Path) -> set[str]:
    season = larger(make_season(), 3)
    book = new_book(disk / "a.vinemap", replace(season, estate=replace(season.estate, is_invented=False)))
    size = (disk / "a.vinemap").stat().st_size
    # room for an edit and its journal, not for a copy of it all
    ballast = fill(disk, size // 2)
    book.apply("round", lambda now: with_round(now, make_round(4, stops=3)))
    said = {book.copy_trouble}
    assert len(read_season(disk / "a.vinemap").rounds) == 4
    assert not list(copies_folder(disk / "a.vinemap").glob("*"))
    ballast.unlink()
    book.apply("round", lambda now: with_round(now, make_round(5, stops=3)))
    assert book.copy_trouble == ""
    book.close()
    assert len(list(copies_folder(disk / "a.vinemap").glob("*"))) == 1
    return said


def pulling_out(disk: Path, elsewhere: Path) -> set[str]:
    kept = elsewhere / "kept"
    kept.mkdir()
    # the disk seen at a second place, which is taken away and brought back
    stick = elsewhere / "stick"
    stick.mkdir()
    subprocess.run(["mount", "--bind", disk, stick], check=True)
    path = stick / "a.vinemap"
    with create(path, make_season(), 0) as file:
        before = file.apply("round", larger(file.season, 3), 0)
        subprocess.run(["umount", "-l", stick], check=True)
        said = {refused(lambda: file.apply("round", larger(before, 4), 0)), refused(file.undo)}
        assert file.season is before
        # what the window holds is not lost
        file.save_copy(kept / "b.vinemap")
        assert same(read_season(kept / "b.vinemap"), before)
        said.add(refused(lambda: read_season(path)))
        subprocess.run(["mount", "--bind", disk, stick], check=True)
        after = file.apply("round", larger(before, 4), 0)
    assert same(read_season(path), after)
    assert [each.name for each in stick.iterdir()] == ["a.vinemap"]
    return said


CASES = {each.__name__: each for each in (editing, bringing_in, copying, copying_daily, pulling_out)}

if __name__ == "__main__":
    sys.stdout.write("\n".join(sorted(CASES[sys.argv[1]](Path(sys.argv[2]), Path(sys.argv[3])))))
