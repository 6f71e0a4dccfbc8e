"""The season: one immutable value. An edit makes a new one that shares every part it did not touch."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field

from vinemap.canopy.rods import RodNote
from vinemap.ground.block import Block
from vinemap.ground.covariates import Covariate
from vinemap.ground.edges import Edge
from vinemap.ground.frame import Frame
from vinemap.scouting.rounds import Round
from vinemap.season.rules import Rules
from vinemap.vineclock.weather import Weather
from vinemap.work.assumptions import Assumptions
from vinemap.work.diary import Pass, Spray


@dataclass(frozen=True, slots=True)
class Estate:
    """The estate: its name, its metric frame, its standard time and whether it is invented for the demonstration."""

    name: str
    frame: Frame
    offset_hours: float
    is_invented: bool = False


@dataclass(frozen=True, slots=True)
class StageSeen:
    """A growth stage that was seen: its number and the scale it is of, which must never be parted."""

    date: dt.date
    scale: str
    number: int


@dataclass(frozen=True, slots=True)
class BrixSeen:
    """Sugar that was measured [degrees Brix]."""

    date: dt.date
    brix: float


@dataclass(frozen=True, slots=True)
class StageDates:
    """Dates the manager saw, for one block, or for all where ``block`` is empty. None where not seen yet."""

    block: str
    budbreak: dt.date | None = None
    bloom: dt.date | None = None
    veraison: dt.date | None = None
    harvest: dt.date | None = None
    seen: tuple[StageSeen, ...] = ()
    brix: tuple[BrixSeen, ...] = ()


@dataclass(frozen=True, slots=True)
class Aerial:
    """An aerial picture below the map. It stays in its own file; the season keeps only where it is and where it lies.

    ``path`` is where the file was; ``corners_m``: upper left, upper right, lower right, lower left corner of the picture
    itself, (x, y) [m] in the estate's frame; ``size_px``: width, height; ``size_bytes``: of the file, to see that it is still
    the same; ``crs``: the map system as it was named by hand, empty where the file says it.
    """

    name: str
    path: str
    corners_m: tuple[tuple[float, float], ...]
    size_px: tuple[int, int]
    size_bytes: int
    crs: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Season:
    """One season of one estate. Equality is identity: ``a.blocks is b.blocks`` says that nothing there changed.

    ``weather`` is that of the first station, ``stations`` of the others; ``rules`` None where nobody chose any.
    """

    estate: Estate
    blocks: tuple[Block, ...] = ()
    rounds: tuple[Round, ...] = ()
    passes: tuple[Pass, ...] = ()
    sprays: tuple[Spray, ...] = ()
    stages: tuple[StageDates, ...] = ()
    weather: Weather | None = None
    assumptions: Assumptions = field(default_factory=Assumptions)
    covariates: tuple[Covariate, ...] = ()
    aerial: Aerial | None = None
    stations: tuple[Weather, ...] = ()
    edges: tuple[Edge, ...] = ()
    rods: tuple[RodNote, ...] = ()
    rules: Rules | None = None

    @property
    def all_stations(self) -> tuple[Weather, ...]:
        """Weather of every station, the first one first."""
        return (() if self.weather is None else (self.weather,)) + self.stations

    @property
    def goes_by(self) -> Rules:
        """The rules that were chosen, else the usual ones."""
        return self.rules or Rules()

    def weather_of(self, block: str) -> Weather | None:
        """The weather a block goes by: of the station chosen for it, else of the first one."""
        name = self.goes_by.station(block)
        return next((each for each in self.all_stations if each.station == name), self.weather)

    def block(self, name: str) -> Block | None:
        """The block of that name, or None."""
        return next((block for block in self.blocks if block.name == name), None)

    def round(self, number: int) -> Round | None:
        """The round of that number, or None."""
        return next((each for each in self.rounds if each.number == number), None)

    def covariate(self, name: str) -> Covariate | None:
        """The covariate of that name in any case, or None."""
        return next((each for each in self.covariates if each.name.casefold() == name.casefold()), None)
