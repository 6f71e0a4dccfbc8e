"""A variogram as somebody writes it in one word: MODEL:NUGGET:SILL:RANGE[:RATIO[:BEARING]]."""

from __future__ import annotations

import re

from vinemap.errors import InputError
from vinemap.service.report import counted
from vinemap.surface.variogram import KINDS, Variogram, range_of_scale

PARTS = ("nugget", "sill", "range", "ratio", "bearing")
LEAST_PARTS = 3
WRITTEN = "MODEL:NUGGET:SILL:RANGE[:RATIO[:BEARING]]"
EXAMPLE = "exponential:0.2:1.4:30 or exponential:0.2:1.4:30:0.5:12"
_NUMBER = re.compile(r"[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]{1,3})?")
LEAST_SILL, MOST_SILL = 1e-30, 1e30
LEAST_M, MOST_M = 1e-3, 1e9
"""Ranges from what counts as one place to beyond the earth; larger figures can't be squared."""
MOST_DEG = 1e6


def read_variogram(text: str, bearing_deg: float) -> Variogram:
    """The variogram written in ``text``; ``bearing_deg`` [degrees] where it names none.

    RANGE is in metres, as ``Variogram`` has it; after ``MODEL!`` it is the model's own scale parameter. Raises InputError
    that says which part is wrong and why.
    """
    model, *written = [part.strip() for part in text.split(":")]
    if not LEAST_PARTS <= len(written) <= len(PARTS):
        has = f"it has {counted(len(written) + 1, 'part')} instead of {LEAST_PARTS + 1} to {len(PARTS) + 1}"
        raise _refused(text, has, f"Write it as {WRITTEN}, such as {EXAMPLE}.")
    kind = model.removesuffix("!")
    if kind not in KINDS:
        raise _refused(text, f"part 1, “{model}”, is not a model", f"Choose one of: {', '.join(KINDS)}.")
    nugget, sill, range_m, *turned = (_figure(text, place, part) for place, part in enumerate(written))
    ratio, bearing_deg = (*turned, *(1.0, bearing_deg)[len(turned) :])
    if sill <= 0.0:
        raise _refused(text, f"the sill, {sill:g}, must be above 0", "It is the whole variance, nugget included.")
    if not 0.0 <= nugget <= sill:
        why = f"the nugget, {nugget:g}, must lie between 0 and the sill, {sill:g}"
        raise _refused(text, why, "The sill is the whole variance, nugget included.")
    for name, figure in (("range", range_m), ("ratio", ratio)):
        if figure <= 0.0:
            do = "Give metres." if name == "range" else "It is the range across over the range along."
            raise _refused(text, f"the {name}, {figure:g}, must be above 0", do)
    if model != kind:
        range_m = range_of_scale(kind, range_m)
    if not LEAST_SILL <= sill <= MOST_SILL:
        raise _refused(text, f"the sill, {sill:g}, must be from {LEAST_SILL:g} to {MOST_SILL:g}", "Use other units.")
    for name, reach_m in (("range", range_m), ("range across, RANGE times RATIO,", range_m * ratio)):
        if not LEAST_M <= reach_m <= MOST_M:
            raise _refused(text, f"the {name} is {reach_m:g} m, and must be from {LEAST_M:g} to {MOST_M:g} m", "Give metres.")
    if not abs(bearing_deg) <= MOST_DEG:
        raise _refused(text, f"the bearing, {bearing_deg:g}, is far too large", "Give degrees clockwise from grid north.")
    return Variogram(kind, nugget, sill, range_m, ratio, bearing_deg)


def variogram_words(variogram: Variogram) -> str:
    """The variogram in words."""
    return (
        f"{variogram.kind}, nugget {variogram.nugget:.4g}, sill {variogram.sill:.4g}, range {variogram.range_m:.4g} m along "
        f"bearing {variogram.bearing_deg:g} and {variogram.range_across_m:.4g} m across"
    )


def _figure(text: str, place: int, part: str) -> float:
    where = f"part {place + 2}, the {PARTS[place]},"
    if not part:
        raise _refused(text, f"{where} is empty", "Fill it in.")
    if "," in part and _NUMBER.fullmatch(part.replace(",", ".", 1)):
        raise _refused(text, f"{where} is “{part}”", f"Write a decimal point: {part.replace(',', '.', 1)}.")
    if not _NUMBER.fullmatch(part):
        raise _refused(text, f"{where} is “{part}”, which is not a number", "Write digits, such as 12.5, without units.")
    return float(part)


def _refused(text: str, why: str, do: str) -> InputError:
    return InputError(f"The variogram “{text}” can't be used: {why}.", do)
