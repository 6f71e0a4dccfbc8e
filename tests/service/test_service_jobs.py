"""Jobs: progress, replacing, stopping, failing, closing. No sleeping: each step waits for the other side."""

from __future__ import annotations

import threading
from collections.abc import Iterator

import pytest

from vinemap.errors import Cancelled, InputError, Tick
from vinemap.service.jobs import Jobs, Report

WAIT_S = 10.0


class Listener:
    """Keeps reports and lets a test wait for the end of a job."""

    def __init__(self) -> None:
        self.reports: list[Report] = []
        self._told = threading.Condition()

    def __call__(self, report: Report) -> None:
        with self._told:
            self.reports.append(report)
            self._told.notify_all()

    def end_of(self, number: int) -> Report:
        """Wait for the last report of a job."""
        with self._told:
            assert self._told.wait_for(lambda: any(each.number == number and each.has_ended for each in self.reports), WAIT_S)
            return next(each for each in self.reports if each.number == number and each.has_ended)

    def of(self, number: int) -> list[Report]:
        """What was told of a job."""
        return [each for each in self.reports if each.number == number]


@pytest.fixture
def told() -> Listener:
    return Listener()


@pytest.fixture
def jobs(told: Listener) -> Iterator[Jobs]:
    made = Jobs(told)
    yield made
    made.close()


class Gate:
    """Work that has begun and waits to be let on."""

    def __init__(self) -> None:
        self.has_begun, self.may_go, self.was_stopped = threading.Event(), threading.Event(), threading.Event()

    def __call__(self, tick: Tick) -> str:
        self.has_begun.set()
        assert self.may_go.wait(WAIT_S)
        try:
            tick(0.5)
        except Cancelled:
            self.was_stopped.set()
            raise
        return "done"


def test_a_job_tells_its_progress_and_its_result(jobs: Jobs, told: Listener) -> None:
    number = jobs.start("map", "Making the map", lambda tick: tick(0.5) or 42)
    ended = told.end_of(number)
    assert (ended.key, ended.label, ended.fraction, ended.result, ended.error) == ("map", "Making the map", 1.0, 42, None)
    fractions = [each.fraction for each in told.of(number)]
    assert fractions[0] == 0.0
    assert fractions == sorted(fractions)


def test_progress_is_not_told_oftener_than_a_hand_notices(jobs: Jobs, told: Listener) -> None:
    def work(tick: Tick) -> None:
        for step in range(5000):
            tick(step / 5000)

    number = jobs.start("map", "", work)
    told.end_of(number)
    assert len(told.of(number)) < 100


def test_a_newer_job_of_the_same_key_stops_the_older(jobs: Jobs, told: Listener) -> None:
    older = Gate()
    first = jobs.start("map", "", older)
    assert older.has_begun.wait(WAIT_S)
    second = jobs.start("map", "", lambda tick: "newer")
    assert not jobs.is_current("map", first)
    assert jobs.is_current("map", second)
    older.may_go.set()
    assert told.end_of(second).result == "newer"
    assert older.was_stopped.is_set()
    assert not any(each.has_ended for each in told.of(first))


def test_a_job_that_was_replaced_before_it_began_never_runs(jobs: Jobs, told: Listener) -> None:
    gate, ran = Gate(), []
    jobs.start("other", "", gate)
    assert gate.has_begun.wait(WAIT_S)
    first = jobs.start("map", "", lambda tick: ran.append("older"))
    second = jobs.start("map", "", lambda tick: ran.append("newer"))
    gate.may_go.set()
    told.end_of(second)
    assert ran == ["newer"]
    assert told.of(first) == []


def test_another_key_is_left_alone(jobs: Jobs, told: Listener) -> None:
    gate = Gate()
    first = jobs.start("map", "", gate)
    assert gate.has_begun.wait(WAIT_S)
    second = jobs.start("paper", "", lambda tick: "paper")
    gate.may_go.set()
    assert told.end_of(second).result == "paper"
    assert told.end_of(first).result == "done"


def test_a_stopped_job_is_silent_even_if_it_never_looks_up(jobs: Jobs, told: Listener) -> None:
    has_begun, may_go = threading.Event(), threading.Event()

    def deaf(tick: Tick) -> str:
        has_begun.set()
        assert may_go.wait(WAIT_S)
        return "too late"

    number = jobs.start("map", "", deaf)
    assert has_begun.wait(WAIT_S)
    jobs.stop("map")
    jobs.stop("never begun")
    may_go.set()
    told.end_of(jobs.start("other", "", lambda tick: None))
    assert not any(each.has_ended for each in told.of(number))


@pytest.mark.parametrize("error", [InputError("It can't be."), ZeroDivisionError("a defect")])
def test_an_error_ends_the_job_and_the_next_one_runs(jobs: Jobs, told: Listener, error: Exception) -> None:
    def fail(tick: Tick) -> None:
        raise error

    ended = told.end_of(jobs.start("map", "", fail))
    assert (ended.error, ended.result, ended.has_ended) == (error, None, True)
    assert told.end_of(jobs.start("map", "", lambda tick: 1)).result == 1


def test_closing_stops_what_runs_and_what_waits_and_leaves_no_thread(told: Listener) -> None:
    jobs, gate, ran = Jobs(told), Gate(), []
    jobs.start("map", "", gate)
    jobs.start("paper", "", lambda tick: ran.append("paper"))
    assert gate.has_begun.wait(WAIT_S)
    closing = threading.Thread(target=jobs.close)
    closing.start()
    while jobs.is_current("map", 1):
        pass
    gate.may_go.set()
    closing.join(WAIT_S)
    assert not closing.is_alive()
    assert gate.was_stopped.is_set()
    assert ran == []
    assert not any(each.has_ended for each in told.reports)
    assert not [thread for thread in threading.enumerate() if thread.name.startswith("vinemap-job")]


def test_nothing_is_begun_after_closing(told: Listener) -> None:
    jobs = Jobs(told)
    jobs.close()
    jobs.start("map", "", lambda tick: 1)
    jobs.close()
    assert told.reports == []
