"""Incidence of a block and how sure it is: intervals, likeness within vines, change between rounds."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.special import betaincc, logit, ndtri

from vinemap.columns import Bools, Floats, Ints
from vinemap.errors import InputError, TooFewData

LEVEL = 0.95
USUAL_RHO = 0.2
"""Likeness of clusters within a vine when the counts can't tell it; 0.05 to 0.35 is common (from memory)."""

Column = Floats | Ints


@dataclass(frozen=True, slots=True)
class Interval:
    """Bounds of a share, 0..1, or of a difference of shares, -1..1."""

    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Share:
    """Incidence of a block from counts at vines.

    ``share`` 0..1 and its 95 % ``interval``; ``stops``, ``examined``, ``infected`` that it rests on; ``design_effect``: how
    many times more clusters than a simple random sample; ``effective``: clusters as a simple random sample; ``rho``:
    likeness of clusters within a vine; ``is_rho_assumed`` where the counts could not tell it; ``is_from_all_stops`` where
    no stop was random, so that the figure may be too high.
    """

    share: float
    interval: Interval
    stops: int
    examined: int
    infected: int
    design_effect: float
    effective: float
    rho: float
    is_rho_assumed: bool
    is_from_all_stops: bool


@dataclass(frozen=True, slots=True)
class Change:
    """From one round to the next: ``difference`` of shares with its 95 % ``interval``; ``rate_per_day``: logistic rate;
    ``is_noise``: true when no change at all lies inside the interval.
    """

    difference: float
    interval: Interval
    rate_per_day: float
    is_noise: bool


def _check(infected: float, examined: float) -> None:
    if not examined > 0.0:
        raise TooFewData("No clusters were examined.", "Write down how many clusters were looked at.")
    if not 0.0 <= infected <= examined:
        raise InputError("There are more infected clusters than examined ones.", "Correct the counts.")


def wilson(infected: float, examined: float, level: float = LEVEL) -> Interval:
    """Score interval of a share from ``infected`` of ``examined`` clusters (need not be whole).

    Raises TooFewData without clusters, InputError for counts that can't be.
    Source: Wilson 1927, J. Am. Stat. Assoc. 22:209; Brown, Cai & DasGupta 2001, Statistical Science 16:101.
    """
    _check(infected, examined)
    z = float(ndtri(0.5 + level / 2.0))
    share = infected / examined
    shrink = 1.0 + z * z / examined
    middle = (share + z * z / (2.0 * examined)) / shrink
    half = z * np.sqrt(share * (1.0 - share) / examined + z * z / (4.0 * examined**2)) / shrink
    # at 0 and at all infected the bound is exact; rounding must not move it
    low = 0.0 if infected == 0 else max(0.0, middle - half)
    high = 1.0 if infected == examined else min(1.0, middle + half)
    return Interval(float(low), float(high))


def exceedance(infected: float, examined: float, threshold: float) -> float:
    """Chance that the share is above ``threshold`` 0..1, Jeffreys prior. Raises like ``wilson``.

    Source: Brown, Cai & DasGupta 2001, Statistical Science 16:101, section 3.2.
    """
    _check(infected, examined)
    return float(betaincc(infected + 0.5, examined - infected + 0.5, threshold))


def rho_within_vines(examined: Column, infected: Column) -> float | None:
    """Likeness of clusters within vines from counts (n,), by analysis of variance; None when the counts can't tell.

    Source: Donner 1986, International Statistical Review 54:67 (unequal counts).
    """
    n, x = np.asarray(examined, float), np.asarray(infected, float)
    total, vines = n.sum(), len(n)
    share = x.sum() / total if total else 0.0
    if vines < 2 or total <= vines or not 0.0 < share < 1.0:
        return None
    within = float((x * (n - x) / n).sum() / (total - vines))
    among = float((n * (x / n - share) ** 2).sum() / (vines - 1))
    usual = (total - (n * n).sum() / total) / (vines - 1)
    return float((among - within) / (among + (usual - 1.0) * within))


def variance_ratio(examined: Column, infected: Column) -> float | None:
    """Variance of the block's share over that of a simple random sample, from counts (n,); None when they can't tell.

    With equal counts this is the index of dispersion. Source: Cochran 1977, Sampling Techniques, section 9A (ratio to size).
    """
    n, x = np.asarray(examined, float), np.asarray(infected, float)
    total, vines = n.sum(), len(n)
    share = x.sum() / total if total else 0.0
    if vines < 2 or not 0.0 < share < 1.0:
        return None
    return float(vines / (vines - 1) * ((x - share * n) ** 2).sum() / total / (share * (1.0 - share)))


def clustered_share(examined: Column, infected: Column) -> Share:
    """Incidence from counts (n,) at vines, its interval widened by the likeness of clusters within a vine.

    Where the counts can't tell it (one vine, none or all infected) a likeness of 0.2 is taken.
    Raises TooFewData without examined clusters, InputError for counts that can't be.
    Source: Kish 1965, Survey Sampling, section 5.4; Madden, Hughes & van den Bosch 2007.
    """
    n, x = np.asarray(examined, float), np.asarray(infected, float)
    if (x < 0).any() or (x > n).any():
        raise InputError("A stop has more infected clusters than examined ones.", "Correct its counts.")
    n, x = n[n > 0], x[n > 0]
    total, sick = float(n.sum()), float(x.sum())
    _check(sick, total)
    # the average that a cluster, not a vine, sees
    per_vine = float((n * n).sum()) / total
    ratio, rho = variance_ratio(n, x), rho_within_vines(n, x)
    effect = 1.0 + (per_vine - 1.0) * USUAL_RHO if ratio is None else max(ratio, 1.0)
    effective = total / effect
    share = sick / total
    return Share(
        share,
        wilson(share * effective, effective),
        len(n),
        int(total),
        int(sick),
        effect,
        effective,
        USUAL_RHO if rho is None else max(rho, 0.0),
        rho is None,
        False,
    )


def block_share(examined: Column, infected: Column, is_targeted: Bools) -> Share:
    """Incidence of a block from the random stops of a round, counts (n,); from all stops, and flagged, if none is random.

    Vines looked at because trouble was expected would make the block look worse than it is. Raises like ``clustered_share``.
    """
    n, x = np.asarray(examined, float), np.asarray(infected, float)
    random = ~np.asarray(is_targeted, bool) & (n > 0)
    if random.any():
        return clustered_share(n[random], x[random])
    return replace(clustered_share(n, x), is_from_all_stops=True)


def newcombe(infected: float, examined: float, infected_then: float, examined_then: float) -> Interval:
    """95 % interval of a difference of shares, now minus then, from counts (need not be whole). Raises like ``wilson``.

    Source: Newcombe 1998, Statistics in Medicine 17:873, method 10.
    """
    now, then = wilson(infected, examined), wilson(infected_then, examined_then)
    share, share_then = infected / examined, infected_then / examined_then
    difference = share - share_then
    low = difference - np.hypot(share - now.low, then.high - share_then)
    high = difference + np.hypot(now.high - share, share_then - then.low)
    return Interval(float(low), float(high))


def logistic_rate_per_day(share: float, share_then: float, days: float, least: float = 1e-3) -> float:
    """Logistic rate [per day] from ``share_then`` to ``share`` 0..1 over ``days``; shares are kept ``least`` from 0 and 1.

    Raises InputError when no time has passed. Source: van der Plank 1963, Plant Diseases: Epidemics and Control.
    """
    if not days > 0.0:
        raise InputError("The two rounds are not in order of time.", "Compare a round with an earlier one.")
    return float(logit(np.clip(share, least, 1.0 - least)) - logit(np.clip(share_then, least, 1.0 - least))) / days


def change_between(now: Share, then: Share, days: float) -> Change:
    """Change of a block's share since an earlier round, both widened by their design effects.

    Raises InputError when no time has passed.
    """
    interval = newcombe(now.share * now.effective, now.effective, then.share * then.effective, then.effective)
    least = 0.5 / max(min(now.effective, then.effective), 1.0)
    rate = logistic_rate_per_day(now.share, then.share, days, min(least, 0.5))
    return Change(now.share - then.share, interval, rate, interval.low <= 0.0 <= interval.high)


def vine_share(share: float, rho: float, per_vine: float) -> float:
    """Share of vines with at least one infected cluster among ``per_vine``, beta-binomial with likeness ``rho``.

    Source: Hughes & Madden 1993, Phytopathology 83:759.
    """
    if share <= 0.0 or share >= 1.0:
        return float(share >= 1.0)
    if rho <= 0.0:
        return float(1.0 - (1.0 - share) ** per_vine)
    if rho >= 1.0:
        # a vine's clusters are all alike: it has any when it has all
        return share
    clear = (1.0 - share) * (1.0 - rho) / rho
    total = (1.0 - rho) / rho
    steps = np.arange(int(per_vine))
    return float(1.0 - np.prod((clear + steps) / (total + steps)))
