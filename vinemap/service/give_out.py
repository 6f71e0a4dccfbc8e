"""Give out what a season holds: files for other programs, a phone or a sprayer."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import shapely

from vinemap.errors import InputError
from vinemap.files.layer import Layer
from vinemap.files.layer_writer import refuse_ending, write_layer
from vinemap.files.taskdata import SprayField, rate_grid, refuse_cells, refuse_name, refuse_rate, write_taskdata
from vinemap.scouting.rounds import Round
from vinemap.season.value import Season
from vinemap.service.answers import Answers
from vinemap.service.given import OF_A_ROUND, WHATS, Asked
from vinemap.service.given_layers import (
    blocks_layer,
    ends_layer,
    field_layer,
    in_lonlat,
    marks_layer,
    rows_layer,
    sprayed,
    stops_layer,
    vines_layer,
    walk_layer,
    work_layer,
    zones_layer,
)
from vinemap.service.given_tables import ESTATE, TABLES, write_part
from vinemap.service.next_walk import next_walk
from vinemap.service.report import counted

CHECK_SPRAY = (
    "The label and your local law come first. Check the task on the terminal before spraying: place, blocks, rate, and that "
    "nothing is sprayed outside the zones."
)
_TERMINAL = (".xml", ".zip")
_NO_PLACES = ("blocks", "work", "zones")
_COUNTED = {
    "blocks": ("block",),
    "rows": ("row",),
    "ends of rows": ("end of a row", "ends of rows"),
    "vines": ("vine",),
    "marked vines": ("marked vine",),
    "stops": ("stop",),
    "next stops": ("next stop",),
    "field": ("vine with its incidence", "vines with their incidence"),
    "work": ("run of vines in order", "runs of vines in order"),
    "zones": ("strip to spray", "strips to spray"),
}
"""What is said of one thing in a layer, and of several."""


def give_out(season: Season, scouted: Round | None, answers: Answers, asked: Asked) -> tuple[str, ...]:
    """Write what is asked for, in the format that the ending names; what was written, in sentences.

    ``scouted``: the round that field, work and zones are about; stops are those of all rounds where it is None, and the walk
    goes by rule. Raises InputError when there is nothing to write or it can't be written so, FileError.
    """
    if asked.what not in WHATS:
        raise InputError(f"“{asked.what}” can't be given out.", f"Choose one of: {', '.join(WHATS)}.")
    if asked.what in OF_A_ROUND and scouted is None:
        raise InputError("There is no scouting round yet.", "Bring in the stops first.")
    if asked.what == ESTATE or asked.what in TABLES:
        return (write_part(asked.out, season, asked.what),)
    ending = asked.out.suffix.lower()
    if asked.what == "zones":
        _rate(asked)
        if ending in _TERMINAL:
            refuse_name(asked.out)
            refuse_cells(asked.cell_m)
            return _write_task(season, _round(scouted), answers, asked)
    refuse_ending(asked.out)
    if ending == ".gpx" and asked.what in _NO_PLACES:
        raise InputError(f"GPX can't hold {asked.what}, only places to go to.", "Let the name end in .kml instead.")
    layer = _layer(season, scouted, answers, asked)
    write_layer(asked.out, layer)
    said = f"{counted(len(layer), *_COUNTED[layer.name])} written to {asked.out}"
    return (said, CHECK_SPRAY) if asked.what == "zones" else (said,)


def _round(scouted: Round | None) -> Round:
    assert scouted is not None
    return scouted


def _layer(season: Season, scouted: Round | None, answers: Answers, asked: Asked) -> Layer:
    is_phone = asked.out.suffix.lower() == ".gpx"
    if asked.what == "stops":
        return stops_layer(season, season.rounds if scouted is None else (scouted,))
    if asked.what == "walk":
        reads = answers.reads(season, scouted) if scouted is not None else {}
        placed = [(block, answers.vines(block)) for block in season.blocks]
        fields = [reads[block.name].field if block.name in reads else None for block in season.blocks]
        walks = [(*each, next_walk(season, *each, field)) for each, field in zip(placed, fields, strict=True)]
        return walk_layer(season, walks)
    if asked.what == "field":
        return field_layer(season, answers.reads(season, _round(scouted)))
    if asked.what == "work":
        return work_layer(season, answers.ranking(season, _round(scouted)))
    if asked.what == "zones":
        return zones_layer(season, answers.ranking(season, _round(scouted)), _rate(asked))
    if asked.what == "rows" and is_phone:
        return ends_layer(season)
    return _OF_GROUND[asked.what](season)


_OF_GROUND: dict[str, Callable[[Season], Layer]] = {
    "blocks": blocks_layer,
    "rows": rows_layer,
    "vines": vines_layer,
    "marks": marks_layer,
}


def _rate(asked: Asked) -> float:
    if asked.rate_l_per_ha is None:
        raise InputError("Zones to spray need a rate.", "Give the litres per hectare that the label allows: --rate 600.")
    refuse_rate(asked.rate_l_per_ha)
    return asked.rate_l_per_ha


def _write_task(season: Season, scouted: Round, answers: Answers, asked: Asked) -> tuple[str, ...]:
    rate = _rate(asked)
    frame = season.estate.frame
    strips: dict[str, list[shapely.Polygon]] = {}
    for work, strip in sprayed(answers.ranking(season, scouted)):
        strips.setdefault(work.block, []).append(strip)
    if not strips:
        raise InputError("No row is to be sprayed this week.", "See step Week: there may be no sprayer hours, or no need.")
    fields = []
    for block in season.blocks:
        if block.name in strips:
            if asked.cell_m > block.row_spacing_m:
                what = f"Cells of {asked.cell_m:g} m can't tell rows {block.row_spacing_m:g} m apart from one another."
                raise InputError(what, "Give smaller cells.")
            grid = rate_grid(frame, block.outline, np.array(strips[block.name], dtype=object), rate, asked.cell_m)
            (outline,) = in_lonlat(frame, np.array([block.outline], dtype=object))
            fields.append(SprayField(block.name, outline, block.outline.area, grid))
    write_taskdata(asked.out, season.estate.name, fields, season.estate.is_invented)
    said = [
        f"{each.block}: {counted(len(strips[each.block]), 'strip')}, "
        f"{sum(strip.area for strip in strips[each.block]) / 1e4:.2f} ha at {rate:g} L/ha"
        for each in fields
    ]
    return (*said, f"written to {asked.out}", CHECK_SPRAY)
