from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vinemap.ground.frame import Frame
from vinemap.season import history as module
from vinemap.season.history import begun, done, redone, undone
from vinemap.season.value import Estate, Season


def season() -> Season:
    return Season(Estate("Invented", Frame("EPSG:32610", 0.0, 0.0, 38.0, -122.0, 0.0), -8.0))


def test_a_history_begins_with_nothing_to_undo_or_redo() -> None:
    first = season()
    history = begun("Begin", 5, first)
    assert history.season is first
    assert (history.label_to_undo, history.label_to_redo) == (None, None)
    assert undone(history) is history
    assert redone(history) is history


def test_labels_name_what_undo_and_redo_would_do() -> None:
    history = done(done(begun("Begin", 0, season()), "one", 1, season()), "two", 2, season())
    assert (history.label_to_undo, history.label_to_redo) == ("two", None)
    history = undone(history)
    assert (history.label_to_undo, history.label_to_redo) == ("one", "two")
    assert [step.when_utc for step in history.steps] == [0, 1, 2]


def test_the_same_season_again_is_no_edit() -> None:
    history = begun("Begin", 0, season())
    assert done(history, "nothing", 1, history.season) is history


def test_only_so_many_edits_are_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    assert module.LIMIT_STEPS == 200
    monkeypatch.setattr(module, "LIMIT_STEPS", 3)
    history = begun("0", 0, season())
    for number in range(1, 8):
        history = done(history, str(number), number, season())
    assert [step.label for step in history.steps] == ["4", "5", "6", "7"]
    for _ in range(9):
        history = undone(history)
    assert history.position == 0
    assert history.label_to_redo == "5"


@settings(max_examples=100, derandomize=True, deadline=None)
@given(st.lists(st.sampled_from(["edit", "undo", "redo"]), max_size=40))
def test_walking_back_and_forth_meets_the_very_same_objects(run: list[str]) -> None:
    first = season()
    history = begun("Begin", 0, first)
    past, future = [first], []  # the plain two-stack model of undo
    for what in run:
        if what == "edit":
            past, future = [*past, season()], []
            history = done(history, "edit", 0, past[-1])
        elif what == "undo":
            if len(past) > 1:
                future.append(past.pop())
            history = undone(history)
        else:
            if future:
                past.append(future.pop())
            history = redone(history)
        assert history.season is past[-1]
        assert (history.label_to_undo is None) == (len(past) == 1)
        assert (history.label_to_redo is None) == (not future)
    while history.label_to_undo is not None:
        assert history.season is past.pop()
        history = undone(history)
    assert history.season is first
