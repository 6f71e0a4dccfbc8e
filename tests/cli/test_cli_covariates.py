"""Columns that may help the map, brought in by a command."""

from __future__ import annotations

from pathlib import Path

import pytest
from cli_running import Run
from estate_makers import HOME_DEG, SOUTH_DEG, degrees, feature, outline, write_lines, write_map, write_stops

from vinemap.files.season_file import open_season, read_season


@pytest.fixture
def season(run: Run, tmp_path: Path) -> Path:
    """Two blocks of made rows, 60 m and 3 km apart, without a round."""
    path = tmp_path / "a.vinemap"
    blocks = write_map(tmp_path / "blocks.geojson", outline("Long Acre"), outline("Far", 3000.0))
    assert run("add", blocks, "--season", path).code == 0
    return path


def lines(count: int = 5, first: float = 0.2) -> list[tuple[object, ...]]:
    return [("Long Acre", 1, vine, round(first + 0.1 * vine, 3), "x") for vine in range(1, count + 1)]


def test_a_column_is_added_replaced_undone_and_kept(run: Run, season: Path, tmp_path: Path) -> None:
    table = write_lines(tmp_path / "v.csv", ("block", "row", "vine", "Vigour", "soil"), lines())
    said = run("add", table, "--season", season, "--covariate", "vigour")
    assert (said.code, said.err) == (0, "")
    assert said.out == "v.csv: column vigour, at 5 vines\nColumns not used in v.csv: soil.\n"
    newer = write_lines(tmp_path / "w.csv", ("block", "row", "vine", "VIGOUR"), [line[:4] for line in lines(7, 0.0)])
    said = run("add", newer, "--season", season)
    assert "It takes the place of the column vigour from v.csv." in said.out
    (kept,) = read_season(season).covariates
    assert (kept.name, kept.source, len(kept), kept.values[0]) == ("vigour", "w.csv", 7, 0.1)
    with open_season(season) as opened:
        assert opened.undo_label == "Bring in w.csv"
        assert opened.undo().covariates[0].source == "v.csv"


def test_a_column_of_a_file_that_is_known_for_something_else(run: Run, season: Path, tmp_path: Path) -> None:
    head = ("block", "row", "vine", "status", "variety", "depth_m")
    table = write_lines(tmp_path / "vines.csv", head, [("Far", 2, 3, "dead", "", 1.5), ("Far", 2, 4, "living", "", 0.5)])
    assert run("add", table, "--season", season, "--covariate", "depth_m").code == 0
    held = read_season(season)
    assert held.covariate("depth_m") is not None
    assert [len(block.exceptions.vine) for block in held.blocks] == [0, 0]


def test_what_is_left_out_is_listed_and_ends_with_one(run: Run, season: Path, tmp_path: Path) -> None:
    table = write_lines(
        tmp_path / "v.csv", ("block", "row", "vine", "vigour"), [*[line[:4] for line in lines(2)], ("A", 1, 1, 2)]
    )
    said = run("add", table, "--season", season)
    assert said.code == 1
    assert "left out: v.csv, line 4: block = A: there is no block of this name." in said.err
    assert len(read_season(season).covariates[0]) == 2
    nothing = write_lines(tmp_path / "n.csv", ("block", "row", "vine", "soil"), [("A", 1, 1, 2)])
    said = run("add", nothing, "--season", season)
    assert said.code == 1
    assert "no figure of soil could be put on a vine" in said.out
    assert len(read_season(season).covariates) == 1


def test_a_raster_is_called_by_its_file_or_as_asked(run: Run, season: Path, tmp_path: Path) -> None:
    import numpy as np
    import rasterio
    from affine import Affine

    west, south = degrees(HOME_DEG, -10.0, -10.0)
    path = tmp_path / "Bare  soil.tif"
    cells = np.arange(10_000.0).reshape(100, 100)
    transform = Affine(1e-5, 0.0, west, 0.0, -1e-5, south + 100 * 1e-5)
    with rasterio.open(
        path, "w", driver="GTiff", width=100, height=100, count=1, dtype="float64", crs="EPSG:4326", transform=transform
    ) as made:
        made.write(cells, 1)
    said = run("add", path, "--season", season)
    assert (said.code, said.err) == (0, "")
    assert "Bare  soil.tif: column Bare soil, at 480 vines" in said.out
    # the other block lies 3 km away
    near, far = (int(block.rows.vine_count.sum()) for block in read_season(season).blocks)
    assert near == 480
    assert f"Bare  soil.tif: {far} of {near + far} vines stand outside it." in said.out
    assert run("add", path, "--season", season, "--covariate", "Moisture").code == 0
    assert [each.name for each in read_season(season).covariates] == ["Bare soil", "Moisture"]
    said = run("check", path)
    assert (said.code, said.out) == (0, "")
    (tmp_path / "cut.tif").write_bytes(path.read_bytes()[:100])
    said = run("check", tmp_path / "cut.tif")
    assert said.code == 1
    assert said.out.startswith("cut.tif: can't be read as a TIFF: it is damaged, cut off")
    assert len(said.out.splitlines()) == 1
    south_season = tmp_path / "south.vinemap"
    blocks = write_map(tmp_path / "south.geojson", outline("Billabong", home=SOUTH_DEG))
    assert run("add", blocks, "--season", south_season).code == 0
    said = run("add", path, "--season", south_season)
    assert said.code == 1
    assert "left out: Bare  soil.tif: lies elsewhere: it covers no vine of this estate." in said.err


def test_outlines_and_a_column_begin_a_season_together(run: Run, tmp_path: Path) -> None:
    blocks = write_map(tmp_path / "blocks.geojson", outline("Long Acre"))
    table = write_lines(tmp_path / "v.csv", ("block", "row", "vine", "vigour"), [line[:4] for line in lines()])
    assert run("add", table, blocks, "--season", tmp_path / "b.vinemap").code == 0
    assert len(read_season(tmp_path / "b.vinemap").covariates[0]) == 5
    said = run("add", table, "--season", tmp_path / "c.vinemap")
    assert said.code == 2
    assert "There is no block to put this on." in said.err
    assert not (tmp_path / "c.vinemap").exists()


def test_commands_that_do_not_say_what_is_meant(run: Run, season: Path, tmp_path: Path) -> None:
    table = write_lines(tmp_path / "v.csv", ("block", "row", "vine", "vigour", "soil"), lines())
    with open_season(season) as opened:
        before = opened.labels
    said = run("add", table, "--season", season)
    assert said.code == 1
    assert "v.csv: has several columns: vigour, soil. Say which one to take." in said.err
    said = run("add", table, "--season", season, "--covariate", "height")
    assert said.code == 1
    assert "has no column “height”. It has: vigour, soil." in said.err
    said = run("add", table, table, "--season", season, "--covariate", "vigour")
    assert (said.code, said.err) == (2, "--covariate takes one file at a time. Add the others by themselves.\n")
    assert "names no column" in run("add", table, "--season", season, "--covariate", " ").err
    assert run("add", season, "--season", tmp_path / "x.vinemap", "--covariate", "a").code == 2
    assert read_season(season).covariates == ()
    # the last report is kept in the file; nothing that the season holds has changed, and there is nothing to undo
    with open_season(season) as opened:
        assert opened.labels == before


def test_figures_of_one_value_are_said_to_tell_nothing(run: Run, season: Path, tmp_path: Path) -> None:
    points = write_map(
        tmp_path / "p.geojson",
        *(feature({"vigour": 0.5}, "Point", degrees(HOME_DEG, 2.0, north)) for north in (10.0, 20.0, 30.0)),
    )
    said = run("add", points, "--season", season)
    assert "The column vigour is 0.5 at every vine: it can't tell vines apart." in said.out


def test_check_tells_of_columns_and_lists_what_is_bad(run: Run, tmp_path: Path) -> None:
    two = write_lines(tmp_path / "two.csv", ("block", "row", "vine", "vigour", "soil"), lines())
    said = run("check", two)
    assert (said.code, said.out) == (0, "")
    assert "two.csv has the columns vigour, soil; name the one to take when you bring it in." in said.err
    one = write_lines(tmp_path / "one.csv", ("block", "row", "vine", "vigour"), [("Long Acre", 1, 1, "high")])
    said = run("check", one)
    assert said.code == 1
    assert "one.csv, line 2: vigour = high: is not a number." in said.out
    blocks = write_map(tmp_path / "blocks.geojson", outline("Long Acre"))
    said = run("check", blocks, two, write_stops(tmp_path / "stops.csv"))
    assert (said.code, said.out) == (0, "")
