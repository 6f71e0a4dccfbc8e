"""Tall edges brought into a season from drawn files."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import shapely

from vinemap.errors import InputError, Problem
from vinemap.files.edge_reader import EdgeDraft, place_edge, read_edges
from vinemap.files.shapes import Mend
from vinemap.ground.edges import Edge, free_name
from vinemap.season.value import Season
from vinemap.season.weather_edits import with_edges
from vinemap.service.report import Report, counted

FARTHEST_M = 5_000.0
"""An edge farther than this from every block is of another estate (a choice)."""


def add_edges(season: Season, path: Path, report: Report, crs: str = "", mend: Mend | None = None) -> Season:
    """The season with the tall edges of a file, each in place of one of its name. Raises FileError for a file of no use."""
    read = read_edges(path, crs, mend)
    report.took(read, f"{path.name}: {counted(len(read.value), 'tall edge')}")
    ground = shapely.union_all([block.outline for block in season.blocks])
    edges = list(season.edges)
    known = 0
    for draft in read.value:
        try:
            edge = place_edge(draft, draft.name or free_name(edges), season.estate.frame)
            far_m = shapely.distance(ground, shapely.LineString(edge.line_m))
        except InputError:
            far_m = np.inf
        if far_m > FARTHEST_M:
            report.problems.append(_far(draft))
            continue
        if any(_is_same(edge, each) for each in edges):
            known += 1
            continue
        edges = [each for each in edges if each.name != edge.name] + [edge]
    if known:
        report.notes.append(f"{path.name}: {known} {'was' if known == 1 else 'were'} in the season already.")
    return with_edges(season, edges) if len(read.value) > known else season


def _is_same(one: Edge, other: Edge) -> bool:
    return (
        one.height_m == other.height_m
        and one.open_frac == other.open_frac
        and one.line_m.shape == other.line_m.shape
        and bool(np.allclose(one.line_m, other.line_m, atol=0.01))
    )


def _far(draft: EdgeDraft) -> Problem:
    return draft.entry.problem("", "", "lies far from every block", "Check its longitude and latitude.")
