"""Where the map is looked at from: metres to pixels and back. Two canvases that share one camera move together."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QObject, Signal

LEAST_M_PER_PX, MOST_M_PER_PX = 0.005, 500.0


@dataclass(frozen=True, slots=True)
class View:
    """A window of ``width_px`` by ``height_px`` onto the ground; (``left_px``, ``top_px``) is its corner in map pixels.

    Map pixels are metres / ``m_per_px`` from the estate's origin, x to the east and y to the south. The corner is a
    whole number of device pixels, so that tiles lie on the grid of the screen and never blur.
    """

    m_per_px: float
    left_px: float
    top_px: float
    width_px: float
    height_px: float

    def to_px(self, x_m: float, y_m: float) -> tuple[float, float]:
        """Window pixels of a place [m]."""
        return x_m / self.m_per_px - self.left_px, -y_m / self.m_per_px - self.top_px

    def to_m(self, x_px: float, y_px: float) -> tuple[float, float]:
        """Place [m] under window pixels."""
        return (x_px + self.left_px) * self.m_per_px, -(y_px + self.top_px) * self.m_per_px

    @property
    def bounds_m(self) -> tuple[float, float, float, float]:
        """West, south, east, north [m] of what is seen."""
        west, north = self.to_m(0.0, 0.0)
        east, south = self.to_m(self.width_px, self.height_px)
        return west, south, east, north


class Camera(QObject):
    """The centre [m] and scale [m per logical pixel] of one or more canvases. ``changed`` is sent after every move."""

    changed = Signal()

    def __init__(self, x_m: float = 0.0, y_m: float = 0.0, m_per_px: float = 0.5) -> None:
        super().__init__()
        self.x_m, self.y_m, self.m_per_px = x_m, y_m, m_per_px

    def view(self, width_px: float, height_px: float, px_ratio: float = 1.0) -> View:
        """What a window of that size [logical px] sees; ``px_ratio`` device pixels to one logical pixel."""
        left = self.x_m / self.m_per_px - width_px / 2.0
        top = -self.y_m / self.m_per_px - height_px / 2.0
        return View(self.m_per_px, round(left * px_ratio) / px_ratio, round(top * px_ratio) / px_ratio, width_px, height_px)

    def pan_px(self, dx_px: float, dy_px: float) -> None:
        """Move the paper by pixels, right and down."""
        self._move(self.x_m - dx_px * self.m_per_px, self.y_m + dy_px * self.m_per_px, self.m_per_px)

    def zoom(self, factor: float, x_px: float, y_px: float, width_px: float, height_px: float) -> None:
        """Enlarge by ``factor``; the place under the window pixel (``x_px``, ``y_px``) stays there."""
        scale = min(max(self.m_per_px / factor, LEAST_M_PER_PX), MOST_M_PER_PX)
        # From the view as drawn, on whole pixels: else each turn of the wheel would move the place a little.
        x_m, y_m = self.view(width_px, height_px).to_m(x_px, y_px)
        self._move(x_m - (x_px - width_px / 2.0) * scale, y_m + (y_px - height_px / 2.0) * scale, scale)

    def fit(
        self,
        bounds_m: tuple[float, float, float, float],
        width_px: float,
        height_px: float,
        inset_px: tuple[float, float, float, float] = (0.0, 0.0, 0.0, 0.0),
    ) -> None:
        """Show west, south, east, north [m] whole, in the middle of the window less its insets (left, top, right, bottom)."""
        west, south, east, north = bounds_m
        left, top, right, bottom = inset_px
        wide_px, high_px = max(width_px - left - right, 1.0), max(height_px - top - bottom, 1.0)
        scale = max((east - west) / wide_px, (north - south) / high_px, LEAST_M_PER_PX)
        scale = min(scale, MOST_M_PER_PX)
        self._move((west + east - (left - right) * scale) / 2.0, (south + north + (top - bottom) * scale) / 2.0, scale)

    def _move(self, x_m: float, y_m: float, m_per_px: float) -> None:
        if (x_m, y_m, m_per_px) != (self.x_m, self.y_m, self.m_per_px):
            self.x_m, self.y_m, self.m_per_px = x_m, y_m, m_per_px
            self.changed.emit()
