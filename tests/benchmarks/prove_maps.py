"""How well maps tell what they have not seen, beside common ways: the sample estate, invented blocks, real trees.

Prints the tables of the guide; a few minutes on two cores.

.venv/bin/python tests/benchmarks/prove_maps.py
"""

from __future__ import annotations

import sys
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np
from threadpoolctl import threadpool_limits

TESTS = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(TESTS / "surface"), str(TESTS / "sample")]

from conftest import SAMPLES, SampleEstate  # noqa: E402
from proof_methods import IDW, LOGITS, MEAN, SHARES  # noqa: E402
from proof_scores import Judged, judge, left_out_log_chance, mean_of, reliability  # noqa: E402
from proof_trees import browsed_pines  # noqa: E402
from proof_worlds import FRESH, FRESH_CLUSTERS, KINDS, World, world  # noqa: E402

from vinemap.ground.vines import usual_bearing_deg  # noqa: E402

METHODS = ("auto", "binomial", "kriging", IDW, SHARES, LOGITS, MEAN)
NAMES = {"auto": "**Vinemap, as it comes**", "binomial": "Vinemap, binomial field", "kriging": "Vinemap, kriging"}
SEEDS = range(6)
SAMPLE_ROUNDS = (1, 2, 3)
CORES = 2
HEADS = ("proof", "method", "interval holds", "of clean vines", "miss", "bias", "Brier 10 %", "Brier 5 %", "gain")


def of_world(task: tuple[str, int]) -> list[Judged]:
    """Marks of every method on one invented block."""
    kind, seed = task
    block = world(seed, kind)
    return [judge(method, block) for method in METHODS]


def of_sample(task: tuple[str, int]) -> list[Judged]:
    """Marks of every method on one block of the sample estate in one round, against the truth of its living vines."""
    name, number = task
    estate = SampleEstate(SAMPLES / "marlquill")
    vines, living, truth = estate.truth_of(name)
    block = estate.blocks[name]
    start = np.cumsum(block.rows.vine_count) - block.rows.vine_count
    stops = [stop for stop in estate.rounds[number] if stop["block"] == name]
    at = np.array([start[block.rows.labels.index(stop["row"])] + int(stop["vine"]) - 1 for stop in stops])
    examined, infected = (np.array([int(stop[column]) for stop in stops]) for column in ("examined", "infected"))
    stop = np.searchsorted(living, at)
    rng = np.random.default_rng([number, len(name)])
    fresh = np.sort(rng.choice(np.setdiff1d(np.arange(len(living)), stop), FRESH, replace=False))
    share = truth[:, number]
    found = rng.binomial(FRESH_CLUSTERS, share[fresh])
    vines_m = np.column_stack([vines.x_m, vines.y_m])[living]
    targeted = np.array([each["sample_type"] == "targeted" for each in stops])
    bearing_deg = usual_bearing_deg(block.rows)
    case = World("sample", number, vines_m, bearing_deg, share, stop, examined, infected, targeted, fresh, found)
    return [judge(method, case) for method in METHODS]


def of_pines(index: int) -> list[np.ndarray]:
    """Log chance of every left-out run of pines by every method, on one plot in one year."""
    plot = browsed_pines()[index]
    return [left_out_log_chance(method, plot.places_m, plot.living, plot.browsed) for method in METHODS]


def line(cells: tuple[str, ...] | list[str]) -> str:
    """One line of a Markdown table."""
    return f"| {' | '.join(cells)} |"


def head(cells: tuple[str, ...] | list[str]) -> str:
    """The first two lines of a Markdown table."""
    return line(cells) + "\n" + line(["---"] * len(cells))


def judged_lines(proof: str, marks: list[list[Judged]]) -> list[str]:
    """Lines of the main table for one proof; ``marks``: of every map, by method."""
    plain = mean_of([each[METHODS.index(MEAN)] for each in marks], "log_chance")
    lines = []
    for place, method in enumerate(METHODS):
        mine = [each[place] for each in marks]
        figures = [
            f"{100 * mean_of(mine, 'held'):.0f} %",
            f"{100 * mean_of(mine, 'clean_held'):.0f} %",
            f"{100 * mean_of(mine, 'rmse'):.1f}",
            f"{100 * mean_of(mine, 'bias'):+.1f}",
            f"{mean_of(mine, 'brier_10'):.3f}",
            f"{mean_of(mine, 'brier_5'):.3f}",
            f"{mean_of(mine, 'log_chance') - plain:+.3f}",
        ]
        lines.append(line([proof, NAMES.get(method, method), *figures]))
    return lines


def main() -> None:
    """Run all proofs on two cores and print the tables."""
    start = time.perf_counter()
    estate = SampleEstate(SAMPLES / "marlquill")
    samples = [(name, number) for name in estate.blocks for number in SAMPLE_ROUNDS]
    worlds = [(kind, seed) for kind in KINDS for seed in SEEDS]
    with ProcessPoolExecutor(CORES, initializer=threadpool_limits, initargs=(1,)) as pool:
        found = [pool.map(of_sample, samples), pool.map(of_world, worlds), pool.map(of_pines, range(len(browsed_pines())))]
        on_sample, on_worlds, on_pines = (list(each) for each in found)
    print(head(HEADS))
    print("\n".join(judged_lines(f"sample estate, {len(samples)} maps", on_sample)))
    print("\n".join(judged_lines(f"invented blocks, {len(worlds)} maps", on_worlds)))
    plain = np.concatenate([each[METHODS.index(MEAN)] for each in on_pines])
    for place, method in enumerate(METHODS):
        gain = (np.concatenate([each[place] for each in on_pines]) - plain).mean()
        blank = [""] * (len(HEADS) - 3)
        print(line([f"real pines, {len(plain)} counts", NAMES.get(method, method), *blank, f"{gain:+.3f}"]))
    print("\n" + head(["kind of truth", *(NAMES.get(method, method) for method in METHODS)]))
    for place, kind in enumerate(KINDS):
        mine = on_worlds[place * len(SEEDS) : (place + 1) * len(SEEDS)]
        log_chances = [mean_of([each[at] for each in mine], "log_chance") for at in range(len(METHODS))]
        print(line([kind, *(f"{each - log_chances[METHODS.index(MEAN)]:+.3f}" for each in log_chances)]))
    print("\n" + head(["said to be above 10 %", "were", "vines"]))
    said, came, vines = reliability([each[0] for each in on_sample + on_worlds])
    for row in zip(said, came, vines, strict=True):
        print(line([f"{100 * row[0]:.0f} %", f"{100 * row[1]:.0f} %", f"{row[2]:,}"]))
    print(f"\n{time.perf_counter() - start:.0f} s")


if __name__ == "__main__":
    main()
