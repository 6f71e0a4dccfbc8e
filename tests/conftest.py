"""What holds for every test: no real screen, the same examples each time, and no thread left running."""

from __future__ import annotations

import os
import threading
from collections.abc import Iterator

import pytest
from hypothesis import HealthCheck, settings

# Before anything imports Qt.
os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
# Two workers with two threads of algebra each only wait for one another.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

# Shared computers are slow at times; a deadline would fail good code.
settings.register_profile("steady", derandomize=True, deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("steady")


@pytest.fixture(autouse=True)
def no_thread_left_over() -> Iterator[None]:
    """Fail the test that leaves a thread which would keep the program from ending."""
    before = set(threading.enumerate())
    yield
    left = [thread for thread in threading.enumerate() if thread not in before and not thread.daemon]
    for thread in left:
        thread.join(timeout=1.0)
    still = [thread.name for thread in left if thread.is_alive()]
    if still:
        pytest.fail(f"threads left running: {', '.join(still)}")
