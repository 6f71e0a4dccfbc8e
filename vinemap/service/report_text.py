"""The report of what came in, what was mended and what was left out, as plain text to keep."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from vinemap.errors import Problem
from vinemap.files.repairs import Mended
from vinemap.service.report import Report

_PARTS = (("file", "file"), ("where", "place"), ("column", "field"), ("value", "value"), ("why", "why"), ("do", "do"))


def report_text(report: Report, mended: Sequence[Mended], could: Sequence[str], when: dt.datetime) -> str:
    """The report: what came in, how it was read, what was mended, what could be, and each thing left out in full."""
    parts = [f"Vinemap, {when:%Y-%m-%d %H:%M}"]
    parts += _listed("Came in", report.kept)
    parts += _listed("How it was read", report.notes)
    parts += _listed("Mended", [str(each) for each in mended])
    parts += _listed("Could be mended", could)
    parts += ["", f"Left out: {len(report.problems)}"]
    for number, problem in enumerate(report.problems, start=1):
        parts += ["", f"{number}.", *_in_full(problem)]
    return "\n".join(parts) + "\n"


def _listed(title: str, lines: Sequence[str]) -> list[str]:
    return ["", f"{title}:", *(f"  {' '.join(line.split())}" for line in lines)] if lines else []


def _in_full(problem: Problem) -> list[str]:
    told = [(word, " ".join(str(getattr(problem, name)).split())) for word, name in _PARTS]
    return [f"  {word + ':':<8}{text}" for word, text in told if text]
