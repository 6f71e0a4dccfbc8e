"""Tables that leave the program: the field of a round, the rows in order."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import numpy as np
import shapely

from vinemap.files.geojson import write_features
from vinemap.files.projection import to_lonlat
from vinemap.files.table import write_table
from vinemap.ground.block import STATUS_WORDS
from vinemap.season.value import Season
from vinemap.service.answers import BlockRead, Ranking
from vinemap.service.why import face_words, why_row
from vinemap.surface.field import Field

SHARE_COLUMNS, LOGIT_COLUMNS = ("incidence", "low", "high", "chance_above"), ("logit_mean", "logit_sd")
FIELD_COLUMNS = (*SHARE_COLUMNS, "certainty", *LOGIT_COLUMNS)
CERTAINTY_WORDS = ("known", "unsure", "not known")
PLACE_COLUMNS = ("block", "row", "vine", "status", "variety", "lon", "lat")
RANK_COLUMNS = (
    "rank",
    "work",
    "block",
    "row",
    "kind",
    "face",
    "first_vine",
    "last_vine",
    "vines",
    "incidence",
    "incidence_low",
    "incidence_high",
    "chance_above",
    "clusters_saved",
    "clusters_low",
    "clusters_high",
    "saved_in_row",
    "saved_around",
    "burned",
    "kg_saved",
    "hours",
    "clusters_per_hour",
    "fits_into_week",
    "why",
)


SPAN_COLUMNS = (
    "work",
    "block",
    "row",
    "first_vine",
    "last_vine",
    "vines",
    "incidence",
    "incidence_low",
    "incidence_high",
    "chance_above",
    "left_alone",
    "worked",
    "clusters_saved",
    "clusters_low",
    "clusters_high",
    "saved_in_span",
    "saved_around",
    "burned",
    "kg_saved",
    "hours",
    "clusters_per_hour",
)


def field_cells(field: Field) -> list[tuple[str, ...]]:
    """Cells of FIELD_COLUMNS for each vine, six decimals."""
    columns = (field.incidence, field.low, field.high, field.chance_above, field.latent_mean, field.latent_sd)
    cells = [[f"{value:.6f}" for value in line] for line in np.column_stack(columns)]
    words = [CERTAINTY_WORDS[code] for code in field.certainty]
    return [(*line[:4], word, *line[4:]) for line, word in zip(cells, words, strict=True)]


def write_field(path: Path, season: Season, reads: dict[str, BlockRead]) -> int:
    """Write the field at every living vine as CSV, or as GeoJSON points when the name ends so; the number of vines."""
    lines = list(_vine_lines(season, reads))
    columns = (*PLACE_COLUMNS, *FIELD_COLUMNS)
    if path.suffix.lower() in (".geojson", ".json"):
        write_features(path, (_feature(columns, line) for line in lines))
    else:
        write_table(path, columns, lines)
    return len(lines)


def _vine_lines(season: Season, reads: dict[str, BlockRead]) -> Iterable[tuple[str, ...]]:
    for read in reads.values():
        vines, block = read.vines, read.block
        lon, lat = to_lonlat(season.estate.frame, vines.x_m, vines.y_m)
        unknown = ("", "", "", "", CERTAINTY_WORDS[2], "", "")
        cells = field_cells(read.field) if read.field is not None else [unknown] * len(vines)
        for index in np.flatnonzero(vines.is_living):
            yield (
                block.name,
                block.rows.labels[int(vines.row[index])],
                str(int(vines.ordinal[index])),
                STATUS_WORDS[int(vines.status[index])],
                block.varieties[int(vines.variety[index])],
                f"{lon[index]:.7f}",
                f"{lat[index]:.7f}",
                *cells[index],
            )


def _feature(columns: tuple[str, ...], line: tuple[str, ...]) -> tuple[shapely.Point, dict[str, object]]:
    values: dict[str, object] = dict(zip(columns, line, strict=True))
    lon, lat = float(str(values.pop("lon"))), float(str(values.pop("lat")))
    for name in ("vine", *SHARE_COLUMNS, *LOGIT_COLUMNS):
        text = str(values[name])
        values[name] = (int(text) if name == "vine" else float(text)) if text else None
    return shapely.Point(lon, lat), values


def write_rank(path: Path, season: Season, ranking: Ranking) -> int:
    """Write the rows in order, opening first and then sprays, each with its why; the number of lines."""
    lines = []
    for work in ranking.opening + ranking.spraying:
        runs = ranking.found[work.work, work.block]
        mean, low, high, over = (float(each[work.row]) for each in (runs.mean, runs.low, runs.high, runs.chance_above))
        choice = ranking.faces[work.block].choice(work.row)
        why = why_row(work, ranking, season.assumptions)
        chain = "; ".join(f"{fact.label}: {fact.value}" for fact in why.facts)
        lines.append(
            (
                str(work.rank),
                work.work,
                work.block,
                work.label,
                work.letter,
                face_words(work, choice),
                str(work.first_vine),
                str(work.last_vine),
                str(work.vines),
                *(f"{value:.4f}" for value in (mean, low, high, over)),
                *(f"{value:.1f}" for value in (work.clusters, work.low, work.high, work.here, work.around, work.burned)),
                f"{work.clusters * season.assumptions.kg_per_cluster:.2f}",
                f"{work.hours:.3f}",
                f"{work.per_hour:.2f}",
                "yes" if work.is_first else "no",
                f"{chain}. {why.remark}",
            )
        )
    write_table(path, RANK_COLUMNS, lines)
    return len(lines)


def write_spans(path: Path, season: Season, ranking: Ranking) -> int:
    """Write the gain of every span for each kind of work, whether it fits into the week or not; the number of lines."""
    lines = []
    for part in ranking.parts:
        by_span = ranking.reads[part.block].by_span
        assert by_span is not None
        gain, spans = part.gain, part.spans
        for index in np.flatnonzero(spans.living > 0):
            shares = (by_span.mean, by_span.low, by_span.high, by_span.chance_above, gain.left, gain.worked)
            saved = (gain.clusters, gain.low, gain.high, gain.here, gain.around, gain.burned)
            hours = float(gain.hours[index])
            lines.append(
                (
                    part.work,
                    part.block,
                    part.labels[int(spans.row[index])],
                    str(int(spans.first_vine[index])),
                    str(int(spans.last_vine[index])),
                    str(int(spans.living[index])),
                    *(f"{each[index]:.4f}" for each in shares),
                    *(f"{each[index]:.2f}" for each in saved),
                    f"{gain.clusters[index] * season.assumptions.kg_per_cluster:.3f}",
                    f"{hours:.4f}",
                    f"{gain.clusters[index] / hours:.2f}",
                )
            )
    write_table(path, SPAN_COLUMNS, lines)
    return len(lines)
