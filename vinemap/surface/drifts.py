"""What may help a map: columns known at stops and vines, used only when they tell left-out stops better."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import logsumexp

from vinemap.columns import Floats
from vinemap.surface.binomial import Binomial
from vinemap.surface.counts import PRIOR_MEAN
from vinemap.surface.gaps import gaps_between
from vinemap.surface.pattern import level_variance, prior_covariance
from vinemap.surface.propagation import propagate

EFFECT_SD = 0.7
"""Weak prior: one deviation of a column doubles or halves the odds of mildew (a choice)."""
LEAST_GAIN, LEAST_ERRORS = 2.0, 1.5
"""Log chance of all left-out stops together that a column must gain, and in its own standard errors: less comes by chance
alone (a choice, after the rule of one standard error, Hastie et al. 2009, section 7.10)."""


@dataclass(frozen=True, slots=True, eq=False)
class Drift:
    """A figure known at stops (n, k) and at vines (m, k): k is 1 for a number, or one column of 0 and 1 for each kind."""

    name: str
    at_stops: Floats
    at_vines: Floats

    def scaled(self) -> tuple[Floats, Floats]:
        """Columns (n, k) and (m, k) about the vines' mean, worth the prior deviation of an effect each."""
        middle, spread = self.at_vines.mean(axis=0), self.at_vines.std(axis=0)
        if self.at_vines.shape[1] > 1:
            spread = np.ones_like(spread)
        scale = EFFECT_SD / np.where(spread > 1e-9, spread, np.inf)
        return (self.at_stops - middle) * scale, (self.at_vines - middle) * scale


@dataclass(frozen=True, slots=True)
class Tried:
    """A column that was tried: its name, the log chance per left-out stop that it gains, and whether it is used."""

    name: str
    gain: float
    is_used: bool


def choose_drifts(found: Binomial, drifts: Sequence[Drift]) -> tuple[tuple[Drift, ...], tuple[Tried, ...]]:
    """The columns that help, taken in one after another, and what each was worth when it was tried last.

    Every column is tried under the parameters found without it, which is quick and does not favour it.
    """
    chosen: list[Drift] = []
    waiting = [(drift, drift.scaled()[0]) for drift in drifts]
    tried: dict[str, Tried] = {}
    columns = found.drift
    told = found.left_out()
    while waiting:
        gains = []
        for drift, at_stops in waiting:
            gain = with_drift(found, np.column_stack([columns, at_stops])).left_out() - told
            gains.append(gain)
            tried[drift.name] = Tried(drift.name, float(gain.mean()), False)
        best = int(np.argmax([gain.sum() for gain in gains]))
        if not _helps(gains[best]):
            break
        drift, at_stops = waiting.pop(best)
        chosen.append(drift)
        columns, told = np.column_stack([columns, at_stops]), told + gains[best]
        tried[drift.name] = replace(tried[drift.name], is_used=True)
    return tuple(chosen), tuple(tried.values())


def _helps(gain: Floats) -> bool:
    total, doubt = float(gain.sum()), float(gain.std() * np.sqrt(len(gain)))
    return total > max(LEAST_GAIN, LEAST_ERRORS * doubt)


def with_drift(found: Binomial, drift: Floats) -> Binomial:
    """The same counts under the same parameters with columns ``drift`` (n, q) beside the level."""
    counts = found.counts
    gaps = gaps_between(counts.stops_m, found.parts[0].curve.bearing_deg)
    level = level_variance(drift)
    parts, heights = [], []
    for part in found.parts:
        said = propagate(counts, PRIOR_MEAN, prior_covariance(gaps, level, part.curve), part.said.sites)
        heights.append(np.log(part.weight) + said.log_evidence - part.said.log_evidence)
        parts.append(replace(part, said=said))
    weights = np.exp(np.array(heights) - logsumexp(heights))
    weighted = tuple(replace(part, weight=float(max(w, 1e-300))) for part, w in zip(parts, weights, strict=True))
    return replace(found, drift=drift, parts=weighted)
