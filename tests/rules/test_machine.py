"""The two programs that set a computer up: what they decide, with the computer replaced by stand-ins."""

from __future__ import annotations

import importlib.util
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).resolve().parents[2]
PACKAGING = ROOT / "packaging"


def load(name: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(f"vinemap_{name}", PACKAGING / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture
def machine(monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    made = load("machine")
    monkeypatch.setitem(sys.modules, "machine", made)
    return made


@pytest.fixture
def project(tmp_path: Path, machine: ModuleType) -> Path:
    """A project with a finished environment of two made-up libraries, in a folder with a space in its name."""
    root = tmp_path / "old vines"
    (root / "packaging").mkdir(parents=True)
    (root / "pyproject.toml").write_text('[project]\nname = "vinemap"\n', encoding="utf-8")
    for file, pin in (("", "Grape_Sort==1.0"), ("-build", "press==2.0"), ("-test", '# none\ncork==3; os_name == "nt"')):
        (root / "packaging" / f"requirements{file}.txt").write_text(pin + "\n", encoding="utf-8")
    python = machine.environment_program(root, "python")
    python.parent.mkdir(parents=True)
    python.touch()
    version = f"python{sys.version_info.major}.{sys.version_info.minor}"
    lib = root / ".venv" / ("Lib" if os.name == "nt" else f"lib/{version}") / "site-packages"
    for name in ("grape_sort-1.0", "press-2.0", "vinemap-0.1.0"):
        (lib / f"{name}.dist-info").mkdir(parents=True)
    machine.write_stamp(root, "run")
    return root


@pytest.mark.parametrize(
    ("platform", "environ", "screen"),
    [
        ("linux", {}, False),
        ("linux", {"DISPLAY": ""}, False),
        ("linux", {"DISPLAY": ":0"}, True),
        ("linux", {"WAYLAND_DISPLAY": "wayland-0"}, True),
        ("win32", {}, True),
        ("darwin", {}, True),
    ],
)
def test_a_screen_is_found(machine: ModuleType, platform: str, environ: dict[str, str], screen: bool) -> None:
    assert machine.has_screen(platform, environ) is screen


def test_missing_libraries_are_named_with_their_debian_packages(machine: ModuleType) -> None:
    def load_some(name: str) -> None:
        if name in ("libEGL.so.1", "libxcb-cursor.so.0"):
            raise OSError(name)

    found = machine.missing_libraries(machine.wanted_libraries("linux", True), load_some)
    assert found == {"libEGL.so.1": "libegl1", "libxcb-cursor.so.0": "libxcb-cursor0"}
    assert "sudo apt-get install libegl1 libxcb-cursor0\n" in machine.library_words(found)
    assert machine.missing_libraries(machine.wanted_libraries("linux", False), load_some) == {"libEGL.so.1": "libegl1"}
    assert machine.wanted_libraries("win32", True) == {}


def test_missing_libraries_stop_the_start_or_are_installed(machine: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(machine, "wanted_libraries", lambda platform, screen: {"libGL.so.1": "libgl1"})
    installed: list[str] = []

    def missing(wanted: dict[str, str]) -> dict[str, str]:
        return {} if installed else wanted

    monkeypatch.setattr(machine, "missing_libraries", missing)
    monkeypatch.setattr(machine, "install_packages", installed.extend)
    monkeypatch.setattr(machine, "may_install_packages", lambda: False)
    with pytest.raises(machine.SetupError, match=r"libGL\.so\.1[\s\S]*apt-get install libgl1"):
        machine.ensure_libraries(screen=False)
    monkeypatch.setattr(machine, "may_install_packages", lambda: True)
    machine.ensure_libraries(screen=False)
    assert installed == ["libgl1"]


def test_a_python_that_cannot_make_environments_is_told_what_to_install(
    machine: ModuleType, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(machine.importlib.util, "find_spec", lambda name: None)
    monkeypatch.setattr(machine, "may_install_packages", lambda: False)
    with pytest.raises(machine.SetupError, match="apt-get install python3-venv"):
        machine.make_environment(tmp_path)


def test_a_finished_environment_needs_no_work(machine: ModuleType, project: Path) -> None:
    assert machine.is_ready(project, "run")
    assert not machine.is_ready(project, "test")
    machine.write_stamp(project, "test")
    assert machine.is_ready(project, "run")
    assert machine.is_ready(project, "test")


def change_pin(project: Path) -> None:
    (project / "packaging" / "requirements.txt").write_text("Grape_Sort==1.1\n", encoding="utf-8")


def change_project(project: Path) -> None:
    (project / "pyproject.toml").write_text('[project]\nname = "vinemap"\ndependencies = ["press"]\n', encoding="utf-8")


def lose_python(project: Path) -> None:
    shutil.rmtree(project / ".venv" / ("Scripts" if os.name == "nt" else "bin"))


def lose_library(project: Path) -> None:
    next(project.glob(".venv/**/grape_sort-1.0.dist-info")).rmdir()


def lose_vinemap(project: Path) -> None:
    next(project.glob(".venv/**/vinemap-0.1.0.dist-info")).rmdir()


def spoil_stamp(project: Path) -> None:
    (project / ".venv" / "vinemap-ready.json").write_text('{"made"', encoding="utf-8")


def other_python(project: Path) -> None:
    (project / ".venv" / "vinemap-ready.json").write_text(json.dumps({"made": "cpython-310"}), encoding="utf-8")


@pytest.mark.parametrize(
    ("harm", "rebuilt"),
    [
        (change_pin, False),
        (change_project, False),
        (lose_library, False),
        (lose_vinemap, False),
        (lose_python, True),
        (spoil_stamp, True),
        (other_python, True),
    ],
)
def test_what_changed_is_mended(
    machine: ModuleType, project: Path, monkeypatch: pytest.MonkeyPatch, harm: object, rebuilt: bool
) -> None:
    done: list[str] = []
    monkeypatch.setattr(machine, "make_environment", lambda root: done.append("made"))
    monkeypatch.setattr(machine, "install_libraries", lambda python, root, kind: done.append("installed"))
    harm(project)
    assert not machine.is_ready(project, "run")
    machine.ensure_environment("run", project)
    assert done == (["made", "installed"] if rebuilt else ["installed"])


def test_a_moved_folder_is_set_up_anew(machine: ModuleType, project: Path) -> None:
    moved = project.rename(project.with_name("young vines"))
    assert machine.read_stamp(moved) == {}


@pytest.mark.parametrize("end", [KeyboardInterrupt, OSError("disk full")])
def test_an_interrupted_installation_is_never_taken_for_whole(
    machine: ModuleType,
    project: Path,
    monkeypatch: pytest.MonkeyPatch,
    end: BaseException,
    capsys: pytest.CaptureFixture[str],
) -> None:
    def stop(python: Path, root: Path, kind: str) -> None:
        raise end

    change_pin(project)
    monkeypatch.setattr(machine, "install_libraries", stop)
    assert machine.guarded(lambda: machine.ensure_environment("run", project)) == (130 if end is KeyboardInterrupt else 1)
    assert capsys.readouterr().err.strip().splitlines()[-1].startswith(("Stopped.", "Something on this computer"))
    assert machine.read_stamp(project) == {}


def test_a_failed_installer_shows_its_last_words(machine: ModuleType) -> None:
    seen: list[str] = []
    program = "import sys; print('one'); print('no room on the disk'); sys.exit(3)"
    with pytest.raises(machine.SetupError, match=r"Pressing failed[\s\S]*no room on the disk"):
        machine.run_quietly([sys.executable, "-c", program], "Pressing", seen.append)
    assert seen == ["one\n", "no room on the disk\n"]


def test_words_about_fetching(machine: ModuleType, capsys: pytest.CaptureFixture[str]) -> None:
    for line in (
        "Collecting Grape_Sort==1.0 (from x)\n",
        "  Downloading y\n",
        "Collecting other==1\n",
        "Installing collected: z\n",
    ):
        machine.show_fetched(line, {"grape-sort": "1.0"})
    assert capsys.readouterr().out == "  Grape_Sort\nUnpacking them ...\n"


@pytest.fixture
def ran(machine: ModuleType, monkeypatch: pytest.MonkeyPatch) -> list[list[str]]:
    """Commands that would have been run, with the computer already set up."""
    commands: list[list[str]] = []

    def run(command: list[str], **options: object) -> subprocess.CompletedProcess[str]:
        commands.append(command)
        return subprocess.CompletedProcess(command, 0)

    monkeypatch.setattr(machine, "ensure_libraries", lambda screen: None)
    monkeypatch.setattr(machine, "ensure_environment", lambda kind: Path("python"))
    monkeypatch.setattr(subprocess, "run", run)
    return commands


def test_without_a_screen_the_sample_sheets_are_made(
    machine: ModuleType, ran: list[list[str]], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(machine, "has_screen", lambda platform, environ: False)
    assert load("run").main([]) == 0
    season = str(Path("vinemap-out") / "marlquill.vinemap")
    assert [command[4:] for command in ran] == [
        ["sample", "vinemap-out"],
        ["field", "--season", season, "--round", "2", "--out", str(Path("vinemap-out") / "field.csv")],
        ["rank", "--season", season, "--round", "2", "--out", str(Path("vinemap-out") / "rank.csv")],
        ["paper", "--season", season, "--round", "2", "--out", "vinemap-out"],
    ]
    assert capsys.readouterr().out.startswith("There is no screen here: ")


def test_with_a_screen_the_window_gets_the_season(
    machine: ModuleType, ran: list[list[str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    opened: list[list[str]] = []
    run = load("run")
    monkeypatch.setattr(machine, "has_screen", lambda platform, environ: True)
    monkeypatch.setattr(run, "open_window", lambda python, arguments: len(opened.append(arguments) or []))
    assert run.main(["mine.vinemap"]) == 0
    assert run.main([]) == 0
    assert opened == [["mine.vinemap"], []]
    assert ran == []
    assert run.main(["--out", "here"]) == 0
    assert ran[0][4:] == ["sample", "here"]


def test_a_season_cannot_be_opened_without_a_screen(
    machine: ModuleType, ran: list[list[str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(machine, "has_screen", lambda platform, environ: False)
    with pytest.raises(machine.SetupError, match=r"no screen here .* mine\.vinemap cannot be opened"):
        load("run").main(["mine.vinemap"])
    assert ran == []


def test_every_check_runs_and_the_failed_ones_are_named(
    machine: ModuleType, ran: list[list[str]], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    test = load("test")
    assert test.main() == 0
    assert [heading for heading, _ in test.checks(ROOT)] == [
        "ruff check",
        "ruff format",
        "mypy",
        "import directions",
        "pytest",
    ]
    assert len(ran) == 5
    assert not capsys.readouterr().out.rstrip().splitlines()[-1].startswith("Failed")
    codes = iter([1, 0, 0, 2, 0])
    monkeypatch.setattr(subprocess, "run", lambda command, **options: subprocess.CompletedProcess(command, next(codes)))
    assert test.main() == 1
    assert capsys.readouterr().out.splitlines()[-1] == "Failed: ruff check, import directions"
