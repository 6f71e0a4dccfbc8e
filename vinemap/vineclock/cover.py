"""Cover: what is left of the last spray's protection."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from vinemap.columns import Floats
from vinemap.errors import InputError

WASHED_OFF_MM = 25.0
"""Rain that takes away a contact material (an inch, common practice; the label in hand always rules)."""


def cover_left(
    days_since_spray: npt.ArrayLike, cover_days: npt.ArrayLike, rain_since_mm: npt.ArrayLike, is_contact: bool = True
) -> Floats:
    """Protection left (n,) 0..1, for days since the spray (n,) [days], days of cover (n,) [days] and rain since (n,) [mm].

    It falls straight from 1 on the day of the spray to 0 at the end of the interval for the pressure of the time. Rain
    washes a contact material off in proportion, all of it at 25 mm; a material inside the plant (``is_contact`` false) stays.
    Before the spray, or where the days since are NaN (never sprayed), it is 0. Unknown rain [NaN] gives NaN for a contact
    material. Arguments broadcast.
    Raises InputError when the days of cover are not above 0 or rain is below 0.
    Source: stated assumption, the simplest shape that fits spray intervals (Gubler et al. 1999) and wash-off practice.
    """
    days, cover, rain = np.broadcast_arrays(
        np.asarray(days_since_spray, np.float64), np.asarray(cover_days, np.float64), np.asarray(rain_since_mm, np.float64)
    )
    if not (cover > 0).all():
        raise InputError("The days of cover must be above 0.", "Look at the interval on the label and enter it in days.")
    if (rain < 0).any():
        raise InputError("Rain can't be below 0.", "Correct the rain readings.")
    left = np.where(days >= 0, np.clip(1.0 - days / cover, 0.0, 1.0), 0.0)
    if is_contact:
        left = np.where(left > 0, left * np.clip(1.0 - rain / WASHED_OFF_MM, 0.0, 1.0), 0.0)
    return np.asarray(left, np.float64)
