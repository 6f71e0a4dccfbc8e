"""Tables of growth and of rot, a day a line, each with its why: of a season's blocks, or of a weather file alone."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import shapely

from vinemap.errors import InputError, TooFewData
from vinemap.files.table import write_table
from vinemap.ground.block import Block, no_rows
from vinemap.ground.frame import Frame
from vinemap.season.ground_edits import block_named
from vinemap.season.value import Estate, Season, StageDates
from vinemap.service.report import counted
from vinemap.service.rot_facts import prone_on, scars_by_block, stage_numbers
from vinemap.service.stage_facts import (
    ENTERED,
    SEEN,
    USUAL,
    BlockStage,
    Dated,
    block_stage,
    stage_of,
    stages_by_day,
)
from vinemap.vineclock.days import Days, split_days
from vinemap.vineclock.rot import (
    CLASS_WORDS,
    HIGH,
    NONE,
    RotDays,
    class_words,
    explain_rot,
    has_bunches,
    infection_of,
    raised_by,
    rot_days,
)
from vinemap.vineclock.scales import event_of
from vinemap.vineclock.stage import date_words, fruit_window, leaf_openness, stage_words, stalk_window, sugar_words
from vinemap.vineclock.story import origin_words
from vinemap.vineclock.warmth_sums import (
    WarmthSum,
    season_bounds,
    sum_start,
    warmth_sum,
    winkler_of_season,
    winkler_region,
)
from vinemap.vineclock.weather import ORIGIN_WORDS, READ, Weather

STAGE_COLUMNS = (
    "block",
    "date",
    "days_since_bloom",
    "modified_el",
    "bbch",
    "stage",
    "fruit",
    "stalks",
    "young_leaves",
    "leaves_at_fruit",
    "mean_degc",
    "sum_degc_days",
    "why",
)
ROT_COLUMNS = (
    "block",
    "date",
    "wet_hours",
    "estimated_hours",
    "not_read_hours",
    "event_hours",
    "event_degc",
    "index",
    "index_high",
    "infection",
    "class",
    "raised_by",
    "class_here",
    "modified_el",
    "why",
)
_FIVE_LEAVES, _LEAVES_FALL = 12.0, 43.0
"""Numbers of the modified E-L scale: the leaves beside the fruit are out, and leaves begin to fall (from memory)."""
_HOW = {ENTERED: "entered", SEEN: "by a stage that was seen", USUAL: "as usual"}


@dataclass(frozen=True, slots=True, eq=False)
class _Place:
    """A block with the days of its station; a weather file alone is a block without a name."""

    season: Season
    block: Block
    weather: Weather | None
    days: Days | None


def weather_alone(weather: Weather, is_southern: bool, variety: str, bloom: dt.date | None) -> Season:
    """A season of nothing but a station's weather, with one block that has no name."""
    frame = Frame("EPSG:4326", 0.0, 0.0, -45.0 if is_southern else 45.0, 0.0, 0.0)
    block = Block("", shapely.box(0, 0, 1, 1), no_rows(), 2.5, 1.5, (variety or "unknown",))
    estate = Estate("weather", frame, weather.offset_hours)
    return Season(estate, (block,), stages=(StageDates("", bloom=bloom),), weather=weather)


def write_stage(season: Season, out: Path, block: str = "") -> tuple[str, ...]:
    """Write where a block, or every one, stands on each day; what there is to say of each. Raises InputError, TooFewData."""
    lines: list[tuple[str, ...]] = []
    said: list[str] = []
    for place in _places(season, block):
        for first, last in _seasons(place):
            found = block_stage(season, place.block.name, place.days, last)
            lines += _stage_lines(place, found, first, last)
            said.append(_dates_words(place, found))
    said += _winkler_words(season)
    if not lines:
        raise TooFewData(
            "Nothing tells where the vines stand.", "Enter the date of bloom, or bring in weather from 1 March on."
        )
    write_table(out, STAGE_COLUMNS, lines)
    return tuple(said)


def write_rot(season: Season, out: Path, block: str = "", scarred_frac: float | None = None) -> tuple[str, ...]:
    """Write the risk of bunch rot in a block, or in every one, on each day; how many days were at risk.

    ``scarred_frac``: share of clusters that carry mildew, instead of what the rounds say. Raises InputError, TooFewData.
    """
    lines: list[tuple[str, ...]] = []
    said: list[str] = []
    read: dict[str, RotDays] = {}
    for place in _places(season, block):
        if place.weather is None:
            raise TooFewData("There is no weather to tell rot by.", "Bring in hourly weather with wetness or humidity.")
        if place.weather.station not in read:
            read[place.weather.station] = rot_days(place.weather)
        made = _rot_lines(place, read[place.weather.station], scarred_frac)
        lines += made
        said.append(_risk_words(place.block.name, made))
    write_table(out, ROT_COLUMNS, lines)
    return tuple(said)


def _risk_words(block: str, lines: list[tuple[str, ...]]) -> str:
    """How many days were at risk while bunches hung, and on how many it is not known."""
    at_class, at_stage = ROT_COLUMNS.index("class_here"), ROT_COLUMNS.index("modified_el")
    classes = [each[at_class] for each in lines if has_bunches(float(each[at_stage] or "nan"))]
    at_risk = [each for each in classes if not each.startswith(CLASS_WORDS[NONE])]
    open_days = sum(each.startswith(f"{CLASS_WORDS[NONE]} ") for each in classes)
    high = sum(each == CLASS_WORDS[HIGH] for each in at_risk)
    total = "1 day" if len(classes) == 1 else f"{len(classes)} days"
    unknown = f"; on {open_days} it is not known, for want of wetness or humidity" if open_days else ""
    name = f"{block}: " if block else ""
    return f"{name}{len(at_risk)} of {total} with bunches at risk of rot, {high} of them high{unknown}."


def _places(season: Season, block: str) -> Iterator[_Place]:
    """The blocks asked for, each with the days of its station, split once for all that go by it."""
    blocks = (block_named(season, block),) if block else season.blocks
    if not blocks:
        raise InputError("The season has no block yet.", "Bring in the outlines first.")
    split: dict[str, Days | None] = {}
    for each in blocks:
        weather = season.weather_of(each.name)
        if weather is not None and weather.station not in split:
            try:
                split[weather.station] = split_days(weather)
            except TooFewData:
                split[weather.station] = None
        yield _Place(season, each, weather, split.get(weather.station) if weather is not None else None)


def _seasons(place: _Place) -> Iterator[tuple[dt.date, dt.date]]:
    """First and last day to tell of in each season that anything is known of."""
    is_southern = place.season.estate.frame.is_southern
    known = [day for dates in place.season.stages if dates.block in ("", place.block.name) for day in _entered(dates)]
    if place.days is not None:
        ends = (dt.date.fromordinal(int(place.days.date[at])) for at in (0, -1))
        known += [*ends, *(dt.date.fromordinal(int(day)) for day in place.days.date[::30])]
    for first, last in sorted({season_bounds(day, is_southern) for day in known}):
        found = block_stage(place.season, place.block.name, place.days, last)
        inside = [
            day for day in (found.budbreak.date, found.harvest.date) if day is not None and found.bloom.date is not None
        ]
        if place.days is not None:
            read = (dt.date.fromordinal(int(place.days.date[at])) for at in (0, -1))
            inside += [min(max(day, first), last) for day in read]
        if inside:
            yield min(inside), max(inside)


def _entered(dates: StageDates) -> list[dt.date]:
    days = [each for each in (dates.budbreak, dates.bloom, dates.veraison, dates.harvest) if each is not None]
    return [*days, *(each.date for each in dates.seen), *(each.date for each in dates.brix)]


def _stage_lines(place: _Place, found: BlockStage, first: dt.date, last: dt.date) -> list[tuple[str, ...]]:
    days = np.arange(first.toordinal(), last.toordinal() + 1)
    number = stages_by_day(found, days)
    warmth = _warmth(place, last)
    stage = stage_of(place.season, place.block.name, place.days, last)
    resists = place.season.assumptions.fruit_resists_days
    since = days - stage.bloom.toordinal() if stage.bloom is not None else np.full(len(days), np.nan)
    closed, budbreak = stage.veraison_days(resists), stage.budbreak_days()
    fruit, stalks = (curve(since, resists, closed, budbreak) for curve in (fruit_window, stalk_window))
    out = np.where(np.isnan(number), np.nan, ((number >= 4) & (number < _LEAVES_FALL)).astype(np.float64))
    unfolded = np.flatnonzero(number >= _FIVE_LEAVES)
    age = days - days[unfolded[0]] if len(unfolded) else np.full(len(days), np.nan)
    dates, brix = [each.date for each in found.brix], [each.brix for each in found.brix]
    lines = []
    for at, ordinal in enumerate(days.tolist()):
        date = dt.date.fromordinal(ordinal)
        event = event_of(number[at]) if not np.isnan(number[at]) else None
        words = stage_words(stage.bloom, date, resists, stage.is_bloom_estimated, stage.bloom_source)
        words = (found.bloom.why, *words) if stage.bloom is None else words
        sugar = sugar_words(dates, brix, date) if stage.bloom is not None and since[at] >= resists else ""
        lines.append(
            (
                place.block.name,
                date.isoformat(),
                _figure(since[at], 0),
                _figure(number[at], 1),
                f"{event.bbch:02d}" if event is not None else "",
                event.name if event is not None else "",
                *(_figure(column[at], 2) for column in (fruit, stalks, out, out * leaf_openness(age))),
                _mean_cell(place.days, ordinal),
                _sum_cell(warmth, ordinal),
                " ".join(each for each in (*words, sugar, _source_words(place.days, ordinal)) if each),
            )
        )
    return lines


def _figure(value: float, places: int) -> str:
    return "" if np.isnan(value) else f"{value:.{places}f}"


def _warmth(place: _Place, date: dt.date) -> WarmthSum | None:
    if place.days is None:
        return None
    is_southern = place.season.estate.frame.is_southern
    try:
        return warmth_sum(place.days, sum_start(date, is_southern), season_bounds(date, is_southern)[1])
    except TooFewData:
        return None


def _sum_cell(warmth: WarmthSum | None, ordinal: int) -> str:
    at = ordinal - int(warmth.date[0]) if warmth is not None and len(warmth.date) else -1
    return f"{warmth.sum_degc_days[at]:.0f}" if warmth is not None and 0 <= at < len(warmth.date) else ""


def _mean_cell(days: Days | None, ordinal: int) -> str:
    at = ordinal - int(days.date[0]) if days is not None else -1
    return _figure(float(days.mean_degc[at]), 1) if days is not None and 0 <= at < len(days) else ""


def _source_words(days: Days | None, ordinal: int) -> str:
    """A word where the hours of a day were not read."""
    at = ordinal - int(days.date[0]) if days is not None else -1
    origin = int(days.origin[at]) if days is not None and 0 <= at < len(days) else READ
    return f"The hours of this day are {origin_words(origin)}." if origin > READ else ""


def _dates_words(place: _Place, found: BlockStage) -> str:
    resists = place.season.assumptions.fruit_resists_days

    def said(name: str, dated: Dated) -> str:
        how = _HOW.get(dated.how, dated.how)
        return f"{name} {date_words(dated.date)} ({how})" if dated.date is not None else f"{name} not known"

    why = f" {found.bloom.why}" if found.bloom.date is None and found.bloom.why else ""

    dated = (("budbreak", found.budbreak), ("bloom", found.bloom), ("colour", found.colour), ("harvest", found.harvest))
    parts = [said(name, each) for name, each in dated]
    if found.bloom.date is not None:
        parts.append(f"berries resist from about {date_words(found.bloom.date + dt.timedelta(days=round(resists)))}")
    name = place.block.name or place.weather.station if place.weather is not None else place.block.name
    year = found.harvest.date.year if found.harvest.date is not None else 0
    return f"{name}, harvest of {year}: {', '.join(parts)}.{why}"


def _winkler_words(season: Season) -> list[str]:
    said = []
    for weather in season.all_stations:
        try:
            days = split_days(weather)
            last = dt.date.fromordinal(int(days.date[-1]))
            total = winkler_of_season(days, last, season.estate.frame.is_southern)
        except TooFewData:
            continue
        region = f", region {winkler_region(total.sum_degf_days)}" if total.is_whole else " so far"
        missing = total.missing_days
        lacking = f"; {counted(missing, 'day')} not counted for want of readings" if missing else ""
        lacking += _origins_words(days, total.last)
        until = date_words(total.last)
        said.append(f"{weather.station}: Winkler’s sum until {until} is {total.sum_degf_days:,.0f} °F days{region}{lacking}.")
    return said


def _origins_words(days: Days, last: dt.date) -> str:
    """How many of the days until one were not read but come from elsewhere."""
    origin = days.origin[days.date <= last.toordinal()]
    found = [(code, int((origin == code).sum())) for code in range(READ + 1, len(ORIGIN_WORDS))]
    return "".join(f"; {counted(count, 'day')} {origin_words(code)}" for code, count in found if count)


def _rot_lines(place: _Place, days: RotDays, scarred_frac: float | None) -> list[tuple[str, ...]]:
    scars = scars_by_block(place.season).get(place.block.name, ()) if scarred_frac is None else ()
    number = stage_numbers(place.season, place.block.name, place.days, days.date)
    lines = []
    for at, ordinal in enumerate(days.date.tolist()):
        date = dt.date.fromordinal(ordinal)
        prone = prone_on(place.block, scars, date)
        prone = prone if scarred_frac is None else replace(prone, scarred_frac=scarred_frac)
        modified = None if np.isnan(number[at]) else float(number[at])
        index, high = float(days.index[at]), float(days.index_high[at])
        added, _ = raised_by(prone, modified)
        lines.append(
            (
                place.block.name,
                date.isoformat(),
                *(f"{column[at]:.1f}" for column in (days.wet_hours, days.estimated_hours, days.unread_hours)),
                f"{days.event_hours[at]:.1f}",
                _figure(float(days.event_degc[at]), 1),
                *("" if not np.isfinite(each) else f"{each:.2f}" for each in (index, high)),
                f"{float(infection_of(index)):.3f}",
                class_words(index, high),
                f"{added:.2f}",
                class_words(index + added, high + added),
                _figure(number[at], 1),
                f"{explain_rot(days, at, prone, modified)} {_source_words(place.days, ordinal)}".rstrip(),
            )
        )
    return lines
