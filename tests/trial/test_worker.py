"""The worker runs, refuses, survives crashes and overruns, and stops when told."""

import operator
import os
import time
from concurrent.futures import ThreadPoolExecutor
from math import sqrt
from threading import Event

import pytest

from evenweave.errors import Cancelled
from evenweave.trial.work.in_order import in_order
from evenweave.trial.work.worker import NoAdvice, TooLate, Worker


def test_a_task_runs_in_another_process(worker: Worker) -> None:
    assert worker.call(operator.add, 2, 3) == 5
    assert worker.call(os.getpid) != os.getpid()


def test_a_value_error_is_a_refusal_in_its_own_words(worker: Worker) -> None:
    with pytest.raises(NoAdvice, match="math domain error") as refusal:
        worker.call(sqrt, -1.0)
    assert str(refusal.value) == "No advice, because math domain error."


def test_any_other_error_is_named(worker: Worker) -> None:
    with pytest.raises(NoAdvice, match=r"the solver failed .ZeroDivisionError"):
        worker.call(operator.truediv, 1, 0)


def test_a_crash_costs_one_task(worker: Worker) -> None:
    with pytest.raises(NoAdvice, match="broke down"):
        worker.call(os.abort)
    assert worker.call(operator.add, 2, 3) == 5


def test_an_overrun_costs_one_task_and_is_counted(
    worker: Worker, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("evenweave.trial.work.worker.LEAST_PATIENCE", 0.2)
    late = worker.late
    with pytest.raises(TooLate, match=r"stopped after 0\.2 seconds"):
        worker.call(time.sleep, 60.0, seconds=0.0)
    assert worker.late == late + 1
    assert worker.call(operator.add, 2, 3) == 5


def test_memory_is_bounded(worker: Worker) -> None:
    with pytest.raises(NoAdvice, match="more memory than there is"):
        worker.call(bytes, 1 << 50)


def test_an_unwanted_task_is_dropped(worker: Worker) -> None:
    with pytest.raises(Cancelled):
        worker.call(time.sleep, 60.0, is_wanted=lambda: False)


def test_a_task_that_waits_for_a_free_child_may_be_dropped() -> None:
    over = Event()
    with Worker(1) as own, ThreadPoolExecutor(1) as pool:
        own.start()
        long = pool.submit(own.call, time.sleep, 60.0, is_wanted=lambda: not over.is_set())
        while not long.running() or not own._free.empty():
            time.sleep(0.01)
        own.start()
        with pytest.raises(Cancelled):
            own.call(time.sleep, 60.0, is_wanted=lambda: False)
        over.set()
        with pytest.raises(Cancelled):
            long.result()
        assert own.call(operator.add, 2, 3) == 5


def test_a_stopped_worker_leaves_no_process_and_can_start_again() -> None:
    with Worker(1) as own:
        process = own.call(os.getpid)
        own.stop()
        with pytest.raises(ProcessLookupError):
            os.kill(process, 0)
        assert own.call(os.getpid) != process


def test_jobs_are_answered_in_their_order(worker: Worker) -> None:
    jobs = [
        lambda is_wanted, n=n: worker.call(operator.mul, n, n, is_wanted=is_wanted)
        for n in range(7)
    ]
    assert list(in_order(worker, jobs, lambda: None)) == [n * n for n in range(7)]


def test_a_look_that_raises_stops_the_jobs_that_run(worker: Worker) -> None:
    def look() -> None:
        raise Cancelled

    jobs = [lambda is_wanted: worker.call(time.sleep, 60.0, is_wanted=is_wanted)] * 3
    with pytest.raises(Cancelled):
        list(in_order(worker, jobs, look))
    assert worker.call(operator.add, 2, 3) == 5


def _count_aloud(end: int) -> str:
    from evenweave.trial.work.worker import tell

    for number in range(end):
        tell(number)
    return "done counting"


def test_what_a_task_tells_on_the_way_is_heard_in_order(worker: Worker) -> None:
    heard: list[int] = []
    assert worker.call(_count_aloud, 3, hear=heard.append) == "done counting"
    assert heard == [0, 1, 2]
