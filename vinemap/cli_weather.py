"""The command that tells pressure from hourly weather: what it takes, and what it says."""

from __future__ import annotations

import argparse
from pathlib import Path

from vinemap.cli_asked import Said, date, number, refuse_to_write_over
from vinemap.cli_hours import alone_arguments, weather_asked
from vinemap.vineclock.infection import EVENT, INFECTION_RULES
from vinemap.vineclock.pressure import HEAT_1999, HEAT_RULES


def pressure_arguments(parser: argparse.ArgumentParser) -> None:
    """What the command takes."""
    parser.add_argument("weather", type=Path, metavar="WEATHER.csv")
    parser.add_argument("--out", required=True, type=Path, metavar="F.csv")
    parser.add_argument(
        "--offset", type=number, default=0.0, metavar="H", help="local standard time minus UTC, for times with a zone"
    )
    parser.add_argument("--columns", default="", metavar="THEIRS=OURS,...", help="which column of theirs is which of ours")
    alone_arguments(parser)
    parser.add_argument("--budbreak", metavar="YYYY-MM-DD", help="counted from then; the first reading if not given")
    parser.add_argument("--found", metavar="YYYY-MM-DD", help="the day mildew was first found, if it was")
    parser.add_argument(
        "--heat",
        choices=HEAT_RULES,
        default=HEAT_1999,
        help="35 °C for a quarter of an hour, or of 2013: 38 °C for two hours",
    )
    parser.add_argument(
        "--infection", choices=INFECTION_RULES, default=EVENT, help="what counts as a primary infection: rain, or wet leaves"
    )


def run_pressure(asked: argparse.Namespace) -> Said:
    """Write the index of each day with its why. Raises VinemapError."""
    from vinemap.service.pressure_table import PressureAsk, write_pressure

    refuse_to_write_over(asked.out, asked.weather)
    ask = PressureAsk(
        weather_asked(asked, asked.offset),
        asked.columns,
        date(asked.budbreak) if asked.budbreak else None,
        date(asked.found) if asked.found else None,
        asked.heat,
        asked.infection,
    )
    read = write_pressure(asked.weather, asked.out, ask)
    events = int((read.value.infections.is_event & (read.value.generations.since > 0)).sum())
    first = "" if ask.budbreak else " Budbreak was not given: counted from the first reading."
    days = "1 day" if len(read.value) == 1 else f"{len(read.value):,} days"
    words = f"{days}, primary infections by the rule “{ask.infection}”: {events}, written to {asked.out}"
    return Said((f"{words}.{first}", *read.notes), read.problems)
