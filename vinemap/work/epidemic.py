"""A small stated epidemic model: how mildew grows in each span and spreads to its neighbours until the fruit resists.

Each day the share of clusters infected in span j grows by

    new_j = (1 - p_j) * m_j * u * ((1 - s) * q_j * p_j + s * sum_k K_jk * q_k * p_k)

u: growth of the day [1/day], from pressure and fruit window; m: how readily the span takes mildew (variety, sun and wind on
the row, cover); q: how strongly its colonies feed others; s: share of infections that come from outside the span; K:
neighbours, rows summing to 1, falling off exponentially with distance along and across the row.

With s = 0, m = q = 1 and u constant this is the logistic of van der Plank (1963, Plant Diseases: Epidemics and Control).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse import csr_array
from scipy.spatial import cKDTree

from vinemap.columns import Floats
from vinemap.errors import Tick, no_tick
from vinemap.work.spans import Spans

REACH_LENGTHS = 4.0
"""Neighbours farther than this many spread lengths get less than 2 % of the weight and are left out."""


def neighbour_weights(spans: Spans, along_m: float, across_m: float) -> csr_array:
    """Weights K (n, n) of the spans around each span: living vines times exp(-d), d in spread lengths along and across [m].

    Along the row the gap between the spans' ends counts, not that between their middles. Rows sum to 1, or to 0 for a
    span that has no living neighbour. Source: exponential gradient of plant disease (common practice, Madden et al. 2007).
    """
    total = len(spans)
    longest = float(spans.length_m.max(initial=1.0))
    reach = REACH_LENGTHS + longest / along_m
    points = np.column_stack([spans.along_m / along_m, spans.across_m / across_m])
    pairs = cKDTree(points).query_pairs(reach, output_type="ndarray") if total > 1 else np.empty((0, 2), np.intp)
    one, other = pairs[:, 0], pairs[:, 1]
    middle_gap = np.abs(spans.along_m[one] - spans.along_m[other])
    end_gap = np.maximum(middle_gap - (spans.length_m[one] + spans.length_m[other]) / 2.0, 0.0)
    distance = np.hypot(end_gap / along_m, (spans.across_m[one] - spans.across_m[other]) / across_m)
    near = distance <= REACH_LENGTHS
    one, other, weight = one[near], other[near], np.exp(-distance[near])
    entries = np.concatenate([weight * spans.living[other], weight * spans.living[one]])
    places = np.concatenate([one, other]), np.concatenate([other, one])
    table = csr_array((entries, places), shape=(total, total))
    sums = np.asarray(table.sum(axis=1)).ravel()
    table.data /= np.repeat(np.where(sums > 0, sums, 1.0), np.diff(table.indptr))
    return table


@dataclass(frozen=True, slots=True, eq=False)
class Growth:
    """What drives the model: ``per_day`` (d,) u [1/day]; ``take`` (d, n) m of each day and span; ``spread_share`` s."""

    per_day: Floats
    take: Floats
    spread_share: float


def left_alone(start: Floats, growth: Growth, weights: csr_array) -> Floats:
    """Share of clusters infected (d + 1, n), day by day from ``start`` (n,), when nothing more is done."""
    path = np.empty((len(growth.per_day) + 1, len(start)))
    path[0] = start
    s = growth.spread_share
    for day, rate in enumerate(growth.per_day):
        now = path[day]
        source = (1.0 - s) * now + s * (weights @ now)
        # the same order of products as with work, so that work without effect saves exactly nothing
        path[day + 1] = np.minimum(now + (1.0 - now) * (growth.take[day] * rate) * source, 1.0)
    return path


@dataclass(frozen=True, slots=True, eq=False)
class Saved:
    """What work on each span alone saves by the horizon.

    ``here`` (n,): clusters of the span itself; ``around`` (n,): clusters of its neighbours; ``left`` (n,): the share
    infected at the horizon when left alone; ``worked`` (n,): the share when worked.
    """

    here: Floats
    around: Floats
    left: Floats
    worked: Floats


def saved_by_work(
    baseline: Floats, growth: Growth, weights: csr_array, factor: Floats, clusters: Floats, tick: Tick = no_tick
) -> Saved:
    """What is saved when a single span is worked and all others are left alone, for every span at once.

    ``baseline`` (d + 1, n): the path when left alone; ``factor`` (d, n): what the work multiplies m and q by on each day
    (light, air and sulfur act on new and on sporulating colonies); ``clusters`` (n,) of each span. The neighbours' saving
    is of first order: what they no longer get from this span, not what they in turn no longer pass on.
    """
    s = growth.spread_share
    days = len(growth.per_day)
    here = baseline[0].copy()
    around = np.zeros_like(here)
    outgoing = weights.T.tocsr()
    for day, rate in enumerate(growth.per_day):
        base = baseline[day]
        take = growth.take[day] * rate
        less_sent = base - factor[day] * here
        around += s * (outgoing @ ((1.0 - base) * take * clusters)) * less_sent
        source = (1.0 - s) * factor[day] * here + s * (weights @ base)
        here = np.minimum(here + (1.0 - here) * take * factor[day] * source, 1.0)
        tick((day + 1) / days)
    return Saved((baseline[-1] - here) * clusters, around, baseline[-1], here)
