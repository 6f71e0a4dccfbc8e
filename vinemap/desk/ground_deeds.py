"""What the hand does to the ground once it has let go: asks where it must, then one edit of the season for each deed."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np
import shapely
from PySide6.QtWidgets import (
    QDialog,
    QInputDialog,
    QMessageBox,
)

from vinemap.columns import Floats
from vinemap.desk.ground_handles import CORNER, Handle, Run, ring_m
from vinemap.desk.planting import Planting, PlantingDialog
from vinemap.errors import VinemapError
from vinemap.ground.block import DEAD, LIVING, MISSING, REPLANT, Block, RowTable
from vinemap.ground.planting import STAND_IN_SPACING_M, RowPlan
from vinemap.ground.rows_by_hand import side_words
from vinemap.season import ground_edits
from vinemap.season.drawn_ground import add_drawn_block, drawn_outline, put_opening
from vinemap.season.edits import mark_variety, mark_vines
from vinemap.season.value import Season
from vinemap.service.typed_in import plan_rows

if TYPE_CHECKING:
    from vinemap.desk.window import Window

MARKS = {"dead": DEAD, "missing": MISSING, "replanted": REPLANT, "living": LIVING}
SIDES_DEG = {"north": 0.0, "east": 90.0, "south": 180.0, "west": 270.0}
Edit = Callable[[Season], Season]
ShowRows = Callable[[RowTable | None], None]


class GroundDeeds:
    """Asks, then edits; each deed tells in words why it was refused, "" when it was done or nobody wanted it."""

    def __init__(self, window: Window) -> None:
        self._window = window

    # ---- asking: replaced in tests

    def ask_text(self, title: str, words: str, proposed: str) -> str:
        """A name or label; "" when the manager thinks again."""
        text, is_given = QInputDialog.getText(self._window, title, words, text=proposed)
        return text.strip() if is_given else ""

    def ask_choice(self, title: str, words: str, choices: list[str]) -> str:
        """One of some words; "" when the manager thinks again."""
        text, is_chosen = QInputDialog.getItem(self._window, title, words, choices, editable=False)
        return text if is_chosen else ""

    def ask_yes(self, words: str) -> bool:
        """Shall it be done?"""
        return QMessageBox.question(self._window, "Vinemap", words) == QMessageBox.StandardButton.Yes

    def ask_planting(self, proposed: Planting, outline: shapely.Polygon, is_new: bool, show: ShowRows) -> Planting | None:
        """How the rows of an outline [m] run; ``show`` is given the rows that would come of it, while it is asked."""
        dialog = PlantingDialog(proposed, outline, self._window.ink, self._window, is_new)
        dialog.planned.connect(show)
        dialog.begin(self._window.ledger)
        is_wanted = dialog.exec() == QDialog.DialogCode.Accepted
        show(None)
        return dialog.planting() if is_wanted else None

    # ---- doing

    def _edit(self, label: str, edit: Edit) -> str:
        """Make one edit, which Undo takes back; why not, or ""."""
        try:
            self._window.book.apply(label, edit)
        except VinemapError as error:
            self._window.ledger.show_refusal(str(error))
            return str(error)
        return ""

    def move(self, block: Block, handle: Handle, to_m: Floats) -> str:
        """Put a corner or the end of a row elsewhere (2,) [m]."""
        name = block.name
        if handle.kind != CORNER:
            row, step, still = block.rows.labels[handle.ring], to_m - (handle.x_m, handle.y_m), np.zeros(2)
            ends = (step, still) if handle.number == 1 else (still, step)
            return self._edit(f"move row {row}", lambda season: ground_edits.move_row(season, name, row, *ends))
        if handle.ring == 0:
            return self._edit("move a corner", lambda season: ground_edits.place_corner(season, name, handle.number, to_m))
        corners = ring_m(block, handle.ring).copy()
        corners[handle.number - 1] = to_m
        return self._edit("move a corner", lambda season: put_opening(season, name, handle.ring, corners))

    def add_corner(self, block: Block, ring: int, after: int, at_m: Floats) -> str:
        """Add a corner (2,) [m] after another (from 1)."""
        name = block.name
        if ring == 0:
            return self._edit("add a corner", lambda season: ground_edits.add_corner(season, name, after, at_m))
        corners = np.insert(ring_m(block, ring), after, at_m, axis=0)
        return self._edit("add a corner", lambda season: put_opening(season, name, ring, corners))

    def delete_corner(self, block: Block, handle: Handle) -> str:
        """Delete a corner."""
        name = block.name
        if handle.ring == 0:
            return self._edit("delete a corner", lambda season: ground_edits.delete_corner(season, name, handle.number))
        corners = np.delete(ring_m(block, handle.ring), handle.number - 1, axis=0)
        return self._edit("delete a corner", lambda season: put_opening(season, name, handle.ring, corners))

    def delete_row(self, block: Block, row: str) -> str:
        """Delete a row, when the manager says yes."""
        name, count = block.name, int(block.rows.vine_count[block.rows.labels.index(row)])
        if not self.ask_yes(f"Delete row {row} of {name} with its {count} vines?"):
            return ""
        return self._edit(f"delete row {row}", lambda season: ground_edits.delete_rows(season, name, (row,)))

    def reverse_row(self, block: Block, row: str) -> str:
        """Turn a row round: vine 1 at the other end."""
        return self._edit(f"reverse row {row}", lambda season: ground_edits.reverse_rows(season, block.name, (row,)))

    def add_row(self, block: Block, beside: str) -> str:
        """Add a row beside another, on a side and with a label that are asked for."""
        side = self.ask_choice("Add a row", f"On which side of row {beside}?", list(side_words(block)))
        numbers = [int(each) for each in block.rows.labels if each.isdecimal()]
        row = self.ask_text("Add a row", "Its label:", str(max(numbers, default=0) + 1)) if side else ""
        if not row:
            return ""
        toward_deg = SIDES_DEG[side]
        return self._edit(f"add row {row}", lambda season: ground_edits.add_row(season, block.name, beside, toward_deg, row))

    def mark(self, block: Block, run: Run, words: str) -> str:
        """Mark vines as dead, missing, replanted or living."""
        row, (first, last) = block.rows.labels[run.row], run.span
        return self._edit(f"mark {words}", lambda season: mark_vines(season, block.name, row, first, last, MARKS[words]))

    def mark_variety(self, block: Block, run: Run) -> str:
        """Mark vines as a variety that is asked for; a new one is added to the block's list in the same step."""
        new = "another one"
        chosen = self.ask_choice("Variety", f"{run.words(block).capitalize()} are of:", [*block.varieties, new])
        variety = self.ask_text("Variety", "Its name:", "") if chosen == new else chosen
        if not variety:
            return ""
        row, (first, last) = block.rows.labels[run.row], run.span

        def edit(season: Season) -> Season:
            listed = ground_edits.add_variety(season, block.name, variety) if chosen == new else season
            return mark_variety(listed, block.name, row, first, last, variety)

        return self._edit("mark a variety", edit)

    def split(self, block: Block, line_m: Floats) -> str:
        """Cut a block in two along a line (2, 2) [m]."""
        new = self.ask_text("Split the block", f"The part of {block.name} away from its first vine is called:", "")
        if not new:
            return ""
        refused = self._edit(f"split {block.name}", lambda season: ground_edits.split_along(season, block.name, line_m, new))
        if not refused:
            self._window.look(block=block.name, chosen=None)
        return refused

    def merge(self, block: Block, other: Block) -> str:
        """Make two blocks one; rows that got another label are told."""
        name = self.ask_text("Merge two blocks", f"{block.name} and {other.name} together are called:", block.name)
        if not name:
            return ""
        told: list[tuple[str, str]] = []

        def edit(season: Season) -> Season:
            made, relabelled = ground_edits.merge_blocks(season, block.name, other.name, name)
            told.extend(relabelled)
            return made

        refused = self._edit("merge blocks", edit)
        if refused:
            return refused
        self._window.look(block=name, chosen=None)
        if told:
            rows = ", ".join(f"{old} is {new}" for old, new in told)
            self._window.ledger.show_refusal(f"Rows of {other.name} with new labels: {rows}.")
        return ""

    def add_block(self, corners_m: Floats, bearing_deg: float, show: ShowRows) -> tuple[str, bool]:
        """Make a block of corners (k, 2) [m], its planting asked for; why not, and whether it is settled."""
        try:
            outline = drawn_outline(corners_m)
        except VinemapError as error:
            return str(error), False
        given = self.ask_planting(Planting("", self._plan(bearing_deg)), outline, True, show)
        if given is None:
            return "", False
        refused = self._edit("draw a block", lambda season: add_drawn_block(season, given.name, corners_m, given.plan))
        return refused, not refused

    def plant(self, block: Block, bearing_deg: float, show: ShowRows) -> tuple[str, bool]:
        """Make the rows of a block from its outline, how is asked for; why not, and whether it is settled."""
        given = self.ask_planting(Planting(block.name, self._plan(bearing_deg, block)), block.outline, False, show)
        if given is None:
            return "", False
        refused = self._edit(f"make rows of {block.name}", lambda season: plan_rows(season, block.name, given.plan))
        return refused, not refused

    def _plan(self, bearing_deg: float, block: Block | None = None) -> RowPlan:
        """What is proposed: the spacings of this block, else of the first one."""
        like = next(iter([block] if block is not None else self._window.book.season.blocks), None)
        spacings = STAND_IN_SPACING_M if like is None else (like.row_spacing_m, like.vine_spacing_m)
        return RowPlan(bearing_deg, *spacings)
