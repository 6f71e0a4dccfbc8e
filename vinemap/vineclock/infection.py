"""Primary infections: days on which rain and wetness let the first spores of the year go and take hold.

Mildew winters in small fruiting bodies on the bark (and in some places in buds). Rain lets their spores, ascospores, go.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from vinemap.columns import Bools, Floats, freeze
from vinemap.errors import InputError
from vinemap.units import degc_from_degf
from vinemap.vineclock.days import Days

EVENT, UCCE, HOURS_12_15, MILLS = "event", "ucce", "12-15 h", "2/3 mills"
INFECTION_RULES = (EVENT, UCCE, HOURS_12_15, MILLS)
RULE_WORDS = {
    EVENT: "more than 2.5 mm of rain on a day whose mean is above 10 °C (Wilcox and Gadoury, after Schilder)",
    UCCE: "2.5 mm of rain and 13 hours of wet leaves on end at 10 to 27 °C (UCCE Kern 2009)",
    HOURS_12_15: "12 hours of wet leaves on end at a mean of 10 to 27 °C, 15 to be sure (Gubler et al. 1999, from memory)",
    MILLS: "two thirds of the hours of wet leaves of a heavy scab infection (Weber, Gubler & Derr 1996; Mills, from memory)",
}
EVENT_MM, EVENT_DEGC = 2.5, 10.0
WARM_LOW_DEGC, WARM_HIGH_DEGC = degc_from_degf(50.0), degc_from_degf(80.0)
WET_SHARE = 0.5
"""An hour counts as wet when its leaves were wet for half of it (stated assumption)."""
_NEEDED_HOURS = {UCCE: 13.0, HOURS_12_15: 12.0}
# Mean temperature [degF] and hours of wet leaves for a heavy scab infection: the original table of Mills, from memory. The
# later, shorter one (MacHardy & Gadoury 1989) is not meant.
_MILLS_DEGF = (50.0, 55.0, 60.0, 63.0, 75.0, 77.0, 78.0)
_MILLS_HEAVY_HOURS = (29.0, 24.0, 20.0, 18.0, 18.0, 21.0, 26.0)
_MOST_BRIDGED = 7
_RIPENING_BASE_DEGC = 10.0


@dataclass(frozen=True, slots=True, eq=False)
class Infections:
    """Primary infections by one of the rules. Columns are (n,), one for each day; NaN where it is not known.

    ``is_event``: one took place; ``could_be``: what was not read hides whether one did; ``rain_mm`` [mm], ``wet_hours`` [h],
    ``mean_degc`` [degC]: of the day, or for rules of wetness of the wet hours up to then; ``mature_frac``: share of the
    year's ascospores that are ripe 0..1; ``discharge_frac``: share of the ripe ones that the day's rain lets go 0..1.
    """

    rule: str
    is_event: Bools
    could_be: Bools
    rain_mm: Floats
    wet_hours: Floats
    mean_degc: Floats
    mature_frac: Floats
    discharge_frac: Floats

    def __post_init__(self) -> None:
        numbers = ("rain_mm", "wet_hours", "mean_degc", "mature_frac", "discharge_frac")
        freeze(self, is_event=np.bool_, could_be=np.bool_, **dict.fromkeys(numbers, np.float64))


def find_infections(days: Days, rule: str = EVENT, budbreak: dt.date | None = None) -> Infections:
    """Primary infections on each of the days. Spores ripen from budbreak, or from the first day where it is not known.

    Source: the rules in ``RULE_WORDS``; ripening and discharge Caffi et al. 2011. Raises InputError for no such rule.
    """
    if rule not in INFECTION_RULES:
        raise InputError(f"“{rule}” is no rule of infection.", f"Use one of {', '.join(INFECTION_RULES)}.")
    ripe = _ripe(days, budbreak)
    let_go = ascospore_discharge(days.mean_degc, days.rain_mm, days.wet_hours)
    if rule != EVENT:
        event, rain, wet, mean = _by_wetness(days, rule)
        possible, *_ = _by_wetness(days, rule, is_unread_wet=True)
        could = (possible | np.isnan(days.wet_hours)) & ~event
        return Infections(rule, event, could, rain, wet, mean, ripe, let_go)
    known = ~np.isnan(days.mean_degc)
    coolest = np.where(known, days.mean_degc, days.mean_low_degc)
    warmest = np.where(known, days.mean_degc, days.mean_high_degc)
    event = (days.rain_least_mm > EVENT_MM) & (coolest > EVENT_DEGC)
    could = (np.isnan(days.rain_mm) | (days.rain_least_mm > EVENT_MM)) & ~(warmest <= EVENT_DEGC) & ~event
    return Infections(rule, event, could, days.rain_least_mm, days.wet_hours, days.mean_degc, ripe, let_go)


def mills_hours(mean_degc: npt.ArrayLike) -> Floats:
    """Two thirds of the hours of wet leaves (n,) [h] for a heavy scab infection, at mean temperatures (n,) [degC].

    Infinite below 50 and above 78 °F. Source: Weber, Gubler & Derr 1996; original table of Mills; both from memory.
    """
    mean = np.asarray(mean_degc, np.float64)
    at = [degc_from_degf(degf) for degf in _MILLS_DEGF]
    hours = np.interp(mean, at, np.array(_MILLS_HEAVY_HOURS) * 2 / 3)
    return np.asarray(np.where((mean >= at[0] - 1e-9) & (mean <= at[-1] + 1e-9), hours, np.inf), np.float64)


def mature_ascospores(degree_days: npt.ArrayLike) -> Floats:
    """Share of the year's ascospores that are ripe (n,) 0..1, at degree days above 10 degC since budbreak (n,) [degC days].

    Source: Caffi et al. 2011, Plant Pathology 60:522, as others give its figures.
    """
    sums = np.asarray(degree_days, np.float64)
    return np.asarray(np.exp(-1.95 * np.exp(-1.91 * sums / 100.0)), np.float64)


def ascospore_discharge(mean_degc: npt.ArrayLike, rain_mm: npt.ArrayLike, wet_hours: npt.ArrayLike) -> Floats:
    """Share of the ripe ascospores that a day lets go (n,) 0..1, from its mean [degC], rain [mm] and wet hours [h], all (n,).

    None with less than 2 mm of rain, below 4 or above 30 degC. NaN where it is not known.
    Source: Caffi et al. 2011, Plant Pathology 60:522, as others give its figures.
    """
    mean, rain, wet = (np.asarray(each, np.float64) for each in (mean_degc, rain_mm, wet_hours))
    share = 1.0 - 0.969 * np.exp(-0.0004 * mean**2 * wet)
    share = np.where(np.isnan(rain), np.nan, share)
    return np.asarray(np.where((rain < 2.0) | (mean < 4.0) | (mean > 30.0), 0.0, share), np.float64)


def _ripe(days: Days, budbreak: dt.date | None) -> Floats:
    """Share of ripe ascospores at the end of each day (n,); a few days without a mean are bridged, after more it is NaN."""
    share = np.full(len(days), np.nan)
    since = np.flatnonzero(days.date >= (budbreak.toordinal() if budbreak else 0))
    known = since[~np.isnan(days.mean_degc[since])]
    if not len(known):
        return share
    mean = np.interp(since, known, days.mean_degc[known])
    ripe = mature_ascospores(np.cumsum(np.maximum(mean - _RIPENING_BASE_DEGC, 0.0)))
    bridged = np.cumsum(np.isnan(days.mean_degc[since]))
    share[since] = np.where(bridged > _MOST_BRIDGED, np.nan, ripe)
    return share


def _by_wetness(days: Days, rule: str, is_unread_wet: bool = False) -> tuple[Bools, Floats, Floats, Floats]:
    """Events, rain, wet hours and their mean, by a rule of unbroken wetness, past midnight too.

    With ``is_unread_wet`` leaves were wet, and it rained enough, wherever nobody read.
    """
    day = np.concatenate([np.full(len(each), number) for number, each in enumerate(days.slots)])
    hours = np.concatenate([np.full(len(each), each.step_hours) for each in days.slots])
    temp, rain, wet = (
        np.concatenate([getattr(each, name) for each in days.slots]) for name in ("temp_degc", "rain_mm", "wet_frac")
    )
    if is_unread_wet:
        rain, wet = np.where(np.isnan(rain), EVENT_MM, rain), np.where(np.isnan(wet), 1.0, wet)
    is_event = np.zeros(len(days), np.bool_)
    rain_mm, wet_hours, mean_degc = (np.full(len(days), np.nan) for _ in range(3))
    rain_before = np.concatenate([[0.0], np.cumsum(np.nan_to_num(rain))])
    edges = np.flatnonzero(np.diff(np.concatenate([[False], wet >= WET_SHARE, [False]]).astype(np.int8)))
    for start, end in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        spell = slice(start, end)
        so_far = np.cumsum(hours[spell])
        weight = np.where(np.isnan(temp[spell]), 0.0, hours[spell])
        weighed = np.cumsum(weight)
        mean = np.cumsum(np.nan_to_num(temp[spell]) * weight) / np.where(weighed > 0, weighed, np.nan)
        # the rain that made the leaves wet may have fallen in the step before
        fallen = rain_before[start + 1 : end + 1] - rain_before[max(start - 1, 0)]
        reached = np.flatnonzero(_is_enough(rule, so_far, mean, fallen))
        # the day on which it is enough, else the days it lasted, show how far it came
        stop = int(reached[0]) if len(reached) else end - start - 1
        on = int(day[start + stop])
        if len(reached) or not is_event[on]:
            is_event[on] |= bool(len(reached))
            rain_mm[on], wet_hours[on], mean_degc[on] = fallen[stop], so_far[stop], mean[stop]
    return is_event, rain_mm, wet_hours, mean_degc


def _is_enough(rule: str, wet_hours: Floats, mean_degc: Floats, rain_mm: Floats) -> Bools:
    """Whether wetness so far (m,) [h] at its mean (m,) [degC] with rain (m,) [mm] is an infection."""
    if rule == MILLS:
        return np.asarray(wet_hours >= mills_hours(mean_degc) - 1e-9, np.bool_)
    is_warm = (mean_degc >= WARM_LOW_DEGC - 1e-9) & (mean_degc <= WARM_HIGH_DEGC + 1e-9)
    enough = (wet_hours >= _NEEDED_HOURS[rule] - 1e-9) & is_warm
    return np.asarray(enough & (rain_mm >= EVENT_MM) if rule == UCCE else enough, np.bool_)
