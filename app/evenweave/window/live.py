"""`LiveReading`: every pass that is exported is read in the background, once it is whole."""

from __future__ import annotations

import hashlib
import time
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QTimer, Signal

from evenweave.errors import EvenweaveError, FileProblem
from evenweave.progress import Progress
from evenweave.window.lane import Lane
from evenweave.window.preparation import Prepared, same_way
from evenweave.window.watching import FileWatch, Stamp, stamp

if TYPE_CHECKING:
    from evenweave.window.session import Session

PATIENCE_S = 20.0
"""For so long after its last change a file that cannot be read may still be being written."""

_RETRY_MS, _LONGEST_RETRY_MS = 400, 4000


class _Changing(EvenweaveError):
    """The file was written while it was read."""


class LiveReading(QObject):
    """Follows the open file.

    reading(path) : another pass is being read
    failed(error) : the file cannot be read, and it is not because it is half written
    held() : there is another pass, but a trial would be lost
    gone(path), returned(path)
    """

    reading = Signal(object)
    failed = Signal(object)
    held = Signal()
    gone = Signal(object)
    returned = Signal(object)

    def __init__(self, session: Session) -> None:
        super().__init__(session)
        self._session = session
        self._is_on = False
        self._companions: Stamp | None = None
        self._since = 0.0
        self._retry_ms = _RETRY_MS
        self._has_told = False
        self._lane = Lane(self)
        self._watch = FileWatch(self)
        self._retry = QTimer(self, singleShot=True)
        self._retry.timeout.connect(self._read)
        self._watch.written.connect(self._on_watch_written)
        self._watch.gone.connect(lambda: self.gone.emit(self._watch.path))
        self._watch.returned.connect(lambda: self.returned.emit(self._watch.path))
        self._lane.failed.connect(self._on_lane_failed)
        self._lane.progressed.connect(self._on_lane_progressed)
        session.review_replaced.connect(self._follow)

    @property
    def is_on(self) -> bool:
        """Whether the open file is followed."""
        return self._is_on

    @property
    def is_busy(self) -> bool:
        """Whether a pass is being read."""
        return self._lane.is_busy

    def switch(self, is_on: bool) -> None:
        """Follow the open file, or no longer."""
        self._is_on = is_on
        self._retry.stop()
        if is_on:
            self._follow()
        else:
            self._watch.stop()
            self._lane.cancel()

    def close(self) -> None:
        """End the watch and the background work."""
        self._watch.stop()
        self._retry.stop()
        self._lane.close()

    def _follow(self) -> None:
        """Watch the file that is open now."""
        review = self._session.original
        if review is None or not self._is_on or review.asset.path == self._watch.path:
            return
        self._lane.cancel()
        self._companions = None
        self._watch.watch(review.asset.path)

    def _on_watch_written(self) -> None:
        self._since = time.monotonic()
        self._retry_ms = _RETRY_MS
        self._read()

    def _again(self, wait_ms: int) -> None:
        if self._is_on:
            self._retry.start(wait_ms)

    def _read(self) -> None:
        """Read the file if its contents are others, when nothing else is being done."""
        session, path = self._session, self._watch.path
        before = session.pass_now
        if path is None or before is None:
            return
        if session.lane.is_busy or self._lane.is_busy:
            self._again(_RETRY_MS)
            return
        limits, known = session.limits, self._companions

        def work(progress: Progress) -> tuple[Stamp, Prepared | None]:
            begun = stamp(path)
            is_same = known is None or known[1:] == begun[1:]
            if is_same and _digest(path) == before.review.asset.digest:
                return begun, None
            progress(0.0, "reading again")
            found = same_way(before.review, path, limits, progress)
            if stamp(path) != begun:
                raise _Changing
            return begun, found

        self._has_told = False
        self._lane.submit(work, lambda answer: self._take(before, *answer))

    def _take(self, before: Prepared, begun: Stamp, found: Prepared | None) -> None:
        self._retry_ms = _RETRY_MS
        if found is None:
            self._companions = begun
            return
        session = self._session
        if session.pass_now is not before or found.review.limits != session.limits:
            self._again(_RETRY_MS)
        elif session.trials.is_unsaved:
            self.held.emit()
        else:
            self._companions = begun
            session.passes.take(found)

    def _on_lane_progressed(self) -> None:
        """Tell, once, that the contents are others and are being read."""
        if not self._has_told:
            self._has_told = True
            self.reading.emit(self._watch.path)

    def _on_lane_failed(self, error: EvenweaveError) -> None:
        """Try again quietly as long as the file may be half written."""
        is_young = time.monotonic() - self._since < PATIENCE_S
        if isinstance(error, _Changing) or is_young:
            self._again(self._retry_ms)
            self._retry_ms = min(2 * self._retry_ms, _LONGEST_RETRY_MS)
        elif self._watch.path is not None and self._watch.path.exists():
            self.failed.emit(error)


def _digest(path: Path) -> str:
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:
        cause = f"it cannot be read, {(error.strerror or str(error)).lower()}"
        raise FileProblem(path, "", cause, "export it again") from None
