"""More sound files for the fuzzer to spoil: weather of many makes, rods, edges, tables of rows, heads in other words, and
pictures. All that is in them is invented.
"""

from __future__ import annotations

import datetime as dt
import json
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from affine import Affine

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "files"))
from picture_makers import noise, plain
from raster_makers import write_raster

HOURS, DAYS = 60, 40
_DAY_ONE = dt.datetime(2026, 6, 1)
_EPW_FIELDS, _EPW_HEAD_LINES = 35, 8
_DEG = 1e-4
"""About ten metres."""


def make_more(folder: Path, block: str, lon: float, lat: float) -> None:
    """Write them, about a place [degrees] in a block of that name."""
    _write_weather(folder)
    _write_climate(folder)
    _write_diaries(folder, block)
    _write_row_tables(folder, block, lon, lat)
    _write_stops(folder, block, lon, lat)
    _write_features(folder, block, lon, lat)
    _write_pictures(folder, lon, lat)


def _lines(path: Path, head: str, made: Callable[[int], str], count: int, encoding: str = "utf-8") -> None:
    path.write_text("\n".join([head, *map(made, range(count))]) + "\n", encoding)


def _at(hour: int) -> dt.datetime:
    return _DAY_ONE + dt.timedelta(hours=hour)


def _warm(hour: int) -> float:
    return round(18.0 + 9.0 * float(np.sin(hour / 24 * 2 * np.pi)), 1)


def _write_weather(folder: Path) -> None:
    def two_stations(n: int) -> str:
        at, of = _at(n // 2), ("hill", "creek")[n % 2]
        return f"{at:%m/%d/%Y},{at:%I:%M %p},{of},{_warm(n // 2) * 1.8 + 32:.1f},T,{n % 60},{40 + n % 50},3.5,{n * 7 % 360}"

    _lines(
        folder / "stations.csv",
        "date,clock,station,temp_f,rain_in,wet_min,rh_percent,wind_mph,wind_from_deg",
        two_stations,
        2 * HOURS,
    )
    _lines(
        folder / "wetter.csv",
        "Datum;Uhrzeit;Lufttemperatur (°C);Niederschlag (mm);Luftfeuchte (%);Windgeschwindigkeit (km/h)",
        lambda n: f"{_at(n):%d.%m.%Y;%H:%M};{_warm(n):.1f};0,2;{40 + n % 50};7,5".replace(".", ",").replace(
            f"{_at(n):%d,%m,%Y}", f"{_at(n):%d.%m.%Y}"
        ),
        HOURS,
        "cp1252",
    )
    _lines(
        folder / "days.csv",
        "date,temp_min_c,temp_max_c,rain_mm",
        lambda n: f"{_DAY_ONE.date() + dt.timedelta(n)},{9 + n % 4},{24 + n % 9},{0.5 * (n % 3)}",
        DAYS,
    )
    words = ("read", "forecast", "estimated from the day's extremes", "")
    _lines(
        folder / "forecast.csv",
        "time,temp_c,wet_hours,temp_max_c,origin",
        lambda n: f"{_at(n):%Y-%m-%dT%H:%M}+02:00,{_warm(n)},0.5,{_warm(n) + 2},{words[n % 4]}",
        HOURS,
    )
    seconds = int(_DAY_ONE.replace(tzinfo=dt.UTC).timestamp())
    _lines(
        folder / "newest_first.csv",
        "time,temp_k,wind_kn,wet_percent",
        lambda n: f"{seconds - 900 * n},{_warm(n) + 273.15:.2f},-9999,{n % 100}",
        HOURS,
    )


def _write_climate(folder: Path) -> None:
    def epw(n: int) -> str:
        at = dt.datetime(2003, 1, 1) + dt.timedelta(hours=n)
        cells = ["9999"] * _EPW_FIELDS
        cells[:6] = [str(at.year), str(at.month), str(at.day), str(at.hour + 1), "60", "?9"]
        cells[6], cells[8], cells[20], cells[21], cells[33] = str(_warm(n)), "60", "270", "2.5", "0.0"
        return ",".join(cells)

    rest = "\n".join(f"{name},0" for name in ("DESIGN CONDITIONS", "GROUND TEMPERATURES", *("COMMENTS",) * 4, "DATA PERIODS"))
    _lines(folder / "typical.epw", f"LOCATION,Invented,XX,INVENTED,made,0,38.50,-122.70,-8.0,60.0\n{rest}", epw, HOURS)
    _lines(
        folder / "typical.csv",
        '1,"INVENTED",XX,-8.0,38.500,-122.700,60\n'
        "Date (MM/DD/YYYY),Time (HH:MM),Dry-bulb (C),RHum (%),Wdir (degrees),Wspd (m/s),Lprecip depth (mm)",
        lambda n: f"{_at(n):%m/%d/%Y},{_at(n).hour + 1:02d}:00,{_warm(n)},60,270,2.5,-9900",
        HOURS,
    )


def _write_diaries(folder: Path, block: str) -> None:
    _lines(
        folder / "rods.csv",
        "block,row,date,insertions",
        lambda n: f"{block},,2026-06-{n + 1:02d},{('LCL', 'LL', '-', 'L C', 'LLCLL')[n % 5]}",
        10,
    )
    _lines(
        folder / "arbeiten.csv",
        "Datum;Schlag;Reihen;Massnahme;Seite;Personen;Stunden",
        lambda n: f"{n + 1}. Juni 2026;{block};;Entblätterung;Ost;4;6,5",
        5,
    )
    _lines(
        folder / "tratamientos.csv",
        "Inicio,Fin,Parcela,Filas,Materia activa,Dosis (lb/ac),Caldo (gal/ac)",
        lambda n: f"2026-06-{n + 1:02d} 05:30,2026-06-{n + 1:02d} 09:00,{block},,azufre,4.5,50",
        5,
    )


def _write_row_tables(folder: Path, block: str, lon: float, lat: float) -> None:
    def line(n: int) -> tuple[float, float, float]:
        return lon + n * 3e-5, lat, lat + 1.5 * _DEG

    def well_known(n: int) -> str:
        x, south, north = line(n)
        return f'{block},w{n},1.5,"LINESTRING Z ({x:.7f} {south:.7f} 5, {x:.7f} {north:.7f} 5)"'

    def ring(n: int) -> str:
        x = lon + 0.01 + 0.002 * n
        corners = ((x, lat), (x + _DEG * 9, lat), (x + _DEG * 9, lat + _DEG * 9), (x, lat + _DEG * 9), (x, lat))
        return f'T{n},2.5,1.5,10,"SRID=4326;MULTIPOLYGON ((({", ".join(f"{a:.7f} {b:.7f}" for a, b in corners)})))"'

    _lines(folder / "rows_text.csv", "block,row,vine_spacing_m,WKT", well_known, 6)
    _lines(folder / "outlines_text.csv", "block,row_spacing_m,vine_spacing_m,bearing_deg,wkt", ring, 3)
    _lines(
        folder / "row_ends.csv",
        "block,row,vine_spacing_m,start_lon,start_lat,end_lon,end_lat",
        lambda n: f"{block},e{n},1.5," + ",".join(f"{each:.7f}" for each in (line(n)[0], line(n)[1], line(n)[0], line(n)[2])),
        6,
    )
    _lines(
        folder / "row_ends_m.csv",
        "block,row,start_x_m,start_y_m,end_x_m,end_y_m",
        lambda n: f"{block},m{n},{540_000 + 2.5 * n},4250000,{540_000 + 2.5 * n},4250090.5",
        6,
    )
    _lines(folder / "row_list.csv", "block,row,vines,vine_spacing_m", lambda n: f"{block},{n + 1},{40 + n},", 6)


def _write_stops(folder: Path, block: str, lon: float, lat: float) -> None:
    _lines(
        folder / "hojas.csv",
        "Ronda;Fecha;Observador;Parcela;Fila;Cepa;Racimos revisados;Racimos con oídio;"
        "Hojas vistas;Hojas con oídio;Tipo de muestra",
        lambda n: f"1;{n + 1} de junio de 2026;Inés;{block};{n + 1};{n + 3};20;{n % 5};10;1;al azar",
        8,
    )
    # a little beside the rows, and each of them twice
    _lines(
        folder / "beside.csv",
        "date,block,row,lon,lat,examined,infected,light",
        lambda n: f"2026-06-12,{block},1,{lon + 4e-6:.7f},{lat + (n // 2) * 1e-5:.7f},20,{n // 2},daylight",
        8,
    )
    west = abs(lon) % 1 * 60
    north = lat % 1 * 60
    _lines(
        folder / "minutes.csv",
        "date;lon;lat;examined;infected",
        lambda n: f"2026-06-12;{int(abs(lon))}° {west:.4f}' W;{int(lat)}° {north + 0.01 * n:.4f}' N;20;{n}",
        6,
    )


def _feature(kind: str, coordinates: Any, told: dict[str, Any]) -> dict[str, Any]:
    return {"type": "Feature", "properties": told, "geometry": {"type": kind, "coordinates": coordinates}}


def _write_features(folder: Path, block: str, lon: float, lat: float) -> None:
    def put(name: str, features: Sequence[Any], **more: Any) -> None:
        whole = {"type": "FeatureCollection", **more, "features": list(features)}
        (folder / name).write_text(json.dumps(whole, ensure_ascii=False), "utf-8")

    def line(n: int) -> list[list[float]]:
        return [[lon + n * 3e-5, lat], [lon + n * 3e-5, lat + 5 * _DEG]]

    def ring(east: float) -> list[list[float]]:
        x = lon + east
        return [[x, lat], [x + 8 * _DEG, lat], [x + 8 * _DEG, lat + 8 * _DEG], [x, lat + 8 * _DEG]]

    edges = [_feature("LineString", line(-n), {"name": f"hedge {n}", "height_m": 3 + n, "open": 0.4}) for n in range(3)]
    put("edges.geojson", [*edges, _feature("Polygon", [[*ring(0.01), ring(0.01)[0]]], {"height_m": "9 m", "porosity": 0})])
    # as others name them, in feet, and no block told
    put(
        "reihen.geojson",
        [
            _feature("LineString", line(n), {"Reihe Nr.": n + 1, "Stockabstand (ft)": "5", "Art": "Silvaner"})
            for n in range(5)
        ],
    )
    put(
        "parcelas.geojson",
        [_feature("Polygon", [ring(0.01)], {"Nombre": "Viña", "Entre filas (ft)": 8, "Entre cepas": 1.5, "Rumbo": 12})],
    )
    turned = [[y, x] for x, y in ring(0.02)]
    put(
        "to_mend.geojson",
        [
            _feature("Polygon", [ring(0.01)], {"block": "Open", "row_spacing_m": 2.5, "bearing_deg": 0}),
            _feature("Polygon", [[*turned, turned[0]]], {"block": "Swapped", "row_spacing_m": 2.5, "bearing_deg": 0}),
            *(_feature("LineString", line(1), {"row": "1"}) for _ in range(2)),
            _feature("Point", [lon + 4e-6, lat], {"date": "2026-06-12", "row": "1", "examined": 20, "infected": 3}),
        ],
        crs={"type": "name", "properties": {"name": "urn:ogc:def:crs:OGC:1.3:CRS84"}},
    )


def _write_pictures(folder: Path, lon: float, lat: float) -> None:
    corner = Affine(2e-5, 0.0, lon - _DEG, 0.0, -2e-5, lat + 9 * _DEG)
    bytes_, words = noise(24, 30, 3), noise(24, 30, 5, "uint16")
    plain(folder / "colour.jpg", bytes_, corner, "EPSG:4326")
    plain(folder / "grey.png", bytes_[:1], corner, "EPSG:4326")
    colours = {code: (code, 255 - code, 7, 255) for code in range(256)}
    write_raster(folder / "palette.tif", bytes_[0], corner, "EPSG:4326", colormap=colours)
    write_raster(folder / "colour.tif", bytes_, corner, "EPSG:4326", photometric="RGB", compress="deflate")
    write_raster(folder / "bands.tif", words, corner, "EPSG:4326", nodata=0)
    write_raster(folder / "scaled.tif", words[0], corner, "EPSG:4326", scales=(1e-4,), offsets=(-0.2,), compress="lzw")
