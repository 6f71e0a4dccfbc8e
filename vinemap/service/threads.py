"""One thread for the algebra of a field: its matrices are small, and threads that wait for each other cost more."""

from __future__ import annotations

import os
from collections.abc import Callable
from contextlib import AbstractContextManager
from functools import cache
from typing import Any

WORKERS = min(4, os.cpu_count() or 1)
"""Threads that a map may use: its vines fall into pieces that do not wait for each other."""


@cache
def _limiter() -> Callable[[], AbstractContextManager[Any]]:
    from threadpoolctl import ThreadpoolController

    controller = ThreadpoolController()
    return lambda: controller.limit(limits=1, user_api="blas")


def one_thread() -> AbstractContextManager[Any]:
    """Keep linear algebra on the calling thread while inside (measured in tests/benchmarks/bench_field.py)."""
    return _limiter()()
