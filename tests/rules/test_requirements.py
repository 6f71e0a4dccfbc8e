"""The pins agree with pyproject.toml and leave nothing to chance."""

from __future__ import annotations

import importlib.metadata
import re
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).resolve().parents[2]
PYPROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
SYSTEMS = [
    {"sys_platform": system, "platform_system": name, "os_name": kind, "python_version": version, "python_full_version": full}
    for system, name, kind in (("linux", "Linux", "posix"), ("darwin", "Darwin", "posix"), ("win32", "Windows", "nt"))
    for version, full in (("3.11", "3.11.7"), ("3.12", "3.12.1"), ("3.13", "3.13.0"))
]


def lines_of(file: str) -> list[str]:
    text = (ROOT / "packaging" / file).read_text(encoding="utf-8")
    return [line for line in text.splitlines() if line and not line.startswith("#")]


def pins_of(file: str) -> dict[str, Requirement]:
    pins = [Requirement(line) for line in lines_of(file) if not line.startswith("-r ")]
    return {canonicalize_name(pin.name): pin for pin in pins}


def version_of(pin: Requirement) -> str:
    (only,) = pin.specifier
    return only.version


RUN, BUILD, TEST = (pins_of(f"requirements{part}.txt") for part in ("", "-build", "-test"))


@pytest.mark.parametrize("pins", [RUN, BUILD, TEST], ids=["run", "build", "test"])
def test_every_line_is_one_exact_version(pins: dict[str, Requirement]) -> None:
    assert pins
    assert {name: [each.operator for each in pin.specifier] for name, pin in pins.items()} == {name: ["=="] for name in pins}


def test_the_test_set_stands_on_the_run_set() -> None:
    assert lines_of("requirements-test.txt")[0] == "-r requirements.txt"
    assert TEST.keys() & RUN.keys() == set()
    for name in BUILD.keys() & (RUN.keys() | TEST.keys()):
        assert version_of(BUILD[name]) == version_of((RUN | TEST)[name])


def test_pins_lie_within_the_ranges_of_the_project() -> None:
    ranges = [Requirement(line) for line in PYPROJECT["project"]["dependencies"]]
    assert len(ranges) >= 7
    for wanted in ranges:
        assert wanted.specifier.contains(version_of(RUN[canonicalize_name(wanted.name)])), str(wanted)
    for wanted in (Requirement(line) for line in PYPROJECT["build-system"]["requires"]):
        assert wanted.specifier.contains(version_of(BUILD[canonicalize_name(wanted.name)])), str(wanted)


def test_the_installed_versions_are_the_pinned_ones() -> None:
    pins = RUN | TEST | BUILD
    here = {name: pin for name, pin in pins.items() if pin.marker is None or pin.marker.evaluate()}
    assert {name: importlib.metadata.version(name) for name in here} == {name: version_of(pin) for name, pin in here.items()}


def brought_by(name: str) -> set[str]:
    """Name what a library needs on any system we run on."""
    wanted = [Requirement(line) for line in importlib.metadata.requires(name) or []]
    return {
        canonicalize_name(each.name)
        for each in wanted
        if each.marker is None or any(each.marker.evaluate({**system, "extra": ""}) for system in SYSTEMS)
    }


@pytest.mark.parametrize(("pins", "all_pins"), [(RUN, RUN), (BUILD, BUILD), (TEST, TEST | RUN)], ids=["run", "build", "test"])
def test_what_a_pinned_library_brings_is_pinned_too(pins: dict[str, Requirement], all_pins: dict[str, Requirement]) -> None:
    installed = [name for name, pin in pins.items() if pin.marker is None]
    loose = {name: brought_by(name) - all_pins.keys() for name in installed}
    assert {name: what for name, what in loose.items() if what} == {}


def test_licences_name_every_library_that_is_shipped_to_a_grower() -> None:
    text = (ROOT / "packaging" / "THIRD-PARTY.md").read_text(encoding="utf-8")
    rows = dict(re.findall(r"^\| ([\w.-]+) \| (\d[\w.]*) \|", text, flags=re.MULTILINE))
    assert {canonicalize_name(name): version for name, version in rows.items()} == {
        name: version_of(pin) for name, pin in RUN.items()
    }
