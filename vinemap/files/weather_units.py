"""The columns that a table of weather may have: each name ends in its unit, and each is one of a few quantities.

Words for them in six languages are common words of the trade, from memory: English, Spanish, French, German, Italian,
Portuguese.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass

from vinemap.units import MM_PER_INCH, MS_PER_KMH, MS_PER_KNOT, MS_PER_MPH, ZERO_DEGC_K, degc_from_degf

NEEDED = ("time", "temp_c")
TIMES = ("time", "date", "clock")
STATION, ORIGIN = "station", "origin"


def _times(factor: float) -> Callable[[float], float]:
    return lambda value: value * factor


def _same(value: float) -> float:
    return value


@dataclass(frozen=True, slots=True)
class WeatherColumn:
    """One column: what it measures, the unit as it may stand beside a name, and how its figures become ours.

    ``low`` and ``high`` bound it in our own unit; ``to_ours`` turns a figure into that. Wet minutes or hours become a share
    of the interval only where the interval is known.
    """

    quantity: str
    unit: str
    low: float
    high: float
    said: str
    to_ours: Callable[[float], float] = _same


_DEGC = ("c", "degc", "deg c", "celsius", "grad c", "ºc")
_DEGF = ("f", "degf", "deg f", "fahrenheit")
_KELVIN = ("k", "kelvin", "deg k")
_PERCENT = ("percent", "pct", "prozent", "por ciento")
_FRACTION = ("frac", "fraction", "share")
_MM = ("mm", "l m2")
_INCH = ("in", "inch", "inches", "pulgadas")
_MINUTES = ("min", "mins", "minutes", "minutos", "minuten", "minuti")
_HOURS = ("h", "hr", "hrs", "hours", "horas", "heures", "stunden", "std", "ore")
_MS = ("m s", "ms", "m s 1", "mps")
_KMH = ("kmh", "km h", "kph", "km h 1")
_MPH = ("mph", "mi h", "mi hr", "miles h")
_KNOTS = ("kn", "kt", "kts", "knots")
_DEG = ("deg", "grad", "degrees", "grados", "gradi", "graus", "degres")


def _temperatures(quantity: str, name: str) -> dict[str, WeatherColumn]:
    return {
        f"{name}_c": WeatherColumn(quantity, "degrees Celsius", -60.0, 60.0, "°C"),
        f"{name}_f": WeatherColumn(quantity, "degrees Fahrenheit", -60.0, 60.0, "°F", degc_from_degf),
        f"{name}_k": WeatherColumn(quantity, "kelvin", -60.0, 60.0, "K", lambda value: value - ZERO_DEGC_K),
    }


READINGS: dict[str, WeatherColumn] = {
    **_temperatures("temp", "temp"),
    **_temperatures("temp_max", "temp_max"),
    **_temperatures("temp_min", "temp_min"),
    "rain_mm": WeatherColumn("rain", "millimetres in the interval", 0.0, 500.0, "mm"),
    "rain_in": WeatherColumn("rain", "inches in the interval", 0.0, 500.0, "in", _times(MM_PER_INCH)),
    "wet_frac": WeatherColumn("wet", "a share from 0 to 1", 0.0, 1.0, "share"),
    "wet_percent": WeatherColumn("wet", "per cent", 0.0, 1.0, "%", _times(0.01)),
    "wet_min": WeatherColumn("wet", "minutes of the interval", 0.0, 1.0, "min"),
    "wet_hours": WeatherColumn("wet", "hours of the interval", 0.0, 1.0, "h"),
    "rh_frac": WeatherColumn("rh", "a share from 0 to 1", 0.0, 1.0, "share"),
    "rh_percent": WeatherColumn("rh", "per cent", 0.0, 1.0, "%", _times(0.01)),
    "wind_ms": WeatherColumn("wind", "metres a second", 0.0, 75.0, "m/s"),
    "wind_kmh": WeatherColumn("wind", "kilometres an hour", 0.0, 75.0, "km/h", _times(MS_PER_KMH)),
    "wind_mph": WeatherColumn("wind", "miles an hour", 0.0, 75.0, "mph", _times(MS_PER_MPH)),
    "wind_kn": WeatherColumn("wind", "knots", 0.0, 75.0, "kn", _times(MS_PER_KNOT)),
    "wind_from_deg": WeatherColumn("wind_from", "degrees clockwise from north, where the wind comes from", 0.0, 360.0, "°"),
}
"""Every column of figures by name."""
WET_SECONDS = {"wet_min": 60.0, "wet_hours": 3600.0}
"""Columns whose figures are a time within the interval, and the seconds of one [s]."""
NO_READING = frozenset(("na", "n/a", "nan", "null", "none", "m", "-", "--", "---", "----", "x", "missing"))
"""What stands where a station has no reading, in lower case (common practice)."""
TRACES = frozenset(("t", "tr", "trace"))
"""Rain too little to be measured (common practice)."""
KNOWN = (*(name for name in READINGS if name not in NEEDED), "date", "clock", STATION, ORIGIN)

UNITS: dict[str, frozenset[str]] = {
    **{f"{name}_c": frozenset(_DEGC) for name in ("temp", "temp_max", "temp_min")},
    **{f"{name}_f": frozenset(_DEGF) for name in ("temp", "temp_max", "temp_min")},
    **{f"{name}_k": frozenset(_KELVIN) for name in ("temp", "temp_max", "temp_min")},
    "rain_mm": frozenset(_MM),
    "rain_in": frozenset(_INCH),
    "wet_frac": frozenset(_FRACTION),
    "wet_percent": frozenset(_PERCENT),
    "wet_min": frozenset(_MINUTES),
    "wet_hours": frozenset(_HOURS),
    "rh_frac": frozenset(_FRACTION),
    "rh_percent": frozenset(_PERCENT),
    "wind_ms": frozenset(_MS),
    "wind_kmh": frozenset(_KMH),
    "wind_mph": frozenset(_MPH),
    "wind_kn": frozenset(_KNOTS),
    "wind_from_deg": frozenset(_DEG),
}
"""Units as they stand beside a name, plain: lower case, without dots and strokes."""

_TEMP = (
    "temp|temperature|air temp|air temperature|outside temp|outdoor temperature|temp avg|avg temp|tair|t air|"
    "average temperature|mean temp|mean temperature|temp mean|tmean|t mean|dry bulb|temperatura|temp aire|temperatura aire|"
    "temperatura media|temp media|ta|temp air|temperature air|temperature moyenne|temp moyenne|lufttemperatur|temp luft|"
    "temperatur|mitteltemperatur|temperatura aria|temperatura ar|t"
)
_TEMP_MAX = (
    "temp max|max temp|maximum temperature|temperature max|high temp|temp high|tmax|t max|high temperature|"
    "temperatura maxima|temp maxima|temperatura max|temperature maximale|tx|hochsttemperatur|maximaltemperatur|"
    "temperatura massima|temp massima|max temperature|max air temp|max air temperature|air temp max"
)
_TEMP_MIN = (
    "temp min|min temp|minimum temperature|temperature min|low temp|temp low|tmin|t min|low temperature|"
    "temperatura minima|temp minima|temperatura min|temperature minimale|tn|tiefsttemperatur|minimaltemperatur|"
    "temperatura minima|temp minima|min temperature|min air temp|min air temperature|air temp min"
)
_RAIN = (
    "rain|rainfall|precip|precipitation|lluvia|precipitacion|pluviometria|pluie|precipitations|pluviometrie|"
    "regen|niederschlag|pioggia|precipitazione|precipitazioni|chuva|precipitacao|pluviosidade|rr|ppt|prcp"
)
_WET = (
    "leaf wetness|wetness|wet|lw|leaf wet|lwd|leaf wetness duration|humectacion|mojado hoja|mojadura|humectation|blattnasse|"
    "blattfeuchte|bagnatura fogliare|bagnatura|folha molhada|molhamento|molhamento foliar"
)
_RH = (
    "rh|relative humidity|humidity|humid|rel hum|rel humidity|hum|hr|humedad|humedad relativa|humidite|humidite relative|"
    "luftfeuchte|relative feuchte|luftfeuchtigkeit|rf|umidita|umidita relativa|ur|humidade|humidade relativa|umidade|"
    "umidade relativa"
)
_WIND = (
    "wind|wind speed|avg wind speed|mean wind speed|average wind speed|wind avg|viento|velocidad viento|vent|vitesse vent|"
    "windgeschwindigkeit|vento|velocita vento|velocidade vento|ws|wspd"
)
_WORDS_OF = {
    "temp": _TEMP,
    "temp_max": _TEMP_MAX,
    "temp_min": _TEMP_MIN,
    "rain": _RAIN,
    "wet": _WET,
    "rh": _RH,
    "wind": _WIND,
    "wind_from": "wind direction|wind from|wind dir|direccion viento|direction vent|windrichtung|direzione vento|"
    "direcao vento|wd|wdir",
}


def _parts(words: str) -> tuple[str, ...]:
    return tuple(dict.fromkeys(words.split("|")))


SAID: dict[str, tuple[str, ...]] = {
    **{name: _parts(_WORDS_OF[column.quantity]) for name, column in READINGS.items()},
    "clock": _parts("clock|time|hour|time of day|hora|heure|uhrzeit|stunde|zeit|ora|orario|hour ending|hour beginning"),
    STATION: _parts("station|station name|site|station id|estacion|emisora|wetterstation|stazione|estacao|location|city"),
    ORIGIN: _parts("origin"),
}
"""What each column is called elsewhere."""

BOUNDS = {
    **{name: (-60.0, 60.0) for name in ("temp_c", "temp_max_c", "temp_min_c")},
    **{name: (-76.0, 140.0) for name in ("temp_f", "temp_max_f", "temp_min_f")},
    **{name: (213.15, 333.15) for name in ("temp_k", "temp_max_k", "temp_min_k")},
    "rain_mm": (0.0, 500.0),
    "rain_in": (0.0, 20.0),
    "wet_frac": (0.0, 1.0),
    "wet_percent": (0.0, 100.0),
    "wet_min": (0.0, 60.0),
    "wet_hours": (0.0, 1.0),
    "rh_frac": (0.0, 1.0),
    "rh_percent": (0.0, 100.0),
    "wind_ms": (0.0, 75.0),
    "wind_kmh": (0.0, 270.0),
    "wind_mph": (0.0, 168.0),
    "wind_kn": (0.0, 146.0),
    "wind_from_deg": (0.0, 360.0),
}
"""Least and most that can stand under each column of figures, in its own unit."""


def siblings(ours: str) -> frozenset[str]:
    """Other columns that measure the same in other units; none for a column that is no figure of weather."""
    column = READINGS.get(ours)
    if column is None:
        return frozenset()
    return frozenset(name for name, each in READINGS.items() if each.quantity == column.quantity and name != ours)


def chosen_column(quantity: str, names: Collection[str]) -> str:
    """The column of a quantity among names, the first one of several; "" where there is none."""
    return next((name for name, each in READINGS.items() if each.quantity == quantity and name in names), "")


def lacking_weather(names: Collection[str]) -> tuple[str, ...]:
    """The columns a table with these names would still need to be one of weather; none where it is.

    It needs a time (``time``, or ``date`` and ``clock``) and a temperature; or a date with the day's lowest and highest.
    """
    has_temp = bool(chosen_column("temp", names))
    has_extremes = bool(chosen_column("temp_max", names) and chosen_column("temp_min", names))
    if "date" in names and has_extremes and not {"time", "clock"}.intersection(names):
        return ()
    has_time = "time" in names or {"date", "clock"} <= set(names)
    missing_time = () if has_time else ("clock",) if "date" in names else ("time",)
    return missing_time if has_temp else (*missing_time, "temp_c")
