"""How alike two vines are, by their distance along and across the rows."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.spatial.distance import pdist

from vinemap.columns import Floats
from vinemap.errors import InputError

KINDS = ("spherical", "exponential", "gaussian", "matern")
MATERN_STEPS = 4.743864518390587
"""(1 + u) exp(-u) is 0.05 here: the matern curve of smoothness 3/2 has risen by 95 %."""
FARTHEST_STEPS = -40.0
"""exp of this is nothing beside 1; still smaller figures fall below the normal ones of float32, which is slow."""
SAME_PLACE_M = 1e-3
"""Points closer than this stand at one vine and share its own part, the nugget."""


@dataclass(frozen=True, slots=True)
class Variogram:
    """A variogram with geometric anisotropy; all of Vinemap keeps to these words.

    ``nugget``: variance that vines do not share, however close; ``sill``: total variance, nugget included;
    ``range_m``: distance [m] along ``bearing_deg`` at which the rise is complete (spherical) or at 95 % (the others);
    ``ratio``: range across / range along; ``bearing_deg``: degrees clockwise from grid north. ``kind``: see ``correlation``;
    ``range_of_scale`` turns the scale that books and programs give for a kind into ``range_m``.

    Raises InputError when the figures do not make a variogram.
    """

    kind: str
    nugget: float
    sill: float
    range_m: float
    ratio: float = 1.0
    bearing_deg: float = 0.0

    def __post_init__(self) -> None:
        if self.kind not in KINDS:
            raise InputError(f"“{self.kind}” is not a kind of variogram.", f"Choose one of: {', '.join(KINDS)}.")
        figures = (self.nugget, self.sill, self.range_m, self.ratio, self.bearing_deg)
        if not all(np.isfinite(figures)) or not 0.0 <= self.nugget <= self.sill or self.sill <= 0.0:
            raise InputError(
                "The nugget must lie between 0 and the sill, and the sill above 0.", "Change the nugget or sill."
            )
        if self.range_m <= 0.0 or self.ratio <= 0.0:
            raise InputError("The range must be above 0 along and across the row.", "Change the range.")

    @property
    def structured_sill(self) -> float:
        """The part of the variance that neighbours share."""
        return self.sill - self.nugget

    @property
    def range_across_m(self) -> float:
        """Range [m] across the rows."""
        return self.range_m * self.ratio


def correlation(kind: str, reach: Floats) -> Floats:
    """Correlation of the shared part at distances in ranges (any shape, range = 1).

    Source: Cressie 1993, Statistics for Spatial Data, section 2.3; matern of smoothness 3/2: Stein 1999, Interpolation of
    Spatial Data, section 2.7; 95 % ranges as is common practice.
    """
    alike = np.array(reach, dtype=np.float64)
    fade(kind, alike, np.empty_like(alike))
    return alike


def range_of_scale(kind: str, scale_m: float) -> float:
    """Range [m] of a curve that is written with its own scale a [m].

    The curves: spherical 1 - 1.5 h/a + 0.5 (h/a)^3, exponential exp(-h/a), gaussian exp(-(h/a)^2), matern
    (1 + sqrt(3) h/a) exp(-sqrt(3) h/a). Raises InputError for another kind or a scale that is not above 0.

    Source: Cressie 1993, Statistics for Spatial Data, section 2.3; matern: Stein 1999, Interpolation of Spatial Data,
    section 2.7.
    """
    root = math.sqrt(3.0)
    scales = {"spherical": 1.0, "exponential": 3.0, "gaussian": root, "matern": MATERN_STEPS / root}
    if kind not in scales:
        raise InputError(f"“{kind}” is not a kind of variogram.", f"Choose one of: {', '.join(KINDS)}.")
    if not 0.0 < scale_m < math.inf:
        raise InputError("The scale of the variogram must be above 0.", "Change the scale.")
    return scales[kind] * scale_m


def fade(kind: str, reach: npt.NDArray[Any], second: npt.NDArray[Any]) -> None:
    """Turn distances in ranges (any shape, float32 or float64) into correlations in place; ``second`` is overwritten."""
    if kind == "spherical":
        np.minimum(reach, 1.0, out=reach)
        np.multiply(reach, reach, out=second)
        second *= 0.5
        second -= 1.5
        reach *= second
        reach += 1.0
    elif kind == "matern":
        reach *= -MATERN_STEPS
        np.maximum(reach, FARTHEST_STEPS, out=reach)
        np.exp(reach, out=second)
        np.subtract(1.0, reach, out=reach)
        reach *= second
    else:
        if kind == "gaussian":
            reach *= reach
        reach *= -3.0
        np.maximum(reach, FARTHEST_STEPS, out=reach)
        np.exp(reach, out=reach)


def in_ranges(variogram: Variogram, points_m: Floats) -> Floats:
    """Points (n, 2) [m] turned and scaled (n, 2) so that plain distance 1 is the range in every direction."""
    sin, cos = np.sin(np.radians(variogram.bearing_deg)), np.cos(np.radians(variogram.bearing_deg))
    along = points_m[:, 0] * sin + points_m[:, 1] * cos
    across = points_m[:, 0] * cos - points_m[:, 1] * sin
    return np.column_stack([along / variogram.range_m, across / variogram.range_across_m])


def covariance(variogram: Variogram, dx_m: Floats, dy_m: Floats) -> Floats:
    """Covariance of two vines that stand ``dx_m`` east and ``dy_m`` north of each other [m], nugget included at one vine."""
    dx, dy = np.broadcast_arrays(np.asarray(dx_m, float), np.asarray(dy_m, float))
    scaled = in_ranges(variogram, np.column_stack([dx.ravel(), dy.ravel()]))
    shared = variogram.structured_sill * correlation(variogram.kind, np.hypot(scaled[:, 0], scaled[:, 1]))
    own = variogram.nugget * (np.hypot(dx, dy).ravel() < SAME_PLACE_M)
    total: Floats = (shared + own).reshape(dx.shape)
    return total


@dataclass(frozen=True, slots=True, eq=False)
class Experimental:
    """Experimental variogram by distance bins: ``distance_m`` (b,) mean distance of the pairs [m], NaN in an empty bin;
    ``along``, ``across`` (b,): half the mean squared difference; ``along_pairs``, ``across_pairs`` (b,) counts.
    """

    distance_m: Floats
    along: Floats
    across: Floats
    along_pairs: Floats
    across_pairs: Floats


def experimental(points_m: Floats, values: Floats, bearing_deg: float, edges_m: Floats) -> Experimental:
    """Experimental variogram of ``values`` (n,) at ``points_m`` (n, 2) [m], along and across the rows.

    Pairs within 45 degrees of the row count as along, the others as across. ``edges_m`` (b + 1,) [m] bound the bins.
    Source: Matheron 1963, Economic Geology 58:1246.
    """
    sin, cos = np.sin(np.radians(bearing_deg)), np.cos(np.radians(bearing_deg))
    first, second = np.triu_indices(len(points_m), 1)
    step = points_m[second] - points_m[first]
    is_along = np.abs(step[:, 0] * sin + step[:, 1] * cos) >= np.abs(step[:, 0] * cos - step[:, 1] * sin)
    distance = pdist(points_m)
    half_square = 0.5 * (values[second] - values[first]) ** 2
    bins = len(edges_m) - 1
    place = np.digitize(distance, edges_m) - 1
    inside = (place >= 0) & (place < bins)

    def mean_of(what: Floats, chosen: np.ndarray) -> tuple[Floats, Floats]:
        pairs = np.bincount(place[chosen], minlength=bins).astype(float)
        total = np.bincount(place[chosen], what[chosen], minlength=bins)
        return np.divide(total, pairs, out=np.full(bins, np.nan), where=pairs > 0), pairs

    along, along_pairs = mean_of(half_square, inside & is_along)
    across, across_pairs = mean_of(half_square, inside & ~is_along)
    return Experimental(mean_of(distance, inside)[0], along, across, along_pairs, across_pairs)
