"""Check Vinemap: make this computer ready the first time, then run every check in order.

python3 packaging/test.py
"""

import sys

if sys.version_info < (3, 11):  # noqa: UP036 - an older Python has to be able to read this far
    sys.exit(
        f"Vinemap needs Python 3.11 or newer; this is Python {sys.version_info[0]}.{sys.version_info[1]}. "
        "Install a newer one and start this with it, for example: python3.12 packaging/test.py"
    )

import os
import subprocess
from pathlib import Path

import machine


def checks(root: Path) -> list[tuple[str, list[str]]]:
    """Return (heading, command) of each check, in the order they run."""
    python = str(machine.environment_program(root, "python"))
    return [
        ("ruff check", [python, "-m", "ruff", "check"]),
        ("ruff format", [python, "-m", "ruff", "format", "--check"]),
        ("mypy", [python, "-m", "mypy"]),
        ("import directions", [str(machine.environment_program(root, "lint-imports")), "--no-logo"]),
        ("pytest", [python, "-m", "pytest", "-n", "2", "tests", "--ignore=tests/benchmarks"]),
    ]


def main() -> int:
    """Run every check, also after one failed; returns 1 when any failed."""
    machine.ensure_libraries(screen=False)
    machine.ensure_environment("test")
    environ = os.environ | {"QT_QPA_PLATFORM": "offscreen"}
    failed = []
    for heading, command in checks(machine.ROOT):
        machine.say(f"\n== {heading} ==")
        if subprocess.run(command, cwd=machine.ROOT, env=environ, check=False).returncode:
            failed.append(heading)
    if failed:
        # After the last check, so that pytest's own closing line stays in sight just above.
        machine.say(f"Failed: {', '.join(failed)}")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(machine.guarded(main))
