"""Ways to ask for a file: as it is, or with the columns, repairs, map system, clock and the rest that a person may tell."""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from vinemap.files.repairs import REPAIRS
from vinemap.files.shapes import Mend
from vinemap.files.weather_times import DATE_ORDERS, STAMPS, STANDARD, UTC, WeatherAsk
from vinemap.season.value import Season
from vinemap.service.bring_in import bring_in
from vinemap.service.columns_in import columns_to_ask
from vinemap.service.matched import Agreed, proposals
from vinemap.service.repair import Outcome, bring_in_agreed
from vinemap.service.report import Report

_CLOCKS = (STANDARD, STANDARD, UTC, "Europe/Madrid", "America/Los_Angeles", "Australia/Lord_Howe")
_SYSTEMS = ("", "", "EPSG:4326", "EPSG:32610", "EPSG:2226", "EPSG:27700")
_PICTURES = (".tif", ".png", ".jpg")
_AS_IT_IS = 0.4


@dataclass(frozen=True, slots=True)
class Way:
    """How files are asked for; as ``vinemap check`` and ``vinemap add`` take it."""

    agreed: Agreed = field(default_factory=Agreed)
    weather: WeatherAsk | None = None
    pictures: frozenset[Path] = frozenset()
    columns: Mapping[Path, str] = field(default_factory=dict)

    def bring(self, paths: Sequence[Path], season: Season | None) -> Outcome:
        """The files brought in. Raises VinemapError."""

        def take(here: Sequence[Path], into: Season | None, of: Mapping[Path, str], mend: Mend) -> tuple[Season, Report]:
            return bring_in(here, into, "fuzz", of, self.agreed.crs, self.pictures, mend, self.weather)

        columns = {path: column for path, column in self.columns.items() if path in paths}
        return bring_in_agreed(paths, season, take, self.agreed, columns)


def way_for(path: Path, block: str, chance: random.Random) -> Way:
    """A way to ask for a file: often as it is, else with what the program itself proposes for it, and more."""
    if chance.random() < _AS_IT_IS:
        return Way()
    told = "\n".join(each.given for some in proposals([path]).values() for each in some if each.given)
    agreed = Agreed(
        told,
        repairs=REPAIRS if chance.random() < 0.5 else tuple(chance.sample(REPAIRS, 2)),
        snap_m=chance.choice((0.5, 2.0, 5.0)),
        crs=chance.choice(_SYSTEMS),
        block=chance.choice(("", "", block, "Nowhere")),
    )
    weather = WeatherAsk(
        chance.choice((-8.0, 0.0, 9.5)),
        clock=chance.choice(_CLOCKS),
        order=chance.choice(("", *DATE_ORDERS)),
        stamps=chance.choice(("", *STAMPS)),
        station=chance.choice(("", "hill")),
        is_forecast=chance.random() < 0.3,
        keeps_spikes=chance.random() < 0.5,
    )
    is_drawn_over = path.suffix in _PICTURES and chance.random() < 0.5
    asked = columns_to_ask([path]).get(path, ())
    columns = {path: chance.choice(asked)} if asked else {}
    return Way(agreed, weather, frozenset([path] if is_drawn_over else []), columns)
