"""Seconds of the processor for all that weather, sun and wind tell of a large estate, and the share of each part, in one run.

    python tests/benchmarks/bench_weather.py

The season is invented: 214 days of hours of one station, 200 blocks of 50 rows by 100 vines (100,000 spans of ten), each
row way of its own, three dates of budbreak, two tree lines. After a first run, which also loads what is loaded late, the
median of some runs is printed, each computed anew from the season. Seconds are of the processor: other work on the machine
only adds to those of the clock, which are printed beside the sum. Parts:

- facts: days, pressure with its range, infections and generations, wind rose, for each station and budbreak;
- stage: the stage of each block today and on every day of the season;
- rot: risk of rot by day at each station, and what raises it in each block;
- faces: sun on each face of each row until harvest, which face is opened first;
- wind: what tall edges and the rows upwind leave of the drying wind, three places a row;
- which face, how hard: effect of opening at this stage, regrowth and sunburn of each span.
"""

from __future__ import annotations

import datetime as dt
import statistics
import time
from dataclasses import replace

import numpy as np
import shapely

from vinemap.files.projection import frame_for
from vinemap.ground.block import Block
from vinemap.ground.edges import Edge
from vinemap.ground.rowmaker import make_rows
from vinemap.ground.vines import place_vines
from vinemap.season.rules import Rules
from vinemap.season.value import Estate, Season, StageDates
from vinemap.service.answers import Answers
from vinemap.service.rot_facts import prone_on, rot_of, scars_by_block
from vinemap.service.row_faces import Stand, estate_faces
from vinemap.service.stage_facts import block_stage, stage_of, stages_by_day
from vinemap.service.weather_facts import pressure_on
from vinemap.service.wind_table import row_wind
from vinemap.vineclock.weather import Weather
from vinemap.work.conditions import Outlook, RowFaces, Site, block_day
from vinemap.work.spans import spans_of

BLOCKS, ROWS, VINES = 200, 50, 100
ROW_M, VINE_M = 2.5, 1.5
FIRST, TODAY, HARVEST = dt.date(2026, 4, 1), dt.date(2026, 6, 12), dt.date(2026, 9, 15)
DAYS, STATIONS, BUDBREAKS = 214, 1, 3
RUNS, SECONDS = 5, 2.0


def make_weather(name: str, seed: int) -> Weather:
    """Hours of a warm season with rain now and then, and a wind that turns over the day."""
    rng = np.random.default_rng(seed)
    hour = np.arange(24 * DAYS)
    time_utc = (FIRST.toordinal() - dt.date(1970, 1, 1).toordinal()) * 86_400 + 3600 * (hour + 8)
    day = rng.normal(0.0, 3.0, DAYS).repeat(24)
    temp = 17.0 + 6.0 * np.sin(np.pi * hour / len(hour)) + day - 8.0 * np.cos(2 * np.pi * (hour - 3) / 24)
    rain = np.where(rng.random(len(hour)) < 0.01, rng.exponential(2.0, len(hour)), 0.0)
    humid = np.clip(0.95 - 0.03 * (temp - 8.0), 0.2, 1.0)
    wind = rng.gamma(2.0, 1.2, len(hour))
    bearing = (250.0 + 40.0 * np.sin(2 * np.pi * hour / 24) + rng.normal(0.0, 30.0, len(hour))) % 360.0
    return Weather(name, -8.0, time_utc, temp, rain, (rain > 0).astype(float), humid, wind, bearing)


def make_season() -> Season:
    """The invented estate."""
    blocks = []
    for number in range(BLOCKS):
        east, north = (number % 20) * 220.0, (number // 20) * 220.0
        outline = shapely.box(east, north, east + ROWS * ROW_M, north + VINES * VINE_M)
        outline = shapely.affinity.rotate(outline, 0.9 * number, origin="centroid")
        rows = make_rows(outline, -0.9 * number, ROW_M, VINE_M)
        blocks.append(Block(f"B{number}", outline, rows, ROW_M, VINE_M, slope_deg=float(number % 5), aspect_deg=1.8 * number))
    stages = tuple(
        StageDates(each.name, budbreak=FIRST + dt.timedelta(days=number % BUDBREAKS), bloom=dt.date(2026, 5, 28))
        for number, each in enumerate(blocks)
    )
    stations = tuple(make_weather(f"S{number}", number) for number in range(STATIONS))
    chosen = tuple((each.name, f"S{number % STATIONS}") for number, each in enumerate(blocks) if number % STATIONS)
    edges = tuple(Edge(f"trees {north:g}", np.array([[0.0, north], [4400.0, north]]), 12.0, 0.3) for north in (-30.0, 1080.0))
    estate = Estate("Invented large estate", frame_for(-122.5, 38.4), -8.0, is_invented=True)
    return Season(
        estate,
        tuple(blocks),
        stages=stages,
        weather=stations[0],
        stations=stations[1:],
        edges=edges,
        rules=Rules(station_of=chosen),
    )


class Clock:
    """Times one part after the other, in seconds of the processor."""

    def __init__(self) -> None:
        self.parts: dict[str, float] = {}
        self._last = time.process_time()

    def lap(self, name: str) -> None:
        """The time since the last one was of this part."""
        now = time.process_time()
        self.parts[name] = now - self._last
        self._last = now


def run(season: Season, sites: list[Site]) -> tuple[dict[str, float], float]:
    """Seconds of each part, all of it computed anew, and those on the clock."""
    clock, began = Clock(), time.perf_counter()
    facts = Answers().facts(season)
    clock.lap("facts")
    stages = {}
    for site in sites:
        days = facts.of(site.block.name).days
        assert days is not None
        stages[site.block.name] = stage_of(season, site.block.name, days, TODAY)
        stages_by_day(block_stage(season, site.block.name, days, TODAY), days.date)
    clock.lap("stage")
    for weather in season.all_stations:
        rot_of(weather)
    scars = scars_by_block(season)
    for site in sites:
        prone_on(site.block, scars.get(site.block.name, ()), TODAY)
    clock.lap("rot")
    stands = [Stand(site.block, site.vines, site.spans, HARVEST, facts.of(site.block.name).rose) for site in sites]
    faces: dict[str, RowFaces] = estate_faces(season, stands, TODAY)
    clock.lap("faces")
    assert facts.rose is not None
    for site in sites:
        row_wind(season, site.block, facts.rose)
    clock.lap("wind")
    for site in sites:
        name = site.block.name
        outlook = Outlook(TODAY, stages[name], pressure_on(facts.of(name), TODAY), {})
        block_day(replace(site, faces=faces[name]), outlook, (), (), season.assumptions)
    clock.lap("which face, how hard")
    return clock.parts, time.perf_counter() - began


def main() -> None:
    """Measure and print."""
    season = make_season()
    vines = [place_vines(block) for block in season.blocks]
    spans = [spans_of(places, block.rows.vine_spacing_m) for block, places in zip(season.blocks, vines, strict=True)]
    empty = RowFaces((), np.empty(0, np.int32), np.empty(0))
    sites = [Site(block, *parts, empty) for block, *parts in zip(season.blocks, vines, spans, strict=True)]
    first = sum(run(season, sites)[0].values())
    runs = [run(season, sites) for _ in range(RUNS)]
    parts = {name: statistics.median(each[name] for each, _ in runs) for name in runs[0][0]}
    whole, waited = statistics.median(sum(each.values()) for each, _ in runs), min(seconds for _, seconds in runs)
    rows, count = sum(len(block.rows) for block in season.blocks), sum(map(len, spans))
    print(f"{len(season.blocks)} blocks, {rows:,} rows, {count:,} spans, {DAYS} days of hours; median of {RUNS}")
    for name, seconds in parts.items():
        print(f"{name:22} {seconds:6.3f} s  {seconds / whole:5.0%}")
    said = "within" if whole <= SECONDS else "OVER"
    print(f"{'all of it':22} {whole:6.3f} s, {said} {SECONDS:g} s; the first time {first:.3f} s; by the clock {waited:.3f} s")


if __name__ == "__main__":
    main()
