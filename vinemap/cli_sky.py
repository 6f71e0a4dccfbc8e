"""The commands about what stands in the sky: the sun on each face of a row, and the wind."""

from __future__ import annotations

import argparse
import csv
import io
import sys
from pathlib import Path

from vinemap.cli_asked import DONE, Said, date, number, refuse_folder, refuse_to_write_over
from vinemap.errors import InputError, Problem


def faces_arguments(parser: argparse.ArgumentParser) -> None:
    """What ``faces`` takes."""
    parser.add_argument("--lat", required=True, type=number, metavar="DEG")
    parser.add_argument("--lon", required=True, type=number, metavar="DEG")
    parser.add_argument("--bearing", required=True, type=number, metavar="DEG", help="of the row, clockwise from true north")
    parser.add_argument("--date", required=True, metavar="YYYY-MM-DD")
    parser.add_argument("--harvest", metavar="YYYY-MM-DD", help="expected; mid September, or mid March in the south")


def run_faces(asked: argparse.Namespace) -> int:
    """The sun on both faces of a row, written to the screen."""
    from vinemap.service.tables import faces_table

    harvest = date(asked.harvest) if asked.harvest else None
    lines = faces_table(asked.lat, asked.lon, asked.bearing, date(asked.date), harvest)
    csv.writer(sys.stdout, lineterminator="\n").writerows(lines)
    return DONE


def wind_arguments(parser: argparse.ArgumentParser) -> None:
    """What ``wind`` takes."""
    parser.add_argument("--season", type=Path, metavar="S", help="every row of a season, by its own wind and tall edges")
    parser.add_argument("--weather", type=Path, metavar="F.csv", help="the rose of one station instead")
    parser.add_argument("--lat", type=number, metavar="DEG", help="of the station, to know day from night")
    parser.add_argument("--lon", type=number, metavar="DEG")
    parser.add_argument("--bearing", type=number, metavar="DEG", help="of rows, clockwise from true north")
    parser.add_argument("--offset", type=number, metavar="H", help="local standard time minus UTC, for times without a zone")
    parser.add_argument("--out", type=Path, metavar="F.csv", help="to the screen if not given")


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
        refuse_folder(asked.season)
        lines = rows_table(read_season(asked.season))
    else:
        if asked.lat is None or asked.lon is None:
            raise InputError("It is not said where the station stands.", "Give --lat and --lon: only wind by day dries.")
        offset = float(round(asked.lon / 15.0)) if asked.offset is None else asked.offset
        lines, problems = rose_table(asked.weather, asked.lat, asked.lon, offset, asked.bearing)
    if asked.out is None:
        text = io.StringIO()
        csv.writer(text, lineterminator="\n").writerows(lines)
        return Said(tuple(text.getvalue().splitlines()), problems)
    refuse_to_write_over(asked.out, *(each for each in (asked.season, asked.weather) if each is not None))
    write_table(asked.out, lines[0], lines[1:])
    return Said((f"{len(lines) - 1:,} lines written to {asked.out}",), problems)
