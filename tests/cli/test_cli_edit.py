"""The ground put right from the command line; the estate is invented."""

from __future__ import annotations

import datetime as dt
import re
import shutil
from contextlib import suppress
from pathlib import Path

import numpy as np
import pytest
import shapely
from cli_running import Run
from hypothesis import given, settings
from hypothesis import strategies as st

from vinemap.errors import InputError
from vinemap.files.projection import frame_for, to_lonlat
from vinemap.files.season_file import read_season
from vinemap.ground.block import Block
from vinemap.ground.planting import RowPlan
from vinemap.ground.rowmaker import make_rows
from vinemap.scouting.rounds import Round, Stops
from vinemap.season.typed_edits import looks_like_edit
from vinemap.season.value import Estate, Season
from vinemap.service.book import new_book
from vinemap.service.typed_in import bearing_along_deg, do_typed, plan_rows, read_typed

GUIDE = Path(__file__).resolve().parents[2] / "resources" / "guide" / "2-ground-and-files.md"


_PLANTED = shapely.box(46, 0, 80, 60)


def two_blocks() -> Season:
    """Two blocks side by side with a lane of 6 m."""

    def block(name: str, outline: shapely.Polygon, *varieties: str, planted: shapely.Polygon | None = None) -> Block:
        return Block(name, outline, make_rows(planted or outline, 0.0, 2.5, 1.5), 2.5, 1.5, varieties)

    dogleg = shapely.Polygon([(0, 0), (40, 0), (40, 60), (25, 60), (25, 30), (0, 30)])
    blocks = (
        block("Dogleg", dogleg, "Syrah", "Carignan"),
        block("Wrenfield", shapely.box(46, 0, 85, 60), "Grenache", planted=_PLANTED),
    )
    nobody = Round(1, dt.date(2031, 5, 20), "", "random", Stops((), [], (), *[[]] * 8))
    return Season(Estate("Invented", frame_for(-122.7, 38.6), -8.0, True), blocks, (nobody,))


@pytest.fixture
def path(tmp_path: Path) -> Path:
    new_book(tmp_path / "a.vinemap", two_blocks()).close()
    return tmp_path / "a.vinemap"


def test_edits_are_made_said_and_undone(run: Run, path: Path) -> None:
    said = run("edit", "--season", path, "Dogleg row 12, vines 3 to 14 dead", "reverse row 12 of Dogleg")
    assert (said.code, said.err) == (0, "")
    assert "Dogleg / 12: vines 3 to 14 are dead now." in said.out
    count = int(read_season(path).blocks[0].rows.vine_count[11])
    dead = read_season(path).blocks[0].exceptions.vine - int(read_season(path).blocks[0].rows.vine_count[:11].sum()) + 1
    assert dead.tolist() == list(range(count + 1 - 14, count + 1 - 3 + 1))
    back = run("edit", "--season", path, "undo", "undo")
    assert back.out.splitlines()[0] == "Taken back: reverse row 12 of Dogleg."
    assert not len(read_season(path).blocks[0].exceptions.vine)
    assert run("edit", "--season", path, "redo").out == "Done again: Dogleg row 12, vines 3 to 14 dead.\n"


@pytest.mark.parametrize(
    ("edits", "words"),
    [
        (("make coffee",), "is not understood. Write for example"),
        (("row 12 vine 3 dead",), "There are: Dogleg, Wrenfield"),
        (("undo",), "There is nothing to undo."),
        ((), "It is not said what to edit."),
        (("reverse row 1 of Dogleg", "reverse row 99 of Dogleg"), "Done before that: Dogleg: row 1 turned round"),
    ],
)
def test_refusals(run: Run, path: Path, edits: tuple[str, ...], words: str) -> None:
    said = run("edit", "--season", path, *edits)
    assert said.code == 2
    assert words in said.err
    assert said.err.count("\n") == 1


def test_a_list_of_varieties_comes_from_a_file(run: Run, path: Path, tmp_path: Path) -> None:
    blend = tmp_path / "blend.txt"
    blend.write_text("row\tvarieties\n12\tCarignan 1-4, Syrah 5-9\n99\tSyrah\n", encoding="utf-16")
    said = run("edit", "--season", path, "--varieties", blend, "--block", "dogleg")
    assert said.code == 1
    assert "9 vines got their variety" in said.out
    assert "UTF-16" in said.out
    assert "left out: line 3" in said.err
    assert len(read_season(path).blocks[0].exceptions.vine) == 4
    assert run("edit", "--season", path, "--varieties", tmp_path / "no.txt").code == 2


@pytest.mark.parametrize(
    ("more", "first", "vines"),
    [
        (("--bearing", 0), "1", 13 * 30),
        (("--bearing", 0, "--from", "east", "--first-row", 7), "7", 13 * 30),
        (("--bearing", 0, "--headland", 6), "1", 13 * 24),
        (("--bearing", 90, "--from", "north"), "1", 20 * 19),
        (("--bearing", 0, "--along-edge", "--from", "west"), "1", 13 * 30),
    ],
)
def test_rows_are_made_from_an_outline(run: Run, path: Path, more: tuple[object, ...], first: str, vines: int) -> None:
    # 39 m by 60 m, rows every 3 m, vines every 2 m
    said = run("rows", "--season", path, "--block", "Wrenfield", "--row-spacing", 3, "--vine-spacing", 2, *more)
    assert (said.code, said.err) == (0, "")
    rows = read_season(path).blocks[1].rows
    assert rows.labels[0] == first
    # 39 m hold nineteen and a half vines of a row to the east
    assert int(rows.vine_count.sum()) in (vines, vines + len(rows))
    if "east" in more:
        assert rows.line_m(0)[0][0] == pytest.approx(85 - 1.5)


def test_rows_run_along_two_places_west_of_greenwich(run: Run, path: Path) -> None:
    places = ("-122.7008,38.6001", "-122.7008,38.6005")
    words = ("--season", path, "--block", "Wrenfield", "--row-spacing", 3, "--vine-spacing", 2)
    assert run("rows", *words, "--along", *places, "--offset").code == 0
    season = read_season(path)
    step = season.blocks[1].rows.line_m(3)[-1] - season.blocks[1].rows.line_m(3)[0]
    # true north is the convergence away from grid north
    assert np.degrees(np.arctan2(*step)) == pytest.approx(-season.estate.frame.convergence_deg, abs=0.01)


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ((), "Give either --bearing or --along"),
        (("--bearing", 0, "--from", "north"), "none is nearer to the north"),
        (("--along", "1,2,3", "4,5"), "is not a place"),
        (("--along", "-122.7,38.6", "-122.7,38.6"), "are the same"),
        (("--bearing", 0, "--headland", 40), "No vine fits"),
    ],
)
def test_rows_that_can_not_be_made(run: Run, path: Path, more: tuple[object, ...], words: str) -> None:
    said = run("rows", "--season", path, "--block", "Wrenfield", "--row-spacing", 3, "--vine-spacing", 2, *more)
    assert said.code == 2
    assert words in said.err


def test_rows_with_stops_are_left_alone(run: Run, sample: Path, tmp_path: Path) -> None:
    path = shutil.copy(sample / "wattlequern.vinemap", tmp_path / "w.vinemap")
    words = ("--season", path, "--block", "Quern Flat", "--bearing", 98, "--row-spacing", 3, "--vine-spacing", 2.2)
    said = run("rows", *words)
    assert said.code == 2
    assert "Quern Flat has stops of round 1, which stand on its present rows." in said.err


def told_edits() -> list[str]:
    (body,) = re.findall(r"^## Putting the ground right by hand\n(.*?)^## ", GUIDE.read_text(encoding="utf-8"), re.M | re.S)
    return re.findall(r"^\| `([^`]+)` \|", body, re.M)


@pytest.mark.parametrize("text", told_edits())
def test_every_edit_that_the_guide_tells_is_understood(text: str) -> None:
    season = two_blocks()
    frame_of = {"-5,15 to 45,15": ((-5, 15), (45, 15)), "20,-1": ((20, -1),)}
    for written, places in frame_of.items():
        text = text.replace(written, " to ".join(degrees(season, *place) for place in places))
    assert looks_like_edit(season, text)
    assert read_typed(season, text).said


def degrees(season: Season, x_m: float, y_m: float) -> str:
    lon, lat = to_lonlat(season.estate.frame, [x_m], [y_m])
    return f"{lon[0]:.8f},{lat[0]:.8f}"


STEPS = (
    "Dogleg row 12, vines 3 to 14 dead",
    "reverse rows 1 to 5 of Dogleg",
    "renumber rows of Dogleg from 101 east to west",
    "split Wrenfield after row 7 as Far",
    "merge Dogleg and Wrenfield as Dogleg",
    "move Wrenfield 0.5 m east",
    "add variety Barbera to Wrenfield",
)


@settings(derandomize=True, max_examples=6, deadline=None)
@given(st.permutations(STEPS))
def test_any_run_of_edits_is_undone_to_the_same_season_in_the_file(
    tmp_path_factory: pytest.TempPathFactory, order: list[str]
) -> None:
    book = new_book(tmp_path_factory.mktemp("undo") / "a.vinemap", two_blocks())
    seasons = [book.season]
    for text in order:
        # after a merge some names are gone
        with suppress(InputError):
            do_typed(book, text)
            seasons.append(book.season)
    assert len(seasons) > 3
    while len(seasons) > 1:
        assert book.season is seasons.pop()
        book.undo()
    assert book.season is seasons[0]
    book.close()


def test_a_plan_without_a_direction_is_refused() -> None:
    with pytest.raises(InputError, match="which way the rows run"):
        plan_rows(two_blocks(), "Dogleg", RowPlan(float("nan"), 3.0, 2.0))


def test_two_places_that_are_one_have_no_bearing() -> None:
    with pytest.raises(InputError, match="are the same"):
        bearing_along_deg(two_blocks(), (-122.7, 38.6), (-122.7, 38.6))
