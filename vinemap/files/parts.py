"""Parts of a season as bytes and back: a small head of plain words and numbers, then raw little-endian columns.

    2 bytes  "VP"
    2 bytes  version of this layout, unsigned little-endian
    4 bytes  length of the head
    head     JSON: {"fields": {...}, "columns": [[name, dtype, shape], ...]}
    columns  one after the other, each starting at a multiple of 8 bytes from the start

Only names and numbers are stored, never names of classes, so that records can be moved and renamed.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import struct
from collections.abc import Callable
from dataclasses import asdict
from typing import Any

import numpy as np
import shapely

from vinemap.columns import nothing
from vinemap.errors import FileError
from vinemap.files.sky_parts import SKY_KINDS
from vinemap.ground.block import Block, RowTable, VineExceptions, Wall
from vinemap.ground.covariates import Covariate
from vinemap.ground.frame import Frame
from vinemap.scouting.rounds import Round, Stops
from vinemap.season.value import Aerial, BrixSeen, Estate, StageDates, StageSeen
from vinemap.work.assumptions import Assumptions
from vinemap.work.diary import Pass, Spray

LAYOUT = 1
_DTYPES = ("|b1", "|i1", "|u1", "<i4", "<i8", "<f8")
_START = struct.Struct("<2sHI")
_NOT_UNDERSTOOD = (
    *(AttributeError, LookupError, TypeError, ValueError, OverflowError, RecursionError),
    *(struct.error, shapely.errors.ShapelyError),
)
"""What a value of another kind than expected may raise."""

Columns = dict[str, np.ndarray]
Fields = dict[str, Any]


def pack_part(kind: str, part: Any) -> bytes:
    """The bytes of one part; the same part always gives the same bytes."""
    fields, columns = _KINDS[kind][0](part)
    stored = {name: np.ascontiguousarray(column, column.dtype.newbyteorder("<")) for name, column in columns.items()}
    listed = [[name, column.dtype.str, list(column.shape)] for name, column in stored.items()]
    head = json.dumps({"fields": fields, "columns": listed}, separators=(",", ":"), default=_number).encode()
    body = bytearray(_START.pack(b"VP", LAYOUT, len(head)) + head)
    for column in stored.values():
        body += bytes(-len(body) % 8)
        body += column.tobytes()
    return bytes(body)


def unpack_part(kind: str, body: bytes) -> Any:
    """The part that ``pack_part`` made the bytes from. Raises FileError when they can't be understood."""
    try:
        mark, layout, head_length = _START.unpack_from(body)
        if mark != b"VP" or layout != LAYOUT:
            raise ValueError(f"layout {layout}")
        end = _START.size + head_length
        head = json.loads(body[_START.size : end])
        columns: Columns = {}
        for name, dtype, shape in head["columns"]:
            if dtype not in _DTYPES:
                raise ValueError(f"column {name} of type {dtype}")
            end += -end % 8
            columns[name] = np.ndarray(tuple(shape), dtype, buffer=body, offset=end)
            end += columns[name].nbytes
        return _KINDS[kind][1](head["fields"], columns)
    except _NOT_UNDERSTOOD as error:
        raise FileError(
            f"A part of this season file ({kind}) can't be understood.",
            "It may have been written by a newer Vinemap: update this one, or use your last copy of the file.",
        ) from error


def hash_part(kind: str, body: bytes) -> str:
    """The name a part is kept under: SHA-256 (FIPS 180-4) of its kind and bytes."""
    return hashlib.sha256(kind.encode() + b"\0" + body).hexdigest()


def _number(value: Any) -> Any:
    """A numpy number as a plain one."""
    if isinstance(value, np.generic):
        return value.item()
    raise TypeError(f"{type(value).__name__} is not plain data")


def _named(record: Any, *names: str) -> Columns:
    return {name: getattr(record, name) for name in names}


def _day(text: str | None) -> dt.date | None:
    return None if text is None else dt.date.fromisoformat(text)


def _text(day: dt.date | None) -> str | None:
    return None if day is None else day.isoformat()


def _pack_estate(estate: Estate) -> tuple[Fields, Columns]:
    frame = asdict(estate.frame)
    return {
        "name": estate.name,
        "frame": frame,
        "offset_hours": estate.offset_hours,
        "is_invented": estate.is_invented,
    }, {}


def _unpack_estate(fields: Fields, _: Columns) -> Estate:
    return Estate(fields["name"], Frame(**fields["frame"]), fields["offset_hours"], fields["is_invented"])


_ROW_COLUMNS = ("xy_m", "start", "vine_spacing_m", "vine_count")


def _pack_block(block: Block) -> tuple[Fields, Columns]:
    fields = {
        "name": block.name,
        "labels": block.rows.labels,
        "row_spacing_m": block.row_spacing_m,
        "vine_spacing_m": block.vine_spacing_m,
        "varieties": block.varieties,
        "training": block.training,
        "vigour": block.vigour,
        "wall": asdict(block.wall),
        "slope_deg": block.slope_deg,
        "aspect_deg": block.aspect_deg,
    }
    outline = np.frombuffer(shapely.to_wkb(block.outline, byte_order=1), np.uint8)
    differs = block.exceptions
    return fields, {
        "outline_wkb": outline,
        **_named(block.rows, *_ROW_COLUMNS),
        "exception_vine": differs.vine,
        "exception_status": differs.status,
        "exception_variety": differs.variety,
    }


def _unpack_block(fields: Fields, columns: Columns) -> Block:
    return Block(
        name=fields["name"],
        outline=shapely.from_wkb(columns["outline_wkb"].tobytes()),
        rows=RowTable(tuple(fields["labels"]), *(columns[name] for name in _ROW_COLUMNS)),
        row_spacing_m=fields["row_spacing_m"],
        vine_spacing_m=fields["vine_spacing_m"],
        varieties=tuple(fields["varieties"]),
        training=fields["training"],
        vigour=fields["vigour"],
        exceptions=VineExceptions(columns["exception_vine"], columns["exception_status"], columns["exception_variety"]),
        wall=Wall(**fields.get("wall", {})),
        slope_deg=fields.get("slope_deg", 0.0),
        aspect_deg=fields.get("aspect_deg", 0.0),
    )


_STOP_COLUMNS = (
    "block",
    "vine",
    "x_m",
    "y_m",
    "examined",
    "infected",
    "leaves_examined",
    "leaves_infected",
    "is_targeted",
)


def _pack_round(each: Round) -> tuple[Fields, Columns]:
    fields = {
        "number": each.number,
        "date": each.date.isoformat(),
        "scout": each.scout,
        "protocol": each.protocol,
        "blocks": each.stops.blocks,
        "rows": each.stops.rows,
    }
    return fields, _named(each.stops, *_STOP_COLUMNS, "light")


def _unpack_round(fields: Fields, columns: Columns) -> Round:
    stops = Stops(
        blocks=tuple(fields["blocks"]),
        rows=tuple(fields["rows"]),
        **{name: columns[name] for name in _STOP_COLUMNS},
        light=columns.get("light", nothing()),
    )
    return Round(fields["number"], dt.date.fromisoformat(fields["date"]), fields["scout"], fields["protocol"], stops)


def _pack_passes(passes: tuple[Pass, ...]) -> tuple[Fields, Columns]:
    return {"passes": [asdict(each) | {"date": each.date.isoformat()} for each in passes]}, {}


def _unpack_passes(fields: Fields, _: Columns) -> tuple[Pass, ...]:
    return tuple(
        Pass(**each | {"date": dt.date.fromisoformat(each["date"]), "rows": tuple(each["rows"])}) for each in fields["passes"]
    )


def _pack_sprays(sprays: tuple[Spray, ...]) -> tuple[Fields, Columns]:
    return {
        "sprays": [asdict(each) | {"start": each.start.isoformat(), "end": each.end.isoformat()} for each in sprays],
    }, {}


def _unpack_sprays(fields: Fields, _: Columns) -> tuple[Spray, ...]:
    return tuple(
        Spray(
            **each
            | {
                "start": dt.datetime.fromisoformat(each["start"]),
                "end": dt.datetime.fromisoformat(each["end"]),
                "rows": tuple(each["rows"]),
                "materials": tuple(each["materials"]),
            }
        )
        for each in fields["sprays"]
    )


_STAGES = ("budbreak", "bloom", "veraison", "harvest")


def _pack_stages(stages: tuple[StageDates, ...]) -> tuple[Fields, Columns]:
    return {
        "stages": [
            {"block": each.block}
            | {name: _text(getattr(each, name)) for name in _STAGES}
            | {"seen": [[_text(one.date), one.scale, one.number] for one in each.seen]}
            | {"brix": [[_text(one.date), one.brix] for one in each.brix]}
            for each in stages
        ],
    }, {}


def _unpack_stages(fields: Fields, _: Columns) -> tuple[StageDates, ...]:
    return tuple(
        StageDates(
            each["block"],
            **{name: _day(each[name]) for name in _STAGES},
            seen=tuple(StageSeen(dt.date.fromisoformat(day), scale, number) for day, scale, number in each.get("seen", ())),
            brix=tuple(BrixSeen(dt.date.fromisoformat(day), brix) for day, brix in each.get("brix", ())),
        )
        for each in fields["stages"]
    )


def _pack_assumptions(assumptions: Assumptions) -> tuple[Fields, Columns]:
    return asdict(assumptions), {}


def _unpack_assumptions(fields: Fields, _: Columns) -> Assumptions:
    return Assumptions(**fields)


def _pack_covariate(each: Covariate) -> tuple[Fields, Columns]:
    return {"name": each.name, "source": each.source}, _named(each, "points_m", "values")


def _unpack_covariate(fields: Fields, columns: Columns) -> Covariate:
    return Covariate(fields["name"], fields["source"], columns["points_m"], columns["values"])


def _pack_aerial(aerial: Aerial) -> tuple[Fields, Columns]:
    return asdict(aerial), {}


def _unpack_aerial(fields: Fields, _: Columns) -> Aerial:
    wide, high = fields["size_px"]
    corners = tuple((float(x), float(y)) for x, y in fields["corners_m"])
    return Aerial(**fields | {"corners_m": corners, "size_px": (int(wide), int(high))})


_KINDS: dict[str, tuple[Callable[[Any], tuple[Fields, Columns]], Callable[[Fields, Columns], Any]]] = {
    "estate": (_pack_estate, _unpack_estate),
    "block": (_pack_block, _unpack_block),
    "round": (_pack_round, _unpack_round),
    "passes": (_pack_passes, _unpack_passes),
    "sprays": (_pack_sprays, _unpack_sprays),
    "stages": (_pack_stages, _unpack_stages),
    "assumptions": (_pack_assumptions, _unpack_assumptions),
    "covariate": (_pack_covariate, _unpack_covariate),
    "aerial": (_pack_aerial, _unpack_aerial),
    **SKY_KINDS,
}
