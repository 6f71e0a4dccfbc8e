"""The estate's one metric frame."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Frame:
    """Metres east and north of an origin on the estate, in a projected reference system.

    ``crs`` names the projection ("EPSG:32610"); ``origin_x_m``/``origin_y_m`` are the origin's easting and northing
    there. ``lat_deg``/``lon_deg`` tell where on the globe the origin lies (for sun and hemisphere), and
    ``convergence_deg`` is what must be added to a grid bearing to get a true one.
    """

    crs: str
    origin_x_m: float
    origin_y_m: float
    lat_deg: float
    lon_deg: float
    convergence_deg: float

    @property
    def is_southern(self) -> bool:
        """True south of the equator."""
        return self.lat_deg < 0
