"""The command that tells pressure from hourly weather: what it takes, and what it says."""

from __future__ import annotations

import argparse
from pathlib import Path

from vinemap.cli_asked import Said, number, refuse_to_write_over


def pressure_arguments(parser: argparse.ArgumentParser) -> None:
    """What the command takes."""
    parser.add_argument("weather", type=Path, metavar="WEATHER.csv")
    parser.add_argument("--out", required=True, type=Path, metavar="F.csv")
    parser.add_argument(
        "--offset", type=number, default=0.0, metavar="H", help="local standard time minus UTC, for times with a zone"
    )


def run_pressure(asked: argparse.Namespace) -> Said:
    """Write the index of each day with its why. Raises VinemapError."""
    from vinemap.service.tables import write_pressure

    refuse_to_write_over(asked.out, asked.weather)
    problems = write_pressure(asked.weather, asked.out, asked.offset)
    return Said((f"written to {asked.out}",), problems)
