"""Make this computer ready for Vinemap: the shared libraries Qt draws with, and a virtual environment of pinned libraries.

Standard library only. Everything lands in ``.venv`` at the top of the project; removing that folder undoes all of it.
"""

from __future__ import annotations

import ctypes
import hashlib
import importlib.util
import json
import os
import re
import shutil
import subprocess
import sys
import sysconfig
import tomllib
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
STAMP = "vinemap-ready.json"

# The set "test" holds everything that "run" does.
REQUIREMENTS = {
    "run": ("requirements-build.txt", "requirements.txt"),
    "test": ("requirements-build.txt", "requirements.txt", "requirements-test.txt"),
}

# Shared library -> Debian package, measured on a bare Debian 12.
DRAWING_LIBRARIES = {
    "libEGL.so.1": "libegl1",
    "libGL.so.1": "libgl1",
    "libxkbcommon.so.0": "libxkbcommon0",
    "libfontconfig.so.1": "libfontconfig1",
    "libdbus-1.so.3": "libdbus-1-3",
    "libexpat.so.1": "libexpat1",
    "libglib-2.0.so.0": "libglib2.0-0",
}
SCREEN_LIBRARIES = {
    "libxcb-cursor.so.0": "libxcb-cursor0",
    "libxcb-icccm.so.4": "libxcb-icccm4",
    "libxcb-keysyms.so.1": "libxcb-keysyms1",
    "libxcb-shape.so.0": "libxcb-shape0",
    "libxkbcommon-x11.so.0": "libxkbcommon-x11-0",
}


class SetupError(Exception):
    """This computer could not be made ready; the text says why and what to do."""


def say(words: str) -> None:
    """Tell the person at the keyboard something, at once."""
    print(words, flush=True)


def has_screen(platform: str, environ: Mapping[str, str]) -> bool:
    """Tell whether a window can be opened: Linux needs a display by name, other systems always have one."""
    if not platform.startswith("linux"):
        return True
    return bool(environ.get("DISPLAY") or environ.get("WAYLAND_DISPLAY"))


def wanted_libraries(platform: str, screen: bool) -> dict[str, str]:
    """Return {shared library: Debian package} that Qt needs here; other systems carry their own."""
    if not platform.startswith("linux"):
        return {}
    return DRAWING_LIBRARIES | (SCREEN_LIBRARIES if screen else {})


def missing_libraries(wanted: Mapping[str, str], load: Callable[[str], object] = ctypes.CDLL) -> dict[str, str]:
    """Return the part of `wanted` that cannot be loaded."""
    missing = {}
    for library, package in wanted.items():
        try:
            load(library)
        except OSError:
            missing[library] = package
    return missing


def may_install_packages() -> bool:
    """Tell whether this is a Debian-like system and we run as its administrator."""
    return hasattr(os, "geteuid") and os.geteuid() == 0 and shutil.which("apt-get") is not None


def install_packages(packages: Sequence[str]) -> None:
    """Install Debian packages. Raises SetupError."""
    say(f"Installing {', '.join(packages)} ...")
    environ = os.environ | {"DEBIAN_FRONTEND": "noninteractive"}
    for command in (["update"], ["install", "-y", "--no-install-recommends", *packages]):
        done = subprocess.run(["apt-get", "-q", *command], env=environ, capture_output=True, text=True, check=False)
    if done.returncode:
        raise SetupError(
            f"Installing {', '.join(packages)} failed. The last it said:\n{last_lines(done.stdout + done.stderr)}"
        )


def library_words(missing: Mapping[str, str]) -> str:
    """Say which shared libraries are missing and how to get them."""
    return (
        f"Vinemap draws with Qt, and Qt needs shared libraries that are missing here: {', '.join(missing)}.\n"
        f"On Debian and Ubuntu:  sudo apt-get install {' '.join(missing.values())}\n"
        "Other systems: install the packages that hold these files. Then start this again."
    )


def ensure_libraries(screen: bool) -> None:
    """Find the shared libraries Qt needs; as administrator of a Debian system, install what is missing. Raises SetupError."""
    wanted = wanted_libraries(sys.platform, screen)
    missing = missing_libraries(wanted)
    if missing and may_install_packages():
        install_packages(list(missing.values()))
        missing = missing_libraries(wanted)
    if missing:
        raise SetupError(library_words(missing))


def environment_program(root: Path, name: str) -> Path:
    """Return the path of a program inside the virtual environment."""
    if os.name == "nt":
        return root / ".venv" / "Scripts" / f"{name}.exe"
    return root / ".venv" / "bin" / name


def program_environ(root: Path = ROOT) -> dict[str, str]:
    """Return the environment variables Vinemap starts with."""
    # Before Python 3.13, Windows misreads an installed folder's name when it has accents, so it is named outright.
    return os.environ | {"PYTHONPATH": str(root)}


def pins(root: Path, kind: str) -> dict[str, str]:
    """Return {library name in lower case with hyphens: version} pinned for every system."""
    found = {}
    for file in REQUIREMENTS[kind]:
        for line in (root / "packaging" / file).read_text(encoding="utf-8").splitlines():
            pin = re.fullmatch(r"([A-Za-z0-9._-]+)==(\S+)", line.strip())
            if pin:
                found[plain_name(pin[1])] = pin[2]
    return found


def plain_name(name: str) -> str:
    """Return a library's name in lower case with hyphens, the form in which names are compared."""
    return re.sub(r"[-_.]+", "-", name).lower()


def build_mark(root: Path) -> str:
    """Name what the environment is bound to: where it lies and which Python made it."""
    return f"{root} {sys.implementation.cache_tag}{getattr(sys, 'abiflags', '')} {sysconfig.get_platform()}"


def fingerprint(root: Path, kind: str) -> str:
    """Return a digest of all that decides what is installed: the pins and what pyproject.toml says of the project."""
    digest = hashlib.sha256()
    for file in REQUIREMENTS[kind]:
        digest.update((root / "packaging" / file).read_text(encoding="utf-8").encode())
    project = tomllib.loads((root / "pyproject.toml").read_text(encoding="utf-8"))
    said = [project.get("build-system"), project.get("project"), project.get("tool", {}).get("hatch")]
    digest.update(json.dumps(said, sort_keys=True).encode())
    return digest.hexdigest()


def read_stamp(root: Path) -> dict[str, str]:
    """Return what the environment was last made from; empty when it was never finished, moved, or made by another Python."""
    try:
        stamp = json.loads((root / ".venv" / STAMP).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    usable = (
        isinstance(stamp, dict) and stamp.get("made") == build_mark(root) and environment_program(root, "python").exists()
    )
    return stamp if usable else {}


def write_stamp(root: Path, kind: str) -> None:
    """Note that the environment is whole."""
    kinds = ("run", "test") if kind == "test" else ("run",)
    stamp = {"made": build_mark(root)} | {each: fingerprint(root, each) for each in kinds}
    (root / ".venv" / STAMP).write_text(json.dumps(stamp, indent=1), encoding="utf-8")


def absent_libraries(root: Path, kind: str) -> set[str]:
    """Return the pinned libraries of which the environment holds no trace, or another version."""
    version = f"python{sys.version_info.major}.{sys.version_info.minor}"
    lib = root / ".venv" / ("Lib" if os.name == "nt" else f"lib/{version}") / "site-packages"
    here = {tuple(path.name.removesuffix(".dist-info").split("-", 1)) for path in lib.glob("*.dist-info")}
    installed = {plain_name(name): number for name, number in (pair for pair in here if len(pair) == 2)}
    return {name for name, number in pins(root, kind).items() if installed.get(name) != number} | (
        {"vinemap"} - installed.keys()
    )


def is_ready(root: Path, kind: str) -> bool:
    """Tell whether the environment needs no work at all."""
    return read_stamp(root).get(kind) == fingerprint(root, kind) and not absent_libraries(root, kind)


def ensure_environment(kind: str, root: Path = ROOT) -> Path:
    """Make ``.venv`` hold the set `kind` ("run" or "test") and return its Python. Raises SetupError."""
    python = environment_program(root, "python")
    if is_ready(root, kind):
        return python
    whole = bool(read_stamp(root))
    if whole:
        say("Bringing the libraries up to date ...")
        (root / ".venv" / STAMP).unlink()
    else:
        say("Setting Vinemap up. This is done once; it fetches some 300 MB and takes a few minutes.")
        make_environment(root)
    install_libraries(python, root, kind)
    write_stamp(root, kind)
    say("Ready.")
    return python


def make_environment(root: Path) -> None:
    """Make an empty virtual environment in place of whatever lies there. Raises SetupError."""
    if importlib.util.find_spec("ensurepip") is None or importlib.util.find_spec("venv") is None:
        if not may_install_packages():
            raise SetupError(
                "This Python cannot make virtual environments.\n"
                "On Debian and Ubuntu:  sudo apt-get install python3-venv\nThen start this again."
            )
        install_packages(["python3-venv"])
    venv = root / ".venv"
    try:
        if venv.is_symlink() or venv.is_file():
            venv.unlink()
        elif venv.exists():
            shutil.rmtree(venv)
    except OSError as error:
        raise SetupError(f"The folder {venv} cannot be replaced ({error}). Close Vinemap, then start this again.") from error
    # From inside an environment the Python below it is asked, so that a broken one can be replaced.
    base = getattr(sys, "_base_executable", None) or sys.executable
    run_quietly([base, "-I", "-m", "venv", str(venv)], "Making the virtual environment")


def install_libraries(python: Path, root: Path, kind: str) -> None:
    """Install the pinned libraries and then the project itself, in place. Raises SetupError."""
    pip = [str(python), "-I", "-m", "pip", "install", "--no-input", "--disable-pip-version-check", "--progress-bar", "off"]
    files = [part for file in REQUIREMENTS[kind] for part in ("-r", str(root / "packaging" / file))]
    say("Fetching libraries:")
    names = pins(root, kind)
    run_quietly([*pip, "--prefer-binary", *files], "Installing the libraries", lambda line: show_fetched(line, names))
    say("Putting Vinemap itself in place ...")
    run_quietly([*pip, "--no-build-isolation", "--no-deps", "-e", str(root)], "Installing Vinemap")


def show_fetched(line: str, names: Mapping[str, str]) -> None:
    """Show one line of the installer in a grower's words: the name of each library as its turn comes."""
    collecting = re.match(r"Collecting ([A-Za-z0-9._-]+?)==", line)
    if collecting and plain_name(collecting[1]) in names:
        print(f"  {collecting[1]}", flush=True)
    elif line.startswith("Installing collected"):
        say("Unpacking them ...")


def run_quietly(command: Sequence[str], what: str, see: Callable[[str], None] | None = None) -> None:
    """Run a program without its chatter, handing each line to `see`. Raises SetupError with its last lines when it fails."""
    said: list[str] = []
    try:
        with subprocess.Popen(
            command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, encoding="utf-8", errors="replace"
        ) as running:
            assert running.stdout is not None
            for line in running.stdout:
                said.append(line)
                if see is not None:
                    see(line)
    except OSError as error:
        raise SetupError(f"{what} could not be started: {error}.") from error
    if running.returncode:
        raise SetupError(
            f"{what} failed. Check that the network works and the disk has room, then start this again.\n"
            f"The libraries are tried on Python 3.11 to 3.13; this is {sys.version_info.major}.{sys.version_info.minor}.\n"
            f"The last it said:\n{last_lines(''.join(said))}"
        )


def last_lines(text: str, count: int = 12) -> str:
    """Return the last lines of a program's words, indented."""
    return "\n".join(f"  {line}" for line in text.strip().splitlines()[-count:])


def guarded(job: Callable[[], int]) -> int:
    """Run a job and turn what a person can mend into words; returns the exit code."""
    try:
        return job()
    except SetupError as error:
        print(error, file=sys.stderr, flush=True)
        return 1
    except OSError as error:
        print(f"Something on this computer stood in the way: {error}", file=sys.stderr, flush=True)
        return 1
    except KeyboardInterrupt:
        print("\nStopped. Start it again and it goes on.", file=sys.stderr, flush=True)
        return 130
