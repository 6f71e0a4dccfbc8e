"""Repairs by name in every drawn format: offered as often as there is something, made only where agreed. All is invented."""

from __future__ import annotations

import copy
import math
from collections import Counter
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from repair_makers import CLOSED, FORMATS, OUTLINES, Item, geojson, geopackage, single

from vinemap.files.covariate_reader import read_readings
from vinemap.files.geojson import read_features
from vinemap.files.mending import Mending
from vinemap.files.projection import to_lonlat
from vinemap.ground.vines import place_vines
from vinemap.season.value import Season
from vinemap.service.bring_in import bring_in
from vinemap.service.matched import Agreed
from vinemap.service.repair import Outcome, bring_in_agreed

HOME = (-122.7, 38.6)
FIGURES = {"row_spacing_m": "2.5", "vine_spacing_m": "2.0", "bearing_deg": "0"}
M_PER_DEG = 111_320.0


def feature(kind: str, coordinates: Any, **told: str) -> Item:
    return {"type": "Feature", "properties": told, "geometry": {"type": kind, "coordinates": coordinates}}


def outline(name: str, east_m: float, size_m: tuple[float, float] = (31.0, 41.0), home: tuple[float, float] = HOME) -> Item:
    wide, high = size_m
    corners = [(0.0, 0.0), (wide, 0.0), (wide, high), (0.0, high), (0.0, 0.0)]
    m_per_lon = M_PER_DEG * math.cos(math.radians(home[1]))
    ring = [[round(home[0] + (east_m + x) / m_per_lon, 9), round(home[1] + y / M_PER_DEG, 9)] for x, y in corners]
    return feature("Polygon", [ring], block=name, **FIGURES)


def taken(path: Path, season: Season | None, *repairs: str, crs: str = "") -> Outcome:
    return bring_in_agreed(
        [path],
        season,
        lambda paths, into, of, mend: bring_in(paths, into, "invented", of, crs, mend=mend),
        Agreed(repairs=repairs, crs=crs),
    )


def offered(outcome: Outcome) -> dict[str, int]:
    return {offer.repair: offer.count for offer in outcome.offers}


def files_in(folder: Path) -> dict[str, bytes]:
    return {str(path): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def changed(item: Item, change: Any) -> Item:
    made = copy.deepcopy(item)
    found = made["geometry"]["coordinates"]
    made["geometry"]["coordinates"] = change(found)
    return made


def swapped(found: Any) -> Any:
    return [swapped(part) for part in found] if isinstance(found[0], list) else found[::-1]


BLOCKS = [outline("A", 0.0), outline("B", 50.0), outline("C", 100.0)]
with TemporaryDirectory() as _folder:
    SEASON = bring_in([geojson(Path(_folder), BLOCKS)], None, "invented")[0]


def vine_place(vine: int, east_m: float = 0.0) -> list[float]:
    """Longitude and latitude of a vine of the most westerly row, or beside it."""
    on = place_vines(SEASON.blocks[0])
    lon, lat = to_lonlat(SEASON.estate.frame, on.x_m[vine : vine + 1] + east_m, on.y_m[vine : vine + 1])
    return [float(lon[0]), float(lat[0])]


def stop(vine: int, infected: int, east_m: float = 0.0) -> Item:
    return feature("Point", vine_place(vine, east_m), date="2031-06-11", examined="20", infected=str(infected))


def broken(defect: str, sound: list[Item], at: int) -> list[Item]:
    item = sound[at]
    if defect == "drop-duplicates":
        return [*sound, item]
    change = {"close-ring": lambda found: [found[0][:-1]], "turn-ring": lambda found: [found[0][::-1]]}
    return [*sound[:at], changed(item, change.get(defect, swapped)), *sound[at + 1 :]]


def ground_of(season: Season) -> list[Any]:
    return [(block.name, shapely.normalize(block.outline), block.rows) for block in season.blocks]


def assert_same(made: Season | None, whole: Season) -> None:
    assert made is not None
    assert [name for name, _, _ in ground_of(made)] == [name for name, _, _ in ground_of(whole)]
    for (_, one, rows), (_, other, others) in zip(ground_of(made), ground_of(whole), strict=True):
        # a millimetre: longitudes and latitudes here have nine decimals
        assert shapely.equals_exact(one, other, 1e-3)
        np.testing.assert_allclose(rows.xy_m, others.xy_m, atol=2e-3)
    counts = [
        [sorted(zip(each.stops.vine.tolist(), each.stops.infected.tolist(), strict=True)) for each in season.rounds]
        for season in (made, whole)
    ]
    assert counts[0] == counts[1]


def check_defect(write: str, defect: str, items: list[Item], sound: list[Item], season: Season | None) -> None:
    """Nothing is changed unasked, the offer tells how much, and agreed to it brings in what a sound file does."""
    with TemporaryDirectory() as folder, TemporaryDirectory() as other:
        path, whole = FORMATS[write](Path(folder), items), FORMATS[write](Path(other), sound)
        before = files_in(Path(folder))
        unasked = taken(path, season)
        assert offered(unasked) == {defect: 1}
        assert unasked.mended == ()
        agreed = taken(path, season, defect)
        assert [each.repair for each in agreed.mended] == [defect]
        assert agreed.mended[0].file == path.name
        assert (agreed.offers, agreed.report.problems) == ((), [])
        assert files_in(Path(folder)) == before
        expected = taken(whole, season)
        assert (expected.offers, expected.report.problems) == ((), [])
        assert_same(agreed.season, expected.season)
        if season is None and unasked.season is not None:
            assert len(unasked.season.blocks) <= len(expected.season.blocks)


CASES = [
    (write, defect)
    for write in OUTLINES
    for defect in ("close-ring", "swap-coordinates", "drop-duplicates")
    if defect != "close-ring" or write not in CLOSED
]


@pytest.mark.parametrize(("write", "defect"), CASES)
def test_a_broken_outline_comes_in_as_a_sound_one(write: str, defect: str) -> None:
    check_defect(write, defect, broken(defect, BLOCKS, 1), BLOCKS, None)


@pytest.mark.parametrize("write", FORMATS)
@pytest.mark.parametrize("defect", ["swap-coordinates", "drop-duplicates", "snap-to-row"])
def test_a_broken_stop_comes_in_as_a_sound_one(write: str, defect: str) -> None:
    sound = [stop(2, 1), stop(5, 0), stop(9, 4)]
    items = [sound[0], stop(5, 0, -4.0), sound[2]] if defect == "snap-to-row" else broken(defect, sound, 1)
    check_defect(write, defect, items, sound, SEASON)


@settings(derandomize=True, max_examples=40, deadline=None)
@given(
    st.sampled_from(CASES),
    st.lists(st.tuples(st.floats(12.0, 60.0), st.floats(20.0, 90.0)), min_size=3, max_size=5),
    st.integers(0, 2),
    st.sampled_from([HOME, (145.3, -38.05), (8.1, 45.1)]),
)
def test_any_outline_mended_as_agreed_is_what_a_sound_file_brings(
    case: tuple[str, str], sizes_m: list[tuple[float, float]], at: int, home: tuple[float, float]
) -> None:
    sound = [outline(f"B{number}", 80.0 * number, size_m, home) for number, size_m in enumerate(sizes_m)]
    check_defect(*case, broken(case[1], sound, at), sound, None)


@pytest.mark.parametrize("write", OUTLINES)
def test_a_block_across_the_date_line_comes_in_as_two(write: str) -> None:
    def across(west: float, east: float, name: str) -> Item:
        ring = [[west, -17.0], [east, -17.0], [east, -16.9995], [west, -16.9995], [west, -17.0]]
        return feature("Polygon", [ring], block=name, **FIGURES)

    other = across(179.998, 179.999, "B")
    items = [across(179.9994, -179.9994, "A"), other]
    sound = [across(179.9994, 180.0, "A west"), across(-180.0, -179.9994, "A east"), other]
    check_defect(write, "split-at-date-line", items, sound, None)


@pytest.mark.parametrize("write", OUTLINES)
def test_which_way_round_an_outline_runs_is_a_matter_of_geojson_alone(write: str, tmp_path: Path) -> None:
    # RFC 7946, 3.1.6; a shapefile asks for the other way
    path = FORMATS[write](tmp_path, broken("turn-ring", BLOCKS, 1))
    outcome = taken(path, None)
    assert offered(outcome) == ({"turn-ring": 1} if path.suffix.startswith(".geojson") else {})
    assert not outcome.asks
    assert len(outcome.season.blocks) == 3


@pytest.mark.parametrize("write", CLOSED)
def test_an_outline_that_the_library_closes_is_not_offered(write: str, tmp_path: Path) -> None:
    outcome = taken(FORMATS[write](tmp_path, broken("close-ring", BLOCKS, 1)), None)
    assert (outcome.offers, len(outcome.season.blocks)) == ((), 3)


def test_a_single_feature_is_mended_beside_the_season(tmp_path: Path) -> None:
    near = outline("D", 150.0)
    path = single(tmp_path, [changed(near, lambda found: swapped([found[0][:-1]]))])
    assert offered(taken(path, SEASON)) == {"swap-coordinates": 1, "close-ring": 1}
    assert offered(taken(path, SEASON, "swap-coordinates")) == {"close-ring": 1}
    made = taken(path, SEASON, "swap-coordinates", "close-ring")
    assert [block.name for block in made.season.blocks] == ["A", "B", "C", "D"]
    assert [str(each) for each in made.mended] == [
        "one.geojson, feature 1, block D: longitude and latitude were swapped.",
        "one.geojson, feature 1, block D: the outline was closed.",
    ]


@pytest.mark.parametrize("write", FORMATS)
def test_every_defect_is_counted(write: str, tmp_path: Path) -> None:
    sound = [stop(vine, vine) for vine in range(6)]
    swaps = [changed(sound[at], swapped) for at in (0, 3)]
    twice = [sound[1], sound[1], sound[2], sound[4]]
    aside = [stop(vine, 2, -4.0) for vine in range(6, 10)]
    path = FORMATS[write](tmp_path, [*sound[1:3], sound[4], *swaps, *twice, *aside])
    counts = Counter(offered(taken(path, SEASON)))
    assert counts == {"swap-coordinates": 2, "drop-duplicates": 4, "snap-to-row": 4}
    made = taken(path, SEASON, *counts)
    assert Counter(each.repair for each in made.mended) == counts
    assert (made.offers, made.report.problems) == ((), [])
    assert sorted(made.season.rounds[0].stops.infected.tolist()) == [0, 1, 2, 2, 2, 2, 2, 3, 4]


def test_features_keep_the_number_they_have_in_their_file(tmp_path: Path) -> None:
    bad = outline("Bad", 150.0)
    bad["properties"]["vigour"] = "7"
    for write in OUTLINES:
        (folder := tmp_path / write).mkdir()
        made = taken(FORMATS[write](folder, [BLOCKS[0], BLOCKS[0], BLOCKS[1], bad]), None, "drop-duplicates")
        assert [problem.place for problem in made.report.problems] == ["feature 4, block Bad"]
        assert str(made.mended[0]).endswith("feature 2, block A: was left out, being the same as feature 1.")


def test_figures_of_a_geopackage_are_mended_too(tmp_path: Path) -> None:
    points = [feature("Point", vine_place(vine), height=str(vine)) for vine in (1, 4, 7)]
    path = geopackage(tmp_path, [*points, changed(feature("Point", vine_place(9), height="9"), swapped), points[0]])
    outcome = taken(path, SEASON)
    assert offered(outcome) == {"swap-coordinates": 1, "drop-duplicates": 1}
    made = taken(path, SEASON, *offered(outcome))
    assert (made.report.problems, len(made.season.covariate("height"))) == ([], 4)
    mend = Mending(("drop-duplicates",))
    read = read_readings(path, "height", mend=mend)
    assert [each.value for each in read.value] == [1.0, 4.0, 7.0]
    assert [problem.place for problem in read.problems] == ["feature 4"]


def test_a_swapped_place_of_an_old_datum_is_swapped_and_moved(tmp_path: Path) -> None:
    # NAD27 lies some 90 m from WGS 84 in California: a swap alone would leave it there
    ring = [[lon, lat] for lon, lat in BLOCKS[0]["geometry"]["coordinates"][0]]
    for name, found in (("sound", ring), ("swapped", swapped(ring))):
        (folder := tmp_path / name).mkdir()
        path = geojson(folder, [feature("Polygon", [found], block="A")])
        text = path.read_text(encoding="utf-8")
        crs = '{"crs": {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::4267"}}, '
        path.write_text(crs + text[1:], encoding="utf-8")
    (sound,) = read_features(tmp_path / "sound" / "a.geojson").value
    mend = Mending(("swap-coordinates",), HOME)
    (made,) = read_features(tmp_path / "swapped" / "a.geojson", mend=mend).value
    assert not np.allclose(sound.parts[0], ring, rtol=0, atol=1e-4)
    np.testing.assert_allclose(made.parts[0], sound.parts[0], rtol=0, atol=1e-9)


def test_metres_of_a_map_system_are_mended_where_it_is_named(tmp_path: Path) -> None:
    from vinemap.files.projection import to_system

    ring = np.array(BLOCKS[0]["geometry"]["coordinates"][0])
    in_metres = np.column_stack(to_system("EPSG:32610", ring[:, 0], ring[:, 1])).tolist()
    path = geojson(tmp_path, [feature("Polygon", [in_metres[:-1]], block="A", **FIGURES)])
    assert offered(taken(path, None, crs="EPSG:32610")) == {"close-ring": 1}
    made = taken(path, None, "close-ring", crs="EPSG:32610")
    assert made.season.blocks[0].outline.area == pytest.approx(31.0 * 41.0, rel=0.01)


def test_a_stop_in_metres_of_a_named_system_is_moved_in_that_system(tmp_path: Path) -> None:
    from vinemap.files.projection import to_system

    lon, lat = np.array([vine_place(5, -4.0), vine_place(8)]).T
    east, north = to_system("EPSG:3310", lon, lat)
    path = tmp_path / "s.csv"
    told = [f"2031-06-11,{x:.3f},{y:.3f},20,{count}\n" for x, y, count in zip(east, north, (3, 1), strict=True)]
    path.write_text("date,x_m,y_m,examined,infected\n" + "".join(told), encoding="utf-8")
    assert offered(taken(path, SEASON, crs="EPSG:3310")) == {"snap-to-row": 1}
    made = taken(path, SEASON, "snap-to-row", crs="EPSG:3310")
    assert made.report.problems == []
    stops = made.season.rounds[0].stops
    assert sorted(zip(stops.vine.tolist(), stops.infected.tolist(), strict=True)) == [(6, 3), (9, 1)]
