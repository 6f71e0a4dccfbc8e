"""A layer written in the format that the file's ending names."""

from __future__ import annotations

import datetime as dt
import math
import sqlite3
import struct
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from vinemap.errors import FileError, InputError
from vinemap.files.geojson import POINT, write_features
from vinemap.files.layer import DATE, NUMBER, WHOLE, Cell, Column, Layer, cell_text, refuse_long_texts, short_name
from vinemap.files.layer_xml import write_gpx, write_kml
from vinemap.files.signs import WELL_KNOWN_TEXT
from vinemap.files.table import write_table
from vinemap.files.whole import made_beside, put_in_place, put_zipped

_SHAPE_PARTS = (".shx", ".dbf", ".prj", ".cpg", ".shp")


def write_layer(path: Path, layer: Layer) -> None:
    """Write a layer as the ending of ``path`` says; the file appears whole or not at all.

    Raises InputError for an ending that is not known, nothing to write or what the format can't hold, FileError when it
    can't be written.
    """
    path = Path(path)
    refuse_ending(path)
    if not len(layer):
        raise InputError(f"There is nothing to write: no {layer.name}.")
    _WRITERS[path.suffix.lower()](path, layer)


def refuse_ending(path: Path) -> None:
    """Raise InputError where the ending of a file names no format that a layer can be written in."""
    if path.suffix.lower() not in _WRITERS:
        raise InputError(f"“{path.name}” has no ending that is known here.", f"Let it end in {endings_in_words()}.")


def endings_in_words() -> str:
    """The endings that can be written: ".geojson, ... or .gpx"."""
    *some, last = sorted(set(_WRITERS) - {".json"})
    return f"{', '.join(some)} or {last}"


def _write_csv(path: Path, layer: Layer) -> None:
    if layer.kind == POINT:
        where = [[f"{value:.7f}" for value in part] for part in (shapely.get_x(layer.shapes), shapely.get_y(layer.shapes))]
        places: list[tuple[str, list[str]]] = [("lon", where[0]), ("lat", where[1])]
    else:
        places = [(WELL_KNOWN_TEXT.upper(), shapely.to_wkt(layer.shapes, rounding_precision=7).tolist())]
    columns = [[cell_text(value) for value in each.values] for each in layer.columns] + [cells for _, cells in places]
    names = [each.name for each in layer.columns] + [name for name, _ in places]
    write_table(path, names, zip(*columns, strict=True))


def _write_geojson(path: Path, layer: Layer) -> None:
    columns = [(each.name, [_as_json(value) for value in each.values]) for each in layer.columns]
    write_features(
        path, ((shape, {name: values[index] for name, values in columns}) for index, shape in enumerate(layer.shapes))
    )


def _as_json(value: Cell) -> str | int | float | None:
    if value is None or (isinstance(value, float) and math.isnan(value)):
        return None
    return value.isoformat() if isinstance(value, dt.date) else value


def _write_geopackage(path: Path, layer: Layer) -> None:
    with made_beside(path) as folder:
        made = folder / "made.gpkg"
        names = [each.name for each in layer.columns]
        _with_gdal(path, made, layer, names, "GPKG", {"DESCRIPTION": layer.remark})
        put_in_place([(made, path)])


def _write_shapefile(path: Path, layer: Layer) -> None:
    others = [path.with_suffix(part) for part in _SHAPE_PARTS[:-1]]
    if not path.exists() and (taken := [each.name for each in others if each.exists()]):
        raise InputError(f"{taken[0]} is there already and belongs to something else.", "Choose another name.")
    with made_beside(path) as folder:
        _make_shapefile(path, folder, layer)
        put_in_place(
            [(folder / f"made{part}", path.with_suffix(part)) for part in _SHAPE_PARTS[:-1]] + [(folder / "made.shp", path)]
        )


def _write_zip(path: Path, layer: Layer) -> None:
    with made_beside(path) as folder:
        _make_shapefile(path, folder, layer)
        put_zipped(folder, {f"made{part}": f"{_one_word(layer.name)}{part}" for part in _SHAPE_PARTS}, path)


def _make_shapefile(path: Path, folder: Path, layer: Layer) -> None:
    refuse_long_texts(layer)
    names = [short_name(each.name) for each in layer.columns]
    _with_gdal(path, folder / "made.shp", layer, names, "ESRI Shapefile", {"ENCODING": "UTF-8"})


def _with_gdal(path: Path, made: Path, layer: Layer, names: list[str], driver: str, options: dict[str, str]) -> None:
    """Let GDAL make the file. Raises FileError where it can't, which is mostly a full disk."""
    from pyogrio import raw
    from pyogrio.errors import DataLayerError, DataSourceError, FeatureError, GeometryError

    held = [_as_array(each) for each in layer.columns]
    shapes = np.array(shapely.to_wkb(shapely.orient_polygons(layer.shapes), byte_order=1), dtype=object)
    try:
        raw.write(
            str(made),
            shapes,
            [values for values, _ in held],
            names,
            field_mask=[empty for _, empty in held],
            layer=_one_word(layer.name),
            driver=driver,
            geometry_type=layer.kind,
            crs="EPSG:4326",
            promote_to_multi=False,
            layer_options={key: value for key, value in options.items() if value},
        )
    except (DataLayerError, DataSourceError, FeatureError, GeometryError) as error:
        raise _cut_off(path) from error
    # a disk that fills up at the very end is not always told
    is_whole = _is_whole_database if driver == "GPKG" else _is_whole_shape
    if not is_whole(made, len(layer)):
        raise _cut_off(path)


def _one_word(name: str) -> str:
    return name.replace(" ", "_")


def _cut_off(path: Path) -> FileError:
    return FileError(f"{path.name} can’t be written whole in {path.parent}.", "Free some space, or choose another folder.")


def _is_whole_shape(made: Path, count: int) -> bool:
    """True where the parts are as long as they say (dBASE III header; shapefile technical description, 1998)."""
    table, index = made.with_suffix(".dbf").read_bytes(), made.with_suffix(".shx").read_bytes()
    if min(len(table), len(index)) < 32:
        return False
    lines, head, width = struct.unpack_from("<4xIHH", table)
    (shape_words,) = struct.unpack_from(">24xI", made.read_bytes())
    is_table_whole = lines == count and head > 32 and width > 1 and len(table) >= head + count * width
    return is_table_whole and len(index) == 100 + 8 * count and made.stat().st_size == 2 * shape_words


def _is_whole_database(made: Path, count: int) -> bool:
    """True where the pages agree and the only layer has as many features as were given."""
    with closing(sqlite3.connect(made)) as db:
        try:
            (table,), *others = db.execute("SELECT table_name FROM gpkg_contents").fetchall()
            ((said,),) = db.execute("PRAGMA quick_check(1)").fetchall()
            ((held,),) = db.execute(f'SELECT count(*) FROM "{table}"').fetchall()
        except (sqlite3.Error, ValueError):
            return False
    return not others and said == "ok" and bool(held == count)


def _as_array(column: Column) -> tuple[np.ndarray, Any]:
    """Values as GDAL takes them, and where there is none (None where each has one)."""
    empty = np.array([value is None for value in column.values])
    if column.kind == NUMBER:
        return np.array([math.nan if value is None else value for value in column.values], np.float64), None
    if column.kind == WHOLE:
        return np.array([0 if value is None else value for value in column.values], np.int64), empty
    if column.kind == DATE:
        return np.array([np.datetime64("NaT") if value is None else value for value in column.values], "datetime64[D]"), empty
    return np.array(column.values, dtype=object), None


_WRITERS: dict[str, Callable[[Path, Layer], None]] = {
    ".geojson": _write_geojson,
    ".json": _write_geojson,
    ".gpkg": _write_geopackage,
    ".shp": _write_shapefile,
    ".zip": _write_zip,
    ".csv": _write_csv,
    ".kml": write_kml,
    ".gpx": write_gpx,
}
