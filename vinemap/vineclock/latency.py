"""How long a new infection stays hidden before it bears spores, and what heat kills colonies."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from vinemap.columns import Bools, Floats

# Hours of unbroken heat of the leaves that killed colonies (trials at UC Davis, from memory).
_KILLS = ((40.0, 3.0), (42.0, 1.5), (44.0, 1.0))


def latent_days(mean_degc: npt.ArrayLike) -> Floats:
    """Latent period (n,) [days] at daily mean temperatures (n,) [degC]; infinite below 5 and above 31, NaN if missing.

    Source: Caffi et al. 2011, Plant Pathology 60:522 (44.7 + 0.067 T^2 - 3.244 T); limits of use from memory.
    """
    mean = np.asarray(mean_degc, np.float64)
    days = 44.7 + 0.067 * mean**2 - 3.244 * mean
    return np.asarray(np.where((mean < 5) | (mean > 31), np.inf, days), np.float64)


def latent_progress(mean_degc: npt.ArrayLike) -> Floats:
    """Progress (n,) towards spores by the end of each day since infection, from daily means (n,) [degC]; spores from 1 on.

    NaN from the first missing day on. Source: sum of 1 / latent period, Caffi et al. 2011.
    """
    return np.asarray(np.cumsum(1.0 / latent_days(mean_degc)), np.float64)


def days_to_spores(mean_degc: npt.ArrayLike) -> int | None:
    """Days from infection until the colony bears spores, from daily means (n,) [degC]; None when not within them.

    Source: Caffi et al. 2011.
    """
    done = np.flatnonzero(latent_progress(mean_degc) >= 1.0)
    return int(done[0]) + 1 if len(done) else None


def is_killed_by_heat(leaf_degc: npt.ArrayLike, step_hours: float) -> Bools:
    """Whether heat has killed the colonies (n,) by the end of each reading (n,) of LEAF temperature [degC] taken every
    ``step_hours`` [h]; a missing reading breaks a hot spell.

    Leaves in the sun run 5 to 8 degC above shaded ones (Austin & Wilcox 2012): air temperature alone tells little.
    Source: 40 degC for 3 h, 42 degC for 1.5 h or 44 degC for 1 h (trials at UC Davis, from memory).
    """
    leaf = np.asarray(leaf_degc, np.float64)
    killed = np.zeros(len(leaf), np.bool_)
    number = np.arange(len(leaf))
    for degc, hours in _KILLS:
        is_hot = leaf >= degc
        last_cool = np.maximum.accumulate(np.where(is_hot, -1, number))
        killed |= (number - last_cool) * step_hours >= hours
    return np.logical_or.accumulate(killed)
