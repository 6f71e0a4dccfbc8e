"""Ground put right by hand on the map: a quiet mode of step Ground, on and off by one verb."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, QObject, Qt
from PySide6.QtGui import QKeyEvent, QKeySequence, QMouseEvent, QPainter, QShortcut
from PySide6.QtWidgets import QHBoxLayout, QVBoxLayout, QWidget

from vinemap.desk import ground_marks as marks
from vinemap.desk.camera import View
from vinemap.desk.ground_deeds import GroundDeeds
from vinemap.desk.ground_drawing import ALONG, CUT, DRAW, MERGE, GroundDrawing
from vinemap.desk.ground_grip import GroundGrip
from vinemap.desk.ground_handles import ARROWS, nearest_edge, run_line_m
from vinemap.desk.ground_runs import MARK_KEYS, GroundRuns
from vinemap.desk.map_scene import BlockScene
from vinemap.desk.type import BODY, label
from vinemap.desk.verbs import Verb
from vinemap.ground.block import Block
from vinemap.season.ground_edits import what_stands_on

if TYPE_CHECKING:
    from vinemap.desk.window import Window

PUT_RIGHT, END, MAKE_ROWS = "Put right by hand", "Done by hand", "Make rows"
STEP_M, FINE_STEP_M = 0.5, 0.1
DOES = "By hand: drag a corner, double-click an edge, click a row, Shift-drag along vines. Esc ends."
DOES_ROW = "Drag the ends of row {row}. R reverse, A add a row beside, E choose vines, Delete. Esc ends."
DOES_RUN = "D dead, M missing, N replanted, L living, V variety. Esc lets go."
DOES_MOVE = "Let go to put it here; Esc takes it back."


class GroundHand(QObject):
    """Sees the events of the map before it does, while it is on. ``says`` what it does now, ``said`` what it holds.

    Both stand in the ledger, which says what to do next on every step; nothing lies on the map but handles and lines.
    """

    def __init__(self, window: Window) -> None:
        super().__init__(window)
        self._window = window
        self.deeds = GroundDeeds(window)
        self.grip, self.runs, self.drawing = GroundGrip(self), GroundRuns(self), GroundDrawing(self)
        self.is_on = False
        self.said = ""
        self._of: tuple[Block | None, int | None] = (None, None)
        self.verb = Verb(PUT_RIGHT, window.ink)
        self.verb.setToolTip("Corners, rows and vines, on the map (P)")
        self.verb.clicked.connect(self.turn)
        self.rows_verb = Verb(MAKE_ROWS, window.ink)
        self.rows_verb.clicked.connect(self.begin_rows)
        self._says, self._said = label("", BODY, window.ink.ink, 600), label("", BODY, window.ink.ink, 400, True)
        self.more = QWidget()
        column, line = QVBoxLayout(self.more), QHBoxLayout()
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self._says)
        column.addWidget(self._said)
        column.addLayout(line)
        line.addStretch(1)
        self.verbs = {words: Verb(words, window.ink) for words in ("Add a row", "Split", "Merge", "Draw a block")}
        deeds = (self.add_row, self.begin_cut, self.begin_merge, self.begin_draw)
        for verb, deed in zip(self.verbs.values(), deeds, strict=True):
            line.addWidget(verb)
            verb.clicked.connect(deed)
        QShortcut(QKeySequence("P"), window).activated.connect(self.turn)
        window.canvas.installEventFilter(self)

    # ---- on and off

    def turn(self) -> None:
        """Take the ground into the hand, or let it go."""
        window = self._window
        if self.is_on:
            self.end()
            return
        if window.state.step != "Ground" or window.state.why_day is not None:
            window.go_to("Ground")
        self.is_on, self.said = True, ""
        window.canvas.holds_view, window.canvas.draw_over = True, self.draw
        window.canvas.setFocus()
        self.show()

    def end(self) -> None:
        """Let the ground go; what was done stays done."""
        self.is_on = False
        self._let_all_go()
        self._window.canvas.holds_view, self._window.canvas.draw_over = False, None
        self._window.canvas.unsetCursor()
        self.show()

    def _let_all_go(self) -> None:
        self.grip.leave()
        self.runs.let_go()
        self.drawing.give_up()
        self.said = ""

    def show(self) -> None:
        """Bring handles and verbs in line with the season, after the rest of the window."""
        state = self._window.state
        is_here = state.step == "Ground" and state.why_day is None
        if self.is_on and (not is_here or state.beside is not None):
            self.end()
            return
        self.verb.setVisible(is_here)
        block, row = self.block, self.row
        is_bare = block is not None and not len(block.rows)
        self.rows_verb.setVisible(is_here and (self.is_on or is_bare))
        self.verb.set_words(END if self.is_on else PUT_RIGHT)
        self.more.setVisible(self.is_on)
        self._window.ledger.set_has_facts(not self.is_on)
        if (block, row) != self._of:
            self.runs.keep_if_fits(self._of[0], block)
            self._of = block, row
            self.grip.show(block, row)
        self.redraw()

    # ---- what it is about

    @property
    def window(self) -> Window:
        """The window it works in."""
        return self._window

    @property
    def view(self) -> View:
        """What the map sees."""
        canvas = self._window.canvas
        return canvas.camera.view(canvas.width(), canvas.height(), canvas.devicePixelRatioF())

    @property
    def block(self) -> Block | None:
        """The block in view."""
        season, state = self._window.book.season, self._window.state
        return season.block(self._window.steps.block_in_view(season, state))

    @property
    def row(self) -> int | None:
        """Index of the row that is picked in it."""
        block, chosen = self.block, self._window.state.chosen
        if block is None or chosen is None or chosen[0] != block.name or not 0 <= chosen[1] < len(block.rows):
            return None
        return chosen[1]

    @property
    def scene(self) -> BlockScene | None:
        """The block in view as drawn."""
        block = self.block
        return next((each for each in self._window.canvas.scene.blocks if each.block is block), None)

    @property
    def says(self) -> str:
        """What the hand does now."""
        block, row, run = self.block, self.row, self.runs.run
        if self.drawing.mode:
            return self.drawing.says
        if self.grip.is_moving:
            return DOES_MOVE
        if run is not None and block is not None:
            return f"{run.words(block).capitalize()}: {DOES_RUN}"
        return DOES_ROW.format(row=block.rows.labels[row]) if block is not None and row is not None else DOES

    def tell(self, words: str) -> None:
        """Say what is held, or why something was refused; "" leaves what was said."""
        self.said = words or self.said
        self.redraw()

    def redraw(self) -> None:
        """Say what it does, and draw the lines over the map again; no tile is made."""
        canvas = self._window.canvas
        if self.is_on:
            self._says.setText(self.says)
            # a refusal stands in the ledger already, in full
            self._said.setText("" if self.said in self._window.ledger.refusal() else self.said)
            canvas.setAccessibleDescription(f"{self.says} {self.said}")
        canvas.update()

    def draw(self, painter: QPainter, view: View) -> None:
        """Everything of the hand, over the map."""
        ink, scene, run = self._window.ink, self.scene, self.runs.run
        if run is not None and scene is not None:
            marks.draw_run(painter, run_line_m(scene, run), view, ink)
        if self.drawing.mode:
            self.drawing.draw(painter, view)
        else:
            self.grip.draw(painter, view)

    # ---- the events of the map

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        # a window that is being taken down still sends the map its last events, when nothing is left of the hand
        if not getattr(self, "is_on", False):
            return False
        kind = event.type()
        if isinstance(event, QKeyEvent):
            return self._on_key_event(event)
        if isinstance(event, QMouseEvent):
            if self.drawing.mode:
                return self.drawing.on_mouse(event)
            if kind == QEvent.Type.MouseMove:
                return self._on_move(event)
            if event.button() == Qt.MouseButton.LeftButton:
                return self._on_button(event)
        elif kind == QEvent.Type.FocusOut:
            self.grip.let_go(of_keys=True)
        return False

    def _on_button(self, event: QMouseEvent) -> bool:
        here, kind, block = event.position(), event.type(), self.block
        if block is None:
            return False
        if kind == QEvent.Type.MouseButtonDblClick:
            return self.grip.double(block, here)
        if kind == QEvent.Type.MouseButtonRelease:
            if self.runs.is_held:
                self.runs.release()
                return True
            return self.grip.let_go(of_keys=False)
        self.said = ""
        if self.grip.take(here):
            return True
        if event.modifiers() & Qt.KeyboardModifier.ShiftModifier:
            return self.runs.begin(here)
        if nearest_edge(block, self.view, here.x(), here.y()) is not None:
            # the first half of a double click: no row is picked there
            return True
        self._let_all_go()
        self.redraw()
        return False

    def _on_move(self, event: QMouseEvent) -> bool:
        if self.runs.is_held:
            self.runs.move(event.position())
            return True
        return self.grip.move(event.position())

    # ---- keys

    def _on_key_event(self, event: QKeyEvent) -> bool:
        key, kind = Qt.Key(event.key()), event.type()
        if kind == QEvent.Type.ShortcutOverride:
            if key == Qt.Key.Key_Escape:
                event.accept()
            return key == Qt.Key.Key_Escape
        if kind == QEvent.Type.KeyRelease:
            return not event.isAutoRepeat() and key in ARROWS and self.grip.let_go(of_keys=True)
        if event.modifiers() & (Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.AltModifier):
            return False
        is_shift = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
        if self.drawing.mode:
            return self.drawing.on_key(key, is_shift)
        if key in ARROWS:
            return self.grip.shift(ARROWS[key], FINE_STEP_M if is_shift else STEP_M)
        if key in (Qt.Key.Key_Tab, Qt.Key.Key_Backtab):
            return self.grip.touch_next(-1 if key == Qt.Key.Key_Backtab or is_shift else 1)
        if key in MARK_KEYS or key == Qt.Key.Key_V:
            self.runs.mark(key)
            return True
        deeds: dict[Qt.Key, Callable[[], None]] = {
            Qt.Key.Key_Escape: self._step_back,
            Qt.Key.Key_Delete: self._delete,
            Qt.Key.Key_Insert: self._insert,
            Qt.Key.Key_R: self._reverse,
            Qt.Key.Key_A: self.add_row,
            Qt.Key.Key_E: self._ask_run,
            Qt.Key.Key_G: self.begin_rows,
            Qt.Key.Key_S: self.begin_cut,
            Qt.Key.Key_J: self.begin_merge,
            Qt.Key.Key_O: self.begin_draw,
        }
        if key in deeds:
            deeds[key]()
        return key in deeds

    def _step_back(self) -> None:
        if self.grip.put_back():
            self.tell("Taken back.")
        elif self.runs.run is not None:
            self.runs.let_go()
            self.redraw()
        else:
            self.end()

    # ---- deeds

    def _insert(self) -> None:
        block = self.block
        if block is not None:
            self.grip.insert(block)

    def _delete(self) -> None:
        block, row = self.block, self.row
        if block is None or self.grip.delete_corner(block):
            return
        if row is None:
            self.tell("Touch a corner or pick a row first.")
            return
        name, was = block.rows.labels[row], self._window.book.season
        refused = self.deeds.delete_row(block, name)
        if self._window.book.season is not was:
            self._window.look(chosen=None)
        self.tell(refused or (f"Row {name} deleted." if self._window.book.season is not was else ""))

    def _picked(self) -> tuple[Block, int, str] | None:
        block, row = self.block, self.row
        if block is None or row is None:
            self.tell("Pick a row first: click it, or press Page Down.")
            return None
        return block, row, block.rows.labels[row]

    def _reverse(self) -> None:
        if picked := self._picked():
            self.tell(self.deeds.reverse_row(picked[0], picked[2]) or f"Row {picked[2]} begins at its other end now.")

    def add_row(self) -> None:
        """Add a row beside the one that is picked."""
        if picked := self._picked():
            self.tell(self.deeds.add_row(picked[0], picked[2]))

    def _ask_run(self) -> None:
        if picked := self._picked():
            self.runs.ask(picked[0], picked[1])

    def begin_rows(self) -> None:
        """Make the rows of the block from its outline."""
        block = self.block
        in_the_way = "" if block is None else what_stands_on(self._window.book.season, block)
        if block is not None and in_the_way:
            self.tell(f"{block.name} has {in_the_way}, which stand on its present rows.")
            return
        self._begin(ALONG)

    def begin_cut(self) -> None:
        """Draw the line that cuts the block in two."""
        self._begin(CUT)

    def begin_merge(self) -> None:
        """Choose the block that this one shall be one with."""
        self._begin(MERGE)

    def begin_draw(self) -> None:
        """Draw the outline of a new block."""
        self._begin(DRAW)

    def _begin(self, mode: str) -> None:
        if not self.is_on:
            self.turn()
        self._let_all_go()
        others = len(self._window.book.season.blocks)
        if mode != DRAW and others < (2 if mode == MERGE else 1):
            self.tell("There is no other block." if others else "There is no block yet.")
            return
        self.drawing.begin(mode)
        self._window.canvas.setFocus()
        self.redraw()
