"""Drawn features out of files that are not GeoJSON: shapefiles, GeoPackages, KML, KMZ and GPX, known by their content."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path, PurePosixPath
from typing import Any, NamedTuple

from vinemap.errors import FileError
from vinemap.files.archive import names_in, read_archive
from vinemap.files.coordinates import LONLAT, in_degrees
from vinemap.files.gpx import gpx_items
from vinemap.files.kml import kml_items
from vinemap.files.point_layers import Layer, is_database, read_layers
from vinemap.files.shapefile import PARTS, SHAPE, is_shape, parts_beside, read_shapefile
from vinemap.files.text import Read, first_bytes, read_bytes
from vinemap.files.xml_text import parse_xml, root_name

_XML = ("kml", "gpx")
_ENDINGS = (".kml", ".gpx")
IN_LAYER = "in_layer"
"""Where a feature of a file with several layers keeps the name of its own, and how many features stand before that."""


class _Drawn(NamedTuple):
    """Features of one layer as it is written, and its map system, "" where it tells none; ``called`` without its file."""

    name: str
    called: str
    items: list[Any]
    system: str
    notes: tuple[str, ...] = ()


def is_vector(path: Path) -> bool:
    """True for a shapefile, a GeoPackage, KML, GPX, or an archive of such. Raises FileError when it can't be opened."""
    path = Path(path)
    if is_database(path):
        return True
    names = names_in(path)
    if names:
        return any(_ending(name) in (SHAPE, *_ENDINGS) for name in names)
    head = first_bytes(path)
    return is_shape(head) or root_name(head) in _XML or _is_beside_shape(path)


def _is_beside_shape(path: Path) -> bool:
    """True for a part of a shapefile that was chosen in the stead of its .shp."""
    return path.suffix.casefold() in PARTS and path.suffix.casefold() != SHAPE and path.with_suffix(SHAPE).exists()


def without_parts(paths: Sequence[Path]) -> list[Path]:
    """The paths without those that are parts of a shapefile among them: choosing all parts means the shapefile."""
    shapes = {path.with_suffix("") for path in paths if path.suffix.casefold() == SHAPE}
    return [
        path
        for path in paths
        if path.suffix.casefold() == SHAPE or path.suffix.casefold() not in PARTS or path.with_suffix("") not in shapes
    ]


def read_vector(path: Path, crs: str | None = "") -> Read[tuple[Any, ...]]:
    """Features as RFC 7946 has them, in longitude and latitude; ``crs`` is the map system where the file tells none.

    With None they stay as they are written. Raises FileError when it is damaged, or its map system is needed and not known.
    """
    path = Path(path)
    items: list[Any] = []
    notes: list[str] = []
    layers = _layers(path)
    for layer in layers:
        notes += layer.notes
        if crs is not None:
            notes += in_degrees(layer.name, layer.items, layer.system, crs)
        if len(layers) > 1 and layer.items:
            notes.append(f"{layer.name}: {len(layer.items):,} feature{'s' if len(layer.items) > 1 else ''}.")
            for item in layer.items:
                item[IN_LAYER] = [layer.called, len(items)]
        items += layer.items
    return Read(tuple(items), (), tuple(notes))


def _layers(path: Path) -> list[_Drawn]:
    if is_database(path):
        return [_Drawn(f"{path.name}, layer {each.name}", each.name, _items(each), each.system) for each in read_layers(path)]
    if names_in(path):
        return _archived(path)
    data = read_bytes(path)
    return [_shape(path.name, parts_beside(path)) if is_shape(data) or _is_beside_shape(path) else _marks(path.name, data)]


def _items(layer: Layer) -> list[Any]:
    return [{"type": "Feature", "properties": told, "geometry": shape} for shape, told in layer.features]


def _archived(path: Path) -> list[_Drawn]:
    held = read_archive(path)
    layers = []
    for name in sorted(held):
        shown = f"{path.name}, {PurePosixPath(name).name}"
        if _ending(name) == SHAPE:
            layers.append(_shape(shown, _parts_in(held, name)))
        elif _ending(name) in _ENDINGS:
            layers.append(_marks(shown, held[name]))
    return layers


def _ending(name: str) -> str:
    return PurePosixPath(name).suffix.casefold()


def _parts_in(held: Mapping[str, bytes], name: str) -> dict[str, bytes]:
    beside = {
        each: content
        for each, content in held.items()
        if PurePosixPath(each).with_suffix("") == PurePosixPath(name).with_suffix("")
    }
    return {_ending(each): content for each, content in beside.items()}


def _shape(name: str, parts: Mapping[str, bytes]) -> _Drawn:
    return _Drawn(name, name.rpartition(", ")[2].removesuffix(SHAPE), *read_shapefile(name, parts))


def _marks(name: str, data: bytes) -> _Drawn:
    root, notes = parse_xml(name, data)
    if root.tag.casefold() not in _XML:
        raise FileError(f"{name} is neither KML nor GPX.", "Export it as GeoJSON, KML or GPX.")
    items, said = kml_items(root) if root.tag.casefold() == "kml" else gpx_items(root)
    return _Drawn(name, name.rpartition(", ")[2], items, LONLAT, (*notes, *(f"{name}: {each}" for each in said)))
