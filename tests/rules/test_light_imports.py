"""Nothing heavy loads before it is used: a bare window shows in 0.3 s, after geopandas, pandas and scipy.stats in 3.2 s."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
HEAVY = ("geopandas", "pandas", "matplotlib", "pvlib", "scipy.stats", "scipy.optimize", "pyproj", "rasterio")

# Imports each module in turn in a fresh interpreter and reports which of them first brought something heavy.
WATCH = """
import importlib, json, sys
modules, heavy = json.loads(sys.argv[1])
brought = {}
for module in modules:
    importlib.import_module(module)
    for name in heavy:
        if name in sys.modules and name not in brought:
            brought[name] = module
print(json.dumps(brought))
"""


def modules_under(*packages: str) -> list[str]:
    found = []
    for package in packages:
        top = ROOT / "vinemap" / package
        files = sorted(top.rglob("*.py")) if top.is_dir() else [top.with_suffix(".py")]
        for file in files:
            parts = file.relative_to(ROOT).with_suffix("").parts
            found.append(".".join(parts[:-1] if parts[-1] == "__init__" else parts))
    return found


def brought_by(modules: list[str], heavy: tuple[str, ...]) -> dict[str, str]:
    done = subprocess.run(
        [sys.executable, "-c", WATCH, json.dumps([modules, heavy])], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    answer: dict[str, str] = json.loads(done.stdout.splitlines()[-1])
    return answer


def test_the_way_to_the_first_answer_is_light() -> None:
    modules = modules_under(
        "errors", "units", "columns", "ground", "scouting", "surface", "vineclock", "canopy", "work", "season", "sheets"
    )
    modules += modules_under("files", "service", "cli")
    assert {"vinemap.ground.vines", "vinemap.cli"} <= set(modules)
    assert brought_by(modules, (*HEAVY, "PySide6")) == {}


def test_the_way_to_the_first_window_is_light() -> None:
    assert brought_by(modules_under("desk"), HEAVY) == {}


@pytest.mark.parametrize("name", ["scipy.optimize", "pyproj"])
def test_the_watch_sees_a_heavy_import(name: str) -> None:
    assert brought_by(["vinemap.errors", name], HEAVY)[name] == name
