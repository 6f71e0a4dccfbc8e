"""Invented blocks and plans to draw: any size and bearing."""

from __future__ import annotations

import datetime as dt

import numpy as np
import shapely

from vinemap.ground.block import Block, RowTable
from vinemap.ground.vines import place_vines
from vinemap.scouting.rounds import Stops
from vinemap.sheets.bands import Piece
from vinemap.sheets.crew_map import BlockPlan, KeepOut, Place
from vinemap.sheets.marks import MM_PER_PT, Dots, Mark, Page, Path, Shade, Strokes, Words
from vinemap.sheets.read_ledger import RowShare
from vinemap.sheets.read_map import ReadPlan
from vinemap.sheets.words import Both
from vinemap.surface.counts import Counts
from vinemap.surface.doubt import Doubt
from vinemap.surface.field import KNOWN, NOT_KNOWN, UNSURE, Field, Recipe
from vinemap.surface.mixture import Mixture


def make_block(
    rows: int = 52,
    length_m: float = 150.0,
    bearing_deg: float = 80.0,
    name: str = "Well Field",
    wave_m: float = 0.0,
    spacing_m: float = 2.5,
) -> Block:
    """A block of parallel rows, row 1 to the left of row 2 as they run; ``wave_m`` makes the ends uneven."""
    turn = np.radians(bearing_deg)
    along, right = np.array([np.sin(turn), np.cos(turn)]), np.array([np.cos(turn), -np.sin(turn)])
    number = np.arange(rows)
    start = wave_m * np.sin(number / 5.0)
    stop = length_m + wave_m * np.cos(number / 7.0) - 0.3 * wave_m * np.maximum(number - rows * 0.7, 0)
    first = start[:, None] * along + number[:, None] * spacing_m * right
    last = stop[:, None] * along + number[:, None] * spacing_m * right
    xy = np.stack([first, last], axis=1).reshape(-1, 2)
    count = (np.floor((stop - start) / 1.5) + 1).astype(int)
    table = RowTable(tuple(str(n + 1) for n in range(rows)), xy, np.arange(rows + 1) * 2, np.full(rows, 1.5), count)
    pad = right * spacing_m * 0.6
    ring = np.vstack(
        [
            first[0] - pad - along * 1.5,
            last[0] - pad + along * 1.5,
            last + along * 1.5,
            last[-1] + pad + along * 1.5,
            first[-1] + pad - along * 1.5,
            (first - along * 1.5)[::-1],
        ]
    )
    return Block(name, shapely.Polygon(ring), table, spacing_m, 1.5)


def whole(block: Block, row: int, kind: str, side: int = -1, face: str = "east") -> Piece:
    """A whole row of work."""
    vines = int(block.rows.vine_count[row])
    return Piece(row, 1, vines, kind, side, face, vines * 1.5)


def usual_pieces(block: Block) -> tuple[Piece, ...]:
    """Work such as a usual week has: whole rows and spans of several kinds."""
    rows = len(block.rows)
    if rows < 8:
        return (whole(block, 0, "F"),)
    middle = rows // 3
    pieces = [whole(block, middle + n, "D", 2, "both") for n in range(min(6, rows // 4))]
    spans = [
        (middle - 1, 12, 72, "F"),
        (middle - 2, 15, 78, "L"),
        (middle - 3, 22, 70, "L"),
        (middle + 7, 34, 66, "R"),
        (middle + 8, 36, 64, "R"),
        (middle + 12, 1, 32, "C"),
        (middle + 14, 5, 60, "P"),
        (middle + 16, 40, 60, "V"),
        (middle + 18, 10, 60, "T"),
    ]
    for row, first, last, kind in spans:
        if 0 <= row < rows:
            last = min(last, int(block.rows.vine_count[row]))
            pieces.append(Piece(row, min(first, last), last, kind, 0 if kind in "CPV" else -1, "east", (last - first) * 0.8))
    return tuple(pieces)


def make_plan(block: Block, pieces: tuple[Piece, ...] | None = None, **changed: object) -> BlockPlan:
    """A plan for a block, with everything on it."""
    day = dt.datetime(2026, 6, 16, 5, 30)
    usual: dict = {
        "block": block,
        "vines": place_vines(block),
        "estate": "Tallow Ridge",
        "date": dt.date(2026, 6, 15),
        "pieces": usual_pieces(block) if pieces is None else pieces,
        "round_words": "round 5 of 13 June",
        "plan_words": "plan 14",
        "code": "TR-7K2",
        "printed": dt.datetime(2026, 6, 14, 18, 20),
        "crew": Both("Ana and four", "Ana y cuatro"),
        "hours": "6:00 – 13:30",
        "keep_out": (KeepOut(day, day + dt.timedelta(hours=27)),),
        "hot_after": dt.time(14, 0),
        "is_invented": True,
    }
    return BlockPlan(**{**usual, **changed})


def places_around(block: Block) -> tuple[Place, ...]:
    """A gate to the west, shade and water to the south-east."""
    x0, y0, x1, y1 = block.outline.bounds
    return (Place("gate", x0 - 8, (y0 + y1) / 2), Place("shade", x1 + 5, y0 + 10), Place("water", x1 - 5, y0 - 5))


def make_read_plan(block: Block, stops_wanted: int = 36) -> ReadPlan:
    """An invented field with one patch, known near the stops and not in a far corner."""
    vines = place_vines(block)
    rng = np.random.default_rng(7)
    xy = np.column_stack([vines.x_m, vines.y_m])
    low, size = xy.min(axis=0), np.ptp(xy, axis=0) + 1.0
    share = (xy - low) / size
    incidence = 0.03 + 0.35 * np.exp(-(((share[:, 0] - 0.4) / 0.15) ** 2) - ((share[:, 1] - 0.55) / 0.12) ** 2)
    seen = np.flatnonzero(share.sum(axis=1) < 1.65)
    chosen = rng.choice(seen, min(stops_wanted, len(seen)), replace=False)
    near = np.min(np.hypot(*(xy[:, None, :] - xy[chosen][None, :, :]).transpose(2, 0, 1)), axis=1)
    certainty = np.where(near < 14, KNOWN, np.where(near < 25, UNSURE, NOT_KNOWN)).astype(np.int8)
    examined = np.full(len(chosen), 20, np.int32)
    stops = Stops(
        (block.name,),
        np.zeros(len(chosen)),
        tuple(block.rows.labels[vines.row[k]] for k in chosen),
        vines.ordinal[chosen],
        vines.x_m[chosen],
        vines.y_m[chosen],
        examined,
        rng.binomial(20, incidence[chosen]),
        np.zeros(len(chosen)),
        np.zeros(len(chosen)),
        np.zeros(len(chosen), bool),
    )
    zeros = np.zeros(len(vines))
    recipe = Recipe("kriging", None, 30.0, 15.0, 80.0, 2.0, 12, 0.1, len(chosen), 720, -2.5, 1.0, 25.0, ())
    figures = (incidence, incidence / 2, incidence * 2, zeros, certainty, near, zeros, zeros)
    mixture = Mixture(np.ones(1), zeros[None], zeros[None], np.zeros(1))
    counts = Counts(xy[chosen], np.asarray(examined, float), stops.infected.astype(float))
    field = Field(*figures, mixture, Doubt(xy[:0], (), xy[:0]), np.zeros((len(vines), 0)), counts, None, recipe)
    rows = tuple(
        RowShare(label, "41–60", float(incidence[vines.row == n].max()), 0.05, 0.4, 0.1 + 0.8 * n / len(block.rows))
        for n, label in enumerate(block.rows.labels)
    )
    facts = (("clusters looked at", "720"), ("with mildew", "74"), ("of all clusters", "8 %, between 7 and 10"))
    return ReadPlan(
        block,
        vines,
        field,
        stops,
        0.10,
        rows,
        "Tallow Ridge",
        dt.date(2026, 6, 13),
        "round 5 of 13 June, scouted by Marta",
        "TR-5WF",
        dt.datetime(2026, 6, 14, 18, 20),
        facts,
        "Two more stops, in rows 44 and 49, would settle the corner that is not known.",
        True,
    )


def measure(text: str, size_pt: float, weight: int, is_italic: bool) -> float:
    """Widths as a usual book face has them, half an em a letter, without any font at hand."""
    return len(text) * size_pt * MM_PER_PT * (0.50 if weight < 600 else 0.54)


def mark_bounds(mark: Mark) -> tuple[float, float, float, float]:
    """Left, top, right, bottom [mm] of a mark."""
    if isinstance(mark, Path):
        points = np.vstack(mark.rings)
    elif isinstance(mark, Strokes):
        points = mark.ends.reshape(-1, 2)
    elif isinstance(mark, Dots):
        radius = mark.radius_mm[:, None]
        points = np.vstack([mark.points - radius, mark.points + radius])
    elif isinstance(mark, Shade):
        return mark.x_mm, mark.y_mm, mark.x_mm + mark.width_mm, mark.y_mm + mark.height_mm
    else:
        width = measure(mark.text, mark.size_pt, mark.weight, mark.is_italic)
        left = mark.x_mm - {"start": 0.0, "middle": 0.5, "end": 1.0}[mark.anchor] * width
        return left, mark.y_mm - 0.7 * mark.size_pt * MM_PER_PT, left + width, mark.y_mm + 0.25 * mark.size_pt * MM_PER_PT
    low, high = points.min(axis=0), points.max(axis=0)
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])


def texts(page: Page) -> list[str]:
    """All words on a page."""
    return [mark.text for mark in page.marks if isinstance(mark, Words)]
