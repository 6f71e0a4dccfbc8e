"""The map: tiles below, what moves with the hand above. Drag, wheel, keys; tells what is pointed at and picked."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QEvent, QRectF, QSize, Qt, Signal
from PySide6.QtGui import (
    QCloseEvent,
    QColor,
    QFocusEvent,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QResizeEvent,
    QWheelEvent,
)
from PySide6.QtWidgets import QSizePolicy, QWidget

from vinemap.desk import map_frame as frame
from vinemap.desk import map_layers as layers
from vinemap.desk.camera import Camera, View
from vinemap.desk.fonts import load_face
from vinemap.desk.map_drag import MapDrag
from vinemap.desk.map_pens import pen
from vinemap.desk.map_pick import Spot, find_spot, words_of
from vinemap.desk.map_scene import MapScene
from vinemap.desk.map_sheet import MapSheet
from vinemap.desk.tile_maker import Tile, TileKey

Bounds = tuple[float, float, float, float]
ZOOM_STEP = 1.25
PAN_STEP_SHARE = 0.12


class MapCanvas(QWidget):
    """The sheet with the map. Give it a scene; it keeps its own tiles and threads until it is closed.

    ``hovered(block, row, vine, words)`` and ``picked(block, row)`` name block and row as people do; ``vine`` is the
    index in the block. ``hovered`` has empty words and vine -1 when the pointer leaves all blocks; ``pointed(x, y)``
    tells the place [m] under the pointer, for a second sheet beside.
    """

    hovered = Signal(str, str, int, str)
    picked = Signal(str, str)
    pointed = Signal(float, float)
    left = Signal()
    _tile_made = Signal(int, object, object)
    _tile_failed = Signal(object)

    def __init__(self, camera: Camera | None = None, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        load_face()
        # a sheet beside another shares its camera and leaves the fitting to it
        self._leads = camera is None
        self.camera = camera if camera is not None else Camera()
        self.paint_count = 0
        self._sheet = MapSheet(self._tile_made.emit, self._tile_failed.emit)
        self._chosen: tuple[int, int] | None = None
        self._spot: Spot | None = None
        self._is_cross = False
        self._fitted: tuple[Bounds, tuple[float, float, float]] | None = None
        self._has_keys = False
        self.drag = MapDrag(self, self.camera)
        # while ground is put right by hand: the view stays when the ground changes, and the hand draws over the map
        self.holds_view = False
        self.draw_over: Callable[[QPainter, View], None] | None = None
        self._tile_made.connect(self._on_tile, Qt.ConnectionType.QueuedConnection)
        self._tile_failed.connect(self._on_failure, Qt.ConnectionType.QueuedConnection)
        self.camera.changed.connect(self.update)
        self.setMouseTracking(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setAccessibleName("Map")

    # ---- what is shown

    @property
    def scene(self) -> MapScene:
        """The scene on the sheet."""
        return self._sheet.scene

    @property
    def threshold(self) -> float | None:
        """Incidence of the threshold line, or None."""
        return self._sheet.threshold

    @property
    def is_settled(self) -> bool:
        """True when the picture is whole and nothing is being made."""
        return self._sheet.is_settled(self._view(), self.devicePixelRatioF())

    @property
    def tile_bytes(self) -> int:
        """Memory of the tiles that are kept."""
        return self._sheet.size_bytes

    def set_scene(self, scene: MapScene) -> None:
        """Show a scene. The view and the last picture stay when it lies on the same ground."""
        self._spot = None
        if not self._sheet.set_scene(scene, self.holds_view):
            self._chosen = None
            if not self.holds_view:
                self.fit()
        self._describe()
        self.update()

    def set_threshold(self, incidence: float | None) -> None:
        """Move the threshold line. Tiles are not made again."""
        if incidence != self._sheet.threshold:
            self._sheet.threshold = incidence
            self.update()

    def set_chosen(self, block: str, row: str) -> None:
        """Mark a row as chosen; an unknown one takes the mark away."""
        chosen = None
        for number, scene in enumerate(self.scene.blocks):
            if scene.block.name == block and row in scene.block.rows.labels:
                chosen = number, scene.block.rows.labels.index(row)
        if chosen != self._chosen:
            self._chosen = chosen
            self._describe()
            self.update()

    def set_has_legend(self, has_legend: bool) -> None:
        """Show the legend or leave it to whoever shows it for two sheets."""
        self._sheet.has_legend = has_legend
        self.update()

    def show_pointer(self, x_m: float, y_m: float) -> None:
        """Mark the place [m] that the pointer is at on the sheet beside."""
        self._set_spot(find_spot(self.scene, x_m, y_m), is_cross=True)

    def hide_pointer(self) -> None:
        """Take the mark of the pointer away."""
        self._set_spot(None, is_cross=True)

    def fit(self) -> None:
        """Show all blocks, with room for the legend beside them where they leave none."""
        bounds = self.scene.bounds_m
        if bounds is not None and self._leads:
            self.fit_to(bounds)

    def fit_to(self, bounds_m: Bounds) -> None:
        """Show west, south, east, north [m] as large as legend and scale allow; kept while nobody moves the sheet."""
        if self.width() <= 1 or self.height() <= 1:
            return
        best: tuple[float, Bounds] | None = None
        for inset in self._sheet.insets_px():
            self.camera.fit(bounds_m, self.width(), self.height(), inset)
            if self._sheet.has_room(self._view(), bounds_m) and (best is None or self.camera.m_per_px < best[0]):
                best = self.camera.m_per_px, inset
        self.camera.fit(bounds_m, self.width(), self.height(), best[1] if best else self._sheet.insets_px()[0])
        self._fitted = bounds_m, self._stand()

    def _stand(self) -> tuple[float, float, float]:
        return self.camera.x_m, self.camera.y_m, self.camera.m_per_px

    # ---- drawing

    def _view(self) -> View:
        return self.camera.view(self.width(), self.height(), self.devicePixelRatioF())

    def _on_tile(self, generation: int, key: object, tile: object) -> None:
        if isinstance(key, TileKey) and isinstance(tile, Tile) and self._sheet.take(generation, key, tile):
            self.update()

    def _on_failure(self, error: BaseException) -> None:
        """Raise a worker's defect where the program's own hook reports it."""
        raise error

    def paintEvent(self, event: QPaintEvent) -> None:
        view, scene = self._view(), self._sheet.scene
        painter = QPainter(self)
        painter.fillRect(self.rect(), QColor(scene.ink.sheet))
        if scene.blocks:
            self._sheet.paint(painter, view, self.devicePixelRatioF(), self._paint_chosen)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        layers.draw_edges(painter, scene, view, self.devicePixelRatioF())
        self._paint_over(painter, view)
        painter.end()
        self.paint_count += 1

    def _paint_chosen(self, painter: QPainter, view: View) -> None:
        if self._chosen is not None:
            block = self.scene.blocks[self._chosen[0]]
            layers.draw_chosen_row(painter, block, self._chosen[1], view, self.scene.ink, self._has_keys)

    def _paint_over(self, painter: QPainter, view: View) -> None:
        scene, ink = self._sheet.scene, self._sheet.scene.ink
        if scene.blocks:
            self._sheet.paint_furniture(painter, view, self.devicePixelRatioF())
        else:
            frame.draw_empty(painter, view, scene.empty, ink)
        if self.draw_over is not None:
            self.draw_over(painter, view)
        if self._spot is not None:
            layers.draw_pointer(painter, scene, self._spot, view, self._is_cross)
        frame.draw_frame(painter, view, ink)
        if self._has_keys and self._chosen is None:
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setPen(pen(ink.focus, 2.0))
            painter.drawRect(QRectF(self.rect()).adjusted(9, 9, -9, -9))

    # ---- the hand

    def mousePressEvent(self, event: QMouseEvent) -> None:
        if event.button() == Qt.MouseButton.LeftButton:
            self.drag.begin(event.position())

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        here = event.position()
        if self.drag.move(here):
            return
        x_m, y_m = self._view().to_m(here.x(), here.y())
        self._set_spot(find_spot(self.scene, x_m, y_m), is_cross=False)
        self.pointed.emit(x_m, y_m)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        if event.button() == Qt.MouseButton.LeftButton and self.drag.end():
            spot = find_spot(self.scene, *self._view().to_m(event.position().x(), event.position().y()))
            if spot is not None:
                self._pick(spot.block, spot.row)

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        self.fit()

    def wheelEvent(self, event: QWheelEvent) -> None:
        turns = event.angleDelta().y() / 120.0
        self.camera.zoom(ZOOM_STEP**turns, event.position().x(), event.position().y(), self.width(), self.height())
        event.accept()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        step_x, step_y = self.width() * PAN_STEP_SHARE, self.height() * PAN_STEP_SHARE
        moves = {
            Qt.Key.Key_Left: (step_x, 0.0),
            Qt.Key.Key_Right: (-step_x, 0.0),
            Qt.Key.Key_Up: (0.0, step_y),
            Qt.Key.Key_Down: (0.0, -step_y),
        }
        self._has_keys = True
        self.update()
        key = Qt.Key(event.key())
        if key in moves:
            self.camera.pan_px(*moves[key])
        elif key in (Qt.Key.Key_Plus, Qt.Key.Key_Equal, Qt.Key.Key_Minus):
            factor = 1 / ZOOM_STEP if key == Qt.Key.Key_Minus else ZOOM_STEP
            self.camera.zoom(factor, self.width() / 2, self.height() / 2, self.width(), self.height())
        elif key == Qt.Key.Key_0:
            self.fit()
        elif key in (Qt.Key.Key_PageDown, Qt.Key.Key_PageUp):
            self._pick_beside(1 if key == Qt.Key.Key_PageDown else -1)
        else:
            super().keyPressEvent(event)

    def _pick_beside(self, step: int) -> None:
        """Pick the next or the last row in order, across blocks."""
        rows = [(b, r) for b, scene in enumerate(self.scene.blocks) for r in range(len(scene.block.rows))]
        if rows:
            at = rows.index(self._chosen) + step if self._chosen in rows else 0
            self._pick(*rows[at % len(rows)])

    def _pick(self, block: int, row: int) -> None:
        scene = self.scene.blocks[block].block
        self.set_chosen(scene.name, scene.rows.labels[row])
        self.picked.emit(scene.name, scene.rows.labels[row])

    def _set_spot(self, spot: Spot | None, is_cross: bool) -> None:
        if (spot, is_cross) == (self._spot, self._is_cross):
            return
        self._spot, self._is_cross = spot, is_cross
        self.update()
        if is_cross:
            return
        if spot is None:
            self.hovered.emit("", "", -1, "")
        else:
            block = self.scene.blocks[spot.block]
            self.hovered.emit(block.block.name, block.block.rows.labels[spot.row], spot.vine, words_of(self.scene, spot)[1])

    def focusInEvent(self, event: QFocusEvent) -> None:
        reasons = (Qt.FocusReason.TabFocusReason, Qt.FocusReason.BacktabFocusReason, Qt.FocusReason.ShortcutFocusReason)
        self._has_keys = event.reason() in reasons
        self.update()

    def focusOutEvent(self, event: QFocusEvent) -> None:
        self._has_keys = False
        self.update()

    def leaveEvent(self, event: QEvent) -> None:
        self._set_spot(None, is_cross=False)
        self.left.emit()

    def _describe(self) -> None:
        """Words for a screen reader."""
        names = ", ".join(scene.block.name for scene in self.scene.blocks)
        words = f"Map of {names}" if names else self.scene.empty
        if self._chosen is not None:
            scene = self.scene.blocks[self._chosen[0]].block
            words += f"; chosen: {scene.name}, row {scene.rows.labels[self._chosen[1]]}"
        self.setAccessibleDescription(words)

    # ---- the window around it

    def sizeHint(self) -> QSize:
        return QSize(1160, 770)

    def minimumSizeHint(self) -> QSize:
        return QSize(240, 180)

    def resizeEvent(self, event: QResizeEvent) -> None:
        if self._fitted is None:
            self.fit()
        elif self._fitted[1] == self._stand():
            self.fit_to(self._fitted[0])

    def closeEvent(self, event: QCloseEvent) -> None:
        self._sheet.close()
        super().closeEvent(event)
