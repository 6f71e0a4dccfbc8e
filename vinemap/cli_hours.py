"""How files of weather are to be understood, as it is said on the command line."""

from __future__ import annotations

import argparse

from vinemap.files.weather_times import DATE_ORDERS, STAMPS, STANDARD, UTC, WeatherAsk, zone_named


def hour_arguments(parser: argparse.ArgumentParser) -> None:
    """What every command takes that reads weather: the clock, the order of dates, what a time stands for."""
    parser.add_argument(
        "--clock",
        default=STANDARD,
        metavar="ZONE",
        help="what times without a zone go by: standard, utc, or a zone such as America/Los_Angeles with its summer time",
    )
    parser.add_argument("--dates", choices=DATE_ORDERS, default="", help="which stands first in dates such as 03/04/2026")
    parser.add_argument("--stamps", choices=STAMPS, default="", help="whether a time is the start of its interval or the end")
    parser.add_argument("--keep-spikes", action="store_true", help="keep readings of the weather that no neighbour supports")


def alone_arguments(parser: argparse.ArgumentParser) -> None:
    """What a command takes that tells of a file of weather alone."""
    hour_arguments(parser)
    parser.add_argument("--station", default="", metavar="NAME", help="the station to tell of, where a file holds several")


def given_of(asked: argparse.Namespace) -> str:
    """The first of ``alone_arguments`` that was given, "" for none."""
    usual = {"clock": STANDARD, "dates": "", "stamps": "", "keep_spikes": False, "station": ""}
    return next((f"--{name.replace('_', '-')}" for name, value in usual.items() if getattr(asked, name) != value), "")


def station_arguments(parser: argparse.ArgumentParser) -> None:
    """What a command takes that puts weather into a season."""
    parser.add_argument("--station", default="", metavar="NAME", help="the station that the weather is of")
    parser.add_argument("--forecast", action="store_true", help="the weather is a forecast; real hours take its place later")


def weather_asked(asked: argparse.Namespace, offset_hours: float = 0.0) -> WeatherAsk:
    """How weather is to be understood. Raises InputError for a zone that is none."""
    said = asked.clock.casefold()
    clock = said if said in (STANDARD, UTC) else zone_named(asked.clock).key
    return WeatherAsk(
        offset_hours,
        clock,
        asked.dates,
        asked.stamps,
        " ".join(getattr(asked, "station", "").split()),
        getattr(asked, "forecast", False),
        asked.keep_spikes,
    )
