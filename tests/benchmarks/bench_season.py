"""Seconds and megabytes of a very large season, beside the common ways to do the same work, in one run.

    python tests/benchmarks/bench_season.py

The season is invented: 1,000,000 vines in 10,000 rows of 40 blocks, 20,000 stops in 10 rounds. Ours and the other way take
turns and the least of each is taken, because other work on the machine only adds. What is compared:

- opening the season, beside the same vines, rows and stops read as features with geopandas (pyogrio, arrow off, its default);
- 10,000 rows of GeoJSON read, checked and placed, beside geopandas reading, moving to metres and asking ``within``;
- 20,000 stops put on their vines, beside a nearest join of geopandas from stops to the vines of their block;
- one edit saved, in this season and in one of a hundredth of the size;
- memory above what is imported, with the place of every vine computed.
"""

from __future__ import annotations

import datetime as dt
import json
import subprocess
import sys
import tempfile
import time
import warnings
from collections.abc import Callable
from pathlib import Path

import numpy as np
import shapely

from vinemap.files.outlines import read_outlines
from vinemap.files.placing import place_blocks
from vinemap.files.projection import frame_for, to_lonlat
from vinemap.files.row_lines import read_rows
from vinemap.files.season_file import create, open_season
from vinemap.files.stop_placing import place_stops
from vinemap.files.stop_reader import read_stops
from vinemap.ground.block import WALL, Block, RowTable, no_exceptions
from vinemap.ground.vines import place_vines
from vinemap.scouting.rounds import Round, Stops
from vinemap.season.edits import mark_vines
from vinemap.season.value import Estate, Season

FRAME = frame_for(-122.5, 38.4)
BLOCKS, ROWS, VINES, ROUNDS, STOPS = 40, 250, 100, 10, 20_000
ROW_M, VINE_M = 2.5, 1.5

MEMORY = """
import sys
from vinemap.files.season_file import open_season
from vinemap.ground.vines import place_vines
import vinemap.files.projection, shapely, numpy
def used_mb(name):
    return next(int(line.split()[1]) for line in open("/proc/self/status") if line.startswith(name)) / 1024
before = used_mb("VmRSS:")
with open_season(sys.argv[1]) as opened:
    vines = [place_vines(block) for block in opened.season.blocks]
    print(sum(map(len, vines)), used_mb("VmHWM:") - before)
"""


def make_large(blocks: int = BLOCKS, stops: int = STOPS, seed: int = 4) -> Season:
    """An invented season of straight rows."""
    made = tuple(_make_block(number) for number in range(blocks))
    rng = np.random.default_rng(seed)
    rounds = tuple(_make_round(number + 1, made, stops // ROUNDS, rng) for number in range(ROUNDS))
    return Season(Estate("Invented large estate", FRAME, -8.0, is_invented=True), made, rounds)


def _make_block(number: int) -> Block:
    east, north = (number % 8) * (ROWS * ROW_M + 20.0), (number // 8) * (VINES * VINE_M + 20.0)
    x = np.repeat(east + ROW_M * np.arange(ROWS), 2)
    y = np.tile([north, north + VINE_M * VINES], ROWS)
    rows = RowTable(
        tuple(str(row + 1) for row in range(ROWS)),
        np.column_stack([x, y]),
        2 * np.arange(ROWS + 1),
        np.full(ROWS, VINE_M),
        np.full(ROWS, VINES),
    )
    outline = shapely.box(east - 2.0, north - 2.0, east + ROWS * ROW_M, north + VINES * VINE_M + 2.0)
    return Block(f"Block {number + 1}", outline, rows, ROW_M, VINE_M, ("invented",), WALL, 0.5, no_exceptions())


def _make_round(number: int, blocks: tuple[Block, ...], count: int, rng: np.random.Generator) -> Round:
    block = rng.integers(0, len(blocks), count)
    row, vine = rng.integers(0, ROWS, count), rng.integers(0, VINES, count)
    xy = np.array([blocks[b].rows.line_m(int(r))[0] for b, r in zip(block, row, strict=True)])
    infected = rng.binomial(20, 0.1, count)
    none = np.zeros(count, np.int32)
    stops = Stops(
        tuple(each.name for each in blocks),
        block,
        tuple(str(r + 1) for r in row),
        vine + 1,
        xy[:, 0],
        xy[:, 1] + VINE_M * vine,
        np.full(count, 20),
        infected,
        none,
        none,
        none.astype(bool),
    )
    return Round(number, dt.date(2031, 5, 1) + dt.timedelta(days=7 * number), "invented", "random", stops)


def least_s(*ways: Callable[[], object], times: int = 5) -> list[float]:
    """Least seconds of each way, taking turns."""
    took: list[list[float]] = [[] for _ in ways]
    for _ in range(times):
        for way, each in zip(ways, took, strict=True):
            begun = time.perf_counter()
            way()
            each.append(time.perf_counter() - begun)
    return [min(each) for each in took]


def compared(work: str, ours_s: float, other: str, other_s: float) -> None:
    """Say both times and their ratio."""
    print(f"{work:28s} {ours_s:7.3f} s   {other:24s} {other_s:7.3f} s   {other_s / ours_s:6.1f} times")


def write_features_file(season: Season, path: Path) -> None:
    """The same season as plain features, one for each vine, row, block and stop."""
    import geopandas
    import pandas

    vines = [place_vines(block) for block in season.blocks]
    lon, lat = to_lonlat(FRAME, np.concatenate([v.x_m for v in vines]), np.concatenate([v.y_m for v in vines]))
    table = pandas.DataFrame(
        {
            "block": np.repeat([block.name for block in season.blocks], [len(v) for v in vines]),
            "row": np.concatenate([np.array(b.rows.labels)[v.row] for b, v in zip(season.blocks, vines, strict=True)]),
            "vine": np.concatenate([v.ordinal for v in vines]),
        }
    )
    geopandas.GeoDataFrame(table, geometry=shapely.points(lon, lat), crs=4326).to_file(path, layer="vines")


def write_inputs(season: Season, folder: Path) -> None:
    """Outlines, rows and stops as files."""

    def feature(kind: str, coordinates: object, **properties: object) -> dict[str, object]:
        return {"type": "Feature", "properties": properties, "geometry": {"type": kind, "coordinates": coordinates}}

    outlines, rows, lines = [], [], ["block,lon,lat,date,examined,infected,round"]
    for block in season.blocks:
        ring = np.round(np.column_stack(to_lonlat(FRAME, *np.array(block.outline.exterior.coords).T)), 8).tolist()
        outlines.append(feature("Polygon", [ring], block=block.name, row_spacing_m=ROW_M, vine_spacing_m=VINE_M))
        ends = np.round(np.column_stack(to_lonlat(FRAME, *block.rows.xy_m.T)), 8).reshape(-1, 2, 2).tolist()
        rows += [
            feature("LineString", line, block=block.name, row=label)
            for line, label in zip(ends, block.rows.labels, strict=True)
        ]
    for each in season.rounds:
        stops = each.stops
        lon, lat = to_lonlat(FRAME, stops.x_m + 0.4, stops.y_m + 0.3)
        for i in range(len(stops)):
            name = season.blocks[stops.block[i]].name
            lines.append(f"{name},{lon[i]:.8f},{lat[i]:.8f},{each.date},20,{stops.infected[i]},{each.number}")
    for name, features in (("outlines", outlines), ("rows", rows)):
        (folder / f"{name}.geojson").write_text(json.dumps({"type": "FeatureCollection", "features": features}))
    (folder / "stops.csv").write_text("\n".join(lines) + "\n")


def time_opening(season: Season, folder: Path) -> None:
    """Open the season; read its features."""
    import geopandas

    path, features = folder / "large.vinemap", folder / "features.gpkg"
    if not path.exists():
        create(path, season).close()
        write_features_file(season, features)
    ours, theirs = least_s(
        lambda: open_season(path).close(),
        lambda: (
            [geopandas.read_file(features, layer="vines")]
            + [geopandas.read_file(path, layer=layer) for layer in ("blocks", "rows", "stops")]
        ),
        times=3,
    )
    compared("open the season", ours, "as features, geopandas", theirs)
    ours_mb, theirs_mb = path.stat().st_size / 1e6, features.stat().st_size / 1e6
    print(f"{'the season file':28s} {ours_mb:7.1f} MB  its vines as features {theirs_mb:.1f} MB")


def time_rows(folder: Path) -> tuple[Block, ...]:
    """Read, check and place rows."""
    import geopandas

    def ours() -> tuple[Block, ...]:
        outlines, rows = read_outlines(folder / "outlines.geojson"), read_rows(folder / "rows.geojson")
        placed = place_blocks(outlines.value, rows.value, FRAME)
        assert len(placed.value) == BLOCKS
        assert len(rows.value) == sum(len(block.rows) for block in placed.value)
        return placed.value

    def theirs() -> None:
        outlines = geopandas.read_file(folder / "outlines.geojson").to_crs(FRAME.crs).set_index("block")
        rows = geopandas.read_file(folder / "rows.geojson").to_crs(FRAME.crs)
        assert rows.within(outlines.geometry.reindex(rows["block"]).buffer(ROW_M), align=False).all()
        assert rows.is_valid.all()

    took = least_s(ours, theirs)
    compared("10,000 rows read and placed", took[0], "geopandas", took[1])
    return ours()


def time_stops(season: Season, blocks: tuple[Block, ...], folder: Path) -> None:
    """Put stops on vines."""
    import geopandas
    import pandas

    drafts = read_stops(folder / "stops.csv").value
    vines = {block.name: place_vines(block) for block in blocks}
    on_vines = {
        name: geopandas.GeoDataFrame(geometry=shapely.points(v.x_m, v.y_m), crs=FRAME.crs) for name, v in vines.items()
    }
    placed_names = np.array([draft.block for draft in drafts])
    lonlat = np.array([draft.lonlat_deg for draft in drafts])

    def theirs() -> int:
        stops = geopandas.GeoDataFrame({"block": placed_names}, geometry=shapely.points(lonlat), crs=4326).to_crs(FRAME.crs)
        return len(pandas.concat([each.sjoin_nearest(on_vines[str(name)]) for name, each in stops.groupby("block")]))

    placed = place_stops(drafts, blocks, FRAME)
    assert sum(len(each.stops) for each in placed.value) == len(drafts)
    ours, reading, other = least_s(
        lambda: place_stops(drafts, blocks, FRAME), lambda: read_stops(folder / "stops.csv"), theirs, times=3
    )
    compared("20,000 stops on vines", ours, "geopandas, nearest only", other)
    print(f"{'20,000 stops read':28s} {reading:7.3f} s")


def time_edit(name: str, season: Season, path: Path) -> None:
    """Save one edit after another."""
    if not path.exists():
        create(path, season).close()
    with open_season(path) as opened:
        seconds = []
        for number in range(20):
            after = mark_vines(opened.season, "Block 1", "1", 1, 3, number % 3)
            begun = time.perf_counter()
            opened.apply("mark", after)
            seconds.append(time.perf_counter() - begun)
    print(f"{'one edit saved, ' + name:28s} {1000 * np.median(seconds):7.1f} ms  (most {1000 * max(seconds):.1f} ms)")


def main() -> None:
    """Measure all."""
    # the season file is a GeoPackage of another name, which GDAL remarks on
    warnings.filterwarnings("ignore", message=".*non conformant file extension")
    season = make_large()
    with tempfile.TemporaryDirectory() as kept:
        folder = Path(kept)
        write_inputs(season, folder)
        time_opening(season, folder)
        blocks = time_rows(folder)
        time_stops(season, blocks, folder)
        time_edit("large", season, folder / "large.vinemap")
        time_edit("small", make_large(4, 200), folder / "small.vinemap")
        ran = subprocess.run(
            [sys.executable, "-c", MEMORY, str(folder / "large.vinemap")], capture_output=True, text=True, check=True
        )
        count, mb = ran.stdout.split()
        print(f"{'memory above imports':28s} {float(mb):7.0f} MB  with {int(count):,} vines placed")


if __name__ == "__main__":
    main()
