"""Puts the picture together: tiles, the last picture while they are made, lines over them. Owns tiles and their threads."""

from __future__ import annotations

import itertools
from collections import OrderedDict
from collections.abc import Callable

import shapely
from PySide6.QtCore import QPointF, QRectF
from PySide6.QtGui import QColor, QImage, QPainter, QPainterPath

from vinemap.desk import map_frame as frame
from vinemap.desk import map_layers as layers
from vinemap.desk.camera import View
from vinemap.desk.map_corner import PER_MM
from vinemap.desk.map_pens import clear_image, pen, smooth_painter
from vinemap.desk.map_scene import READ, WALK, MapScene
from vinemap.desk.painter import paint
from vinemap.desk.tile_maker import TILE_PX, Picture, Tile, TileKey
from vinemap.desk.tiles import TileShop
from vinemap.sheets.marks import Page

KEPT_PICTURES = 4
"""Pictures that can be turned back to at once, such as the round before."""

OUTLINE_ROUGH_M = 1.0
"""Outlines are this rough where only room for the legend is looked for."""

LEGEND_EDGE_PX = 12.0
"""Words under the first tick of a ramp stand out to the left of it."""

NUMBERS_PX = 18.0
"""Row numbers stand so far outside the blocks."""

INSET_PX = 62.0
TITLE_PX = 76.0
_numbers = itertools.count(1)


class MapSheet:
    """The drawn side of a canvas: a scene, its tiles, and how they are laid under the lines that move with the hand.

    ``deliver(generation, key, tile)`` is called on a worker thread and must bring its arguments to ``take`` on the
    window's thread; ``fail(error)`` likewise when a tile can't be made, which is a defect.
    """

    def __init__(self, deliver: Callable[[int, TileKey, Tile], None], fail: Callable[[BaseException], None]) -> None:
        self.scene = MapScene()
        self.threshold: float | None = None
        self.has_legend = True
        self._shop = TileShop(deliver, fail)
        self._pictures: OrderedDict[int, Picture] = OrderedDict()
        self._picture = self._new_picture(self.scene)
        self._before: TileKey | None = None
        self._paths: dict[tuple[int, int], tuple[float, QPainterPath]] = {}
        self._ground: shapely.Geometry | None = None
        self._scale_drawn = 0.0
        self._painted: tuple[tuple[Page, float], QImage] | None = None
        self._legend: tuple[tuple[MapScene, float | None, float], QImage] | None = None

    def set_scene(self, scene: MapScene, holds_picture: bool = False) -> bool:
        """Take a scene; True when it lies on the same ground as the one before.

        The picture of the one before then stays for now, and also on other ground where that is asked for.
        """
        is_same = [each.block for each in scene.blocks] == [each.block for each in self.scene.blocks]
        self.scene, self.threshold = scene, scene.threshold
        self._shop.turn()
        found = next((each for each in self._pictures.values() if scene.same_picture(each.scene)), None)
        self._picture = found if found is not None else self._new_picture(scene)
        self._pictures.move_to_end(self._picture.number)
        if not is_same:
            self._before = self._before if holds_picture else None
            outlines = [block.block.outline.simplify(OUTLINE_ROUGH_M) for block in scene.blocks]
            self._ground = shapely.union_all(outlines) if outlines else None
        return is_same

    def _new_picture(self, scene: MapScene) -> Picture:
        picture = Picture(next(_numbers), scene)
        self._pictures[picture.number] = picture
        while len(self._pictures) > KEPT_PICTURES:
            number, _ = self._pictures.popitem(last=False)
            self._shop.forget(number)
            self._paths = {key: path for key, path in self._paths.items() if key[0] != number}
        return picture

    def take(self, generation: int, key: TileKey, tile: Tile) -> bool:
        """Keep a tile that has come; False when it came too late."""
        return self._shop.take(generation, key, tile)

    def is_settled(self, view: View, ratio: float) -> bool:
        """True when every tile in sight is ready and none is on its way."""
        return self._shop.is_idle and all(self._shop.find(key) for key in self._keys(view, ratio))

    @property
    def size_bytes(self) -> int:
        """Memory of the tiles."""
        return self._shop.size_bytes

    def close(self) -> None:
        """Stop the threads and wait for them."""
        self._shop.close()

    def insets_px(self) -> list[tuple[float, float, float, float]]:
        """Rooms (left, top, right, bottom) that can be left around the blocks: for frame, numbers and title only, and
        with the legend to the left of the blocks or below them."""
        edge, top = INSET_PX, TITLE_PX if self.scene.title or self.scene.subtitle else INSET_PX
        wide, high = frame.legend_size_px(self.scene) if self.has_legend else (0.0, 0.0)
        below = edge + max(high, frame.SCALE_SIZE_PX[1])
        scale = edge + frame.SCALE_SIZE_PX[1]
        return [
            (edge, top, edge, edge),
            (edge + wide, top, edge, edge),
            (edge, top, edge, below),
            (edge + wide, top, edge, scale),
        ]

    def has_room(self, view: View, bounds_m: tuple[float, float, float, float]) -> bool:
        """True when legend and scale cover nothing of the ground within west, south, east, north [m]."""
        if self._ground is None:
            return True
        ground = shapely.clip_by_rect(self._ground, *bounds_m)
        return all(frame.covered_px(ground, view, box) < 1.0 for box, _ in self._furniture(view))

    def paint(self, painter: QPainter, view: View, ratio: float, draw_between: Callable[[QPainter, View], None]) -> None:
        """Tiles, with the threshold line and what ``draw_between`` draws between the ground and its marks."""
        if view.m_per_px != self._scale_drawn:
            self._shop.turn()
            self._scale_drawn = view.m_per_px
        keys = self._keys(view, ratio)
        found = {key: self._shop.find(key) for key in keys}
        is_whole = all(found.values())
        for key, tile in found.items():
            if tile is None:
                self._shop.ask(self._picture, key)
        if not is_whole:
            self._paint_before(painter, view)
            if self._is_turning(view):
                return
        for key, tile in found.items():
            if tile is not None:
                painter.drawImage(_corner(key, view), tile.ground)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        self._paint_lines(painter, view)
        draw_between(painter, view)
        for key, tile in found.items():
            if tile is not None and tile.marks is not None:
                painter.drawImage(_corner(key, view), tile.marks)
        if is_whole and keys:
            self._before = keys[0]
            for key in self._keys(view, ratio, ring=1):
                self._shop.ask(self._picture, key)

    def _is_turning(self, view: View) -> bool:
        """True while another picture of the same view is still up: two pictures are never mixed."""
        before = self._before
        return before is not None and before.picture != self._picture.number and before.m_per_px == view.m_per_px

    def paint_furniture(self, painter: QPainter, view: View, ratio: float) -> None:
        """Legend, scale, north and title."""
        ink = self.scene.ink
        placed = self._furniture(view, has_corner=True)
        (legend, legend_free), (scale, scale_free) = placed[:2]
        corner = self._corner(view, placed)
        for box, is_free in ((legend, legend_free), (scale, scale_free)):
            if (not is_free or self.scene.underlay is not None) and box.width() > 0:
                painter.setPen(pen(ink.ink, 0.8))
                painter.setBrush(QColor(ink.sheet))
                painter.drawRect(box.adjusted(-10, -6, 10, 6))
        if legend.width() > 0:
            painter.drawImage(legend.topLeft() - QPointF(LEGEND_EDGE_PX, 0), self._legend_image(ratio))
        if corner is not None:
            box, is_clear = corner
            if not is_clear or self.scene.underlay is not None:
                painter.setPen(pen(ink.ink, 0.8))
                painter.setBrush(QColor(ink.sheet))
                painter.drawRect(box.adjusted(-10, -6, 10, 8))
            painter.drawImage(box.topLeft() - QPointF(LEGEND_EDGE_PX, LEGEND_EDGE_PX), self._corner_image(ratio))
        layers.draw_block_names(painter, self.scene, view, ratio)
        frame.draw_scale(painter, scale, view, ink, self.scene.north_deg)
        if self.scene.title or self.scene.subtitle or self.scene.remark:
            frame.draw_title(painter, self.scene, ratio)

    def _legend_image(self, ratio: float) -> QImage:
        """The legend, drawn again only when what it says has changed."""
        key = self.scene, self.threshold, ratio
        if self._legend is None or self._legend[0] != key:
            wide, high = frame.legend_size_px(self.scene)
            image = clear_image(int(wide + 2 * LEGEND_EDGE_PX), int(high), ratio)
            painter = smooth_painter(image)
            frame.draw_legend(painter, QRectF(LEGEND_EDGE_PX, 0, wide, high), self.scene, self.threshold)
            painter.end()
            self._legend = key, image
        return self._legend[1]

    def _corner(self, view: View, placed: list[tuple[QRectF, bool]]) -> tuple[QRectF, bool] | None:
        """Where the small picture stands, the last of what was ``placed``, and whether it is clear of blocks and row numbers.

        None where there is none, or no room for it.
        """
        if self.scene.corner is None:
            return None
        box = placed[-1][0]
        around = box.adjusted(-NUMBERS_PX, -NUMBERS_PX, NUMBERS_PX, NUMBERS_PX)
        is_clear = frame.covered_px(self._ground, view, around) < 1.0
        is_taken = any(box.intersects(other) for other, _ in placed[:-1]) or (
            bool(self.scene.remark) and box.top() < TITLE_PX
        )
        return None if is_taken or not (is_clear or self.scene.insists) else (box, is_clear)

    def _corner_image(self, ratio: float) -> QImage:
        """The small picture, painted again only when it has changed."""
        page = self.scene.corner
        assert page is not None
        if self._painted is None or self._painted[0] != (page, ratio):
            edge = 2 * LEGEND_EDGE_PX
            image = clear_image(int(page.width_mm * PER_MM + edge), int(page.height_mm * PER_MM + edge), ratio)
            painter = smooth_painter(image)
            painter.translate(LEGEND_EDGE_PX, LEGEND_EDGE_PX)
            paint(page, painter, PER_MM)
            painter.end()
            self._painted = (page, ratio), image
        return self._painted[1]

    def _furniture(self, view: View, has_corner: bool = False) -> list[tuple[QRectF, bool]]:
        """Places of legend and scale, and where that is asked for of the small picture."""
        sizes = [frame.legend_size_px(self.scene) if self.has_legend else (0.0, 0.0), frame.SCALE_SIZE_PX]
        page = self.scene.corner
        if page is not None and has_corner:
            sizes.append((page.width_mm * PER_MM, page.height_mm * PER_MM))
        top = TITLE_PX if self.scene.title or self.scene.subtitle else frame.FURNITURE_GAP_PX
        return frame.place_furniture(self._ground, view, sizes, top)

    def _keys(self, view: View, ratio: float, ring: int = 0) -> list[TileKey]:
        """Tiles in sight, those in the middle first; ``ring`` more around them."""
        if not self.scene.blocks or view.width_px <= 0 or view.height_px <= 0:
            return []
        first, top = int(view.left_px // TILE_PX) - ring, int(view.top_px // TILE_PX) - ring
        last = int((view.left_px + view.width_px) // TILE_PX) + ring
        bottom = int((view.top_px + view.height_px) // TILE_PX) + ring
        middle = ((first + last) / 2, (top + bottom) / 2)
        places = [(column, line) for line in range(top, bottom + 1) for column in range(first, last + 1)]
        places.sort(key=lambda place: (place[0] - middle[0]) ** 2 + (place[1] - middle[1]) ** 2)
        return [TileKey(self._picture.number, view.m_per_px, ratio, *place) for place in places]

    def _paint_before(self, painter: QPainter, view: View) -> None:
        """The last whole picture, stretched to the new scale, until its tiles are made."""
        before = self._before
        if before is None:
            return
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
        times = before.m_per_px / view.m_per_px
        seen = QRectF(0, 0, view.width_px, view.height_px)
        for key in self._shop.ready():
            if (key.picture, key.m_per_px, key.ratio) != (before.picture, before.m_per_px, before.ratio):
                continue
            left, top = key.column * TILE_PX * times - view.left_px, key.line * TILE_PX * times - view.top_px
            place = QRectF(left, top, TILE_PX * times, TILE_PX * times)
            tile = self._shop.find(key) if place.intersects(seen) else None
            for image in (tile.ground, tile.marks) if tile is not None else ():
                if image is not None:
                    painter.drawImage(place, image)

    def _paint_lines(self, painter: QPainter, view: View) -> None:
        if self.threshold is None or self.scene.mode not in (READ, WALK):
            return
        seen = shapely.box(*view.bounds_m)
        for number, block in enumerate(self.scene.blocks):
            lines = self._picture.lines(number)
            if lines is None or not seen.intersects(shapely.box(*block.block.outline.bounds)):
                continue
            kept = self._paths.get((self._picture.number, number))
            if kept is None or kept[0] != self.threshold:
                kept = self.threshold, layers.threshold_path(lines, self.threshold)
                self._paths[self._picture.number, number] = kept
            layers.draw_threshold(painter, kept[1], view, self.scene.ink)


def _corner(key: TileKey, view: View) -> QPointF:
    """Window pixels of a tile's upper left corner."""
    return QPointF(key.column * TILE_PX - view.left_px, key.line * TILE_PX - view.top_px)
