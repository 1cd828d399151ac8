"""Processes of our own for solvers that hold the interpreter lock, take long or may crash.

A crash or an overrun costs the one task it happened in; the next task gets a new process.
"""

from __future__ import annotations

import importlib
import multiprocessing
import os
import signal
import time
from collections.abc import Callable
from contextlib import contextmanager, suppress
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from queue import Empty, SimpleQueue
from typing import TYPE_CHECKING, Any, TypeVar

from evenweave.errors import Cancelled, EvenweaveError
from evenweave.threads import cores
from evenweave.trial.work import effort

if TYPE_CHECKING:
    from collections.abc import Iterator
    from types import TracebackType

Result = TypeVar("Result")
Wanted = Callable[[], bool]
Hear = Callable[[Any], None]

SOLVERS = ("igl", "scipy.sparse.csgraph", "scipy.sparse.linalg", "shapely")
MOST_CHILDREN = 8  # each takes some 200 MB
START_SECONDS = 60.0
LOOK_SECONDS = 0.05
PATIENCE, LEAST_PATIENCE = 10.0, 60.0  # real seconds, for work of one second on a calm machine
MEMORY_SHARE = 0.6


class NoAdvice(EvenweaveError):
    """Nothing can be advised here; `reason` is a phrase."""

    def __init__(self, reason: str) -> None:
        super().__init__(reason)
        self.reason = reason

    def __str__(self) -> str:
        return f"No advice, because {self.reason}."


class TooLate(NoAdvice):
    """Real time ran out before the work was done: nothing is known, and that is to be told."""


class Worker:
    """Some child processes, started when first needed, each replaced when lost.

    Tasks are module-level functions of picklable arguments. A ValueError they raise is an
    expected refusal. May be called from any thread; a call waits until a child is free.

    late : how many tasks real time ended; what they would have told is not known
    """

    def __init__(self, children: int | None = None) -> None:
        self.children = children or min(cores(), MOST_CHILDREN)
        self.late = 0
        self._free: SimpleQueue[_Child] = SimpleQueue()
        self._all = tuple(_Child() for _ in range(self.children))
        for child in self._all:
            self._free.put(child)

    def __enter__(self) -> Worker:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        at: TracebackType | None,
    ) -> None:
        self.stop()

    def start(self) -> None:
        """Begin starting the children that are free, so that the first tasks find them ready."""
        free: list[_Child] = []
        with suppress(Empty):
            while True:
                free.append(self._free.get_nowait())
        for child in free:
            try:
                child.start()
            finally:
                self._free.put(child)

    def call(
        self,
        work: Callable[..., Result],
        *arguments: Any,
        seconds: float = 30.0,
        is_wanted: Wanted = lambda: True,
        hear: Hear = lambda told: None,
    ) -> Result:
        """Run `work` in a child and return its result.

        hear : given what the task passes to `tell` on the way. Raises NoAdvice if it refuses,
        fails or crashes, TooLate if it takes far longer than `seconds`, which a task is expected
        to take on a calm machine; Cancelled as soon as `is_wanted` says no, while it waits for a
        free child too.
        """
        with self._borrowed(is_wanted) as child:
            try:
                kind, answer = child.ask(
                    work, arguments, seconds=seconds, is_wanted=is_wanted, hear=hear
                )
            except TooLate:
                self.late += 1
                child.stop()
                raise
            except (EOFError, OSError):
                child.stop()
                raise NoAdvice("the solver broke down on it") from None
            except BaseException:
                child.stop()
                raise
        if kind == "done":
            result: Result = answer
            return result
        raise NoAdvice(answer if kind == "refused" else f"the solver failed ({answer})")

    @contextmanager
    def _borrowed(self, is_wanted: Wanted = lambda: True) -> Iterator[_Child]:
        child = None
        while child is None:
            with suppress(Empty):
                child = self._free.get(timeout=LOOK_SECONDS)
            if child is None and not is_wanted():
                raise Cancelled
        try:
            yield child
        finally:
            self._free.put(child)

    def stop(self) -> None:
        """End the children, whatever they are doing; a later call starts new ones."""
        for child in self._all:
            child.stop()


class _Child:
    """One process and the pipe to it."""

    def __init__(self) -> None:
        self._process: BaseProcess | None = None
        self._pipe: Connection | None = None
        self._is_ready = False

    def start(self) -> None:
        if self._process is not None and self._process.is_alive() and self._pipe is not None:
            return
        self.stop()
        context = multiprocessing.get_context("spawn")
        ours, theirs = context.Pipe()
        process = context.Process(target=_serve, args=(theirs,), daemon=True)
        process.start()
        theirs.close()
        self._process, self._pipe = process, ours

    def ask(
        self,
        work: Callable[..., Any],
        arguments: tuple[Any, ...],
        *,
        seconds: float,
        is_wanted: Wanted,
        hear: Hear,
    ) -> tuple[str, Any]:
        """Return what the child answers; starting it does not count."""
        self.start()
        pipe = self._pipe
        if pipe is None:
            raise EOFError
        if not self._is_ready:
            _wait(pipe, START_SECONDS, is_wanted, time.monotonic() + START_SECONDS)
            pipe.recv()
            self._is_ready = True
        pipe.send((work, arguments))
        most = max(PATIENCE * seconds, LEAST_PATIENCE)
        deadline = time.monotonic() + most
        while True:
            _wait(pipe, most, is_wanted, deadline)
            kind, answer = pipe.recv()
            if kind != "told":
                return kind, answer
            hear(answer)

    def stop(self) -> None:
        process, pipe = self._process, self._pipe
        self._process, self._pipe, self._is_ready = None, None, False
        if process is not None:
            process.kill()
            process.join()
        if pipe is not None:
            pipe.close()


def tell(value: Any) -> None:
    """Let the caller of the task that runs here hear a value; nothing happens elsewhere."""
    if _told is not None:
        _told.send(("told", value))


_told: Connection | None = None


def _wait(pipe: Connection, seconds: float, is_wanted: Wanted, deadline: float) -> None:
    while not pipe.poll(LOOK_SECONDS):
        if not is_wanted():
            raise Cancelled
        if time.monotonic() > deadline:
            raise TooLate(f"it was stopped after {seconds:g} seconds")


def _serve(pipe: Connection) -> None:
    """Run in the child: answer tasks until the pipe closes."""
    global _told
    _settle()
    _told = pipe
    with suppress(EOFError, OSError):
        pipe.send("ready")
        while True:
            work, arguments = pipe.recv()
            pipe.send(_answer(work, arguments))


def _answer(work: Callable[..., Any], arguments: tuple[Any, ...]) -> tuple[str, Any]:
    effort.restart()
    try:
        return "done", work(*arguments)
    except ValueError as problem:
        return "refused", str(problem)
    except MemoryError:
        return "refused", "it needs more memory than there is"
    except BaseException as problem:  # some solvers panic with what is no Exception
        return "failed", f"{type(problem).__name__}: {problem}"


def _settle() -> None:
    """Be quiet, leave Ctrl-C to the parent, take no more than a share of memory, load solvers."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    silence = os.open(os.devnull, os.O_WRONLY)
    os.dup2(silence, 1)
    os.dup2(silence, 2)
    with suppress(ImportError, OSError, ValueError):
        import resource

        memory = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES")
        resource.setrlimit(resource.RLIMIT_AS, (int(MEMORY_SHARE * memory),) * 2)
    for name in SOLVERS:
        with suppress(ImportError):
            importlib.import_module(name)
