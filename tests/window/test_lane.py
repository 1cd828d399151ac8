"""The background lane: the newest answer counts, errors become sentences, bugs stay bugs."""

import threading
from collections.abc import Iterator
from typing import Any

import pytest
from pytestqt.qtbot import QtBot

from evenweave.errors import EvenweaveError, FileProblem
from evenweave.progress import Progress
from evenweave.window.state.lane import Bug, Lane


@pytest.fixture
def lane(qtbot: QtBot) -> Iterator[Lane]:
    one = Lane()
    yield one
    one.close()


def test_an_answer_is_handed_over_in_the_thread_that_asked(lane: Lane, qtbot: QtBot) -> None:
    taken: list[Any] = []

    def take(value: int) -> None:
        taken.append((value, threading.get_ident()))

    def work(progress: Progress) -> tuple[int, int]:
        return 42, threading.get_ident()

    with qtbot.waitSignal(lane.ended):
        lane.submit(work, take)
    ((answer, worker),), here = [value for value, _ in taken], threading.get_ident()
    assert answer == 42
    assert worker != here
    assert taken[0][1] == here


def test_only_the_newest_answer_counts(lane: Lane, qtbot: QtBot) -> None:
    gate, taken = threading.Event(), []

    def slow(progress: Progress) -> str:
        gate.wait(5)
        return "old"

    lane.submit(slow, taken.append)
    lane.submit(lambda progress: "new", taken.append)
    qtbot.waitUntil(lambda: bool(taken))
    gate.set()
    qtbot.wait(50)
    assert taken == ["new"]


def test_cancelled_work_stops_at_its_next_report_and_hands_over_nothing(
    lane: Lane, qtbot: QtBot
) -> None:
    started, stopped, taken = threading.Event(), threading.Event(), []

    def work(progress: Progress) -> None:
        try:
            for _ in range(100000):
                started.set()
                progress(0.5, "working")
                stopped.wait(0.001)
        finally:
            stopped.set()

    lane.submit(work, taken.append)
    started.wait(5)
    with qtbot.waitSignal(lane.ended):
        lane.cancel()
    assert stopped.wait(5)
    qtbot.wait(20)
    assert not lane.is_busy
    assert taken == []


def test_progress_is_told_with_its_words(lane: Lane, qtbot: QtBot) -> None:
    with qtbot.waitSignal(lane.progressed) as told:
        lane.submit(lambda progress: progress(0.25, "reading"), lambda value: None)
    assert told.args == [0.25, "reading"]


def test_an_expected_failure_is_told_as_its_sentence(lane: Lane, qtbot: QtBot) -> None:
    def work(progress: Progress) -> None:
        raise FileProblem("roof.obj", "line 3", "a face has two corners", "export it again")

    with qtbot.waitSignal(lane.failed) as failed:
        lane.submit(work, lambda value: None)
    error = failed.args[0]
    assert isinstance(error, EvenweaveError)
    assert str(error) == "roof.obj, line 3: a face has two corners; export it again."


def test_a_bug_surfaces_with_the_traceback_of_its_thread(lane: Lane, qtbot: QtBot) -> None:
    def careless(progress: Progress) -> float:
        return 1 / 0

    with qtbot.captureExceptions() as raised:
        with qtbot.waitSignal(lane.ended):
            lane.submit(careless, lambda value: None)
        qtbot.waitUntil(lambda: bool(raised))
    kind, bug, _ = raised[0]
    assert kind is Bug
    assert "in careless" in str(bug)
    assert isinstance(bug.__cause__, ZeroDivisionError)
