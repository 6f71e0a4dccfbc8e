"""The commands about what stands in the sky: the sun on each face of a row."""

from __future__ import annotations

import argparse
import csv
import sys

from vinemap.cli_asked import DONE, date, number


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
