"""Small sound files of every kind that the program reads, for the fuzzer to spoil. All that is in them is invented."""

from __future__ import annotations

import gzip
import json
import sys
import warnings
import zipfile
from itertools import islice
from pathlib import Path

import numpy as np
from affine import Affine

from vinemap.files.season_file import create
from vinemap.service.sample import sample_folder

sys.path.insert(0, str(Path(__file__).resolve().parent))
sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "files"))
from fuzz_more_seeds import make_more
from raster_makers import write_raster
from season_makers import make_season

ESTATE = "marlquill"
ROWS, LINES = 6, 25


def make_seeds(folder: Path) -> list[Path]:
    """Write the sound files; those that ``outlines.geojson`` is the ground of belong together."""
    sample = sample_folder() / ESTATE
    for name in ("estate.json", "passes.csv"):
        (folder / name).write_bytes((sample / name).read_bytes())
    for name in ("sprays.csv", "stops_round_1.csv", "vines.csv", "weather.csv", "truth.csv"):
        with (sample / name).open(encoding="utf-8") as lines:
            (folder / name).write_text("".join(islice(lines, LINES)), encoding="utf-8")
    rows = json.loads((sample / "rows.geojson").read_text("utf-8"))
    rows["features"] = rows["features"][:ROWS]
    outlines = json.loads((sample / "outlines.geojson").read_text("utf-8"))
    first = rows["features"][0]["properties"]["block"]
    drawn = [each for each in outlines["features"] if each["properties"]["block"] == first]
    lon, lat = rows["features"][0]["geometry"]["coordinates"][0]
    ring = [[lon + x * 3e-4, lat + y * 2e-4] for x, y in ((0, 0), (1, 0), (1, 1), (0, 1), (0, 0))]
    figures = {"block": "Little", "row_spacing_m": 2.5, "vine_spacing_m": 1.5, "bearing_deg": 20, "varieties": ["x", "y"]}
    little = {"type": "Feature", "properties": figures, "geometry": {"type": "Polygon", "coordinates": [ring]}}
    (folder / "rows.geojson").write_text(json.dumps(rows), "utf-8")
    (folder / "outlines.geojson").write_text(json.dumps({**outlines, "features": [*drawn, little]}), "utf-8")
    mixed = {"type": "FeatureCollection", "features": [*rows["features"][:3], *drawn, little]}
    (folder / "mixed.geojson").write_text(json.dumps(mixed), "utf-8")
    (folder / "lines.geojsonl").write_text("\n".join(json.dumps(each) for each in rows["features"]) + "\n", "utf-8")
    readings = "".join(f"{lon + 1e-5 * n:.6f},{lat:.6f},{0.1 * n}\n" for n in range(8))
    (folder / "readings.csv").write_text("lon,lat,vigour\n" + readings)
    (folder / "far.csv").write_text("block;row;vine;height\nNowhere;1;1;2,5\nNowhere;1;2;2,6\n")
    create(folder / "season.vinemap", make_season(), 0).close()
    _write_drawn(folder)
    _write_raster(folder / "raster.tif", lon, lat)
    _write_workbook(folder)
    make_more(folder, first, lon, lat)
    with zipfile.ZipFile(folder / "rows.zip", "w", zipfile.ZIP_DEFLATED) as packed:
        packed.write(folder / "rows.geojson", "rows.geojson")
    (folder / "rows.geojson.gz").write_bytes(gzip.compress((folder / "rows.geojson").read_bytes(), mtime=0))
    return sorted(folder.iterdir())


def _write_drawn(folder: Path) -> None:
    """The rows as other open formats write them."""
    import geopandas

    rows = geopandas.read_file(folder / "rows.geojson")
    with warnings.catch_warnings():
        # long names are cut, times are not kept: what these formats do
        warnings.simplefilter("ignore")
        rows.to_file(folder / "rows.gpkg", layer="rows")
        rows.to_file(folder / "rows.shp")
        rows.to_file(folder / "rows.kml", driver="KML")
        rows[["geometry"]].assign(name=rows["row"]).to_file(folder / "rows.gpx", driver="GPX")
        points = rows.set_geometry(rows.representative_point())
        points[["geometry"]].assign(vigour=0.5).to_file(folder / "points.gpkg", layer="points")
    with zipfile.ZipFile(folder / "shape.zip", "w", zipfile.ZIP_DEFLATED) as packed:
        for part in sorted(folder.glob("rows.shp")) + [folder / f"rows.{end}" for end in ("shx", "dbf", "prj")]:
            packed.write(part, part.name)
    with zipfile.ZipFile(folder / "rows.kmz", "w", zipfile.ZIP_DEFLATED) as packed:
        packed.write(folder / "rows.kml", "doc.kml")


def _write_raster(path: Path, lon: float, lat: float) -> None:
    cells = np.linspace(0.1, 0.9, 400, dtype=np.float32).reshape(20, 20)
    write_raster(path, cells, Affine(1e-4, 0.0, lon - 1e-3, 0.0, -1e-4, lat + 1e-3), "EPSG:4326")


def _write_workbook(folder: Path) -> None:
    try:
        import openpyxl
    except ImportError:
        return
    book = openpyxl.Workbook()
    for line in (folder / "stops_round_1.csv").read_text("utf-8").splitlines():
        book.active.append(line.split(","))
    book.save(folder / "stops.xlsx")
