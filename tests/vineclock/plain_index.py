"""The rules of the index and of infection again, on plain loops and lists, sharing nothing with the program."""

from __future__ import annotations


def plain_index(days, heat="1999", band=(211, 294), hot=350, very_hot=380):
    """The index after each day; a day is a list of hourly readings (tenths of degC unless other edges are given), None for a
    missing one: it breaks the hours on end. Gubler et al. 1999; heat of 2013: Peduto et al. 2013."""
    index, streak, started, out = 0, 0, False, []
    for readings in days:
        run = best = hot_run = hot_best = 0
        seen_hot = False
        for reading in readings:
            run = run + 1 if reading is not None and band[0] <= reading <= band[1] else 0
            hot_run = hot_run + 1 if reading is not None and reading >= very_hot else 0
            best, hot_best = max(best, run), max(hot_best, hot_run)
            seen_hot = seen_hot or (reading is not None and reading >= hot)
        is_heat = seen_hot if heat == "1999" else hot_best >= 2
        if not started:
            streak = streak + 1 if best >= 6 else 0
            index = 20 * streak
            started = streak == 3
        elif best < 6:
            index = max(0, index - 10)
        else:
            index = min(100, index + (10 if is_heat else 20))
        out.append(index)
    return out


def plain_days_until_spores(means):
    """Days until a colony bears spores, by adding up 1 / (44.7 + 0.067 T^2 - 3.244 T) (Caffi et al. 2011)."""
    total = 0.0
    for number, mean in enumerate(means, 1):
        if 5 <= mean <= 31:
            total += 1 / (44.7 + 0.067 * mean * mean - 3.244 * mean)
        if total >= 1:
            return number
    return None


def by_day(values, hours=24):
    """A list of hours cut into days."""
    return [values[first : first + hours] for first in range(0, len(values), hours)]
