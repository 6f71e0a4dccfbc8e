"""The sample estates as they lie in their files, read with the plainest means so that no reader of ours judges itself."""

from __future__ import annotations

import csv
import json
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely

from vinemap.ground.block import STATUS_WORDS, Block, RowTable, VineExceptions, Vines
from vinemap.ground.vines import place_vines

SAMPLES = Path(__file__).resolve().parents[2] / "sample_blocks"


@dataclass(frozen=True)
class SampleEstate:
    """One estate's folder, with its blocks and vines in metres of its map projection."""

    folder: Path

    def table(self, name: str) -> list[dict[str, str]]:
        with (self.folder / name).open(encoding="utf-8", newline="") as lines:
            return list(csv.DictReader(lines, strict=True))

    def features(self, name: str) -> list[dict[str, Any]]:
        return list(json.loads((self.folder / name).read_text(encoding="utf-8"))["features"])

    @cached_property
    def page(self) -> dict[str, Any]:
        return dict(json.loads((self.folder / "estate.json").read_text(encoding="utf-8")))

    @cached_property
    def rounds(self) -> list[list[dict[str, str]]]:
        count = len(list(self.folder.glob("stops_round_*.csv")))
        return [self.table(f"stops_round_{number}.csv") for number in range(1, count + 1)]

    def _metres(self, points: Any) -> np.ndarray:
        from pyproj import Transformer

        to_grid = Transformer.from_crs("EPSG:4326", self.page["crs"], always_xy=True)
        lon_lat = np.asarray(points, dtype=np.float64)
        return np.column_stack(to_grid.transform(lon_lat[:, 0], lon_lat[:, 1]))

    def _rows(self, block: str) -> RowTable:
        mine = [each for each in self.features("rows.geojson") if each["properties"]["block"] == block]
        lines = [self._metres(each["geometry"]["coordinates"]) for each in mine]
        return RowTable(
            tuple(each["properties"]["row"] for each in mine),
            np.concatenate(lines),
            np.concatenate([[0], np.cumsum([len(line) for line in lines])]),
            np.array([each["properties"]["vine_spacing_m"] for each in mine]),
            np.array([each["properties"]["vines"] for each in mine]),
        )

    @cached_property
    def blocks(self) -> dict[str, Block]:
        differing = self.table("vines.csv")
        blocks = {}
        for each in self.features("outlines.geojson"):
            about = each["properties"]
            outer, *holes = [self._metres(ring) for ring in each["geometry"]["coordinates"]]
            rows = self._rows(about["block"])
            start = dict(zip(rows.labels, np.cumsum(rows.vine_count) - rows.vine_count, strict=True))
            mine = [line for line in differing if line["block"] == about["block"]]
            exceptions = VineExceptions(
                np.array([start[line["row"]] + int(line["vine"]) - 1 for line in mine]),
                np.array([STATUS_WORDS.index(line["status"]) for line in mine]),
                np.array([about["varieties"].index(line["variety"]) if line["variety"] else -1 for line in mine]),
            )
            blocks[about["block"]] = Block(
                about["block"],
                shapely.Polygon(outer, holes),
                rows,
                about["row_spacing_m"],
                about["vine_spacing_m"],
                tuple(about["varieties"]),
                about["training"],
                about["vigour"],
                exceptions,
            )
        return blocks

    @cached_property
    def vines(self) -> dict[str, Vines]:
        return {name: place_vines(block) for name, block in self.blocks.items()}

    @cached_property
    def truth(self) -> dict[tuple[str, str, int], np.ndarray]:
        """True incidence at each round by block, row and vine."""
        return {
            (line["block"], line["row"], int(line["vine"])): np.array(
                [float(line[k]) for k in line if k.startswith("incidence")]
            )
            for line in self.table("truth.csv")
        }

    def truth_of(self, block: str) -> tuple[Vines, np.ndarray, np.ndarray]:
        """Vines of a block, which of them live, and their true incidence (living, rounds)."""
        vines = self.vines[block]
        labels = self.blocks[block].rows.labels
        living = np.flatnonzero(vines.is_living)
        return vines, living, np.array([self.truth[block, labels[vines.row[k]], int(vines.ordinal[k])] for k in living])


@pytest.fixture(scope="session")
def sample_folder() -> Path:
    return SAMPLES


@pytest.fixture(scope="session")
def marlquill() -> SampleEstate:
    return SampleEstate(SAMPLES / "marlquill")


@pytest.fixture(scope="session")
def wattlequern() -> SampleEstate:
    return SampleEstate(SAMPLES / "wattlequern")


@pytest.fixture(scope="session", params=["marlquill", "wattlequern"])
def estate(request: pytest.FixtureRequest) -> SampleEstate:
    return request.getfixturevalue(request.param)
