"""Run jobs on all children of a worker at once; their results come in order."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor, wait
from itertools import islice
from threading import Event
from typing import TypeVar

from evenweave.trial.work.worker import Wanted, Worker

Result = TypeVar("Result")
Job = Callable[[Wanted], Result]

LOOK_SECONDS = 0.05


def in_order(
    worker: Worker, jobs: Iterable[Job[Result]], look: Callable[[], None]
) -> Iterator[Result]:
    """Yield the jobs' results in the order of the jobs, which are taken as they are needed.

    A job is told a wish to hand on to `Worker.call`. `look` is called often meanwhile; when it
    raises, or when no more results are asked for, the jobs that run are stopped.
    """
    unwanted = Event()
    pool = ThreadPoolExecutor(worker.children)
    waiting = iter(jobs)

    def submitted(count: int) -> Iterator[Future[Result]]:
        for job in islice(waiting, count):
            yield pool.submit(job, lambda: not unwanted.is_set())

    running = deque(submitted(worker.children + 1))
    try:
        while running:
            look()
            while not wait([running[0]], LOOK_SECONDS).done:
                look()
            yield running.popleft().result()
            running.extend(submitted(1))
    finally:
        unwanted.set()
        pool.shutdown(cancel_futures=True)
