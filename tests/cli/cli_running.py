"""The command line, run in this process."""

from __future__ import annotations

import contextlib
import io
from collections.abc import Callable
from dataclasses import dataclass

from vinemap.cli import main


@dataclass(frozen=True)
class Said:
    """How a command ended and what it said."""

    code: int
    out: str
    err: str


Run = Callable[..., Said]


def run_command(*arguments: object) -> Said:
    """Run one command as a shell would, without leaving this process."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = main([str(each) for each in arguments])
    return Said(code, out.getvalue(), err.getvalue())
