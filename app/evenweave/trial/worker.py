"""A process of our own for solvers that hold the interpreter lock, take long or may crash.

A crash or an overrun costs the one task it happened in; the next task gets a new process.
"""

from __future__ import annotations

import multiprocessing
import time
from collections.abc import Callable
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from threading import Lock
from typing import Any, TypeVar

from evenweave.errors import Cancelled, EvenweaveError

Result = TypeVar("Result")


class NoAdvice(EvenweaveError):
    """Nothing can be advised here; `reason` is a phrase."""

    def __init__(self, reason: str) -> None:
        super().__init__(reason)
        self.reason = reason

    def __str__(self) -> str:
        return f"No advice, because {self.reason}."


def _serve(pipe: Connection) -> None:
    """Run in the child: answer tasks until the pipe closes."""
    while True:
        try:
            work, arguments = pipe.recv()
        except EOFError:
            return
        try:
            answer: tuple[str, Any] = ("done", work(*arguments))
        except ValueError as problem:
            answer = ("refused", str(problem))
        except MemoryError:
            answer = ("refused", "it needs more memory than there is")
        except Exception as problem:
            answer = ("failed", f"{type(problem).__name__}: {problem}")
        pipe.send(answer)


class Worker:
    """One child process, started when first needed, restarted when lost.

    Tasks are module-level functions of picklable arguments. A ValueError they raise is an
    expected refusal. May be used from any thread, by one at a time.
    """

    def __init__(self) -> None:
        self._lock = Lock()
        self._process: BaseProcess | None = None
        self._pipe: Connection | None = None

    def call(
        self,
        work: Callable[..., Result],
        *arguments: Any,
        seconds: float = 30.0,
        is_wanted: Callable[[], bool] = lambda: True,
    ) -> Result:
        """Run `work` in the child and return its result.

        Raises NoAdvice if it refuses, fails, crashes or takes longer than `seconds`;
        Cancelled as soon as `is_wanted` says no.
        """
        with self._lock:
            pipe = self._connected()
            try:
                pipe.send((work, arguments))
                deadline = time.monotonic() + seconds
                while not pipe.poll(0.05):
                    if not is_wanted():
                        self.stop()
                        raise Cancelled
                    if time.monotonic() > deadline:
                        self.stop()
                        raise NoAdvice(f"it took longer than {seconds:g} seconds")
                kind, answer = pipe.recv()
            except (EOFError, BrokenPipeError, ConnectionResetError):
                self.stop()
                raise NoAdvice("the solver broke down on it") from None
        if kind == "done":
            result: Result = answer
            return result
        raise NoAdvice(answer if kind == "refused" else f"the solver failed ({answer})")

    def _connected(self) -> Connection:
        if self._process is None or not self._process.is_alive() or self._pipe is None:
            context = multiprocessing.get_context("spawn")
            ours, theirs = context.Pipe()
            self._process = context.Process(target=_serve, args=(theirs,), daemon=True)
            self._process.start()
            theirs.close()
            self._pipe = ours
        return self._pipe

    def stop(self) -> None:
        """End the child, whatever it is doing."""
        if self._pipe is not None:
            self._pipe.close()
        if self._process is not None:
            self._process.kill()
            self._process.join()
        self._process, self._pipe = None, None
