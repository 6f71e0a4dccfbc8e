"""Fields of a whole round on one thread of linear algebra and on all, in turns, in one run; prints seconds and ratio.

.venv/bin/python tests/benchmarks/bench_field.py
"""

from __future__ import annotations

import statistics
import time
from contextlib import AbstractContextManager, nullcontext
from pathlib import Path
from typing import Any

import numpy as np

from vinemap.ground.vines import place_vines
from vinemap.service.answers import read_block
from vinemap.service.bring_in import bring_in
from vinemap.service.sample import sample_folder, season_files
from vinemap.service.threads import one_thread
from vinemap.surface.field import FieldOptions

TURNS = 3


def seconds_of(context: AbstractContextManager[Any], season: Any, scouted: Any) -> tuple[float, list[np.ndarray]]:
    """Time to make every block's field, and the incidences."""
    vines = [place_vines(block) for block in season.blocks]
    start = time.perf_counter()
    with context:
        pairs = zip(season.blocks, vines, strict=True)
        reads = [read_block(block, places, scouted, FieldOptions()) for block, places in pairs]
    return time.perf_counter() - start, [read.field.incidence for read in reads if read.field is not None]


def main() -> None:
    """Measure and print."""
    season, _ = bring_in(season_files(Path(sample_folder()) / "marlquill"), None, "sample")
    scouted = season.rounds[1]
    one: list[float] = []
    many: list[float] = []
    for _ in range(TURNS):
        seconds, fields = seconds_of(one_thread(), season, scouted)
        other_seconds, other_fields = seconds_of(nullcontext(), season, scouted)
        for mine, theirs in zip(fields, other_fields, strict=True):
            np.testing.assert_allclose(mine, theirs, rtol=1e-6)
        one.append(seconds)
        many.append(other_seconds)
    alone, together = statistics.median(one), statistics.median(many)
    print(f"{len(season.blocks)} blocks, {len(scouted.stops)} stops, {sum(map(len, fields)):,} vines, median of {TURNS}")
    print(f"one thread {alone:.2f} s, all threads {together:.2f} s, ratio {together / alone:.2f}")


if __name__ == "__main__":
    main()
