"""Every task file keeps the published rules of ISO 11783-10, and the checker that says so sees each of them broken."""

from __future__ import annotations

import copy
import io
import tempfile
import unicodedata
import zipfile
from collections.abc import Callable
from pathlib import Path
from xml.etree import ElementTree
from xml.etree.ElementTree import Element, SubElement

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from layer_seasons import LETTERS, PLACES
from taskdata_rules import ATTRIBUTES, faults

from vinemap.errors import InputError
from vinemap.files.projection import frame_for, to_local
from vinemap.files.taskdata import SprayField, rate_grid, write_taskdata
from vinemap.service.given_layers import in_lonlat

Written = tuple[Element, dict[str, bytes]]


def field(
    name: str = "a", home: tuple[float, float] = PLACES[0], rate: float = 600.0, cell_m: float = 2.0, hole: bool = True
) -> SprayField:
    frame = frame_for(*home)
    outline = shapely.box(0, 0, 40, 30)
    if hole:
        outline = outline.difference(shapely.box(20, 20, 25, 25))
    strips = np.array([shapely.box(10, 0, 12.5, 30), shapely.box(30, 10, 32.5, 20)])
    grid = rate_grid(frame, outline, strips, rate, cell_m)
    return SprayField(name, in_lonlat(frame, np.array([outline]))[0], outline.area, grid)


def written(fields: list[SprayField], estate: str = "Estate", is_invented: bool = False) -> Written:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "task.zip"
        write_taskdata(path, estate, fields, is_invented)
        with zipfile.ZipFile(path) as archive:
            held = {Path(name).name: archive.read(name) for name in archive.namelist()}
    return ElementTree.parse(io.BytesIO(held.pop("TASKDATA.XML"))).getroot(), held


names = st.text(LETTERS, min_size=1, max_size=50).filter(lambda text: text == text.strip() != "")
fields = st.builds(
    field,
    name=names,
    home=st.sampled_from(PLACES),
    rate=st.floats(1.0, 10_000.0),
    cell_m=st.sampled_from((0.7, 1.0, 2.0, 2.5)),
    hole=st.booleans(),
)


@given(st.lists(fields, min_size=1, max_size=4), names, st.booleans())
@settings(max_examples=40)
def test_what_is_written_breaks_no_rule(made: list[SprayField], estate: str, is_invented: bool) -> None:
    root, grids = written(made, estate, is_invented)
    assert faults(root, grids) == []
    for each, grid in zip(made, root.iter("GRD"), strict=True):
        stored = np.frombuffer(grids[f"{grid.attrib['G']}.BIN"], "<i4")
        # 0.01 mm3/m2 is a ten-thousandth of a litre per hectare
        assert np.abs(stored / 10_000 - each.grid.l_per_ha.ravel()).max() <= 0.5e-4
        assert (stored > 0).any()
    for tag, letter in (("PFD", "C"), ("TSK", "B")):
        shown = [each.attrib[letter] for each in root.iter(tag)]
        assert len(set(shown)) == len(shown) == len(made)


def test_the_checker_knows_all_that_is_written() -> None:
    root, _ = written([field()])
    assert {each.tag for each in root.iter()} == set(ATTRIBUTES)
    for tag, rules in ATTRIBUTES.items():
        assert set(next(root.iter(tag)).attrib) == set(rules), tag


def put(tag: str, letter: str, value: str) -> Callable[[Element], None]:
    return lambda root: next(root.iter(tag)).set(letter, value)


def without(tag: str, letter: str) -> Callable[[Element], None]:
    return lambda root: next(root.iter(tag)).attrib.pop(letter) and None


def again(tag: str, outer: str) -> Callable[[Element], None]:
    return lambda root: next(root.iter(outer)).append(copy.deepcopy(next(root.iter(tag))))


def bare(tag: str) -> Callable[[Element], None]:
    return lambda root: [next(root.iter(tag)).remove(each) for each in list(next(root.iter(tag)))] and None


def unknown(root: Element) -> None:
    SubElement(next(root.iter("TSK")), "GRID")


def words(root: Element) -> None:
    next(root.iter("TZN")).text = "spray"


BROKEN = {
    "version": (put("ISO11783_TaskData", "VersionMajor", "3"), "VersionMajor can't be '3'"),
    "nobody": (without("ISO11783_TaskData", "ManagementSoftwareManufacturer"), "lacks ManagementSoftwareManufacturer"),
    "origin": (put("ISO11783_TaskData", "DataTransferOrigin", "0"), "DataTransferOrigin can't"),
    "long name": (put("CTR", "B", "x" * 33), "CTR B can't"),
    "other attribute": (put("FRM", "Z", "1"), "FRM Z can't"),
    "id of another kind": (put("FRM", "A", "FARM1"), "FRM A can't"),
    "id twice": (put("TSK", "A", "TSK2"), "TSK2 stands twice"),
    "id not there": (put("TSK", "E", "PFD9"), "names PFD9"),
    "area": (put("PFD", "D", "-1"), "PFD D can't"),
    "broken area": (put("PFD", "D", "12.5"), "PFD D can't"),
    "kind of polygon": (put("PLN", "A", "13"), "PLN A can't"),
    "kind of ring": (put("LSG", "A", "0"), "LSG A can't"),
    "two outer rings": (again("LSG", "PLN"), "one outer ring"),
    "no ring": (bare("PLN"), "PLN holds 0 LSG"),
    "no point": (bare("LSG"), "LSG holds 0 PNT"),
    "open ring": (put("PNT", "C", "38.5"), "a ring is closed"),
    "north": (put("PNT", "C", "90.1"), "PNT C can't"),
    "ten decimals": (put("PNT", "D", "1.1234567891"), "PNT D can't"),
    "exponent": (put("PNT", "D", "1e2"), "PNT D can't"),
    "decimal comma": (put("PNT", "D", "1,5"), "PNT D can't"),
    "no unit": (put("VPN", "C", "0"), "VPN C can't"),
    "decimals": (put("VPN", "D", "8"), "VPN D can't"),
    "no status": (without("TSK", "G"), "TSK lacks G"),
    "status": (put("TSK", "G", "7"), "TSK G can't"),
    "no such zone": (put("TSK", "J", "5"), "TSK J names no zone"),
    "code of a zone": (put("TZN", "A", "255"), "TZN A can't"),
    "zone twice": (put("TZN", "A", "1"), "stands twice in a task"),
    "entry": (put("PDV", "A", "1"), "PDV A can't"),
    "value": (put("PDV", "B", str(2**31)), "PDV B can't"),
    "cell of two degrees": (put("GRD", "C", "2.0"), "GRD C can't"),
    "no cell": (put("GRD", "E", "0"), "a grid has cells"),
    "name of the grid": (put("GRD", "G", "GRD1"), "GRD G can't"),
    "another grid": (put("GRD", "G", "GRD00009"), "named without the other"),
    "length": (put("GRD", "H", "4"), "not as long as is told"),
    "kind of grid": (put("GRD", "I", "3"), "GRD I can't"),
    "bytes for values": (put("GRD", "I", "1"), "not a byte for each cell"),
    "zone of the cells": (put("GRD", "J", "9"), "GRD J names no zone"),
    "rows": (put("GRD", "F", "3"), "not four bytes"),
    "two grids": (again("GRD", "TSK"), "TSK holds 2 GRD"),
    "two values": (again("PDV", "TSK"), "PDV can't stand in TSK"),
    "pole": (put("GRD", "A", "90.0"), "ends at the pole"),
    "unknown element": (unknown, "GRID is not known"),
    "words": (words, "TZN holds words"),
}


@pytest.mark.parametrize("name", BROKEN)
def test_each_rule_broken_is_seen(name: str) -> None:
    root, grids = written([field(), field("b")])
    break_it, said = BROKEN[name]
    break_it(root)
    assert any(said in fault for fault in faults(root, grids)), faults(root, grids)


def test_a_rate_below_nothing_is_seen() -> None:
    root, grids = written([field()])
    grids["GRD00001.BIN"] = np.array([-1], "<i4").tobytes() + grids["GRD00001.BIN"][4:]
    assert faults(root, grids) == ["a rate is below 0"]


def test_blocks_whose_long_names_begin_or_end_alike_stay_apart() -> None:
    alike = ["West vineyard, upper terrace, old vines", "West vineyard, upper terrace, new vines"]
    same = ["x" * 60 + "y", "x" * 61 + "y"]
    root, grids = written([field(name) for name in (*alike, *same)], is_invented=True)
    assert faults(root, grids) == []
    assert [each.attrib["B"] for each in root.iter("TSK")] == [
        "INVENTED Spray West..old vines",
        "INVENTED Spray West..new vines",
        "INVENTED Spray xxxxx..xxxxxxxxxy",
        "INVENTED Spray x..xxxxxxxxxy (2)",
    ]


def test_accents_written_as_signs_of_their_own_are_not_torn_off() -> None:
    root, _ = written([field(unicodedata.normalize("NFD", "Ñandú del Peñón"))])
    assert next(root.iter("PFD")).attrib["C"] == "Ñandú del Peñón"


def test_the_smallest_and_the_largest_grid() -> None:
    frame = frame_for(*PLACES[0])
    small, large = shapely.box(0, 0, 0.4, 0.4), shapely.box(0, 0, 500, 600)
    made = [
        SprayField(
            name, in_lonlat(frame, np.array([outline]))[0], outline.area, rate_grid(frame, outline, strips, 1.0, cell_m)
        )
        for name, outline, strips, cell_m in (
            ("one", small, np.array([small]), 0.5),
            ("many", large, np.array([shapely.box(0, 0, 2, 600)]), 0.5),
        )
    ]
    root, grids = written(made)
    assert faults(root, grids) == []
    assert len(grids["GRD00001.BIN"]) == 4
    assert len(grids["GRD00002.BIN"]) > 4 * 1_190_000


@pytest.mark.parametrize("home", PLACES)
def test_each_place_gets_the_rate_of_its_strip(home: tuple[float, float]) -> None:
    """Read as a terminal does: from longitude and latitude to a cell, and from the cell to litres per hectare."""
    frame = frame_for(*home)
    strips = np.array([shapely.box(10, 0, 12.5, 60), shapely.box(30, 10, 32.5, 40)])
    outline = shapely.box(0, 0, 40, 60)
    made = SprayField("a", in_lonlat(frame, np.array([outline]))[0], 2400.0, rate_grid(frame, outline, strips, 432.1, 0.5))
    root, grids = written([made])
    told = next(root.iter("GRD")).attrib
    value = np.frombuffer(grids["GRD00001.BIN"], "<i4")
    lon, lat = shapely.get_coordinates(made.outline).T
    rng = np.random.default_rng(7)
    lon, lat = rng.uniform(lon.min(), lon.max(), 2000), rng.uniform(lat.min(), lat.max(), 2000)
    row = np.floor((lat - float(told["A"])) / float(told["C"])).astype(int)
    column = np.floor((lon - float(told["B"])) / float(told["D"])).astype(int)
    is_held = (row >= 0) & (row < int(told["F"])) & (column >= 0) & (column < int(told["E"]))
    assert is_held.all()
    rate = value[row * int(told["E"]) + column] / 10_000
    x_m, y_m = to_local(frame, lon, lat)
    area = shapely.union_all(strips)
    points = shapely.points(x_m, y_m)
    # a cell goes by its middle, at most half a diagonal away
    is_far_in = shapely.contains(shapely.buffer(area, -0.36), points)
    is_far_out = ~shapely.contains(shapely.buffer(area, 0.36), points)
    assert min(is_far_in.sum(), is_far_out.sum()) > 50
    assert np.unique(rate[is_far_in]).tolist() == [432.1]
    assert np.unique(rate[is_far_out]).tolist() == [0.0]


@pytest.mark.parametrize(("rate", "cell_m", "said"), [(0.99, 1.0, "no rate"), (1.0, 101.0, "too large"), (1.0, 90.0, "miss")])
def test_what_would_come_to_nothing_or_break_a_rule_is_refused(rate: float, cell_m: float, said: str) -> None:
    with pytest.raises(InputError, match=said):
        field(rate=rate, cell_m=cell_m)


def test_what_a_terminal_wrote_back_is_never_written_over(tmp_path: Path) -> None:
    path = tmp_path / "TASKDATA.XML"
    write_taskdata(path, "Estate", [field()], False)
    write_taskdata(path, "Estate", [field()], False)
    ours = path.read_text(encoding="utf-8")
    for theirs in (
        ours.replace('DataTransferOrigin="1"', 'DataTransferOrigin="2"'),
        ours.replace('Manufacturer="Vinemap"', 'Manufacturer="Somebody"'),
        "no XML",
    ):
        path.write_text(theirs, encoding="utf-8")
        (tmp_path / "GRD00001.BIN").write_bytes(b"sprayed")
        with pytest.raises(InputError, match="may hold what was sprayed"):
            write_taskdata(path, "Estate", [field()], False)
        assert path.read_text(encoding="utf-8") == theirs
        assert (tmp_path / "GRD00001.BIN").read_bytes() == b"sprayed"
    (tmp_path / "GRD00001.BIN").unlink()
    path.write_bytes(b"")
    write_taskdata(path, "Estate", [field()], False)
    assert path.read_text(encoding="utf-8") == ours
