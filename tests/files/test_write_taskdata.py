"""A spray task holds to the structure of ISO 11783-10, and its cells to the strips that are to be sprayed."""

from __future__ import annotations

import io
import struct
import zipfile
from xml.etree import ElementTree

import numpy as np
import pytest
import shapely
from layer_seasons import files_of
from taskdata_rules import faults

from vinemap.errors import InputError
from vinemap.files.projection import frame_for, to_local
from vinemap.files.taskdata import SprayField, rate_grid, write_taskdata
from vinemap.service.given_layers import in_lonlat

SIDES = [(-122.7, 38.6), (145.3, -38.05), (18.9, 47.1)]


def made_field(home=(-122.7, 38.6), cell_m=1.0, rate=600.0, name="Long Acre"):
    frame = frame_for(*home)
    outline = shapely.box(0, 0, 60, 100).difference(shapely.box(20, 20, 30, 30))
    strips = np.array([shapely.box(10, 0, 12.5, 100), shapely.box(40, 30, 42.5, 60)])
    grid = rate_grid(frame, outline, strips, rate, cell_m)
    return frame, strips, SprayField(name, in_lonlat(frame, np.array([outline]))[0], outline.area, grid)


def written(tmp_path, fields, estate="Invented Estate", is_invented=False):
    path = tmp_path / "task.zip"
    write_taskdata(path, estate, fields, is_invented)
    with zipfile.ZipFile(path) as archive:
        held = {name: archive.read(name) for name in archive.namelist()}
    return ElementTree.parse(io.BytesIO(held["TASKDATA/TASKDATA.XML"])).getroot(), held


def test_a_rate_is_stored_as_the_data_dictionary_has_it(tmp_path):
    # worked by hand: 1 L/ha = 1e6 mm3 / 1e4 m2 = 100 mm3/m2, in steps of 0.01: 600 L/ha is 6 000 000
    _, held = written(tmp_path, [made_field()[2]])
    cells = held["TASKDATA/GRD00001.BIN"]
    assert set(struct.unpack(f"<{len(cells) // 4}i", cells)) == {0, 6_000_000}
    assert struct.pack("<i", 6_000_000) in cells


@pytest.mark.parametrize("is_invented", [True, False])
def test_a_planned_task_for_each_block_that_sprays_nothing_outside_or_when_the_place_is_lost(tmp_path, is_invented):
    fields = [made_field()[2], made_field(name="A name that is far longer than the 32 letters, “Peña” & <co>")[2]]
    root, held = written(tmp_path, fields, is_invented=is_invented)
    grids = {name.removeprefix("TASKDATA/"): held[name] for name in held if name.endswith(".BIN")}
    assert faults(root, grids) == []
    assert root.attrib["DataTransferOrigin"] == "1"
    assert len(list(root.iter("TSK"))) == 2
    for task in root.iter("TSK"):
        assert task.attrib["G"] == "1"  # planned
        zones = {zone.attrib["A"]: [(value.attrib["A"], value.attrib["B"]) for value in zone] for zone in task.iter("TZN")}
        assert zones == {"0": [("0001", "0")], "1": [("0001", "0")]}
        assert {task.attrib[letter] for letter in "HIJ"} == {"0"}
    # as shown: 6 000 000 hundredths of a mm3/m2, and nothing added, is 600.0 L/ha
    (shown,) = root.iter("VPN")
    told = float(shown.attrib["C"]) * (6_000_000 + int(shown.attrib["B"]))
    assert f"{told:.{shown.attrib['D']}f} {shown.attrib['E']}" == "600.0 L/ha"
    assert [each.attrib["C"].startswith("INVENTED ") for each in root.iter("PFD")] == [is_invented] * 2
    assert sorted(held) == ["TASKDATA/GRD00001.BIN", "TASKDATA/GRD00002.BIN", "TASKDATA/TASKDATA.XML"]


def test_the_outline_is_closed_and_its_hole_is_one(tmp_path):
    root, _ = written(tmp_path, [made_field()[2]])
    (field,) = root.iter("PFD")
    assert field.attrib["D"] == "5900"
    (plan,) = field
    assert plan.attrib["A"] == "1"
    assert [ring.attrib["A"] for ring in plan] == ["1", "2"]
    for ring in plan:
        points = [(float(each.attrib["C"]), float(each.attrib["D"])) for each in ring]
        assert points[0] == points[-1]
        assert all(38.5 < north < 38.7 and -122.8 < east < -122.6 for north, east in points)


@pytest.mark.parametrize("home", SIDES)
@pytest.mark.parametrize("cell_m", [0.5, 1.0, 2.5])
def test_the_grid_as_written_sprays_the_strips_and_nothing_else(tmp_path, home, cell_m):
    frame, strips, field = made_field(home, cell_m)
    root, held = written(tmp_path, [field])
    (grid,) = root.iter("GRD")
    told = grid.attrib
    assert (told["G"], told["I"], told["J"]) == ("GRD00001", "2", "1")
    cells = held["TASKDATA/GRD00001.BIN"]
    columns, rows = int(told["E"]), int(told["F"])
    assert int(told["H"]) == len(cells) == 4 * rows * columns
    south, west, north_step, east_step = (float(told[letter]) for letter in "ABCD")
    assert all(0.0 < step <= 1.0 for step in (north_step, east_step))
    value = np.frombuffer(cells, "<i4").reshape(rows, columns)
    lat = south + (np.arange(rows) + 0.5) * north_step
    lon = west + (np.arange(columns) + 0.5) * east_step
    x_m, y_m = to_local(frame, np.tile(lon, rows), np.repeat(lat, columns))
    inside = shapely.contains_xy(shapely.union_all(strips), x_m, y_m).reshape(rows, columns)
    assert np.array_equal(value > 0, inside)
    # a cell is as large as was asked for, and the strips come to their area but for their edges
    off_m = np.hypot(np.diff(x_m[:2]), np.diff(y_m[:2]))
    assert off_m == pytest.approx(cell_m, rel=2e-3)
    edge_m2 = sum(strip.length for strip in strips) * cell_m / 2
    assert abs(inside.sum() * cell_m**2 - sum(strip.area for strip in strips)) <= edge_m2
    # the whole block is covered
    corners = np.array([[x_m.min(), x_m.max()], [y_m.min(), y_m.max()]])
    assert (corners[:, 0] <= cell_m).all()
    assert (corners[:, 1] >= [60 - cell_m, 100 - cell_m]).all()


def test_the_first_cell_is_the_south_west_one(tmp_path):
    frame = frame_for(18.9, 47.1)
    outline = shapely.box(0, 0, 50, 50)
    grid = rate_grid(frame, outline, np.array([shapely.box(-5, -5, 10, 10)]), 100.0, 1.0)
    field = SprayField("a", in_lonlat(frame, np.array([outline]))[0], 2500.0, grid)
    _, held = written(tmp_path, [field])
    value = np.frombuffer(held["TASKDATA/GRD00001.BIN"], "<i4").reshape(grid.l_per_ha.shape)
    half = value.shape[0] // 2, value.shape[1] // 2
    assert value[: half[0], : half[1]].sum() == value.sum() > 0


def test_beside_each_other_in_a_folder_of_the_name_a_terminal_looks_for(tmp_path):
    field = made_field()[2]
    with pytest.raises(InputError, match=r"A terminal looks for TASKDATA\.XML"):
        write_taskdata(tmp_path / "spray.xml", "Invented", [field], True)
    (tmp_path / "GRD00001.BIN").write_bytes(b"somebody's")
    with pytest.raises(InputError, match=r"GRD00001\.BIN is there already"):
        write_taskdata(tmp_path / "TASKDATA.XML", "Invented", [field], True)
    (tmp_path / "GRD00001.BIN").unlink()
    write_taskdata(tmp_path / "TASKDATA.XML", "Invented", [field], True)
    write_taskdata(tmp_path / "TASKDATA.XML", "Invented", [field], True)
    assert files_of(tmp_path) == ["GRD00001.BIN", "TASKDATA.XML"]


@pytest.mark.parametrize(
    ("rate", "cell_m", "said"),
    [
        (0.0, 1.0, "no rate to spray"),
        (-5.0, 1.0, "no rate to spray"),
        (20_000.0, 1.0, "no rate to spray"),
        (float("nan"), 1.0, "no rate to spray"),
        (600.0, 0.0, "too small"),
        (600.0, float("nan"), "too small"),
    ],
)
def test_rates_and_cells_that_can_t_be_are_refused(rate, cell_m, said):
    with pytest.raises(InputError, match=said):
        made_field(rate=rate, cell_m=cell_m)


def test_more_cells_than_a_terminal_holds_are_refused():
    frame = frame_for(-122.7, 38.6)
    outline = shapely.box(0, 0, 1000, 1000)
    with pytest.raises(InputError, match="cells in one block"):
        rate_grid(frame, outline, np.array([shapely.box(0, 0, 3, 1000)]), 600.0, 0.2)
