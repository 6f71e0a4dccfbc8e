"""How a field came about: scores and columns tried as lines to read, and everything as JSON for other programs."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from pathlib import Path

from scipy.special import expit

from vinemap.files.text import write_text
from vinemap.service.plain_kriging import ValuesDone
from vinemap.surface.choose import Score
from vinemap.surface.drifts import Tried
from vinemap.surface.field import AUTO, Field, Recipe
from vinemap.surface.options import BLOCK
from vinemap.surface.variogram import Variogram

LAYOUT = 1
Z_90 = 1.6448536269514722
"""Deviations of a normal on either side of its middle that hold 90 %."""
SCORE_HEAD = ("method", "log chance per left-out stop", "gain over the block's own share", "standard error of the gain")
TRIED_HEAD = ("column", "gain in log chance per left-out stop", "used")

Facts = dict[str, object]


def score_lines(scores: Sequence[Score]) -> list[str]:
    """The scores as aligned columns under a head; nothing where there are none."""
    rows = []
    for score in scores:
        name = "the block's own share" if score.method == BLOCK else score.method
        rows.append((name, f"{score.log_chance:.4f}", f"{score.gain:+.4f}", f"{score.gain_se:.4f}"))
    return _aligned(SCORE_HEAD, rows)


def tried_lines(tried: Sequence[Tried]) -> list[str]:
    """The columns that were tried, and which of them helped; nothing where there are none."""
    return _aligned(TRIED_HEAD, [(each.name, f"{each.gain:+.4f}", "yes" if each.is_used else "no") for each in tried])


def _aligned(head: Sequence[str], rows: Sequence[Sequence[str]]) -> list[str]:
    if not rows:
        return []
    widths = [max(len(row[place]) for row in (head, *rows)) for place in range(len(head))]
    return [
        "  ".join([row[0].ljust(widths[0]), *(cell.rjust(wide) for cell, wide in zip(row[1:], widths[1:], strict=True))])
        for row in (head, *rows)
    ]


def field_facts(field: Field, asked: str) -> Facts:
    """Everything that is known of how one field came about when method ``asked`` was, by full words with units."""
    recipe = field.recipe
    return {
        "method_used": recipe.method,
        "why": recipe.notes[0] if asked == AUTO else "It was asked for.",
        "notes": list(recipe.notes),
        "stops": recipe.stops,
        "clusters_examined": recipe.examined,
        "clusters_infected": int(field.counts.infected.sum()),
        "row_bearing_degrees": recipe.bearing_deg,
        "scores": [
            {
                "method": score.method,
                "log_chance_per_left_out_stop": score.log_chance,
                "gain_over_block_share": score.gain,
                "gain_standard_error": score.gain_se,
            }
            for score in recipe.scores
        ],
        "columns_tried": [
            {"column": each.name, "gain_in_log_chance_per_left_out_stop": each.gain, "is_used": each.is_used}
            for each in recipe.tried
        ],
        "chance_of_no_pattern": recipe.no_pattern_chance,
        "parameters": _parameters(recipe),
        "variogram_used": _variogram(recipe.variogram),
    }


def _parameters(recipe: Recipe) -> Facts:
    """Value and 90 % interval of each parameter: as learned if there is a pattern, else as the variogram has it."""
    found: dict[str, tuple[float | None, float | None, float | None]] = {
        "level_share": (float(expit(recipe.block_logit)), None, None),
        "level_logit": (recipe.block_logit, None, None),
    }
    middle, sd = recipe.learned
    curve = recipe.variogram
    if middle:
        ends = [(m, m - Z_90 * s, m + Z_90 * s) for m, s in zip(middle, sd, strict=True)]
        log_spread, share_logit, log_range, log_ratio = ends
        sill = math.exp(2.0 * middle[0])
        share, least, most = (float(expit(end)) for end in share_logit)
        found |= {
            "spread_between_vines_logit": _natural(log_spread),
            "share_that_neighbours_share": (share, least, most),
            "range_along_rows_metres": _natural(log_range),
            "range_across_rows_metres": (math.exp(middle[2] + middle[3]), None, None),
            "range_across_over_along": _natural(log_ratio),
            "nugget_logit_squared": (sill * (1.0 - share), None, None),
            "sill_logit_squared": _natural((2.0 * log_spread[0], 2.0 * log_spread[1], 2.0 * log_spread[2])),
        }
    elif curve is not None:
        single = {
            "spread_between_vines_logit": math.sqrt(curve.sill),
            "share_that_neighbours_share": curve.structured_sill / curve.sill,
            "range_along_rows_metres": curve.range_m,
            "range_across_rows_metres": curve.range_across_m,
            "range_across_over_along": curve.ratio,
            "nugget_logit_squared": curve.nugget,
            "sill_logit_squared": curve.sill,
        }
        found |= {name: (value, None, None) for name, value in single.items()}
    else:
        found["spread_between_vines_logit"] = (recipe.between_sd, None, None)
    return {name: {"value": value, "low": low, "high": high} for name, (value, low, high) in found.items()}


def _natural(ends: tuple[float, float, float]) -> tuple[float, float, float]:
    return math.exp(ends[0]), math.exp(ends[1]), math.exp(ends[2])


def _variogram(curve: Variogram | None) -> Facts | None:
    if curve is None:
        return None
    return {
        "model": curve.kind,
        "nugget": curve.nugget,
        "sill": curve.sill,
        "range_along_bearing_metres": curve.range_m,
        "range_across_bearing_metres": curve.range_across_m,
        "bearing_degrees": curve.bearing_deg,
    }


def value_facts(done: ValuesDone) -> Facts:
    """Everything that is known of how a plain number was kriged."""
    return {
        "method_used": "kriging" if done.variogram else "mean",
        "notes": list(done.notes),
        "values": done.values,
        "mean": done.mean,
        "sample_variance": done.variance,
        "variogram_used": _variogram(done.variogram),
    }


def write_report(path: Path, facts: Facts) -> None:
    """Write facts as JSON (RFC 8259); what is not a number is null. Raises FileError when it can't be written."""
    text = json.dumps(_plain({"layout": LAYOUT, **facts}), ensure_ascii=False, allow_nan=False, indent=1)
    write_text(path, f"{text}\n")


def _plain(value: object) -> object:
    if isinstance(value, dict):
        return {str(key): _plain(each) for key, each in value.items()}
    if isinstance(value, list):
        return [_plain(each) for each in value]
    return None if isinstance(value, float) and not math.isfinite(value) else value
