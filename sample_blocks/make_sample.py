"""Makes the sample estates: every figure in them is invented.

python sample_blocks/make_sample.py           writes them beside this file
python sample_blocks/make_sample.py --check   makes them again elsewhere and compares, byte for byte
"""

from __future__ import annotations

import argparse
import csv
import io
import json
import sys
import tempfile
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from diary import done_passes, done_sprays
from dice import dice_for
from layout import make_block
from marlquill import MARLQUILL
from mildew import run_epidemic
from plans import EstatePlan
from scout import Counts, count_stops
from wattlequern import WATTLEQUERN
from weather import make_weather

from vinemap.columns import Floats
from vinemap.ground.block import STATUS_WORDS, Block, Vines
from vinemap.ground.vines import place_vines
from vinemap.vineclock.weather import Weather

HERE = Path(__file__).resolve().parent
ESTATES = (MARLQUILL, WATTLEQUERN)
STOP_COLUMNS = (
    "round",
    "date",
    "scout",
    "block",
    "row",
    "vine",
    "examined",
    "infected",
    "leaves_examined",
    "leaves_infected",
    "sample_type",
)


def table(header: Iterable[str], lines: Iterable[Iterable[Any]]) -> str:
    """A comma-separated table (RFC 4180, but with plain newlines)."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(header)
    writer.writerows(lines)
    return text.getvalue()


def collection(features: list[dict[str, Any]]) -> str:
    """A GeoJSON collection (RFC 7946), one feature a line."""
    lines = ",\n".join(json.dumps(feature, ensure_ascii=False) for feature in features)
    return f'{{"type": "FeatureCollection", "features": [\n{lines}\n]}}\n'


class Globe:
    """Longitude and latitude of the estate's metres, at seven decimals."""

    def __init__(self, plan: EstatePlan) -> None:
        from pyproj import Transformer

        self._corner_m = np.array(plan.corner_m)
        self._to_globe = Transformer.from_crs(plan.crs, "EPSG:4326", always_xy=True)

    def points(self, xy_m: Any) -> list[list[float]]:
        """Points (n, 2) [m] as lists of longitude and latitude [deg]."""
        grid = np.asarray(xy_m, dtype=np.float64) + self._corner_m
        lon, lat = self._to_globe.transform(grid[:, 0], grid[:, 1])
        return [[round(float(x), 7), round(float(y), 7)] for x, y in zip(lon, lat, strict=True)]


def outline_features(blocks: list[Block], bearings_deg: list[float], globe: Globe) -> list[dict[str, Any]]:
    """One polygon a block, with what the manager knows about it."""
    features = []
    for block, bearing in zip(blocks, bearings_deg, strict=True):
        rings = [block.outline.exterior, *block.outline.interiors]
        properties = {
            "block": block.name,
            "row_spacing_m": block.row_spacing_m,
            "vine_spacing_m": block.vine_spacing_m,
            "bearing_deg": bearing,
            "varieties": list(block.varieties),
            "training": block.training,
            "vigour": block.vigour,
        }
        geometry = {"type": "Polygon", "coordinates": [globe.points(ring.coords) for ring in rings]}
        features.append({"type": "Feature", "properties": properties, "geometry": geometry})
    return features


def row_features(blocks: list[Block], globe: Globe) -> list[dict[str, Any]]:
    """One line a row, from its first vine to its last."""
    features = []
    for block in blocks:
        for index, label in enumerate(block.rows.labels):
            properties = {"block": block.name, "row": label, "vines": int(block.rows.vine_count[index])}
            properties["vine_spacing_m"] = block.vine_spacing_m
            geometry = {"type": "LineString", "coordinates": globe.points(block.rows.line_m(index))}
            features.append({"type": "Feature", "properties": properties, "geometry": geometry})
    return features


def estate_text(plan: EstatePlan) -> str:
    """The estate's own page."""
    dates = {name: getattr(plan, name).isoformat() for name in ("budbreak", "bloom", "veraison", "harvest")}
    page = {"estate": plan.name, "invented": True, "time_offset_hours": plan.offset_hours, "crs": plan.crs, **dates}
    page["stages"] = [{"block": block, "bloom": date.isoformat()} for block, date in plan.late_bloom]
    return json.dumps(page, ensure_ascii=False, indent=2) + "\n"


def weather_text(weather: Weather) -> str:
    """Hours in local standard time."""
    local = (weather.time_utc + int(weather.offset_hours * 3600)).astype("datetime64[s]").astype("datetime64[m]")
    columns = zip(
        local.astype(str),
        [f"{value:.1f}" for value in weather.temp_degc],
        [f"{value:.1f}" for value in weather.rain_mm],
        [f"{value:.2f}" for value in weather.wet_frac],
        [f"{value:.2f}" for value in weather.rh_frac],
        [f"{value:.1f}" for value in weather.wind_ms],
        [f"{value:.0f}" for value in weather.wind_from_deg],
        strict=True,
    )
    return table(["time", "temp_c", "rain_mm", "wet_frac", "rh_frac", "wind_ms", "wind_from_deg"], columns)


def vines_text(blocks: list[Block], vines: list[Vines]) -> str:
    """Vines that are not living vines of their block's first variety."""
    lines = []
    for block, places in zip(blocks, vines, strict=True):
        for index, status in zip(block.exceptions.vine, block.exceptions.status, strict=True):
            kind = places.variety[index]
            variety = block.varieties[kind] if kind else ""
            lines.append(
                (block.name, block.rows.labels[places.row[index]], places.ordinal[index], STATUS_WORDS[status], variety)
            )
    return table(["block", "row", "vine", "status", "variety"], lines)


def truth_text(blocks: list[Block], vines: list[Vines], truth: list[Floats]) -> str:
    """The true incidence of every living vine at each round."""
    lines = []
    for block, places, found in zip(blocks, vines, truth, strict=True):
        for index in np.flatnonzero(places.is_living):
            address = (block.name, block.rows.labels[places.row[index]], places.ordinal[index])
            lines.append((*address, *(f"{value:.3f}" for value in found[:, index])))
    return table(["block", "row", "vine", *(f"incidence_{number + 1}" for number in range(len(truth[0])))], lines)


def scouting_texts(plan: EstatePlan, blocks: list[Block], vines: list[Vines], truth: list[Floats]) -> dict[str, str]:
    """The stops of each round, block by block in the order walked."""
    trees = shapely.union_all([shapely.LineString(line) for line in plan.trees])
    before: dict[str, Counts] = {}
    texts = {}
    for number, (date, scout) in enumerate(plan.rounds, start=1):
        lines = []
        for index, (block, places) in enumerate(zip(blocks, vines, strict=True)):
            rng = dice_for(plan.seed, 4, number, index)
            wary = -shapely.distance(shapely.points(places.x_m, places.y_m), trees)
            counts = count_stops(block, places, truth[index][number - 1], before.get(block.name), wary, rng)
            before[block.name] = counts
            for stop, vine in enumerate(counts.vine):
                address = (block.name, block.rows.labels[places.row[vine]], places.ordinal[vine])
                clusters = (counts.examined[stop], counts.infected[stop])
                leaves = (counts.leaves_examined[stop], counts.leaves_infected[stop])
                kind = "targeted" if counts.is_targeted[stop] else "random"
                lines.append((number, date.isoformat(), scout, *address, *clusters, *leaves, kind))
        texts[f"stops_round_{number}.csv"] = table(STOP_COLUMNS, lines)
    return texts


def make_estate(plan: EstatePlan) -> dict[str, str]:
    """Every file of an estate, by name."""
    blocks = [make_block(block, dice_for(plan.seed, 2, number)) for number, block in enumerate(plan.blocks)]
    vines = [place_vines(block) for block in blocks]
    by_name = {block.name: block for block in blocks}
    passes, sprays = done_passes(plan, by_name), done_sprays(plan, by_name)
    weather = make_weather(plan.climate, plan.offset_hours, plan.seed)
    work = ([each for each, _ in passes], [each for each, _ in sprays])
    truth = [run_epidemic(plan, number, block, vines[number], weather, work) for number, block in enumerate(blocks)]
    globe = Globe(plan)
    pass_lines = [
        (done.date.isoformat(), done.block, rows, done.kind, done.face, done.people, f"{done.hours:.2f}")
        for done, rows in passes
    ]
    spray_lines = [
        (
            done.start.isoformat(timespec="minutes"),
            done.end.isoformat(timespec="minutes"),
            done.block,
            rows,
            ";".join(done.materials),
            f"{done.rate_kg_per_ha:.2f}",
            f"{done.water_l_per_ha:.0f}",
        )
        for done, rows in sprays
    ]
    return {
        "estate.json": estate_text(plan),
        "outlines.geojson": collection(outline_features(blocks, [block.bearing_deg for block in plan.blocks], globe)),
        "rows.geojson": collection(row_features(blocks, globe)),
        "vines.csv": vines_text(blocks, vines),
        **scouting_texts(plan, blocks, vines, truth),
        "weather.csv": weather_text(weather),
        "passes.csv": table(["date", "block", "rows", "kind", "face", "people", "hours"], pass_lines),
        "sprays.csv": table(["start", "end", "block", "rows", "materials", "rate_kg_per_ha", "water_l_per_ha"], spray_lines),
        "truth.csv": truth_text(blocks, vines, truth),
    }


def write_estates(folder: Path) -> list[Path]:
    """Write both estates into a folder; the files written, as paths inside it."""
    written = []
    for plan in ESTATES:
        (folder / plan.folder).mkdir(parents=True, exist_ok=True)
        for name, text in make_estate(plan).items():
            (folder / plan.folder / name).write_bytes(text.encode("utf-8"))
            written.append(Path(plan.folder) / name)
    return written


def differing_files() -> list[str]:
    """Names of files that are not what this program makes now, or that it does not make."""
    with tempfile.TemporaryDirectory() as folder:
        made = write_estates(Path(folder))
        there = {path.relative_to(HERE) for plan in ESTATES for path in (HERE / plan.folder).glob("*")}
        differ = [path for path in made if path in there and (HERE / path).read_bytes() != (Path(folder) / path).read_bytes()]
        return sorted(path.as_posix() for path in {*differ, *there.symmetric_difference(made)})


def main() -> int:
    """Write the estates, or check them."""
    parser = argparse.ArgumentParser(description="Make the invented sample estates.")
    parser.add_argument("--check", action="store_true", help="compare with what is here instead of writing")
    if not parser.parse_args().check:
        print(f"{len(write_estates(HERE))} files written")
        return 0
    differ = differing_files()
    print("\n".join(f"differs: {name}" for name in differ) or "all files are as made")
    return 1 if differ else 0


if __name__ == "__main__":
    sys.exit(main())
