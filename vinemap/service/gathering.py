"""Features left out for the very same reason are told together, so that one fault of a file is one line."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import groupby

from vinemap.errors import Problem

_FEATURE = re.compile(r"(?P<layer>.*, )?feature (?P<number>[0-9]+)(, .*)?", re.DOTALL)
_LEAST = 3
"""As many are told together; two are told one by one, with their names."""


def gathered(problems: Iterable[Problem]) -> list[Problem]:
    """The problems with runs of features that have one fault made one each: features 1 to 10."""
    made: list[Problem] = []
    for key, run in groupby(problems, _fault):
        some = list(run)
        if key is None or len(some) < _LEAST:
            made += some
        else:
            made.append(replace(some[0], place=_places(some)))
    return made


def _fault(problem: Problem) -> tuple[str, ...] | None:
    match = _FEATURE.fullmatch(problem.place)
    if match is None:
        return None
    return problem.file, match["layer"] or "", problem.field, problem.value, problem.why, problem.do


def _places(problems: Sequence[Problem]) -> str:
    found = [match for each in problems if (match := _FEATURE.fullmatch(each.place)) is not None]
    numbers = [int(match["number"]) for match in found]
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    told = [str(run[0]) if len(run) == 1 else f"{run[0]} to {run[-1]}" for run in runs]
    return f"{found[0]['layer'] or ''}features {', '.join(told)}"
