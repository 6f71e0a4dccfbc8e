"""The commands about what stands in the sky: the sun on each face of a row, and the wind."""

from __future__ import annotations

import argparse
import csv
import io
from pathlib import Path

from vinemap.cli_asked import Said, date, number, refuse_folder, refuse_to_write_over
from vinemap.cli_hours import alone_arguments, given_of, weather_asked
from vinemap.errors import InputError, Problem


def faces_arguments(parser: argparse.ArgumentParser) -> None:
    """What ``faces`` takes."""
    parser.add_argument("--date", required=True, metavar="YYYY-MM-DD")
    parser.add_argument("--season", type=Path, metavar="S", help="every row of a season, instead of one row")
    parser.add_argument("--out", type=Path, metavar="F.csv", help="a file, instead of the screen")
    parser.add_argument("--lat", type=number, metavar="DEG")
    parser.add_argument("--lon", type=number, metavar="DEG")
    parser.add_argument("--bearing", type=number, metavar="DEG", help="of the row, clockwise from true north")
    parser.add_argument("--harvest", metavar="YYYY-MM-DD", help="expected; mid September, or mid March in the south")
    parser.add_argument("--free", action="store_true", help="free-standing vines, with eight faces")
    parser.add_argument(
        "--next-row", nargs=3, type=number, metavar=("HIGH", "WIDE", "APART"), help="metres: its leaves, and between rows"
    )
    parser.add_argument("--fruit", type=number, default=1.0, metavar="M", help="how high the fruit hangs; 1 m if not given")
    parser.add_argument("--slope", type=number, default=0.0, metavar="DEG", help="from level")
    parser.add_argument("--aspect", type=number, default=0.0, metavar="DEG", help="which way it falls, from true north")
    parser.add_argument("--weather", type=Path, metavar="F.csv", help="hourly weather with its forecast, for the warmth")
    parser.add_argument(
        "--offset", type=number, metavar="H", help="its standard time minus UTC; from the longitude if not given"
    )


_OF_ONE_ROW = ("lat", "lon", "bearing", "harvest", "free", "next_row", "slope", "aspect", "weather", "offset")


def run_faces(asked: argparse.Namespace) -> Said:
    """The sun on the faces of a row, or of every row of a season, on the screen or in a file."""
    if asked.out is not None and asked.season is not None:
        refuse_to_write_over(asked.out, asked.season)
    lines, problems = (_season_lines(asked), ()) if asked.season is not None else _row_lines(asked)
    if asked.out is None:
        written = io.StringIO()
        csv.writer(written, lineterminator="\n").writerows(lines)
        return Said(tuple(written.getvalue().splitlines()), problems)
    from vinemap.files.table import write_table

    write_table(asked.out, lines[0], lines[1:])
    return Said((f"{len(lines) - 1:,} lines written to {asked.out}",), problems)


def _season_lines(asked: argparse.Namespace) -> list[tuple[str, ...]]:
    from vinemap.files.season_file import read_season
    from vinemap.service.faces_table import season_table

    given = next((name for name in _OF_ONE_ROW if getattr(asked, name)), None)
    if given is not None:
        raise InputError(f"--{given.replace('_', '-')} is for one row; a season says it itself.", "Leave it away.")
    refuse_folder(asked.season)
    return season_table(read_season(asked.season), date(asked.date))


def _row_lines(asked: argparse.Namespace) -> tuple[list[tuple[str, ...]], tuple[Problem, ...]]:
    from vinemap.canopy.shade import Lie, Neighbour
    from vinemap.ground.block import FREE, WALL
    from vinemap.service.faces_table import RowAsked, row_table

    missing = [f"--{name}" for name in ("lat", "lon", "bearing") if getattr(asked, name) is None]
    if missing:
        raise InputError(f"Missing: {', '.join(missing)}.", "Or name a season with --season.")
    neighbour = None
    if asked.next_row is not None:
        high_m, wide_m, apart_m = asked.next_row
        if not (0 < high_m <= 5 and 0 <= wide_m < apart_m <= 20 and 0 <= asked.fruit < high_m):
            raise InputError(
                "Such rows can't stand.", "Give metres: height, width, then from row to row; the fruit hangs below the top."
            )
        neighbour = Neighbour(high_m, asked.fruit, apart_m, wide_m)
    if not 0 <= asked.slope <= 60:
        raise InputError(f"{asked.slope:g}° is no slope for vines.", "Give 0 to 60 degrees.")
    weather, problems = None, tuple[Problem, ...]()
    if asked.weather is not None:
        from vinemap.files.weather_times import WeatherAsk
        from vinemap.service.pressure_table import read_named_weather

        offset = float(round(asked.lon / 15.0)) if asked.offset is None else asked.offset
        read = read_named_weather(asked.weather, WeatherAsk(offset))
        weather, problems = (read.value if len(read.value) else None), read.problems
    lie = Lie(asked.slope, asked.aspect)
    row = RowAsked(asked.lat, asked.lon, asked.bearing, FREE if asked.free else WALL, neighbour, lie)
    harvest = date(asked.harvest) if asked.harvest else None
    return row_table(row, date(asked.date), harvest, weather), problems


def wind_arguments(parser: argparse.ArgumentParser) -> None:
    """What ``wind`` takes."""
    parser.add_argument("--season", type=Path, metavar="S", help="every row of a season, by its own wind and tall edges")
    parser.add_argument("--weather", type=Path, metavar="F.csv", help="the rose of one station instead")
    parser.add_argument("--lat", type=number, metavar="DEG", help="of the station, to know day from night")
    parser.add_argument("--lon", type=number, metavar="DEG")
    parser.add_argument("--bearing", type=number, metavar="DEG", help="of rows, clockwise from true north")
    parser.add_argument("--offset", type=number, metavar="H", help="local standard time minus UTC, for times without a zone")
    parser.add_argument("--out", type=Path, metavar="F.csv", help="to the screen if not given")
    alone_arguments(parser)


def run_wind(asked: argparse.Namespace) -> Said:
    """The wind rose of a station, or the drying wind at every row of a season. Raises VinemapError."""
    from vinemap.files.season_file import read_season
    from vinemap.files.table import write_table
    from vinemap.service.wind_table import rose_table, rows_table

    if (asked.season is None) == (asked.weather is None):
        raise InputError("Say whose wind: of a season or of a file.", "Give --season, or --weather with --lat and --lon.")
    problems: tuple[Problem, ...] = ()
    if asked.season is not None:
        if any(each is not None for each in (asked.lat, asked.lon, asked.bearing, asked.offset)):
            raise InputError(
                "A season knows its place, its rows and its time.", "Leave out --lat, --lon, --bearing, --offset."
            )
        if given := given_of(asked):
            raise InputError(f"{given} goes with --weather; a season says it itself.", "Leave it away.")
        refuse_folder(asked.season)
        lines = rows_table(read_season(asked.season))
    else:
        if asked.lat is None or asked.lon is None:
            raise InputError("It is not said where the station stands.", "Give --lat and --lon: only wind by day dries.")
        offset = float(round(asked.lon / 15.0)) if asked.offset is None else asked.offset
        lines, problems = rose_table(asked.weather, asked.lat, asked.lon, weather_asked(asked, offset), asked.bearing)
    if asked.out is None:
        text = io.StringIO()
        csv.writer(text, lineterminator="\n").writerows(lines)
        return Said(tuple(text.getvalue().splitlines()), problems)
    refuse_to_write_over(asked.out, *(each for each in (asked.season, asked.weather) if each is not None))
    write_table(asked.out, lines[0], lines[1:])
    return Said((f"{len(lines) - 1:,} lines written to {asked.out}",), problems)
