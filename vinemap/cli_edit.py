"""The commands that put the ground right: edits as they are written, and rows made from an outline."""

from __future__ import annotations

import argparse
import re
from pathlib import Path
from typing import TYPE_CHECKING

from vinemap.cli_asked import Said, count, number, refuse_folder
from vinemap.errors import FileError, InputError, Problem

if TYPE_CHECKING:
    from vinemap.service.book import Book
    from vinemap.service.typed_in import Place

SIDES = ("west", "east", "north", "south")
_LARGEST_LIST = 2_000_000


def edit_arguments(parser: argparse.ArgumentParser) -> None:
    """Add what the command that edits takes."""
    parser.add_argument(
        "edits", nargs="*", metavar="EDIT", help="“row 12, vines 30 to 44 dead”, “reverse row 12”, undo, redo"
    )
    parser.add_argument("--season", required=True, type=Path, metavar="S")
    parser.add_argument("--varieties", type=Path, metavar="F.txt", help="a list of rows, varieties and vines of one block")
    parser.add_argument("--block", metavar="B", help="the block of that list; not needed where there is one")


def rows_arguments(parser: argparse.ArgumentParser) -> None:
    """Add what the command that makes rows takes."""
    # a western longitude begins like an option
    parser._negative_number_matcher = re.compile(r"-\.?\d")
    parser.add_argument("--season", required=True, type=Path, metavar="S")
    parser.add_argument("--block", required=True, metavar="B")
    parser.add_argument("--bearing", type=number, metavar="DEG", help="of the rows, clockwise from grid north")
    parser.add_argument("--along", nargs=2, metavar="LON,LAT", help="two places along a row instead of a bearing")
    parser.add_argument("--row-spacing", required=True, type=number, metavar="M")
    parser.add_argument("--vine-spacing", required=True, type=number, metavar="M")
    parser.add_argument("--headland", type=number, default=0.0, metavar="M", help="width kept free where rows end")
    parser.add_argument("--first-row", type=count, default=1, metavar="N", help="number of the first row")
    parser.add_argument("--from", dest="from_side", choices=SIDES, default="", help="the side where the first row stands")
    parser.add_argument("--along-edge", action="store_true", help="let rows follow the edge that runs along the bearing")
    parser.add_argument("--offset", action="store_true", help="shift every other row by half a vine spacing")


def run_edit(asked: argparse.Namespace) -> Said:
    """Make the edits one after the other; when one is refused, those before it stay. Raises VinemapError."""
    from vinemap.service.book import open_book

    if not asked.edits and asked.varieties is None:
        raise InputError("It is not said what to edit.", "Write for example “row 12, vines 30 to 44 dead”.")
    refuse_folder(asked.season)
    listed, notes = _list_of(asked.varieties) if asked.varieties is not None else ("", ())
    book = open_book(asked.season)
    lines = list(notes)
    problems: list[Problem] = []
    try:
        texts = list(asked.edits)
        if asked.varieties is not None:
            texts.append(f"varieties{f' of {asked.block}' if asked.block else ''}: {listed}")
        for text in texts:
            told = _do_one(book, text)
            lines.extend(told.lines)
            problems.extend(told.problems)
    except InputError as error:
        if lines:
            raise InputError(f"{error.what} Done before that: {' '.join(lines)}", error.do) from error
        raise
    finally:
        book.close()
    return Said(tuple(lines), tuple(problems))


def run_rows(asked: argparse.Namespace) -> Said:
    """Make the rows of a block from its outline. Raises VinemapError."""
    from vinemap.ground.planting import RowPlan, planned_words
    from vinemap.season.typed_words import resolved_block
    from vinemap.service.book import open_book
    from vinemap.service.typed_in import bearing_along_deg, plan_rows

    if (asked.bearing is None) == (asked.along is None):
        raise InputError("Give either --bearing or --along.", "--along takes two places along a row.")
    places = [_place(text) for text in asked.along or ()]
    refuse_folder(asked.season)
    book = open_book(asked.season)
    try:
        plan = RowPlan(
            bearing_along_deg(book.season, *places) if places else asked.bearing,
            asked.row_spacing,
            asked.vine_spacing,
            asked.headland,
            asked.first_row,
            asked.from_side,
            asked.along_edge,
            asked.offset,
        )
        made = plan_rows(book.season, asked.block, plan)
        book.apply(f"make rows of {asked.block}", lambda _: made)
        block = resolved_block(book.season, asked.block)
    finally:
        book.close()
    return Said((f"{block.name}: {planned_words(block.outline, plan, block.rows)}",))


def _do_one(book: Book, text: str) -> Said:
    from vinemap.service.typed_in import do_typed

    wanted = text.strip().casefold()
    if wanted in ("undo", "redo"):
        label = book.undo_label if wanted == "undo" else book.redo_label
        if label is None:
            raise InputError(f"There is nothing to {wanted}.")
        (book.undo if wanted == "undo" else book.redo)()
        return Said((f"{'Taken back' if wanted == 'undo' else 'Done again'}: {label}.",))
    done = do_typed(book, text)
    return Said(done.said, done.problems)


def _place(text: str) -> Place:
    parts = text.split(",")
    try:
        lon, lat = (float(part) for part in parts)
    except ValueError:
        raise InputError(f"“{text}” is not a place.", "Write longitude, then latitude: -122.7008,38.6001") from None
    return lon, lat


def _list_of(path: Path) -> tuple[str, tuple[str, ...]]:
    from vinemap.files.text import read_text

    text, notes = read_text(path)
    if len(text) > _LARGEST_LIST:
        raise FileError(f"{path.name} is too long for a list of varieties.", "Name a list of one block, a row a line.")
    return text, notes
