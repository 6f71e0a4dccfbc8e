"""Keeps the aerial picture of a window's season open, and says when it can't be: the map never waits for it."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Qt, Signal

from vinemap.desk.map_scene import MapScene
from vinemap.desk.underlay import Underlay
from vinemap.errors import Cancelled, FileError
from vinemap.files.picture_reader import PictureFile, open_picture
from vinemap.ground.frame import Frame
from vinemap.season.edits import with_aerial
from vinemap.season.value import Aerial

if TYPE_CHECKING:
    from vinemap.desk.window import Window

SHOWN_ON = "Ground"
NONE = "There is no picture. Bring in a GeoTIFF, or a PNG or JPEG with its world file."


class UnderlayKeeper(QObject):
    """The picture below the map of a window. ``is_shown``: on every step, on none, or (None) on step Ground.

    ``is_waiting`` while one is being opened; ``remark`` says why one could not be.
    """

    _opened = Signal(object, object)
    _failed = Signal(object, object)

    def __init__(self, window: Window) -> None:
        super().__init__(window)
        self._window = window
        self.is_shown = window.book.picture_shown()
        self.remark = ""
        self._aerial: Aerial | None = None
        self._underlay: Underlay | None = None
        self._thread: ThreadPoolExecutor | None = None
        self._is_closed = self.is_waiting = False
        # queued: both are told on worker threads
        window.book.listen(self._on_book)
        self._opened.connect(self._on_opened, Qt.ConnectionType.QueuedConnection)
        self._failed.connect(self._on_failed, Qt.ConnectionType.QueuedConnection)

    def under(self, scene: MapScene, step: str) -> MapScene:
        """The scene with the picture below it, or a line that says why there is none, where it is to be seen."""
        self._follow()
        is_here = self.is_shown if self.is_shown is not None else step == SHOWN_ON
        if not is_here or not scene.blocks:
            return scene
        return replace(scene, underlay=self._underlay, remark=self.remark)

    # ---- what a manager can write

    def show(self) -> None:
        """Show the picture on every step."""
        self._turn(is_shown=True)

    def hide(self) -> None:
        """Show it on none."""
        self._turn(is_shown=False)

    def remove(self) -> None:
        """Take the picture out of the season, as one step that can be undone; its file is left alone."""
        window, aerial = self._window, self._window.book.season.aerial
        if aerial is None:
            window.ledger.show_refusal(NONE)
            return
        label = f"remove picture {aerial.name}"
        window.try_to(lambda: window.book.apply(label, lambda season: with_aerial(season, None)))

    def _turn(self, is_shown: bool) -> None:
        if self._window.book.season.aerial is None:
            self._window.ledger.show_refusal(NONE)
            return
        self._set_shown(is_shown)
        self._window.look()

    def _set_shown(self, is_shown: bool | None) -> None:
        self.is_shown = is_shown
        self._window.book.show_picture(is_shown)

    # ---- opening and closing

    def _on_book(self) -> None:
        """Try again what could not be opened: its file may be there now. One that was just brought in is not hidden."""
        aerial = self._window.book.season.aerial
        if self.is_shown is False and aerial is not None and aerial != self._aerial:
            self._set_shown(None)
        if self.remark:
            self._aerial = None

    def _follow(self) -> None:
        """Open the picture of the season as it is now, beside the window."""
        book = self._window.book
        aerial = book.season.aerial
        if aerial == self._aerial or self._is_closed:
            return
        self._aerial, self.is_waiting = aerial, aerial is not None
        self._let_go()
        if aerial is None:
            self.remark = ""
            return
        if self._thread is None:
            self._thread = ThreadPoolExecutor(1, thread_name_prefix="picture")
        self._thread.submit(self._open, aerial, book.season.estate.frame, book.path.parent)

    def _open(self, aerial: Aerial, frame: Frame, folder: Path) -> None:
        def tick(fraction: float) -> None:
            if self._aerial is not aerial:
                raise Cancelled

        try:
            tick(0.0)
            opened: PictureFile | Exception = open_picture(aerial, frame, folder, tick)
        except Cancelled:
            return
        except Exception as error:  # noqa: BLE001 - a defect is raised where the program's own hook reports it
            opened = error
        self._opened.emit(aerial, opened)

    def _on_opened(self, aerial: Aerial, opened: PictureFile | Exception) -> None:
        if self._aerial is not aerial:
            if isinstance(opened, PictureFile):
                opened.close()
            return
        self.is_waiting = False
        if isinstance(opened, PictureFile):
            self._underlay, self.remark = Underlay(opened, self._failed.emit), ""
        elif isinstance(opened, FileError):
            self.remark = str(opened)
        else:
            raise opened
        self._window._show()

    def _on_failed(self, picture: PictureFile, error: FileError) -> None:
        """Go on without a picture whose file fails while it is read."""
        if self._underlay is not None and self._underlay.picture is picture:
            self._let_go()
            self.remark = str(error)
            self._window._show()

    def _let_go(self) -> None:
        underlay, self._underlay = self._underlay, None
        if underlay is not None:
            underlay.picture.close()

    def close(self) -> None:
        """Stop opening, wait, and let go of the file."""
        self._is_closed, self._aerial = True, None
        if self._thread is not None:
            self._thread.shutdown(wait=True, cancel_futures=True)
        self._let_go()
