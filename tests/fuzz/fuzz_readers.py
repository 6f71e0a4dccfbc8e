"""Spoil files in every way and read them: only errors in plain words may come, in time and within memory.

    python tests/fuzz/fuzz_readers.py --cases 20000 --seed 1

Each case is checked as ``vinemap check`` does, and brought into a season as ``vinemap add`` does, with or without what a
person may agree to; what came of it is kept in a season file and read back. A case is a failure that raises anything but a
VinemapError, gives another season back than was kept, takes more than 5 s or needs more than 1 GB beyond what is imported.
The same seed makes the same cases; ``--only N`` runs one of them and shows its error; ``--keep DIR`` keeps the spoilt files
that failed.
"""

# ruff: noqa: T201  a script that says what it finds
from __future__ import annotations

import argparse
import collections
import contextlib
import datetime as dt
import faulthandler
import random
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import traceback
import warnings
from collections.abc import Iterator, Sequence
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))
from fuzz_mutations import spoil
from fuzz_seeds import make_seeds
from fuzz_ways import Way, way_for
from season_makers import same

from vinemap.errors import VinemapError
from vinemap.files.season_file import create, open_season, read_season
from vinemap.season.value import Season
from vinemap.service.bring_in import bring_in
from vinemap.service.check_files import check
from vinemap.service.repair import Outcome
from vinemap.service.report_text import report_text

SECONDS, EXTRA_BYTES = 5.0, 2**30
_SIDES = {".shp": ("shx", "dbf", "prj", "cpg"), ".jpg": ("jgw", "prj"), ".png": ("pgw", "prj")}
_PRINTED = dt.datetime(2026, 6, 12)


class TooLong(BaseException):
    """A case took more than its time."""


@contextlib.contextmanager
def within(seconds: float) -> Iterator[None]:
    """Raise TooLong after so many seconds of work, whatever else the machine does; end a process that waits for ever."""

    def late(*_: object) -> None:
        raise TooLong

    before = signal.signal(signal.SIGPROF, late)
    signal.setitimer(signal.ITIMER_PROF, seconds)
    faulthandler.dump_traceback_later(12.0 * seconds, exit=True)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0.0)
        faulthandler.cancel_dump_traceback_later()
        signal.signal(signal.SIGPROF, before)


def base_season(seeds: Sequence[Path]) -> Season:
    """A sound season to bring spoilt files into."""
    named = {path.name: path for path in seeds}
    return bring_in([named["estate.json"], named["outlines.geojson"], named["rows.geojson"]], None, "base")[0]


def spoilt_file(number: int, seed: int, seeds: Sequence[Path], folder: Path) -> Path:
    """The file of case ``number``, with the parts that belong to it."""
    chance = random.Random(f"{seed} {number}")
    source = chance.choice(seeds)
    path = folder / source.name
    path.write_bytes(spoil(source.read_bytes(), chance))
    for end in _SIDES.get(source.suffix, ()):
        if (part := source.with_suffix(f".{end}")).exists() and chance.random() < 0.95:
            data = part.read_bytes()
            path.with_suffix(f".{end}").write_bytes(spoil(data, chance) if chance.random() < 0.3 else data)
    return path


def _way_chance(number: int, seed: int) -> random.Random:
    return random.Random(f"{seed} {number} asked")


def run_case(path: Path, season: Season, outlines: Path, chance: random.Random) -> None:
    """Read one spoilt file in each way that the program would, and keep what came of it."""
    way = way_for(path, season.blocks[0].name, chance)
    if way == Way():
        check([path])
    else:
        with contextlib.suppress(VinemapError):
            check([path], way.agreed, way.pictures, way.weather)
    for paths, into in (([path], season), ([outlines, path], None)):
        with contextlib.suppress(VinemapError):
            _keep(way.bring(paths, into), path.with_name("kept"), into)
    if path.suffix == ".vinemap":
        with contextlib.suppress(VinemapError), open_season(path) as opened:
            opened.undo()


def _keep(outcome: Outcome, folder: Path, before: Season | None) -> None:
    """Write the report and the season, and read the season back."""
    text = report_text(outcome.report, outcome.mended, [str(each) for each in outcome.offers], _PRINTED)
    text.encode("utf-8")
    made = outcome.season
    if made is None or made is before:
        return
    folder.mkdir(exist_ok=True)
    path = folder / "kept.vinemap"
    path.unlink(missing_ok=True)
    create(path, made, 0).close()
    if not same(read_season(path), made):
        raise AssertionError("the season came back otherwise than it was kept")


def run_cases(numbers: Sequence[int], seed: int, keep: Path | None = None, tell: bool = False) -> list[tuple[int, str, str]]:
    """The cases that failed: number, file and what was raised."""
    failed = []
    warnings.simplefilter("ignore")
    with tempfile.TemporaryDirectory() as made, tempfile.TemporaryDirectory() as spoilt:
        seeds = make_seeds(Path(made))
        season = base_season(seeds)
        outlines = Path(made) / "outlines.geojson"
        for number in numbers:
            for left in Path(spoilt).iterdir():
                shutil.rmtree(left) if left.is_dir() else left.unlink()
            path = spoilt_file(number, seed, seeds, Path(spoilt))
            if tell:
                print(f"case {number} {path.name}", flush=True)
            try:
                with within(SECONDS):
                    run_case(path, season, outlines, _way_chance(number, seed))
            except (Exception, TooLong) as error:  # noqa: BLE001  any of them is what we look for
                where = traceback.extract_tb(error.__traceback__)[-1]
                ours = [each for each in traceback.extract_tb(error.__traceback__) if "/vinemap/" in each.filename]
                at = ours[-1] if ours else where
                said = f"{type(error).__name__}: {str(error)[:100]!r} in {Path(at.filename).name}:{at.lineno} {at.name}"
                failed.append((number, path.name, said))
                if tell:
                    print(f"FAILED {number} {path.name} {said}", flush=True)
                if keep is not None:
                    shutil.copytree(spoilt, keep / str(number), dirs_exist_ok=True)
    return failed


def work(first: int, last: int, seed: int, keep: Path | None) -> None:
    """A worker: limited in memory, says each case before it runs it."""
    # a run on a small file shows what is imported along the way
    run_cases(range(8), 0)
    status = Path("/proc/self/status").read_text()
    held = next(int(line.split()[1]) * 1024 for line in status.splitlines() if line.startswith("VmSize:"))
    resource.setrlimit(resource.RLIMIT_AS, (held + EXTRA_BYTES, held + EXTRA_BYTES))
    run_cases(range(first, last), seed, keep, tell=True)


def main() -> int:
    """Run all cases, going on after one that ended its worker."""
    asked = _asked()
    if asked.only is not None:
        with tempfile.TemporaryDirectory() as made, tempfile.TemporaryDirectory() as spoilt:
            seeds = make_seeds(Path(made))
            path = spoilt_file(asked.only, asked.seed, seeds, Path(spoilt))
            run_case(path, base_season(seeds), Path(made) / "outlines.geojson", _way_chance(asked.only, asked.seed))
        return 0
    if asked.worker:
        work(asked.first, asked.cases, asked.seed, asked.keep)
        return 0
    begun, at, failures = time.perf_counter(), asked.first, collections.Counter[str]()
    first_of: dict[str, str] = {}
    while at < asked.cases:
        command = [
            sys.executable,
            __file__,
            "--worker",
            "--first",
            str(at),
            "--cases",
            str(asked.cases),
            "--seed",
            str(asked.seed),
        ]
        command += ["--keep", str(asked.keep)] if asked.keep else []
        ran = subprocess.run(
            command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, errors="replace", check=False
        )
        lines = ran.stdout.splitlines()
        for line in lines:
            if line.startswith("FAILED "):
                _, number, name, said = line.split(" ", 3)
                failures[said] += 1
                first_of.setdefault(said, f"{number} {name}")
        if ran.returncode == 0:
            break
        last = [line for line in lines if line.startswith("case ")]
        if not last:
            print(ran.stdout[-3000:])
            return 1
        said = f"ended its process with {ran.returncode}: " + " | ".join(each.strip() for each in lines[-8:])[:800]
        failures[said] += 1
        first_of[said] = last[-1].removeprefix("case ")
        at = int(last[-1].split()[1]) + 1
    for said, times in failures.most_common():
        print(f"{times:6d}  {said}   (first: {first_of[said]})")
    print(f"{asked.cases - asked.first:,} cases, {sum(failures.values()):,} failed, {time.perf_counter() - begun:.0f} s")
    return 1 if failures else 0


def _asked() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--cases", type=int, default=20_000)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", type=int)
    parser.add_argument("--keep", type=Path)
    parser.add_argument("--worker", action="store_true", help=argparse.SUPPRESS)
    return parser.parse_args()


if __name__ == "__main__":
    sys.exit(main())
