"""Times of readings as they are written: one column or two, any usual order, a zone, UTC, or the clock of the place.

Which of day and month stands first is never guessed: it is read from the dates themselves, or asked for.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from zoneinfo import ZoneInfo

from vinemap.errors import FileError, InputError
from vinemap.files.cell_words import read_date
from vinemap.files.cells import DATE_ADVICE, Entry, Refused

STANDARD, UTC = "standard", "utc"
START, END = "start", "end"
STAMPS = (START, END)
DAY_FIRST, MONTH_FIRST = "day-first", "month-first"
DATE_ORDERS = (DAY_FIRST, MONTH_FIRST)
_FIRST_YEAR, _LAST_YEAR = 1950, 2100
_DAY_SECONDS = 86_400
_SHORT_YEARS_BELOW = 50
_STEP_AT_MOST = dt.timedelta(days=7)

_YEAR_FIRST = re.compile(r"(?P<year>[0-9]{4})[-/.](?P<month>[0-9]{1,2})[-/.](?P<day>[0-9]{1,2})")
_YEAR_LAST = re.compile(r"(?P<one>[0-9]{1,2})[-/.](?P<two>[0-9]{1,2})[-/.](?P<year>[0-9]{4}|[0-9]{2})")
_COMPACT = re.compile(r"(?P<year>[12][0-9]{3})(?P<month>[0-9]{2})(?P<day>[0-9]{2})")
_CLOCK = re.compile(
    r"(?P<hour>[0-9]{1,2}):(?P<minute>[0-9]{2})(?::(?P<second>[0-9]{2})(?:[.,][0-9]+)?)?"
    r"(?: ?(?P<half>[ap])\.?m\.?)?(?: ?(?P<zone>z|utc|gmt|[+-][0-9]{2}:?[0-9]{2}))?",
    re.IGNORECASE,
)
_BARE_HOUR = re.compile(r"(?P<hour>[0-9]{1,2}) ?(?:(?P<half>[ap])\.?m\.?|h)?", re.IGNORECASE)
_BARE_CLOCK = re.compile(r"(?P<hour>[0-9]{1,2})(?P<minute>[0-9]{2})")
_MOMENT = re.compile(r"(?P<date>.*?[^\s,T])(?:T|,?\s+)(?P<clock>[0-9]{1,2}:.*)", re.DOTALL)
_EPOCH = re.compile(r"[0-9]{9,10}(?:\.[0-9]+)?|[0-9]{12,13}")
_ADVICE = "Write it as 2026-06-12T14:00, hours from 00 to 23."


@dataclass(frozen=True, slots=True)
class WeatherAsk:
    """How a file of weather is to be understood.

    ``offset_hours``: local standard time minus UTC [h]; ``clock``: what times without a zone go by: ``standard`` time,
    ``utc``, or the name of a zone with its summer time; ``order``: of day and month, "" to read it from the dates;
    ``stamps``: whether times stand at the ``start`` or ``end`` of the interval, "" to go by the file; ``station``: its name,
    "" for that of the file; ``lat_deg``, ``lon_deg``: where it stands [degrees], for the length of the day.
    """

    offset_hours: float
    clock: str = STANDARD
    order: str = ""
    stamps: str = ""
    station: str = ""
    is_forecast: bool = False
    keeps_spikes: bool = False
    lat_deg: float = 40.0
    lon_deg: float | None = None


@dataclass(frozen=True, slots=True)
class Times:
    """What the times of a file are: unix seconds or why not, line by line, and what there is to say.

    ``has_zone``: whether any of them says its own zone; ``ends_days``: whether 24:00 is written, and never 00:00.
    """

    seconds: tuple[int | Refused, ...]
    has_zone: bool
    ends_days: bool
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Wall:
    """A date and second of the day as written, or unix seconds."""

    date: dt.date
    second: int
    zone: dt.timezone | None
    epoch: float | None = None


def zone_named(name: str) -> ZoneInfo:
    """The time zone of a name such as Europe/Madrid. Raises InputError where there is none."""
    try:
        return ZoneInfo(name)
    except (KeyError, ValueError, OSError) as error:
        raise InputError(
            f"There is no time zone “{name}”.", "Write standard, utc, or a zone such as America/Los_Angeles or Europe/Madrid."
        ) from error


def is_clock(value: str) -> bool:
    """Whether a value is a time of day without a date: 13:00, 1:00 PM, 1300, 13."""
    return _second_of(value.strip()) is not None


def is_moment(value: str) -> bool:
    """Whether a value is a date and time in any usual order, or seconds since 1970."""
    value = value.strip()
    match = _MOMENT.fullmatch(value)
    if match is None:
        return bool(_EPOCH.fullmatch(value))
    return _CLOCK.fullmatch(match["clock"]) is not None and _date_parts(match["date"]) is not None


def read_times(name: str, lines: Sequence[Entry], columns: Sequence[str], ask: WeatherAsk) -> Times:
    """The times of lines with a column ``time``, or with ``date`` and the column that holds the time of day.

    Raises FileError where day and month can't be told apart; InputError for a zone that is none.
    """
    zone = None if ask.clock in (STANDARD, UTC) else zone_named(ask.clock)
    order, notes = _order(name, [_dates_of(line, columns) for line in lines], ask.order)
    walls: list[_Wall | Refused] = []
    for line in lines:
        try:
            walls.append(_wall(line, columns, order))
        except Refused as refused:
            walls.append(refused)
    seconds: list[int | Refused] = []
    before: int | None = None
    for line, wall in zip(lines, walls, strict=True):
        try:
            if isinstance(wall, Refused):
                raise wall
            before = _instant(line, columns, wall, ask, zone, before)
            seconds.append(before)
        except Refused as refused:
            seconds.append(refused)
    told = [wall for wall in walls if not isinstance(wall, Refused)]
    written = {wall.second for wall in told if wall.epoch is None}
    has_zone = any(wall.zone is not None or wall.epoch is not None for wall in told)
    return Times(tuple(seconds), has_zone, _DAY_SECONDS in written and 0 not in written, notes)


def read_days(name: str, lines: Sequence[Entry], order: str) -> tuple[list[dt.date | Refused], tuple[str, ...]]:
    """The dates of lines with a column ``date``, and notes. Raises FileError where day and month can't be told apart."""
    found, notes = _order(name, [line.text("date") for line in lines], order)
    dates: list[dt.date | Refused] = []
    for line in lines:
        try:
            dates.append(_date(line, "date", line.needed("date"), found))
        except Refused as refused:
            dates.append(refused)
    return dates, notes


def _dates_of(line: Entry, columns: Sequence[str]) -> str:
    if "date" in columns:
        return line.text("date")
    match = _MOMENT.fullmatch(line.text("time"))
    return match["date"] if match else ""


def _order(name: str, texts: Sequence[str], asked: str) -> tuple[str, tuple[str, ...]]:
    """Which of day and month stands first where the year stands last, and what is said of it."""
    found = [match for text in dict.fromkeys(texts) if (match := _YEAR_LAST.fullmatch(text.strip()))]
    if not found or asked:
        return asked, ()
    pairs = [(int(match["one"]), int(match["two"])) for match in found]
    possible = [order for order in DATE_ORDERS if all(max(_day_month(pair, order)[1], 1) <= 12 for pair in pairs)]
    if len(possible) == 2:
        # both can be: dates that follow one another by days in one order lie months apart in the other
        possible = [order for order in possible if _follow(found, order)] or possible
    first = found[0][0]
    if len(possible) != 1 and 2 * sum(bool(_YEAR_LAST.fullmatch(text.strip())) for text in texts) < len(texts):
        # most dates are written year first: the others are left out alone
        return "", ()
    if len(possible) != 1:
        ways = " or ".join(_spelled(found[0], order) for order in DATE_ORDERS)
        why = "can be either" if len(possible) == 2 else "are not all in one order"
        raise FileError(
            f"Day and month in {name} {why}: {first} may be {ways}.",
            "Say --dates day-first or --dates month-first, or write dates as 2026-06-12.",
        )
    return possible[0], (
        f"{name}: dates were read {possible[0].replace('-', ' ')}: {first} is {_spelled(found[0], possible[0])}.",
    )


def _follow(found: Sequence[re.Match[str]], order: str) -> bool:
    """Whether dates in this order ascend by a week at most, and there are several."""
    dates = []
    for match in found:
        day, month = _day_month((int(match["one"]), int(match["two"])), order)
        try:
            dates.append(dt.date(_year(match["year"]), month, day))
        except ValueError:
            return False
    steps = [later - earlier for earlier, later in pairwise(dates)]
    return bool(steps) and all(dt.timedelta(0) < step <= _STEP_AT_MOST for step in steps)


def _day_month(pair: tuple[int, int], order: str) -> tuple[int, int]:
    return pair if order == DAY_FIRST else (pair[1], pair[0])


def _spelled(match: re.Match[str], order: str) -> str:
    day, month = _day_month((int(match["one"]), int(match["two"])), order)
    return f"{_year(match['year']):04d}-{month:02d}-{day:02d}"


def _year(text: str) -> int:
    year = int(text)
    return year + 2000 if len(text) == 2 and year < _SHORT_YEARS_BELOW else year


@lru_cache(maxsize=4096)
def _date_parts(text: str) -> tuple[str, ...] | None:
    """(year, month, day) as text, or (one, two, year, "last"); None for what is no date."""
    text = text.strip()
    match = _YEAR_FIRST.fullmatch(text) or _COMPACT.fullmatch(text)
    if match:
        return match["year"], match["month"], match["day"]
    match = _YEAR_LAST.fullmatch(text)
    if match:
        return match["one"], match["two"], match["year"], "last"
    worded = read_date(text)
    return tuple(worded.value.split("-")) if worded is not None else None


def _date(line: Entry, field: str, text: str, order: str) -> dt.date:
    parts = _date_parts(text)
    if parts is None:
        raise Refused(field, line.text(field), "is not a date" if field == "date" else "is not a date and time", _ADVICE)
    if len(parts) == 4:
        if not order:
            raise Refused(field, line.text(field), "may be read as two different dates", DATE_ADVICE)
        day, month = _day_month((int(parts[0]), int(parts[1])), order)
        year = _year(parts[2])
    else:
        year, month, day = (int(part) for part in parts)
    try:
        date = dt.date(year, month, day)
    except ValueError as error:
        raise Refused(field, line.text(field), "is not in the calendar", _ADVICE) from error
    if not _FIRST_YEAR <= date.year <= _LAST_YEAR:
        raise Refused(field, line.text(field), "is too far away to be meant", "Check the year.")
    return date


@lru_cache(maxsize=4096)
def _second_of(text: str) -> tuple[int, str] | None:
    """Second of the day, 24:00 being its end, and the zone as written; None for what is no time of day."""
    match = _CLOCK.fullmatch(text) or _BARE_HOUR.fullmatch(text) or _BARE_CLOCK.fullmatch(text)
    if match is None:
        return None
    said = match.groupdict()
    hour, minute, second = (int(said.get(part) or 0) for part in ("hour", "minute", "second"))
    half = (said.get("half") or "").lower()
    if half:
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if half == "p" else 0)
    whole = hour * 3600 + minute * 60 + second
    return (whole, said.get("zone") or "") if minute < 60 and second < 60 and whole <= _DAY_SECONDS else None


def _wall(line: Entry, columns: Sequence[str], order: str) -> _Wall:
    """The date and time of a line as written. Raises Refused."""
    if "date" in columns and "clock" in columns:
        field, date_text, clock = "clock", line.needed("date"), line.needed("clock")
        date = _date(line, "date", date_text, order)
    else:
        field, value = "time", line.needed("time")
        if _EPOCH.fullmatch(value):
            number = float(value) / (1000.0 if len(value.partition(".")[0]) > 10 else 1.0)
            return _Wall(dt.date.min, 0, None, number)
        if "date" in columns and is_clock(value):
            date, clock = _date(line, "date", line.needed("date"), order), value
        else:
            match = _MOMENT.fullmatch(value)
            if match is None:
                raise Refused("time", value, "is not a date and time", _ADVICE)
            date, clock = _date(line, "time", match["date"], order), match["clock"]
    found = _second_of(clock.strip())
    if found is None:
        is_hour = bool(_CLOCK.fullmatch(clock.strip()) or _BARE_HOUR.fullmatch(clock.strip()))
        why = (
            "is not in the calendar" if is_hour else "is not a time of day" if field == "clock" else "is not a date and time"
        )
        raise Refused(field, line.text(field), why, _ADVICE)
    return _Wall(date, found[0], _zone(found[1]))


def _zone(text: str) -> dt.timezone | None:
    if not text:
        return None
    if text.lower() in ("z", "utc", "gmt"):
        return dt.UTC
    sign, digits = text[0], text[1:].replace(":", "")
    minutes = int(digits[:2]) * 60 + int(digits[2:])
    return dt.timezone(dt.timedelta(minutes=-minutes if sign == "-" else minutes)) if minutes < 24 * 60 else dt.UTC


def _instant(
    line: Entry, columns: Sequence[str], wall: _Wall, ask: WeatherAsk, zone: ZoneInfo | None, before: int | None
) -> int:
    """Unix seconds of what is written. Raises Refused for a time that a clock never showed."""
    if wall.epoch is not None:
        return round(wall.epoch)
    moment = dt.datetime.combine(wall.date, dt.time()) + dt.timedelta(seconds=wall.second)
    if wall.zone is not None:
        return round(moment.replace(tzinfo=wall.zone).timestamp())
    if zone is None:
        hours = 0.0 if ask.clock == UTC else ask.offset_hours
        return round(moment.replace(tzinfo=dt.UTC).timestamp() - hours * 3600)
    first, second = (round(moment.replace(tzinfo=zone, fold=fold).timestamp()) for fold in (0, 1))
    if first == second:
        return first
    if dt.datetime.fromtimestamp(first, zone).replace(tzinfo=None) != moment:
        field = "clock" if "clock" in columns else "time"
        why = f"was skipped when clocks in {zone.key} went forward"
        raise Refused(field, line.text(field), why, "Does the station’s clock stay on standard time? Then say so.")
    # the hour comes twice: the first time it is summer time still
    return second if before is not None and before >= first else first
