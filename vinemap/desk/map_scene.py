"""What the map shows, as one frozen value. Equality is identity: the same blocks are never drawn twice."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from vinemap.columns import Bytes, Floats, Ints, freeze
from vinemap.desk.underlay import Underlay
from vinemap.ground.block import Block, Vines
from vinemap.ground.edges import Edge
from vinemap.sheets.ink import INCIDENCE_TOP, LIGHT, Ink
from vinemap.sheets.marks import Page

KNOWN, UNSURE, NOT_KNOWN = 0, 1, 2
"""Codes of ``certainty``: the ink whole, worn, gone."""

GROUND, WALK, READ, WORK = "ground", "walk", "read", "work"


@dataclass(frozen=True, slots=True, eq=False)
class StopMarks:
    """Stops (n,): place [m], clusters ``examined`` and ``infected``."""

    x_m: Floats
    y_m: Floats
    examined: Ints
    infected: Ints

    def __post_init__(self) -> None:
        freeze(self, x_m=np.float64, y_m=np.float64, examined=np.int32, infected=np.int32)

    def __len__(self) -> int:
        return len(self.x_m)


def no_stops() -> StopMarks:
    """No stop at all."""
    return StopMarks(np.empty(0), np.empty(0), np.empty(0, np.int32), np.empty(0, np.int32))


@dataclass(frozen=True, slots=True)
class BandMark:
    """Work on a run of vines: ``row`` index, first and last ordinal, letter of the kind.

    ``gain_step``: class 0..4 on the quiet ramp of gain, or -1 for none. ``face_deg``: bearing [degrees] towards which
    the face to open looks, or NaN when the work has no face (or both).
    """

    row: int
    first_vine: int
    last_vine: int
    kind: str
    gain_step: int = -1
    face_deg: float = float("nan")


@dataclass(frozen=True, slots=True, eq=False, weakref_slot=True)
class BlockScene:
    """A block as drawn. Columns are (n,) along ``vines``: ``incidence`` 0..1 with its ``low`` and ``high`` and the
    code of ``certainty``; without ``incidence`` nothing is shaded, without ``certainty`` all of it is known."""

    block: Block
    vines: Vines
    incidence: Floats | None = None
    low: Floats | None = None
    high: Floats | None = None
    certainty: Bytes | None = None
    stops: StopMarks = field(default_factory=no_stops)
    bands: tuple[BandMark, ...] = ()

    def __post_init__(self) -> None:
        for name, kind in (("incidence", np.float64), ("low", np.float64), ("high", np.float64), ("certainty", np.int8)):
            if getattr(self, name) is not None:
                freeze(self, **{name: kind})
                if len(getattr(self, name)) != len(self.vines):
                    raise ValueError(f"{self.block.name}: {name} does not match the vines")


@dataclass(frozen=True, slots=True, eq=False)
class WalkLine:
    """The walk of the next round, in order: stops (n,) [m]."""

    x_m: Floats
    y_m: Floats

    def __post_init__(self) -> None:
        freeze(self, x_m=np.float64, y_m=np.float64)


@dataclass(frozen=True, slots=True, eq=False)
class MapScene:
    """Everything on the sheet. ``threshold`` is an incidence 0..1 (None: no line); ``top`` the dark end of the ramp.

    ``mode``: "ground" rows only, "walk" the field at half strength under the walk, "read" the field, "work" the bands.
    ``gain_ticks``: the six words under the ramp of gain, in ``gain_title``. ``empty``: the sentence of an empty sheet.
    ``not_known_words``: written on the sheet where nothing is known. ``north_deg``: bearing of true north from grid north.
    ``underlay``: the picture below; ``remark``: a line about what could not be shown; ``corner``: a small picture for a
    corner where the blocks leave room; ``insists``: it is shown there also where they leave none; ``edges``: what stands
    tall around the vines.
    """

    blocks: tuple[BlockScene, ...] = ()
    mode: str = GROUND
    ink: Ink = LIGHT
    threshold: float | None = None
    top: float = INCIDENCE_TOP
    title: str = ""
    subtitle: str = ""
    walk: WalkLine | None = None
    gain_title: str = "fruit saved by an hour, kg"
    gain_ticks: tuple[str, ...] = ()
    empty: str = "No block yet."
    not_known_words: str = "not known"
    north_deg: float = 0.0
    underlay: Underlay | None = None
    remark: str = ""
    corner: Page | None = None
    insists: bool = False
    edges: tuple[Edge, ...] = ()

    @property
    def bounds_m(self) -> tuple[float, float, float, float] | None:
        """West, south, east, north [m] of all outlines; None without blocks."""
        if not self.blocks:
            return None
        boxes = np.array([scene.block.outline.bounds for scene in self.blocks])
        west, south = boxes[:, :2].min(axis=0)
        east, north = boxes[:, 2:].max(axis=0)
        return float(west), float(south), float(east), float(north)

    def same_picture(self, other: MapScene) -> bool:
        """True when tiles made for ``other`` hold for this scene too: what moves with the hand is not in them."""
        return (
            len(self.blocks) == len(other.blocks)
            and all(mine is theirs for mine, theirs in zip(self.blocks, other.blocks, strict=True))
            and (self.mode, self.top, self.walk) == (other.mode, other.top, other.walk)
            and (self.ink, self.not_known_words) == (other.ink, other.not_known_words)
            and self.underlay is other.underlay
        )
