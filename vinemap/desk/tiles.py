"""Tiles of the map: asked for, made on worker threads, kept by memory, dropped when they come too late."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor

from vinemap.desk.tile_maker import Picture, Tile, TileKey, make_tile

CACHE_BYTES = 200 * 1024 * 1024
WORKERS = 2


class TileShop:
    """Makes tiles on worker threads and keeps the last ones. Its methods are for the window's thread only.

    ``deliver(generation, key, tile)`` is called on a worker thread; results of an older generation are to be dropped.
    ``fail(error)``, on a worker thread too, tells that a tile can't be made; it is not tried again.
    """

    def __init__(self, deliver: Callable[[int, TileKey, Tile], None], fail: Callable[[BaseException], None]) -> None:
        self._deliver, self._fail = deliver, fail
        self._threads: ThreadPoolExecutor | None = None
        self._tiles: OrderedDict[TileKey, Tile] = OrderedDict()
        self._asked: dict[TileKey, Future[None]] = {}
        self._bytes = 0
        self.generation = 0

    @property
    def is_idle(self) -> bool:
        """True when nothing is being made."""
        return not self._asked

    @property
    def size_bytes(self) -> int:
        """Memory of the tiles that are kept."""
        return self._bytes

    def find(self, key: TileKey) -> Tile | None:
        """A tile that is ready."""
        tile = self._tiles.get(key)
        if tile is not None:
            self._tiles.move_to_end(key)
        return tile

    def ready(self) -> list[TileKey]:
        """All tiles that are ready, oldest first."""
        return list(self._tiles)

    def ask(self, picture: Picture, key: TileKey) -> None:
        """Have a tile made, unless it is ready or on its way."""
        if key in self._tiles or key in self._asked:
            return
        if self._threads is None:
            self._threads = ThreadPoolExecutor(WORKERS, thread_name_prefix="tiles")
        job = self._threads.submit(self._make, self.generation, picture, key)
        self._asked[key] = job
        job.add_done_callback(self._on_done)

    def _on_done(self, job: Future[None]) -> None:
        failure = None if job.cancelled() else job.exception()
        if failure is not None:
            self._fail(failure)

    def _make(self, generation: int, picture: Picture, key: TileKey) -> None:
        if generation == self.generation:
            self._deliver(generation, key, make_tile(picture, key))

    def take(self, generation: int, key: TileKey, tile: Tile) -> bool:
        """Keep a tile that has come, and let the oldest go; False when it came too late."""
        if generation != self.generation:
            return False
        self._asked.pop(key, None)
        if key in self._tiles:
            self._bytes -= self._tiles.pop(key).size_bytes
        self._tiles[key] = tile
        self._bytes += tile.size_bytes
        while self._bytes > CACHE_BYTES and len(self._tiles) > 1:
            _, old = self._tiles.popitem(last=False)
            self._bytes -= old.size_bytes
        return True

    def turn(self) -> None:
        """A new generation: what is on its way is no longer wanted."""
        self.generation += 1
        for job in self._asked.values():
            job.cancel()
        self._asked.clear()

    def forget(self, picture: int) -> None:
        """Let all tiles of a picture go."""
        for key in [key for key in self._tiles if key.picture == picture]:
            self._bytes -= self._tiles.pop(key).size_bytes

    def close(self) -> None:
        """Stop the threads and wait for them."""
        self.turn()
        if self._threads is not None:
            self._threads.shutdown(wait=True, cancel_futures=True)
            self._threads = None
