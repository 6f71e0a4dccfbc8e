"""Long work beside the window: a job can be watched, replaced and stopped."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any

from vinemap.errors import Cancelled, Tick

Work = Callable[[Tick], Any]


TELL_EVERY_S = 0.1
"""Progress is told no oftener than a hand notices: each report wakes the window."""


@dataclass(frozen=True, slots=True)
class Report:
    """What a job says: ``fraction`` 0..1 while it runs; a ``result`` or an ``error`` when it has ended."""

    key: str
    number: int
    label: str
    fraction: float
    has_ended: bool = False
    result: Any = None
    error: BaseException | None = None


class Jobs:
    """Runs jobs on one worker thread. A newer job with the same key stops the older one.

    ``tell`` is called with each report, from the worker thread: whoever owns a window passes it on to its own thread.
    Reports of a job that was replaced or stopped are not told.
    """

    def __init__(self, tell: Callable[[Report], None]) -> None:
        self._tell = tell
        self._pool = ThreadPoolExecutor(max_workers=1, thread_name_prefix="vinemap-job")
        self._lock = threading.Lock()
        self._newest: dict[str, int] = {}
        self._count = 0
        self._is_closed = False

    def start(self, key: str, label: str, work: Work) -> int:
        """Queue ``work(tick)``; returns the job's number. After closing nothing is begun."""
        with self._lock:
            self._count += 1
            number = self._count
            if not self._is_closed:
                self._newest[key] = number
                self._pool.submit(self._run, key, number, label, work)
        return number

    def stop(self, key: str) -> None:
        """Stop the job of that key, if there is one."""
        with self._lock:
            self._newest.pop(key, None)

    def close(self) -> None:
        """Stop everything and wait for the worker."""
        with self._lock:
            self._is_closed = True
            self._newest.clear()
        self._pool.shutdown(wait=True, cancel_futures=True)

    def is_current(self, key: str, number: int) -> bool:
        """Whether this job is still the one that is wanted."""
        with self._lock:
            return self._newest.get(key) == number

    def _run(self, key: str, number: int, label: str, work: Work) -> None:
        last_told = float("-inf")

        def tick(fraction: float) -> None:
            nonlocal last_told
            if not self.is_current(key, number):
                raise Cancelled
            now = time.monotonic()
            if now - last_told >= TELL_EVERY_S:
                last_told = now
                self._tell(Report(key, number, label, fraction))

        try:
            tick(0.0)
            ended = Report(key, number, label, 1.0, True, result=work(tick))
        except Cancelled:
            return
        except Exception as error:  # noqa: BLE001 - the owner of the job decides what to show
            ended = Report(key, number, label, 1.0, True, error=error)
        if self.is_current(key, number):
            self._tell(ended)
