"""The ground, the stops and the work of a season as layers, with the columns that bringing in reads."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from vinemap.columns import Floats
from vinemap.files.geojson import LINE, POINT, POLYGON
from vinemap.files.layer import DATE, NUMBER, TEXT, WHOLE, Cell, Column, Layer
from vinemap.files.projection import to_lonlat
from vinemap.files.stop_reader import RANDOM, TARGETED
from vinemap.ground.address import Address
from vinemap.ground.block import STATUS_WORDS, Block, Vines
from vinemap.ground.frame import Frame
from vinemap.ground.vines import place_vines
from vinemap.scouting.rounds import LIGHT_WORDS, Round
from vinemap.scouting.walk import Walk
from vinemap.season.value import Season
from vinemap.service.answers import BlockRead, Ranking
from vinemap.service.tables import CERTAINTY_WORDS, FIELD_COLUMNS
from vinemap.service.why import face_words
from vinemap.work.ranking import RowWork

INVENTED = "Invented demonstration data."
_KINDS = {
    "rank": WHOLE,
    "round": WHOLE,
    "vine": WHOLE,
    "vines": WHOLE,
    "first_vine": WHOLE,
    "last_vine": WHOLE,
    "examined": WHOLE,
    "infected": WHOLE,
    "leaves_examined": WHOLE,
    "leaves_infected": WHOLE,
    "order": WHOLE,
    "date": DATE,
    **dict.fromkeys(
        ("row_spacing_m", "vine_spacing_m", "vigour", "hours", "rate_l_per_ha", "area_m2", "logit_mean", "logit_sd"), NUMBER
    ),
    **dict.fromkeys(("incidence", "low", "high", "chance_above", "incidence_low", "incidence_high"), NUMBER),
    **dict.fromkeys(("wall_top_m", "wall_width_m", "fruit_m", "slope_deg", "aspect_deg"), NUMBER),
    **dict.fromkeys(("clusters_saved", "clusters_per_hour"), NUMBER),
}
_DECIMALS = 6


def layer_of(
    season: Season,
    name: str,
    kind: str,
    shapes_m: np.ndarray,
    titles: Sequence[str],
    names: Sequence[str],
    lines: Sequence[Sequence[Cell]],
) -> Layer:
    """A layer of shapes in the estate's frame [m], its columns given line by line."""
    columns = tuple(Column(each, _KINDS.get(each, TEXT), [line[index] for line in lines]) for index, each in enumerate(names))
    remark = f"{season.estate.name}. {INVENTED}" if season.estate.is_invented else season.estate.name
    return Layer(name, kind, in_lonlat(season.estate.frame, shapes_m), columns, tuple(titles), remark)


def in_lonlat(frame: Frame, shapes_m: np.ndarray) -> np.ndarray:
    """Shapes (n,) in the estate's frame [m] in longitude and latitude [degrees]."""
    moved: np.ndarray = shapely.transform(shapes_m, lambda xy: np.column_stack(to_lonlat(frame, xy[:, 0], xy[:, 1])))
    return moved


def blocks_layer(season: Season) -> Layer:
    """Outlines with their holes."""
    names: tuple[str, ...] = ("block", "row_spacing_m", "vine_spacing_m", "varieties", "training", "vigour")
    names += ("wall_top_m", "wall_width_m", "fruit_m", "slope_deg", "aspect_deg")
    lines: list[tuple[Cell, ...]] = [
        (
            *(each.name, each.row_spacing_m, each.vine_spacing_m, ";".join(each.varieties), each.training, each.vigour),
            *(each.wall.top_m, each.wall.width_m, each.wall.fruit_m, each.slope_deg, each.aspect_deg),
        )
        for each in season.blocks
    ]
    shapes = np.array([each.outline for each in season.blocks], dtype=object)
    return layer_of(season, "blocks", POLYGON, shapes, [each.name for each in season.blocks], names, lines)


def rows_layer(season: Season) -> Layer:
    """Rows as they were drawn, from vine 1 on."""
    lines, shapes = list[tuple[Cell, ...]](), []
    for block in season.blocks:
        rows = block.rows
        for row, label in enumerate(rows.labels):
            lines.append((block.name, label, float(rows.vine_spacing_m[row]), int(rows.vine_count[row])))
            shapes.append(shapely.LineString(rows.line_m(row)))
    titles = [f"{line[0]} / {line[1]}" for line in lines]
    return layer_of(
        season, "rows", LINE, np.array(shapes, dtype=object), titles, ("block", "row", "vine_spacing_m", "vines"), lines
    )


def ends_layer(season: Season) -> Layer:
    """The first and the last vine of every row."""
    picked = [
        (block, vines, np.unique(np.concatenate([vines.row_start[:-1], vines.row_start[1:] - 1])))
        for block, vines in ((each, place_vines(each)) for each in season.blocks)
    ]
    return _vines_layer(season, "ends of rows", picked)


def vines_layer(season: Season) -> Layer:
    """Every vine place."""
    placed = [(each, place_vines(each)) for each in season.blocks]
    return _vines_layer(season, "vines", [(block, vines, np.arange(len(vines))) for block, vines in placed])


def marks_layer(season: Season) -> Layer:
    """Only the vines that differ from what their block and row say; no variety where it is the block's first."""
    picked = [(each, place_vines(each), each.exceptions.vine) for each in season.blocks]
    layer = _vines_layer(season, "marked vines", picked)
    said = [code for each in season.blocks for code in each.exceptions.variety]
    columns = [
        Column(each.name, each.kind, [value if code >= 0 else None for value, code in zip(each.values, said, strict=True)])
        if each.name == "variety"
        else each
        for each in layer.columns
    ]
    return Layer(layer.name, layer.kind, layer.shapes, tuple(columns), layer.titles, layer.remark)


def _vines_layer(season: Season, name: str, picked: Sequence[tuple[Block, Vines, np.ndarray]]) -> Layer:
    lines: list[tuple[Cell, ...]] = []
    for block, vines, index in picked:
        labels, varieties = block.rows.labels, block.varieties
        columns = (vines.row[index], vines.ordinal[index], vines.status[index], vines.variety[index])
        for row, vine, status, variety in zip(*(each.tolist() for each in columns), strict=True):
            lines.append((block.name, labels[row], vine, STATUS_WORDS[status], varieties[variety]))
    points = shapely.points(np.concatenate([_xy_m(vines)[index] for _, vines, index in picked] or [np.empty((0, 2))]))
    return layer_of(season, name, POINT, points, _addresses(lines), ("block", "row", "vine", "status", "variety"), lines)


def _xy_m(vines: Vines) -> Floats:
    return np.column_stack([vines.x_m, vines.y_m])


def _addresses(lines: Sequence[Sequence[Cell]], first: int = 0) -> list[str]:
    """The vine of each line, whose block, row and vine stand at ``first`` and behind it."""
    return [str(Address(str(line[first]), str(line[first + 1]), int(str(line[first + 2])))) for line in lines]


def stops_layer(season: Season, rounds: Sequence[Round]) -> Layer:
    """The stops of rounds with what was counted."""
    names = ["round", "date", "scout", "block", "row", "vine", "examined", "infected"]
    names += ["leaves_examined", "leaves_infected", "sample_type", "light"]
    lines: list[tuple[Cell, ...]] = []
    for each in rounds:
        stops = each.stops
        counts = (stops.block, stops.vine, stops.examined, stops.infected, stops.leaves_examined, stops.leaves_infected)
        for row, targeted, light, block, vine, *counted in zip(
            stops.rows, stops.is_targeted.tolist(), stops.light.tolist(), *(column.tolist() for column in counts), strict=True
        ):
            kind, seen = TARGETED if targeted else RANDOM, LIGHT_WORDS[light]
            lines.append((each.number, each.date, each.scout, stops.blocks[block], row, vine, *counted, kind, seen))
    where = [np.column_stack([each.stops.x_m, each.stops.y_m]) for each in rounds] or [np.empty((0, 2))]
    return layer_of(season, "stops", POINT, shapely.points(np.concatenate(where)), _addresses(lines, 3), names, lines)


def walk_layer(season: Season, walks: Sequence[tuple[Block, Vines, Walk]]) -> Layer:
    """Where to look next, in the order one walks."""
    lines: list[tuple[Cell, ...]] = []
    for block, vines, walk in walks:
        for number, (vine, targeted) in enumerate(zip(walk.vine.tolist(), walk.is_targeted.tolist(), strict=True), start=1):
            kind = TARGETED if targeted else RANDOM
            label = block.rows.labels[int(vines.row[vine])]
            lines.append((block.name, label, int(vines.ordinal[vine]), number, kind))
    points = shapely.points(np.concatenate([_xy_m(vines)[walk.vine] for _, vines, walk in walks] or [np.empty((0, 2))]))
    names = ("block", "row", "vine", "order", "sample_type")
    return layer_of(season, "next stops", POINT, points, _addresses(lines), names, lines)


def field_layer(season: Season, reads: dict[str, BlockRead]) -> Layer:
    """Incidence and how sure it is, at every living vine."""
    names = (*("block", "row", "vine", "status", "variety"), *FIELD_COLUMNS)
    lines: list[tuple[Cell, ...]] = []
    where = [np.empty((0, 2))]
    for read in reads.values():
        vines, block, field = read.vines, read.block, read.field
        index = np.flatnonzero(vines.is_living)
        where.append(_xy_m(vines)[index])
        unknown: tuple[Cell, ...] = (None,) * 4 + (CERTAINTY_WORDS[2],) + (None,) * 2
        for at in index.tolist():
            said = unknown
            if field is not None:
                shares = (field.incidence, field.low, field.high, field.chance_above)
                logits = (field.latent_mean, field.latent_sd)
                word = CERTAINTY_WORDS[field.certainty[at]]
                said = (*(_round(each[at]) for each in shares), word, *(_round(each[at]) for each in logits))
            label, variety = block.rows.labels[int(vines.row[at])], block.varieties[int(vines.variety[at])]
            lines.append((block.name, label, int(vines.ordinal[at]), STATUS_WORDS[int(vines.status[at])], variety, *said))
    return layer_of(season, "field", POINT, shapely.points(np.concatenate(where)), _addresses(lines), names, lines)


def _round(value: float) -> float:
    return round(float(value), _DECIMALS)


def run_m(block: Block, vines: Vines, work: RowWork) -> shapely.LineString:
    """The ground [m] of a run of vines in a row: from half a vine spacing before the first to half of one after the last."""
    start = int(vines.row_start[work.row])
    row = _xy_m(vines)[start : int(vines.row_start[work.row + 1])]
    run = row[work.first_vine - 1 : work.last_vine]
    drawn = block.rows.line_m(work.row)
    half_m = float(block.rows.vine_spacing_m[work.row]) / 2.0
    steps = np.diff(run, axis=0) if len(run) > 1 else drawn[-1:] - drawn[:1]
    before, after = (step / np.hypot(*step) * half_m for step in (steps[0], steps[-1]))
    return shapely.simplify(shapely.LineString([run[0] - before, *run, run[-1] + after]), 0.001)


def work_layer(season: Season, ranking: Ranking) -> Layer:
    """The rows in order, opening first and then sprays: the run of vines, what it saves and what it costs."""
    names: tuple[str, ...] = ("rank", "work", "block", "row", "kind", "face", "first_vine", "last_vine", "vines")
    names += (
        "incidence",
        "incidence_low",
        "incidence_high",
        "clusters_saved",
        "hours",
        "clusters_per_hour",
        "fits_into_week",
    )
    lines, shapes = list[tuple[Cell, ...]](), []
    for work in ranking.opening + ranking.spraying:
        read, runs = ranking.reads[work.block], ranking.found[work.work, work.block]
        shares = (_round(each[work.row]) for each in (runs.mean, runs.low, runs.high))
        face = face_words(work, ranking.faces[work.block].choice(work.row))
        gain = (round(work.clusters, 1), round(work.hours, 3), round(work.per_hour, 2))
        where = (work.rank, work.work, work.block, work.label, work.letter, face)
        fits = "yes" if work.is_first else "no"
        lines.append((*where, work.first_vine, work.last_vine, work.vines, *shares, *gain, fits))
        shapes.append(run_m(read.block, read.vines, work))
    titles = [f"{line[2]} / {line[3]} / {line[6]}-{line[7]}" for line in lines]
    return layer_of(season, "work", LINE, np.array(shapes, dtype=object), titles, names, lines)


def sprayed(ranking: Ranking) -> list[tuple[RowWork, shapely.Polygon]]:
    """The runs that are sprayed this week, each with its strip of ground [m], half a row spacing to both sides."""
    chosen = [work for work in ranking.spraying if work.is_first]
    reads = [ranking.reads[work.block] for work in chosen]
    return [
        (work, shapely.buffer(run_m(read.block, read.vines, work), read.block.row_spacing_m / 2.0, cap_style="flat"))
        for work, read in zip(chosen, reads, strict=True)
    ]


def zones_layer(season: Season, ranking: Ranking, rate_l_per_ha: float) -> Layer:
    """The strips to spray with their rate, as polygons."""
    found = sprayed(ranking)
    names = ("block", "row", "first_vine", "last_vine", "rate_l_per_ha", "area_m2")
    lines: list[tuple[Cell, ...]] = [
        (work.block, work.label, work.first_vine, work.last_vine, rate_l_per_ha, round(strip.area, 1))
        for work, strip in found
    ]
    titles = [f"{line[0]} / {line[1]} / {line[2]}-{line[3]}" for line in lines]
    return layer_of(season, "zones", POLYGON, np.array([strip for _, strip in found], dtype=object), titles, names, lines)
