"""Invented blocks for the tests and benchmarks of the map."""

from __future__ import annotations

import numpy as np
import shapely

from vinemap.desk.map_scene import READ, BandMark, BlockScene, MapScene, StopMarks
from vinemap.ground.block import MISSING, Block, RowTable, VineExceptions
from vinemap.ground.vines import place_vines


def make_block(
    name: str = "Invented Field",
    rows: int = 52,
    vines: int = 100,
    bearing_deg: float = 84.0,
    bow_m: float = 0.0,
    at_m: tuple[float, float] = (0.0, 0.0),
    seed: int = 3,
) -> Block:
    """A block of rows 2.5 m apart with vines 1.5 m apart, a little ragged at the ends, some vines missing."""
    rng = np.random.default_rng(seed)
    across, along = np.arange(rows) * -2.5, np.linspace(0.0, 1.0, 15 if bow_m else 2)
    length = vines * 1.5
    start = np.round(4 * np.sin(np.arange(rows) / 9.0) / 1.5) * 1.5
    count = np.full(rows, vines, np.int32)
    lines_uv = [
        np.column_stack([start[r] + along * length, across[r] + bow_m * (1 - (2 * along - 1) ** 2)]) for r in range(rows)
    ]
    east, north = np.sin(np.radians(bearing_deg)), np.cos(np.radians(bearing_deg))

    def place(uv: np.ndarray) -> np.ndarray:
        return np.column_stack([uv[:, 0] * east - uv[:, 1] * north, uv[:, 0] * north + uv[:, 1] * east]) + at_m

    lines = [place(uv) for uv in lines_uv]
    first, last = lines_uv[0] + [[0, 2.0]], lines_uv[-1] - [[0, 2.0]]
    left, right = np.array([uv[0] for uv in lines_uv]), np.array([uv[-1] for uv in lines_uv])
    over = np.array([2.0, 0.0])
    ring = np.vstack([first, right + over, last[::-1], (left - over)[::-1]])
    offsets = np.concatenate([[0], np.cumsum([len(line) for line in lines])])
    table = RowTable(tuple(str(r + 1) for r in range(rows)), np.vstack(lines), offsets, np.full(rows, 1.5), count)
    gone = np.flatnonzero(rng.random(rows * vines) < 0.03).astype(np.int32)
    gaps = VineExceptions(gone, np.full(len(gone), MISSING, np.int8), np.full(len(gone), -1, np.int8))
    return Block(name, shapely.Polygon(place(ring)), table, 2.5, 1.5, exceptions=gaps)


def make_scene(block: Block, stops: int = 40, seed: int = 5, bands: bool = False) -> BlockScene:
    """An invented field over a block: two patches of mildew, known near stops, not known far from them."""
    rng = np.random.default_rng(seed)
    vines = place_vines(block)
    pick = rng.choice(len(vines), min(stops, len(vines)), replace=False)
    pick = pick[vines.ordinal[pick] + vines.row[pick] * 2 < vines.ordinal.max() * 1.7]
    size = max(float(np.ptp(vines.along_m)), 10.0)
    incidence = np.full(len(vines), 0.03)
    for u, v, top, wide in ((0.3, 0.35, 0.36, 0.14), (0.55, 0.42, 0.38, 0.12), (0.8, 0.2, 0.12, 0.2)):
        away = np.hypot(vines.along_m - vines.along_m.min() - u * size, vines.across_m - vines.across_m.min() - v * size)
        incidence += top * np.exp(-((away / (wide * size)) ** 2))
    near = np.full(len(vines), np.inf)
    for vine in pick:
        near = np.minimum(near, np.hypot(vines.x_m - vines.x_m[vine], vines.y_m - vines.y_m[vine]))
    certainty = np.where(near < 0.11 * size, 0, np.where(near < 0.2 * size, 1, 2)).astype(np.int8)
    examined = rng.choice([10, 20, 20, 20], len(pick))
    infected = rng.binomial(examined, np.clip(incidence[pick], 0, 1))
    marks = ()
    if bands and len(block.rows) > 45:
        plan = {
            11: "L",
            12: "L",
            13: "F",
            14: "F",
            15: "F",
            16: "D",
            17: "D",
            18: "F",
            20: "R",
            21: "R",
            33: "P",
            35: "C",
            8: "V",
            43: "T",
        }
        marks = tuple(
            BandMark(row, 15 + row, 60 + row, kind, row % 5 if kind != "V" else -1, 354.0 if kind in "LF" else np.nan)
            for row, kind in plan.items()
        )
    return BlockScene(
        block,
        vines,
        incidence,
        np.clip(incidence - 0.1, 0, 1),
        incidence + 0.15,
        certainty,
        StopMarks(vines.x_m[pick], vines.y_m[pick], examined, infected),
        marks,
    )


def read_scene(*blocks: BlockScene, **more: object) -> MapScene:
    """A scene of those blocks in the step Read."""
    return MapScene(blocks, **{"mode": READ, "threshold": 0.2, **more})  # type: ignore[arg-type]
