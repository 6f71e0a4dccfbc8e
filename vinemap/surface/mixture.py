"""Logits under several sets of parameters at once: shares, intervals and chances of the weighted whole."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import logit, logsumexp, ndtr, ndtri

from vinemap.columns import Floats
from vinemap.surface.counts import Counts, count_log_chance, logit_normal_mean

STEPS, CLOSE_ENOUGH = 8, 1e-5
Singles = npt.NDArray[np.float32]


@dataclass(frozen=True, slots=True, eq=False)
class Mixture:
    """Logits of m vines under p parts: ``weight`` (p,) adding up to 1; ``mean``, ``sd`` (p, m) of each part's normal;
    ``own_sd`` (p,): the part of that deviation which a vine shares with none."""

    weight: Floats
    mean: Singles
    sd: Singles
    own_sd: Floats

    def __post_init__(self) -> None:
        for name, kind in (("weight", np.float64), ("mean", np.float32), ("sd", np.float32), ("own_sd", np.float64)):
            column = np.ascontiguousarray(getattr(self, name), dtype=kind)
            column.setflags(write=False)
            object.__setattr__(self, name, column)

    def moments(self) -> tuple[Floats, Floats]:
        """Mean and deviation (m,) of the logits."""
        mean = self._sum(self.mean)
        return mean, np.sqrt(self._sum(self.sd**2 + (self.mean - mean.astype(np.float32)) ** 2))

    def shared_sd(self) -> Singles:
        """Deviation (p, m) that a vine shares with its neighbours, in each part."""
        shared: Singles = np.sqrt(np.maximum(self.sd**2 - self.own_sd[:, None].astype(np.float32) ** 2, 0.0))
        return shared

    def share(self) -> Floats:
        """Mean incidence (m,)."""
        return self._sum(np.stack([logit_normal_mean(mean, sd) for mean, sd in zip(self.mean, self.sd, strict=True)]))

    def above(self, threshold: float) -> Floats:
        """Chance (m,) that the incidence is above ``threshold`` 0..1."""
        return self._above(float(logit(threshold)))

    def quantile(self, chance: float) -> Floats:
        """Logit (m,) that is exceeded with chance 1 - ``chance``: Newton's steps, kept between the parts' own quantiles."""
        own = self.mean + self.sd * np.float32(ndtri(chance))
        low, high = own.min(axis=0).astype(np.float64), own.max(axis=0).astype(np.float64)
        point = self._sum(own)
        for _ in range(STEPS if len(self.weight) > 1 else 0):
            steps = (self.mean - point.astype(np.float32)) / self.sd
            excess = np.minimum(self._sum(ndtr(steps)), 1.0) - (1.0 - chance)
            low, high = np.where(excess > 0.0, point, low), np.where(excess > 0.0, high, point)
            steep = self._sum(np.exp(-0.5 * steps * steps) / self.sd)
            tried = point + excess * np.sqrt(2.0 * np.pi) / np.maximum(steep, 1e-12)
            moved = np.where((tried >= low) & (tried <= high), tried, 0.5 * (low + high)) - point
            point = point + moved
            if np.abs(moved).max(initial=0.0) < CLOSE_ENOUGH:
                break
        return point

    def _above(self, point: Floats | float) -> Floats:
        capped: Floats = np.minimum(self._sum(ndtr((self.mean - np.float32(point)) / self.sd)), 1.0)
        return capped

    def _sum(self, column: npt.NDArray[np.floating]) -> Floats:
        total: Floats = (self.weight.astype(column.dtype) @ column).astype(np.float64)
        return total


def mixture_log_chance(counts: Counts, mixture: Mixture) -> Floats:
    """Log chance (n,) of counts at the vines (n,) of a mixture."""
    parts = [
        np.log(weight) + count_log_chance(counts, mean.astype(np.float64), sd.astype(np.float64))
        for weight, mean, sd in zip(mixture.weight, mixture.mean, mixture.sd, strict=True)
    ]
    log_chance: Floats = logsumexp(parts, axis=0)
    return log_chance
