"""`LiveReading`: every pass that is exported is read in the background, once it is whole."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from PySide6.QtCore import QObject, QTimer, Signal

from evenweave.errors import EvenweaveError
from evenweave.limits.limits import Limits
from evenweave.mesh.asset import Asset
from evenweave.mesh.companions import files_of, is_as_read
from evenweave.progress import Progress
from evenweave.window.services.half_written import (
    ends_in_a_line,
    is_less,
    is_open_for_writing,
    was_moved_in,
)
from evenweave.window.services.watching import FileWatch, Stamp, stamp
from evenweave.window.state.lane import Lane
from evenweave.window.state.preparation import Prepared, same_way
from evenweave.window.state.store import Store

PATIENCE_S = 20.0
"""For so long after its last change a file that cannot be read may still be being written."""

DOUBT_S = 4.0
"""A pass that looks like half of one is believed after so long without a change."""

OPEN_S = 60.0
"""A file that is held open for writing is read all the same after so long without a change."""

_RETRY_MS, _LONGEST_RETRY_MS = 400, 4000


class _Unfinished(EvenweaveError):
    """The file was written while it was read, or its writer still has it open."""


@dataclass(frozen=True, eq=False)
class _Reading:
    """What came of reading the file.

    begun : the stamp of its files before; found : None where they hold what they held
    ends : whether the last line has an end; is_moved : whether it was whole when it came
    """

    begun: Stamp
    found: Prepared | None
    ends: bool
    is_moved: bool


@dataclass(frozen=True, eq=False)
class _Known:
    """What the file was when it was last read as a whole, or found to be as it was read."""

    asset: Asset
    stamp: Stamp
    ends: bool

    def has_size(self, now: Stamp) -> bool:
        """Tell whether the file is as large as it was."""
        sizes = [one[0][1] if one[0] else 0 for one in (self.stamp, now)]
        return sizes[0] == sizes[1]


class LiveReading(QObject):
    """Follows the open file.

    reading(path) : another pass is being read
    doubted(path) : it was read, but may be half of one, and it is not shown yet
    failed(error) : the file cannot be read, and it is not because it is half written
    came(prepared) : another pass is whole and read
    held() : there is another pass, but a trial would be lost
    gone(path), returned(path)
    """

    reading = Signal(object)
    doubted = Signal(object)
    failed = Signal(object)
    came = Signal(object)
    held = Signal()
    gone = Signal(object)
    returned = Signal(object)

    def __init__(
        self,
        store: Store,
        *,
        is_busy: Callable[[], bool],
        is_unsaved: Callable[[], bool],
        parent: QObject,
    ) -> None:
        super().__init__(parent)
        self._store, self._is_reading, self._is_unsaved = store, is_busy, is_unsaved
        self._is_on = False
        self._since = 0.0
        self._retry_ms = _RETRY_MS
        self._known: _Known | None = None
        self._has_told = self._has_failed = self._is_held = False
        self._doubtful: tuple[Prepared, _Reading] | None = None
        self._lane = Lane(self)
        self._watch = FileWatch(self)
        self._retry = QTimer(self, singleShot=True)
        self._belief = QTimer(self, singleShot=True)
        self._retry.timeout.connect(self._read)
        self._belief.timeout.connect(self._on_belief_timeout)
        self._watch.written.connect(self._on_watch_written)
        self._watch.stirred.connect(self._on_watch_stirred)
        self._watch.gone.connect(lambda: self.gone.emit(self._watch.path))
        self._watch.returned.connect(lambda: self.returned.emit(self._watch.path))
        self._lane.failed.connect(self._on_lane_failed)
        self._lane.progressed.connect(self._on_lane_progressed)
        store.review_replaced.connect(self._follow)

    @property
    def is_on(self) -> bool:
        """Whether the open file is followed."""
        return self._is_on

    @property
    def is_busy(self) -> bool:
        """Whether a pass is being read, or waits to be believed."""
        return self._lane.is_busy or self._belief.isActive()

    def switch(self, is_on: bool) -> None:
        """Follow the open file, or no longer."""
        self._is_on = is_on
        self._forget()
        if is_on:
            self._follow()
        else:
            self._watch.stop()
            self._lane.cancel()

    def close(self) -> None:
        """End the watch and the background work."""
        self._watch.stop()
        self._forget()
        self._lane.close()

    def follow_trials(self) -> None:
        """Read what was held back for a trial, once there is nothing to be lost any more."""
        if self._is_held and not self._is_unsaved():
            self._is_held = False
            self._again(0)

    def _follow(self) -> None:
        """Watch the file that is open now, and those that were read with it."""
        file = self._store.now.file
        if file is None or not self._is_on:
            return
        review = file.review
        if review.asset.path != self._watch.path:
            self._lane.cancel()
            self._forget()
            self._known, self._has_failed, self._is_held = None, False, False
        self._watch.watch(files_of(review.asset))

    def _forget(self) -> None:
        self._retry.stop()
        self._belief.stop()
        self._doubtful = None

    def _on_watch_written(self) -> None:
        self._since = time.monotonic()
        self._retry_ms = _RETRY_MS
        self._read()

    def _on_watch_stirred(self) -> None:
        """A file that the new pass names and that nobody knew of may have come."""
        if self._has_failed and not self._retry.isActive():
            self._again(_RETRY_MS)

    def _again(self, wait_ms: int) -> None:
        if self._is_on:
            self._retry.start(wait_ms)

    def _read(self) -> None:
        """Read the file if its contents are others, when nothing else is being done."""
        now, files = self._store.now, self._watch.files
        before = now.file
        self._forget()
        if before is None or not self._watch.is_at_rest:
            return
        if self._is_reading() or self._lane.is_busy:
            self._again(_RETRY_MS)
            return
        limits, may_be_open = now.limits, self._watch.quiet_s >= OPEN_S
        is_shown = self._known is not None and self._known.asset is before.review.asset
        known = self._known if is_shown else None
        self._has_told = False

        def work(progress: Progress) -> _Reading:
            if not may_be_open and any(map(is_open_for_writing, files)):
                raise _Unfinished
            return _read_anew(before, known, files, limits=limits, progress=progress)

        self._lane.submit(work, lambda reading: self._take(before, reading))

    def _take(self, before: Prepared, reading: _Reading) -> None:
        self._retry_ms, self._has_failed = _RETRY_MS, False
        now, found = self._store.now, reading.found
        if found is None:
            self._known = _Known(before.review.asset, reading.begun, reading.ends)
            self._is_held = False
            return
        rest_s = DOUBT_S - self._watch.quiet_s
        if now.file is not before or found.review.limits != now.limits:
            self._again(_RETRY_MS)
        elif self._is_doubtful(before.review.asset, reading) and rest_s > 0:
            self._doubtful = before, reading
            self._belief.start(round(1000 * rest_s) + 1)
            self.doubted.emit(self._watch.path)
        elif self._is_unsaved():
            self._is_held = True
            self.held.emit()
        else:
            self._known = _Known(found.review.asset, reading.begun, reading.ends)
            self._is_held = False
            self.came.emit(found)

    def _is_doubtful(self, before: Asset, reading: _Reading) -> bool:
        found = reading.found
        if found is None or reading.is_moved:
            return False
        ended = self._known.ends if self._known else True
        return is_less(before, found.review.asset) or (ended and not reading.ends)

    def _on_belief_timeout(self) -> None:
        """Believe a pass that nothing was added to; otherwise the watch tells of another."""
        doubtful, self._doubtful = self._doubtful, None
        if doubtful is not None and stamp(self._watch.files) == doubtful[1].begun:
            self._take(*doubtful)

    def _on_lane_progressed(self) -> None:
        """Tell, once, that the contents are others and are being read."""
        if not self._has_told:
            self._has_told = True
            self.reading.emit(self._watch.path)

    def _on_lane_failed(self, error: EvenweaveError) -> None:
        """Try again quietly as long as the file may be half written."""
        is_young = time.monotonic() - self._since < PATIENCE_S
        if isinstance(error, _Unfinished) or is_young:
            self._again(self._retry_ms)
            self._retry_ms = min(2 * self._retry_ms, _LONGEST_RETRY_MS)
        elif self._watch.path is not None and self._watch.path.exists():
            self._has_failed = True
            self.failed.emit(error)


def _read_anew(
    before: Prepared,
    known: _Known | None,
    files: tuple[Path, ...],
    *,
    limits: Limits,
    progress: Progress,
) -> _Reading:
    """Read and review a file, unless it holds what it held.

    known : what is known of the pass shown; files : the file and its companions
    Raises FileProblem, Cancelled, _Unfinished.
    """
    begun, path, asset = stamp(files), files[0], before.review.asset
    ends = asset.format != "obj" or ends_in_a_line(path)
    is_moved = was_moved_in(path)
    if (known is None or known.has_size(begun)) and is_as_read(asset):
        return _Reading(begun, None, ends, is_moved)

    def told(share: float, doing: str) -> None:
        if stamp(files) != begun:
            raise _Unfinished
        progress(share, doing)

    told(0.0, "reading again")
    found = same_way(before.review, path, limits, told)
    if stamp(files) != begun:
        raise _Unfinished
    return _Reading(begun, found, ends, is_moved)
