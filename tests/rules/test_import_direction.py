"""Imports point one way, and the check that says so notices when one turns round."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
LINT = "import sys; from importlinter.cli import lint_imports; sys.exit(lint_imports(no_cache=True, no_logo=True))"


def lint(top: Path) -> tuple[int, str]:
    done = subprocess.run(
        [sys.executable, "-c", LINT], cwd=top, capture_output=True, text=True, encoding="utf-8", check=False
    )
    return done.returncode, done.stdout + done.stderr


def plant(top: Path, module: str, line: str) -> None:
    file = top / "vinemap" / module
    file.write_text(f"def planted() -> None:\n    {line}\n", encoding="utf-8")


def test_every_import_points_down() -> None:
    code, said = lint(ROOT)
    assert code == 0, said


def test_planted_imports_break_every_contract(tmp_path: Path) -> None:
    shutil.copytree(ROOT / "vinemap", tmp_path / "vinemap", ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    plant(tmp_path, "ground/planted_up.py", "import vinemap.season")
    plant(tmp_path, "vineclock/planted_sideways.py", "import vinemap.canopy")
    plant(tmp_path, "files/planted_qt.py", "import PySide6.QtCore")
    plant(tmp_path, "sheets/planted_file.py", "import json")
    code, said = lint(tmp_path)
    assert code == 1, said
    broken = [line.rsplit(" ", 1)[0].strip() for line in said.splitlines() if line.strip().endswith("BROKEN")]
    assert sorted(broken) == [
        "Imports point one way",
        "Only the window knows Qt",
        "Pure packages open no files and draw no plots",
    ]
    for name in ("planted_up", "planted_sideways", "planted_qt", "planted_file"):
        assert name in said
