"""The background lane: long work away from the event loop; only the newest answer counts."""

from __future__ import annotations

import time
import traceback
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any

from PySide6.QtCore import QObject, Qt, QTimer, Signal, Slot

from evenweave.errors import Cancelled, EvenweaveError
from evenweave.progress import Progress

Work = Callable[[Progress], Any]
Taker = Callable[[Any], None]

_REPORT_INTERVAL_S = 0.05


class Bug(RuntimeError):
    """Work failed in a way nobody expected; the message holds the traceback from its thread."""


@dataclass(frozen=True)
class _Answer:
    ticket: int
    value: Any
    error: BaseException | None
    report: str
    taker: Taker


class Lane(QObject):
    """Runs one kind of work. Starting new work cancels the old and drops its answer.

    Signals: `started`; `progressed(share, doing)`; `ended`, after every outcome. Each piece of
    work has exactly one outcome: its answer is taken, or `failed(error)`, an `EvenweaveError` to
    be told as its sentence, or `broke(bug)`, which is raised in the event loop too, or nothing
    where it was cancelled.
    """

    started = Signal()
    progressed = Signal(float, str)
    ended = Signal()
    failed = Signal(object)
    broke = Signal(object)
    _answered = Signal(object)
    _reported = Signal(int, float, str)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._pool = ThreadPoolExecutor(max_workers=2, thread_name_prefix="evenweave-lane")
        self._ticket = 0
        self._is_busy = False
        queued = Qt.ConnectionType.QueuedConnection
        self._answered.connect(self._on_self_answered, queued)
        self._reported.connect(self._on_self_reported, queued)

    @property
    def is_busy(self) -> bool:
        """Whether an answer is awaited."""
        return self._is_busy

    def submit(self, work: Work, taker: Taker) -> None:
        """Run `work(progress)` in the background and hand its result to `taker` here."""
        self._ticket += 1
        was_busy, self._is_busy = self._is_busy, True
        if not was_busy:
            self.started.emit()
        self._pool.submit(self._run, self._ticket, work, taker)

    def cancel(self) -> None:
        """Give up the running work; what was there before stays."""
        if not self._is_busy:
            return
        self._ticket += 1
        self._is_busy = False
        self.ended.emit()

    def close(self) -> None:
        """Cancel and wait until no thread is left."""
        self.cancel()
        self._pool.shutdown(wait=True, cancel_futures=True)

    def _run(self, ticket: int, work: Work, taker: Taker) -> None:
        if ticket != self._ticket:
            return
        value, report = None, ""
        error: BaseException | None = None
        try:
            value = work(self._progress_of(ticket))
        except EvenweaveError as problem:
            error = problem
        except BaseException as bug:
            error, report = bug, traceback.format_exc()
        self._answered.emit(_Answer(ticket, value, error, report, taker))

    def _progress_of(self, ticket: int) -> Progress:
        last = 0.0

        def progress(share: float, doing: str) -> None:
            nonlocal last
            if ticket != self._ticket:
                raise Cancelled
            now = time.monotonic()
            if now - last >= _REPORT_INTERVAL_S:
                last = now
                self._reported.emit(ticket, share, doing)

        return progress

    @Slot(int, float, str)
    def _on_self_reported(self, ticket: int, share: float, doing: str) -> None:
        if ticket == self._ticket and self._is_busy:
            self.progressed.emit(share, doing)

    @Slot(object)
    def _on_self_answered(self, answer: _Answer) -> None:
        # What an answer changes is painted in the next turn of the event loop, once the hand has
        # been answered, and not in this one. (A timer of 0 ms would be a call in this turn.)
        QTimer.singleShot(1, lambda: self._take(answer))

    def _take(self, answer: _Answer) -> None:
        if answer.error is not None and not isinstance(answer.error, EvenweaveError):
            bug = Bug(answer.report)
            if answer.ticket == self._ticket and self._is_busy:
                self._finish()
                self.broke.emit(bug)
            raise bug from answer.error
        if answer.ticket != self._ticket or not self._is_busy:
            return
        self._finish()
        if answer.error is None:
            answer.taker(answer.value)
        elif not isinstance(answer.error, Cancelled):
            self.failed.emit(answer.error)

    def _finish(self) -> None:
        self._is_busy = False
        self.ended.emit()
