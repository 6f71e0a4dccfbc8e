"""Shapefiles: the .shp with its parts, read by GDAL from a folder of its own where nothing else lies.

Source: the technical description of the format, 1998, for the lengths that tell a cut-off part.
"""

from __future__ import annotations

import struct
import tempfile
import warnings
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any

import numpy as np

from vinemap.errors import FileError
from vinemap.files.shapes import as_text, geometry_of
from vinemap.files.text import read_bytes

SHAPE = ".shp"
NEEDED = (SHAPE, ".shx", ".dbf")
PARTS = (*NEEDED, ".prj", ".cpg", ".qpj", ".sbn", ".sbx", ".fbn", ".fbx", ".ain", ".aih", ".atx", ".ixs", ".mxs", ".idx")
_USED = (*NEEDED, ".prj", ".cpg")
_FILE_CODE, _VERSION, _HEADER_BYTES = 9994, 1000, 100
_LONGEST_NAME = 10  # of a column in the .dbf
_LONG_NAMES = (
    "row_spacing_m",
    "vine_spacing_m",
    "bearing_deg",
    "leaves_examined",
    "leaves_infected",
    "sample_type",
    "wall_width_m",
)
_FULL_NAMES = {name[:_LONGEST_NAME]: name for name in _LONG_NAMES}


def is_shape(data: bytes) -> bool:
    """True where bytes begin as a .shp or .shx does."""
    return (
        len(data) >= 32 and struct.unpack(">i", data[:4])[0] == _FILE_CODE and struct.unpack("<i", data[28:32])[0] == _VERSION
    )


def parts_beside(path: Path) -> dict[str, bytes]:
    """The parts of a shapefile that lie beside its .shp, by lower-case ending. Raises FileError."""
    path = Path(path)
    if path.suffix.casefold() != SHAPE:
        raise FileError(
            f"{path.name} is a part of a shapefile.", f"Choose {path.stem}{SHAPE}; its parts are found beside it."
        )
    held = {SHAPE: read_bytes(path)}
    for beside in sorted(path.absolute().parent.iterdir()):
        ending = beside.suffix.casefold()
        if beside.stem == path.stem and ending in _USED and ending != SHAPE:
            held[ending] = read_bytes(beside)
    return held


def read_shapefile(name: str, parts: Mapping[str, bytes]) -> tuple[list[dict[str, Any]], str, tuple[str, ...]]:
    """Features of a shapefile, its map system as its .prj writes it ("" without one), and notes.

    Raises FileError when a part is missing, cut off or damaged.
    """
    missing = [part for part in NEEDED if part not in parts]
    if missing:
        raise FileError(
            f"{name} lacks its part {missing[0]}.", f"A shapefile is at least {', '.join(NEEDED)}; keep them together."
        )
    _check_lengths(name, parts)
    encoding, notes = _encoding(name, parts)
    with tempfile.TemporaryDirectory(prefix="shapefile-") as folder:
        # under a name of its own nothing in the given name can steer GDAL
        for part in NEEDED:
            (Path(folder) / f"layer{part}").write_bytes(parts[part])
        columns, shapes, values = _read(name, Path(folder) / "layer.shp", encoding)
    names = [_FULL_NAMES.get(column.casefold(), column) for column in columns]
    items = [
        {
            "type": "Feature",
            "properties": {each: as_text(column[index]) for each, column in zip(names, values, strict=True)},
            "geometry": geometry_of(shape),
        }
        for index, shape in enumerate(shapes)
    ]
    return items, parts.get(".prj", b"").decode("utf-8", "replace").strip("\ufeff \r\n\t\0"), notes


def _read(name: str, path: Path, encoding: str) -> tuple[list[str], list[Any], list[Any]]:
    import pyogrio
    from pyogrio.errors import DataLayerError, DataSourceError, FieldError

    try:
        with warnings.catch_warnings():
            # what GDAL warns of is checked here in our own words
            warnings.simplefilter("ignore")
            meta, _, shapes, values = pyogrio.raw.read(path, encoding=encoding, datetime_as_string=True)
    except UnicodeDecodeError as error:
        raise FileError(f"{name}: the names in it can't be read as text.", "Export it again with UTF-8 names.") from error
    except (DataSourceError, DataLayerError, FieldError, RuntimeError, ValueError, OSError) as error:
        raise FileError(f"{name} is damaged and can't be read.", "Export the shapefile again.") from error
    return list(meta["fields"]), [] if shapes is None else list(shapes), list(values)


def _check_lengths(name: str, parts: Mapping[str, bytes]) -> None:
    """Lengths that the parts tell of themselves: GDAL reads a cut-off part as far as it goes and says nothing."""
    counts = {}
    for part in (SHAPE, ".shx"):
        data = parts[part]
        if not is_shape(data):
            raise FileError(f"The part {part} of {name} is no part of a shapefile.", "Export the shapefile again.")
        if struct.unpack(">i", data[24:28])[0] * 2 != len(data) or len(data) < _HEADER_BYTES:
            raise _cut_off(name, part)
    counts[".shx"] = (len(parts[".shx"]) - _HEADER_BYTES) // 8
    table = parts[".dbf"]
    if len(table) < 32:
        raise _cut_off(name, ".dbf")
    counts[".dbf"], header, record = struct.unpack("<IHH", table[4:12])
    if len(table) < header + counts[".dbf"] * record or record < 1:
        raise _cut_off(name, ".dbf")
    if counts[".dbf"] != counts[".shx"]:
        raise FileError(
            f"{name} has {counts['.shx']:,} shapes and {counts['.dbf']:,} lines of values; its parts do not belong together.",
            "Export the shapefile again, all parts at once.",
        )
    if np.frombuffer(parts[".shx"][_HEADER_BYTES:], ">i4").reshape(-1, 2).sum(axis=1, dtype=np.int64).max(
        initial=0
    ) * 2 + 8 > len(parts[SHAPE]):
        raise FileError(f"The parts of {name} do not belong together.", "Export the shapefile again, all parts at once.")


def _cut_off(name: str, part: str) -> FileError:
    return FileError(f"The part {part} of {name} is cut off or damaged.", "Copy or export all parts of the shapefile again.")


def _encoding(name: str, parts: Mapping[str, bytes]) -> tuple[str, tuple[str, ...]]:
    """What the names are written in: as the .cpg says, else UTF-8 where that fits, else Windows text."""
    import codecs

    said = parts.get(".cpg", b"").decode("ascii", "replace").strip().casefold()
    said = f"cp{said}" if said.isdigit() else said.replace("ansi ", "cp")
    if said:
        # a name that is none, or of a coding that is not of text, says nothing
        with suppress(LookupError, ValueError):
            "a".encode(said)
            return codecs.lookup(said).name, ()
    table = parts[".dbf"]
    body = table[struct.unpack("<H", table[8:10])[0] :]
    try:
        body.decode("utf-8")
    except UnicodeDecodeError:
        return "cp1252", (f"{name} does not say how its names are written; read as Windows text (1252). Check the accents.",)
    return "utf-8", ()
