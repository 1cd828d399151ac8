"""What more cores would give: the work and the span of reading, measuring and judging a file.

    python tests/benchmarks/work_and_span.py big.obj [--runs 3]

Every task runs alone, one after the other, and is timed, with what it waits for. Work is the sum
of all; span is the longest chain of tasks that wait for one another, which no number of cores
beats. What so many cores would take is found by always starting the task that was wanted first.
Memory bandwidth is taken to suffice, so that the figures are what is best attainable.
"""

from __future__ import annotations

import argparse
import heapq
import time
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import evenweave.layout.build
import evenweave.measure.measure
import evenweave.mesh.obj.reader
import evenweave.mesh.read
from evenweave.limits.limits import Limits
from evenweave.pipeline import review

POOLED = (evenweave.mesh.read, evenweave.mesh.obj.reader, evenweave.layout.build,
          evenweave.measure.measure)  # fmt: skip
CORES = (1, 2, 4, 8, 16)


@dataclass
class Task:
    """A piece of work; `after` : numbers of the tasks it waits for."""

    name: str
    seconds: float = 0.0
    after: set[int] = field(default_factory=set)


class Log:
    """The tasks in the order they were wanted; the thread that wants them is a chain of its own."""

    def __init__(self) -> None:
        self.tasks = [Task("main")]
        self.open = [0]
        self._since = time.perf_counter()

    def _stop(self) -> None:
        now = time.perf_counter()
        self.tasks[self.open[-1]].seconds += now - self._since
        self._since = now

    def _next(self) -> None:
        """Let what the open task does from now on be a task of its own behind it."""
        self._stop()
        self.tasks.append(Task(self.tasks[self.open[-1]].name, after={self.open[-1]}))
        self.open[-1] = len(self.tasks) - 1

    def run(self, work: Callable[..., Any], *given: Any) -> Known:
        self._next()
        number = len(self.tasks)
        code = getattr(work, "__code__", None)
        is_lambda = code is not None and code.co_name == "<lambda>"
        name = code.co_names[0] if is_lambda else getattr(work, "__name__", "")
        self.tasks.append(Task(name, after=set(self.tasks[self.open[-1]].after)))
        self.open.append(number)
        done = Known(self, number)
        try:
            done.set_result(work(*given))
        except BaseException as problem:
            done.set_exception(problem)
        self._stop()
        done.number = self.open.pop()
        return done

    def awaited(self, number: int) -> None:
        self._next()
        self.tasks[self.open[-1]].after.add(number)

    def end(self) -> list[Task]:
        self._stop()
        return self.tasks


class Known(Future[Any]):
    """A result that is there already; who asks for it waits for its task."""

    def __init__(self, log: Log, number: int) -> None:
        super().__init__()
        self.log, self.number = log, number

    def result(self, timeout: float | None = None) -> Any:
        self.log.awaited(self.number)
        return super().result(timeout)


class Pool:
    """Stands for a pool of threads and runs everything at once, alone."""

    log: Log

    def __init__(self, *_: Any, **__: Any) -> None: ...

    def __enter__(self) -> Pool:
        return self

    def __exit__(self, *_: object) -> None: ...

    def submit(self, work: Callable[..., Any], *given: Any) -> Known:
        return self.log.run(work, *given)

    def map(self, work: Callable[..., Any], given: Iterable[Any]) -> Iterator[Any]:
        found = [self.log.run(work, one) for one in given]
        return (one.result() for one in found)

    def shutdown(self, **_: Any) -> None: ...


def makespan(tasks: list[Task], cores: int) -> float:
    """Return the seconds that so many cores take when each takes the earliest ready task."""
    waits = [len(task.after) for task in tasks]
    then: list[list[int]] = [[] for _ in tasks]
    for number, task in enumerate(tasks):
        for other in task.after:
            then[other].append(number)
    ready = [number for number, count in enumerate(waits) if count == 0]
    running: list[tuple[float, int]] = []
    now = 0.0
    while ready or running:
        while ready and len(running) < cores:
            number = heapq.heappop(ready)
            heapq.heappush(running, (now + tasks[number].seconds, number))
        now, number = heapq.heappop(running)
        for other in then[number]:
            waits[other] -= 1
            if waits[other] == 0:
                heapq.heappush(ready, other)
    return now


def chain(tasks: list[Task]) -> list[Task]:
    """Return the tasks of the longest chain, in order."""
    end: dict[int, float] = {}

    def until(number: int) -> float:
        if number not in end:
            task = tasks[number]
            end[number] = task.seconds + max(map(until, sorted(task.after)), default=0.0)
        return end[number]

    number = max(range(len(tasks)), key=until)
    found = [number]
    while tasks[number].after:
        number = max(sorted(tasks[number].after), key=until)
        found.append(number)
    return [tasks[number] for number in reversed(found)]


def measured(path: Path) -> list[Task]:
    Pool.log = Log()
    review(evenweave.mesh.read.read(path), Limits())
    return Pool.log.end()


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("file", type=Path)
    parser.add_argument("--runs", type=int, default=3)
    told = parser.parse_args()
    for module in POOLED:
        vars(module)["ThreadPoolExecutor"] = Pool
    measured(told.file)
    tasks = min((measured(told.file) for _ in range(told.runs)), key=lambda t: makespan(t, 1))
    work, span = makespan(tasks, 1), makespan(tasks, len(tasks))
    print(f"work {work:.3f} s, span {span:.3f} s, parallelism {work / span:.1f}")
    for cores in CORES:
        seconds = makespan(tasks, cores)
        print(f"{cores:>3} cores {seconds:7.3f} s {work / seconds:6.2f} times as fast")
    print("the longest chain:")
    for task in chain(tasks):
        if task.seconds > 0.01 * span:
            print(f"  {task.seconds:7.3f} s  {task.name}")


if __name__ == "__main__":
    main()
