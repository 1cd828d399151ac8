"""The same work on many files in several processes; a file that kills its process costs only it."""

from __future__ import annotations

import multiprocessing
import os
import signal
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from pathlib import Path
from typing import TypeVar

from evenweave.command.line.terminal import ProgressLine

WORTH_BYTES = 8 << 20
"""Less than this altogether is done sooner than other processes have started."""

Task = TypeVar("Task")
Answer = TypeVar("Answer")


def crew_size(paths: Sequence[Path], wanted: int | None) -> int:
    """Return how many processes to use: as many as asked; else what the files are worth."""
    most = max(min(len(paths), wanted or os.cpu_count() or 1), 1)
    if wanted is not None or most == 1:
        return most
    return most if sum(map(_size, paths)) >= WORTH_BYTES else 1


def _size(path: Path) -> int:
    try:
        return path.stat().st_size
    except OSError:
        return 0


def answers(
    work: Callable[[Task], Answer],
    tasks: Sequence[Task],
    lost: Callable[[Task], Answer],
    *,
    processes: int,
) -> list[Answer]:
    """Return work(task) for every task, in their order.

    work, tasks : importable and picklable
    lost : what to answer for a task whose process ended
    """
    if processes == 1:
        return [work(task) for task in tasks]
    done = _together(work, tasks, processes)
    for number, task in enumerate(tasks):
        if number not in done:
            # Which of those at work ended the process is not told: each is tried alone.
            done[number] = _alone(work, task, lost)
    return [done[number] for number in range(len(tasks))]


def _pool(processes: int) -> ProcessPoolExecutor:
    # Forking a process with threads can lock it up, and does not exist everywhere.
    return ProcessPoolExecutor(processes, mp_context=multiprocessing.get_context("spawn"))


@contextmanager
def _interruptions_held() -> Iterator[None]:
    """Start processes that an interruption from the terminal does not reach.

    They inherit that it is held back; it is for this process alone to hear and to end them.
    """
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _together(
    work: Callable[[Task], Answer], tasks: Sequence[Task], processes: int
) -> dict[int, Answer]:
    """Return the answers by their task's number; those lost with a process are missing."""
    done: dict[int, Answer] = {}
    line = ProgressLine()
    pool = _pool(processes)
    try:
        with _interruptions_held():
            number: dict[Future[Answer], int] = {
                pool.submit(work, task): place for place, task in enumerate(tasks)
            }
        waiting = set(number)
        while waiting:
            line(len(done) / len(tasks), f"{len(done):,} of {len(tasks):,} files")
            ready, waiting = wait(waiting, return_when=FIRST_COMPLETED)
            for future in ready:
                done[number[future]] = future.result()
    except BrokenProcessPool:
        pass
    except KeyboardInterrupt:
        for one in multiprocessing.active_children():
            one.terminate()
        raise
    finally:
        pool.shutdown(wait=True, cancel_futures=True)
        line.clear()
    return done


def _alone(work: Callable[[Task], Answer], task: Task, lost: Callable[[Task], Answer]) -> Answer:
    with _pool(1) as pool:
        try:
            return pool.submit(work, task).result()
        except BrokenProcessPool:
            return lost(task)
