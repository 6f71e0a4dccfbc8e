"""The guards every test stands under do catch something."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

CONFTEST = Path(__file__).resolve().parents[1] / "conftest.py"
TESTS = """
import os, threading

stop = threading.Event()

def test_leaves_a_thread():
    threading.Thread(target=stop.wait, args=(60,), name="forgotten").start()

def test_ends_its_thread():
    thread = threading.Thread(target=int)
    thread.start()

def test_draws_without_a_screen():
    stop.set()
    assert os.environ["QT_QPA_PLATFORM"]
"""


def test_a_thread_left_running_fails_its_own_test(tmp_path: Path) -> None:
    shutil.copy(CONFTEST, tmp_path)
    (tmp_path / "test_planted.py").write_text(TESTS, encoding="utf-8")
    command = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "-p", "no:xdist", str(tmp_path)]
    done = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=False)
    assert done.returncode == 1, done.stdout + done.stderr
    assert "threads left running: forgotten" in done.stdout
    assert "3 passed, 1 error" in done.stdout
