"""Open Vinemap: make this computer ready the first time, then show the window.

python3 packaging/run.py                  the window, with the sample season
python3 packaging/run.py MY.vinemap       the window, with a season of your own
python3 packaging/run.py --out FOLDER     no window: the sample season and its sheets into FOLDER
"""

import sys

if sys.version_info < (3, 11):  # noqa: UP036 - an older Python has to be able to read this far
    sys.exit(
        f"Vinemap needs Python 3.11 or newer; this is Python {sys.version_info[0]}.{sys.version_info[1]}. "
        "Install a newer one and start this with it, for example: python3.12 packaging/run.py"
    )

import argparse
import os
import subprocess
from pathlib import Path

import machine

SAMPLE = "marlquill.vinemap"


def sample_commands(folder: str) -> list[list[str]]:
    """Return the commands that make the sample season and everything it prints in `folder`."""
    season = str(Path(folder) / SAMPLE)
    which = ["--season", season, "--round", "2", "--out"]
    return [
        ["sample", folder],
        ["field", *which, str(Path(folder) / "field.csv")],
        ["rank", *which, str(Path(folder) / "rank.csv")],
        ["paper", *which, folder],
    ]


def make_sample(python: Path, folder: str, why: str) -> int:
    """Make the sample season, its field, its ranking and its sheets; returns the exit code."""
    environ = machine.program_environ() | {"QT_QPA_PLATFORM": "offscreen"}
    for command in sample_commands(folder):
        done = subprocess.run([str(python), "-P", "-m", "vinemap", *command], env=environ, check=False)
        if done.returncode:
            print(f"Stopped at: vinemap {' '.join(command)}", file=sys.stderr, flush=True)
            return done.returncode
    machine.say(
        f"{why}: instead of opening the window, Vinemap made its invented sample season in {folder}, with the season file "
        f"{SAMPLE}, the incidence at every vine (field.csv), the rows in order (rank.csv) and the sheets to print (PDF)."
    )
    return 0


def open_window(python: Path, arguments: list[str]) -> int:
    """Show the window; where the system allows, this program becomes the window."""
    command = [str(python), "-P", "-m", "vinemap", "desk", *arguments]
    if os.name == "nt":
        return subprocess.call(command, env=machine.program_environ())
    sys.stdout.flush()
    os.execve(command[0], command, machine.program_environ())


def main(arguments: list[str]) -> int:
    """Make this computer ready and open the window, or make the sample sheets; returns the exit code."""
    parser = argparse.ArgumentParser(prog="run.py", description="Open Vinemap; the first start also sets it up.")
    parser.add_argument("--out", metavar="FOLDER", help="no window: write the sample season and its sheets to FOLDER")
    chosen, others = parser.parse_known_args(arguments)
    screen = machine.has_screen(sys.platform, os.environ)
    windowed = screen and chosen.out is None
    if others and not windowed:
        why = "--out makes the sample season only" if screen else "There is no screen here to open a window on"
        raise machine.SetupError(
            f"{why}, so {' '.join(others)} cannot be opened. For sheets of your own season: "
            "vinemap paper --season FILE --round NUMBER --out FOLDER"
        )
    machine.ensure_libraries(windowed)
    python = machine.ensure_environment("run")
    if windowed:
        return open_window(python, others)
    why = "There is no screen here" if chosen.out is None else "No window, as --out asks"
    return make_sample(python, chosen.out or "vinemap-out", why)


if __name__ == "__main__":
    sys.exit(machine.guarded(lambda: main(sys.argv[1:])))
