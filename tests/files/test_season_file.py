from __future__ import annotations

import sqlite3
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from season_makers import make_block, make_round, make_season, make_weather, same

from vinemap.files import season_file as module
from vinemap.files.season_file import create, open_season, read_season
from vinemap.season import history as pure
from vinemap.season.edits import mark_vines, with_assumptions, with_round, with_weather, without_round
from vinemap.season.value import Season


def count(path: Path, table: str) -> int:
    db = sqlite3.connect(path)
    try:
        return int(db.execute(f"SELECT count(*) FROM {table}").fetchone()[0])
    finally:
        db.close()


def test_a_season_comes_back_as_it_was(tmp_path: Path) -> None:
    season = make_season()
    with create(tmp_path / "a.vinemap", season) as made:
        assert made.season is season
        assert (made.undo_label, made.redo_label) == (None, None)
    assert [path.name for path in tmp_path.iterdir()] == ["a.vinemap"]
    with open_season(tmp_path / "a.vinemap") as opened:
        assert same(opened.season, season)
        assert opened.labels == ("Begin the season",)


def test_a_bare_season_comes_back_without_weather(tmp_path: Path) -> None:
    season = Season(make_season().estate)
    create(tmp_path / "a.vinemap", season).close()
    assert same(read_season(tmp_path / "a.vinemap"), season)


def test_edits_are_there_after_opening_again_and_so_is_undo(tmp_path: Path) -> None:
    path = tmp_path / "a.vinemap"
    first = make_season()
    second = with_round(first, make_round(3))
    third = mark_vines(second, "Long Acre", "1", 5, 6, 2)
    with create(path, first) as made:
        made.apply("Add round 3", second, 10)
        made.apply("Mark two vines dead", third, 20)
    with open_season(path) as opened:
        assert same(opened.season, third)
        assert opened.undo_label == "Mark two vines dead"
        assert same(opened.undo(), second)
        assert (opened.undo_label, opened.redo_label) == ("Add round 3", "Mark two vines dead")
    with open_season(path) as opened:
        assert same(opened.season, second)
        assert opened.redo_label == "Mark two vines dead"
        assert same(opened.redo(), third)
        assert same(opened.undo(), second)
        assert same(opened.undo(), first)
        assert opened.undo() is opened.season
        assert opened.position == 0


def test_undo_gives_back_the_very_object(tmp_path: Path) -> None:
    first = make_season()
    second = with_weather(first, make_weather(12))
    again = with_weather(second, first.weather)
    with create(tmp_path / "a.vinemap", first) as made:
        assert made.apply("Other weather", second) is second
        made.apply("Same weather as before", again)
        assert made.undo() is second
        assert made.undo() is first
        assert made.redo() is second
        assert made.redo() is again


def test_parts_read_again_are_shared_between_steps(tmp_path: Path) -> None:
    path = tmp_path / "a.vinemap"
    with create(path, make_season()) as made:
        made.apply("Add round 3", with_round(made.season, make_round(3)))
    with open_season(path) as opened:
        later = opened.season
        earlier = opened.undo()
        assert earlier.blocks is later.blocks
        assert earlier.weather is later.weather
        assert earlier.rounds[0] is later.rounds[0]
        assert earlier.rounds is not later.rounds


def test_an_edit_writes_only_its_own_part_and_one_after_undo_clears_what_it_replaces(tmp_path: Path) -> None:
    path = tmp_path / "a.vinemap"
    with create(path, make_season()) as made:
        parts = count(path, "vinemap_part")
        # estate, 2 blocks, 2 rounds, 2 covariates, passes, sprays, stages, weather, assumptions, station, edge, rod, rules
        assert parts == 16
        made.apply("Add round 3", with_round(made.season, make_round(3)))
        assert count(path, "vinemap_part") == parts + 1
        made.apply("Add round 4", with_round(made.season, make_round(4)))
        assert count(path, "vinemap_part") == parts + 2
        made.undo()
        made.undo()
        assert count(path, "vinemap_part") == parts + 2
        made.apply("Add round 5", with_round(made.season, make_round(5)))
        assert count(path, "vinemap_part") == parts + 1
        assert count(path, "vinemap_step") == 2
        assert made.redo_label is None
        assert made.redo() is made.season


def test_no_change_makes_no_step(tmp_path: Path) -> None:
    with create(tmp_path / "a.vinemap", make_season()) as made:
        made.apply("Nothing", with_weather(made.season, made.season.weather))
        assert made.labels == ("Begin the season",)


def test_old_steps_are_forgotten_beyond_the_limit(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pure, "LIMIT_STEPS", 3)
    path = tmp_path / "a.vinemap"
    with create(path, make_season()) as made:
        for hours in range(1, 7):
            made.apply(f"{hours} h", with_weather(made.season, make_weather(hours)))
    assert count(path, "vinemap_step") == 4
    assert count(path, "vinemap_part") == 15 + 4
    with open_season(path) as opened:
        assert opened.labels == ("3 h", "4 h", "5 h", "6 h")
        for _ in range(5):
            opened.undo()
        assert opened.season.weather is not None
        assert len(opened.season.weather) == 3


def test_how_it_was_looked_at_is_kept_and_is_no_step(tmp_path: Path) -> None:
    path = tmp_path / "a.vinemap"
    with create(path, make_season()) as made:
        assert made.view("round") is None
        assert made.view("round", 1) == 1
        made.set_view("round", 2)
        made.set_view("round", 3)
        made.set_view("centre", [1.5, "Peña"])
    with open_season(path) as opened:
        assert opened.view("round") == 3
        assert opened.view("centre") == [1.5, "Peña"]
        assert opened.undo_label is None


def test_reading_writes_nothing_and_works_beside_a_window(tmp_path: Path) -> None:
    path = tmp_path / "a.vinemap"
    with create(path, make_season()) as made:
        edited = made.apply("Add round 3", with_round(made.season, make_round(3)))
        before = path.read_bytes()
        assert same(read_season(path), edited)
        assert path.read_bytes() == before
        made.undo()
        assert len(read_season(path).rounds) == 2


def test_the_same_season_makes_the_same_parts(tmp_path: Path) -> None:
    def hashes(name: str) -> list[tuple[str]]:
        create(tmp_path / name, make_season(), 1).close()
        db = sqlite3.connect(tmp_path / name)
        try:
            return db.execute("SELECT manifest, seal FROM vinemap_step").fetchall()
        finally:
            db.close()

    assert hashes("a.vinemap") == hashes("b.vinemap")


Deed = tuple[str, int]
deeds = st.lists(
    st.tuples(st.sampled_from(["weather", "mark", "round", "drop", "figures", "undo", "undo", "redo"]), st.integers(1, 6)),
    min_size=1,
    max_size=9,
)


def edit(season: Season, what: str, size: int) -> Season:
    if what == "weather":
        return with_weather(season, make_weather(size))
    if what == "mark":
        return mark_vines(season, "Long Acre", "2", size, size + 2, size % 4)
    if what == "round":
        return with_round(season, make_round(size, stops=size))
    if what == "drop":
        return without_round(season, season.rounds[-1].number) if season.rounds else season
    return with_assumptions(season, replace(season.assumptions, threshold=size / 10))


@settings(max_examples=14, derandomize=True, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(deeds)
def test_any_run_of_edits_is_what_memory_says_after_each_reopening(
    tmp_path_factory: pytest.TempPathFactory, run: list[Deed]
) -> None:
    path = tmp_path_factory.mktemp("run") / "a.vinemap"
    memory = pure.begun("Begin the season", 0, make_season())
    opened = create(path, memory.season, 0)
    try:
        for when, (what, size) in enumerate(run):
            if what == "undo":
                memory = pure.undone(memory)
                opened.undo()
            elif what == "redo":
                memory = pure.redone(memory)
                opened.redo()
            else:
                # the file and the memory hold different objects after a reopening, with one content
                edited = edit(memory.season, what, size)
                if edited is not memory.season:
                    memory = pure.done(memory, f"{what} {size}", when, edited)
                    opened.apply(f"{what} {size}", edited, when)
            assert same(opened.season, memory.season)
            opened.close()
            opened = open_season(path)
            assert same(opened.season, memory.season)
            assert opened.labels == tuple(step.label for step in memory.steps)
            assert (opened.undo_label, opened.redo_label) == (memory.label_to_undo, memory.label_to_redo)
        while opened.undo_label is not None:
            memory = pure.undone(memory)
            assert same(opened.undo(), memory.season)
        assert memory.position == 0
    finally:
        opened.close()


def test_nothing_is_kept_that_no_step_needs(tmp_path: Path) -> None:
    with create(tmp_path / "a.vinemap", make_season()) as made:
        rng = np.random.default_rng(7)
        for _ in range(30):
            if rng.random() < 0.4:
                made.undo()
            else:
                made.apply("edit", edit(made.season, str(rng.choice(["weather", "mark", "round"])), int(rng.integers(1, 6))))
        needed = {part for step in made._stand.history.steps for part in step.season}
        db = sqlite3.connect(made.path)
        kept = {(kind, name) for kind, name in db.execute("SELECT kind, hash FROM vinemap_part")}
        db.close()
        assert kept == needed


def test_a_large_block_shares_everything_it_can(tmp_path: Path) -> None:
    season = replace(
        make_season(), blocks=(make_block("Big", rows=100, vines=300),), rounds=(), passes=(), sprays=(), stages=()
    )
    with create(tmp_path / "a.vinemap", season) as made:
        size = made.path.stat().st_size
        made.apply("Other figures", with_assumptions(season, replace(season.assumptions, threshold=0.2)))
        assert made.path.stat().st_size - size < 20_000


def test_the_program_version_is_written(tmp_path: Path) -> None:
    create(tmp_path / "a.vinemap", make_season()).close()
    db = sqlite3.connect(tmp_path / "a.vinemap")
    written = dict(db.execute("SELECT key, value FROM vinemap_meta").fetchall())
    db.close()
    assert written["schema"] == str(module.SCHEMA)
    assert written["program"].startswith("Vinemap ")
