"""An aerial picture brought in, refused and looked over by a command; it is invented."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from cli_running import Run
from estate_makers import outline, write_map

from vinemap.files.projection import to_lonlat
from vinemap.files.season_file import read_season


@pytest.fixture
def season(run: Run, tmp_path: Path) -> Path:
    """One block of made rows."""
    path = tmp_path / "a.vinemap"
    assert run("add", write_map(tmp_path / "blocks.geojson", outline("Long Acre")), "--season", path).code == 0
    return path


def png(path: Path, season: Path) -> Path:
    """40 by 40 m in grey around the first corner of the block, its world file in longitude and latitude."""
    import rasterio

    frame = read_season(season).estate.frame
    west_m, south_m, _, _ = read_season(season).blocks[0].outline.bounds
    lon, lat = to_lonlat(frame, [west_m - 20.0, west_m + 20.0], [south_m + 20.0, south_m - 20.0])
    form = {"driver": "PNG", "count": 1, "height": 20, "width": 20, "dtype": "uint8"}
    # without the warning that it has no place: it gets one below
    with pytest.warns(rasterio.errors.NotGeoreferencedWarning), rasterio.open(path, "w", **form) as made:
        made.write(np.full((1, 20, 20), 120, np.uint8))
    wide, high = (lon[1] - lon[0]) / 20, (lat[1] - lat[0]) / 20
    figures = (wide, 0.0, 0.0, high, lon[0] + wide / 2, lat[0] + high / 2)
    path.with_suffix(".pgw").write_text("\n".join(f"{figure:.12f}" for figure in figures), encoding="utf-8")
    return path


def test_a_picture_is_added_with_its_system_and_replaced(run: Run, season: Path, tmp_path: Path) -> None:
    path = png(tmp_path / "air.png", season)
    said = run("add", path, "--season", season)
    assert said.code == 1
    assert "does not say in which map system" in said.err
    assert read_season(season).aerial is None
    said = run("add", path, "--season", season, "--crs", "EPSG:4326")
    assert (said.code, said.err) == (0, "")
    assert said.out == "air.png: a picture of 20 by 20 pixels, below the map; leave the file where it is\n"
    kept = read_season(season).aerial
    assert kept is not None
    assert (kept.name, kept.path, kept.size_px, kept.crs) == ("air.png", str(path), (20, 20), "EPSG:4326")
    other = png(tmp_path / "later.png", season)
    said = run("add", other, "--season", season, "--crs", "EPSG:4326")
    assert said.out.splitlines()[1] == "It takes the place of the picture air.png."


def test_a_picture_needs_blocks_and_is_refused_without_changing_the_season(run: Run, season: Path, tmp_path: Path) -> None:
    path = png(tmp_path / "air.png", season)
    said = run("add", path, "--season", tmp_path / "new.vinemap", "--crs", "EPSG:4326")
    assert said.code == 2
    assert "There is no block to put this on" in said.err
    before = season.read_bytes()
    path.write_bytes(path.read_bytes()[:60])
    said = run("add", path, "--season", season, "--crs", "EPSG:4326")
    assert said.code == 1
    assert "can't be read as a picture" in said.err
    assert read_season(season).aerial is None
    assert len(season.read_bytes()) == len(before)


def test_check_reads_a_picture_by_itself(run: Run, season: Path, tmp_path: Path) -> None:
    path = png(tmp_path / "air.png", season)
    said = run("check", path)
    assert said.code == 1
    assert "does not say in which map system" in said.out
    path.with_suffix(".prj").write_text("EPSG:4326", encoding="utf-8")
    said = run("check", path)
    assert (said.code, said.out, said.err) == (0, "", "")


def test_a_picture_may_be_named_with_the_files_beside_it(run: Run, season: Path, tmp_path: Path) -> None:
    path = png(tmp_path / "air.png", season)
    path.with_suffix(".prj").write_text("EPSG:4326", encoding="utf-8")
    files = [path.with_suffix(".pgw"), path, path.with_suffix(".prj")]
    assert run("check", *files).code == 0
    said = run("add", *files, "--season", season)
    assert (said.code, said.err) == (0, "")
    assert read_season(season).aerial is not None
    said = run("add", path.with_suffix(".pgw"), "--season", season)
    assert said.code != 0
    assert "air.pgw" in said.err


def grey(path: Path, season: Path, dtype: str = "uint8") -> Path:
    """A TIFF of one band over the block."""
    import rasterio

    frame = read_season(season).estate.frame
    west_m, _, _, north_m = read_season(season).blocks[0].outline.bounds
    corner = rasterio.Affine(1.0, 0.0, frame.origin_x_m + west_m - 5.0, 0.0, -1.0, frame.origin_y_m + north_m + 5.0)
    form = {"driver": "GTiff", "count": 1, "height": 200, "width": 200, "dtype": dtype, "crs": frame.crs}
    with rasterio.open(path, "w", transform=corner, **form) as made:
        made.write((np.arange(40_000) % 251).reshape(1, 200, 200).astype(dtype))
    return path


def test_a_grey_tiff_is_a_column_until_it_is_called_a_picture(run: Run, season: Path, tmp_path: Path) -> None:
    path = grey(tmp_path / "air.tif", season)
    said = run("add", path, "--season", season)
    assert (said.code, said.err) == (0, "")
    assert said.out.splitlines()[-1] == "air.tif was taken as a column; for a grey picture say --picture."
    assert [each.name for each in read_season(season).covariates] == ["air"]
    assert read_season(season).aerial is None
    assert run("edit", "undo", "--season", season).code == 0
    said = run("add", path, "--season", season, "--picture")
    assert (said.code, said.err) == (0, "")
    assert said.out == "air.tif: a picture of 200 by 200 pixels, below the map; leave the file where it is\n"
    kept = read_season(season)
    assert kept.aerial is not None
    assert kept.covariates == ()


def test_how_sixteen_bits_are_shown_is_said(run: Run, season: Path, tmp_path: Path) -> None:
    said = run("add", grey(tmp_path / "air.tif", season, "uint16"), "--season", season, "--picture")
    assert said.out.splitlines()[1] == "air.tif: it has 16 bits: its darkest 2 % are shown black and its lightest 2 % white."


def test_figures_with_fractions_are_never_a_picture_and_a_column_is_none(run: Run, season: Path, tmp_path: Path) -> None:
    path = grey(tmp_path / "air.tif", season, "float32")
    said = run("add", path, "--season", season, "--picture")
    assert said.code == 1
    assert "holds figures, not colours" in said.err
    assert run("add", path, "--season", season).out.count("\n") == 1
    said = run("add", path, "--season", season, "--picture", "--covariate", "height")
    assert said.code == 2
    assert "can't both be meant" in said.err
