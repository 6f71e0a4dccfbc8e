"""Growth as it is written: “bloom of Dogleg 28 May”, “Dogleg at E-L 27 on 4 June”, “Brix of Dogleg 8.5 on 3 August”."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import replace

from vinemap.errors import InputError
from vinemap.season.edits import with_stages
from vinemap.season.typed_words import about_block, plain_text
from vinemap.season.value import BrixSeen, Season, StageDates, StageSeen
from vinemap.season.weather_edits import note_brix, note_stage
from vinemap.vineclock.scales import BBCH, HALF_BLOOM, MODIFIED, ORIGINAL, modified_of, stage_text, trap_words, usual_days
from vinemap.vineclock.stage import MONTHS, date_words, sugar_words
from vinemap.vineclock.warmth_sums import season_bounds

_EVENTS = {
    "budbreak": "budbreak",
    "bud break": "budbreak",
    "bloom": "bloom",
    "half bloom": "bloom",
    "full bloom": "bloom",
    "flowering": "bloom",
    "veraison": "veraison",
    "colour": "veraison",
    "color": "veraison",
    "harvest": "harvest",
}
_SAID = {"budbreak": "Budbreak", "bloom": "Bloom", "veraison": "Colour", "harvest": "Harvest"}
_MONTH_OF = {plain_text(name)[:3]: number for number, name in enumerate(MONTHS, start=1)}
_EVENT = "|".join(sorted(_EVENTS, key=len, reverse=True))
_MONTH = "|".join(f"{name[:3]}(?:{name[3:]})?".lower() for name in MONTHS)
_DATE = (
    rf"(?P<date>\d{{4}}-\d{{2}}-\d{{2}}|\d{{1,2}}\.? (?:{_MONTH})\.?(?:,? \d{{4}})?|(?:{_MONTH})\.? \d{{1,2}}(?:,? \d{{4}})?)"
)
_WHEN = rf"(?:,? ?(?:on )?{_DATE})"
_SCALE = r"(?P<scale>bbch|(?:modified )?e-?l(?: ?\(?1977\)?(?= ))?)"
_BRIX = r"(?P<brix>\d{1,2}(?:[.,]\d+)?)"
_DATED = re.compile(rf"(?:the )?(?:date of )?(?P<event>{_EVENT})(?: is| was|:)?{_WHEN}")
_STAGE = re.compile(rf"(?:is |was )?(?:at )?(?:stage )?{_SCALE} ?(?P<number>\d{{1,3}}){_WHEN}?")
_SUGAR = (
    re.compile(rf"(?:the )?brix(?: is| was|:)? ?{_BRIX}{_WHEN}?"),
    re.compile(rf"(?:is |was |at )?{_BRIX} ?°? ?brix{_WHEN}?"),
)
_FORGET = rf"(?:forget|delete|remove) (?:the )?(?P<event>{_EVENT}|stages|brix)"
_GONE = re.compile(_FORGET)

SIGN = (
    rf"^(?:the )?(?:date of )?(?:{_EVENT}|brix)\b.*\d|\b(?:bbch|e-?l) ?\d|\d ?°? ?brix\b"
    rf"|^(?:forget|delete|remove) (?:the )?(?:{_EVENT}|stages|brix)\b"
)
_EXAMPLE = "Write for example “bloom of Dogleg 28 May”, “Dogleg at E-L 27 on 4 June” or “Brix of Dogleg 8.5 on 3 August”."


def typed(season: Season, text: str) -> tuple[Season, str] | None:
    """The season with the growth that a text tells, and what there is to say; None for another text. Raises InputError.

    A date without a year is of the season that the file holds. Where no block is named it is meant for all.
    """
    text = " ".join(re.sub(r"(?:\b(?:of|in) |^)all(?: blocks)?\b:?", "", text, flags=re.IGNORECASE).split())
    leads = [each.name for each in season.blocks if re.match(rf"{re.escape(plain_text(each.name))}[ ,:/]", plain_text(text))]
    behind = text[len(max(leads, key=len, default="")) :]
    if not re.search(SIGN, plain_text(behind).strip(" ,:")):
        return None
    block, rest = about_block(season, text)
    rest = plain_text(rest).strip(" ,:")
    made = _made(season, block.name if block is not None else "", rest)
    if made is None:
        names = ", ".join(each.name for each in season.blocks) or "none yet"
        raise InputError(f"“{text}” is not understood.", f"{_EXAMPLE} The blocks are: {names}.")
    if made[0].stages == season.stages:
        return season, "Nothing changes: it is so already."
    return made


def _made(season: Season, block: str, text: str) -> tuple[Season, str] | None:
    of = f" of {block}" if block else " of all blocks"
    if found := _GONE.fullmatch(text):
        return _without(season, block, found["event"], of)
    if found := _DATED.fullmatch(text):
        return _with_date(season, block, _EVENTS[found["event"]], _date(season, found["date"]), of)
    if found := _STAGE.fullmatch(text):
        scale = BBCH if found["scale"] == "bbch" else ORIGINAL if "1977" in found["scale"] else MODIFIED
        seen = StageSeen(_date(season, found["date"]), scale, int(found["number"]))
        return note_stage(season, block, seen), _stage_said(season, block, seen)
    for pattern in _SUGAR:
        if found := pattern.fullmatch(text):
            sugar = BrixSeen(_date(season, found["date"]), float(found["brix"].replace(",", ".")))
            made = note_brix(season, block, sugar)
            known = _dates(made, block).brix
            meant = sugar_words([each.date for each in known], [each.brix for each in known], sugar.date)
            return made, f"{block or 'All blocks'}: {meant}"
    return None


def _with_date(season: Season, block: str, event: str, date: dt.date, of: str) -> tuple[Season, str]:
    dates = _dates(season, block)
    was = getattr(dates, event)
    made = _with(season, replace(dates, **{event: date}))  # type: ignore[arg-type]
    before = f" It was {_full(was)}." if was is not None and was != date else ""
    own = [each.block for each in season.stages if not block and each.block and getattr(each, event) not in (None, date)]
    kept = f" {', '.join(own)} {'keeps its' if len(own) == 1 else 'keep their'} own." if own else ""
    return made, f"{_SAID[event]}{of} is {_full(date)}.{before}{kept}"


def _without(season: Season, block: str, event: str, of: str) -> tuple[Season, str]:
    dates = _dates(season, block)
    if event == "stages":
        made, said = replace(dates, seen=()), f"The stages seen{of} are"
    elif event == "brix":
        made, said = replace(dates, brix=()), f"The Brix{of} is"
    else:
        name = _EVENTS[event]
        made, said = replace(dates, **{name: None}), f"{_SAID[name]}{of} is"  # type: ignore[arg-type]
    if made == dates:
        raise InputError(f"{said} not entered.")
    return _with(season, made), f"{said} forgotten."


def _stage_said(season: Season, block: str, seen: StageSeen) -> str:
    parts = [f"{block or 'All blocks'}: {stage_text(seen.scale, seen.number)} on {_full(seen.date)}."]
    parts.append(trap_words(seen.scale, seen.number))
    bloom = _dates(season, block).bloom or _dates(season, "").bloom
    number = modified_of(seen.scale, seen.number)
    if bloom is not None and number != HALF_BLOOM:
        usual = bloom + dt.timedelta(days=round(usual_days(number)))
        if abs((seen.date - usual).days) > 14 and 12 <= number <= 33:
            parts.append(
                f"Bloom is entered as {date_words(bloom)}; that stage is usual about {date_words(usual)} then. Check both."
            )
    return " ".join(part for part in parts if part)


def _dates(season: Season, block: str) -> StageDates:
    return next((each for each in season.stages if each.block == block), StageDates(block))


def _with(season: Season, dates: StageDates) -> Season:
    others = [each for each in season.stages if each.block != dates.block]
    return with_stages(season, [*others, dates])


def _full(date: dt.date) -> str:
    return f"{date_words(date)} {date.year}"


def _date(season: Season, text: str | None) -> dt.date:
    """A date as written; without a year it is of the season that the file holds. Raises InputError."""
    if text is None:
        raise InputError("It is not said on which day.", _EXAMPLE)
    try:
        if re.fullmatch(r"\d{4}-\d{2}-\d{2}", text):
            return dt.date.fromisoformat(text)
        day, year = re.search(r"(?<!\d)\d{1,2}(?!\d)", text), re.search(r"\d{4}", text)
        word = re.search(r"[a-z]{3}", text)
        assert day is not None
        assert word is not None
        month = _MONTH_OF[word[0]]
        if year is not None:
            return dt.date(int(year[0]), month, int(day[0]))
        return _this_season(season, month, int(day[0]))
    except ValueError:
        raise InputError(f"{text} is not in the calendar.", _EXAMPLE) from None


def _this_season(season: Season, month: int, day: int) -> dt.date:
    last = _last_known(season)
    if last is None:
        raise InputError("It is not said in which year.", "Write it behind the month: 28 May 2031.")
    first, end = season_bounds(last, season.estate.frame.is_southern)
    for year in (first.year, end.year):
        if (month, day) == (2, 29) and year % 4:
            continue
        date = dt.date(year, month, day)
        if first <= date <= end:
            return date
    raise ValueError


def _last_known(season: Season) -> dt.date | None:
    """The last day that anything in the season is known of."""
    days = [each.date for each in season.rounds] + [each.date for each in season.passes]
    days += [each.end.date() for each in season.sprays]
    for station in season.all_stations:
        if len(station):
            days.append(
                dt.date(1970, 1, 1) + dt.timedelta(seconds=int(station.time_utc[-1]) + round(3600 * station.offset_hours))
            )
    for dates in season.stages:
        entered = (dates.budbreak, dates.bloom, dates.veraison, dates.harvest)
        days += [each for each in entered if each is not None] + [each.date for each in dates.seen]
        days += [each.date for each in dates.brix]
    return max(days, default=None)
