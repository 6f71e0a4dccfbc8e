"""The files are what the program beside them makes, byte for byte."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path


def check(folder: Path) -> tuple[int, list[str]]:
    done = subprocess.run(
        [sys.executable, str(folder / "make_sample.py"), "--check"],
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
    )
    assert not done.stderr
    return done.returncode, done.stdout.splitlines()


def test_only_what_was_tampered_with_differs(sample_folder: Path, tmp_path: Path) -> None:
    # One run shows both that the check can fail and that every untouched file comes out the same, byte for byte.
    copy = shutil.copytree(sample_folder, tmp_path / "samples", ignore=shutil.ignore_patterns("__pycache__"))
    weather = copy / "marlquill" / "weather.csv"
    weather.write_bytes(weather.read_bytes().replace(b"\n", b"\r\n", 1))
    (copy / "wattlequern" / "truth.csv").unlink()
    (copy / "wattlequern" / "notes.txt").write_text("not ours", encoding="utf-8")
    code, lines = check(copy)
    assert code == 1
    assert lines == [
        "differs: marlquill/weather.csv",
        "differs: wattlequern/notes.txt",
        "differs: wattlequern/truth.csv",
    ]


def test_files_are_plain_utf8_with_plain_newlines(sample_folder: Path) -> None:
    files = [path for folder in ("marlquill", "wattlequern") for path in sorted((sample_folder / folder).iterdir())]
    assert len(files) == 23
    for path in files:
        data = path.read_bytes()
        assert b"\r" not in data, path.name
        assert data.endswith(b"\n"), path.name
        assert not data.startswith(b"\xef\xbb\xbf"), path.name
        data.decode("utf-8")


def test_readme_says_that_it_is_invented(sample_folder: Path) -> None:
    text = (sample_folder / "README.md").read_text(encoding="utf-8")
    assert "invented by us, for demonstration" in text
    for name in ("estate.json", "outlines.geojson", "rows.geojson", "vines.csv", "weather.csv", "passes.csv", "sprays.csv"):
        assert f"`{name}`" in text
