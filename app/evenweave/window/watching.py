"""`FileWatch`: tells when a file has been written anew and its writer is done."""

from __future__ import annotations

import os
import time
from pathlib import Path

from PySide6.QtCore import QFileSystemWatcher, QObject, QTimer, Signal

QUIET_S = 0.3
"""A file that has not changed for so long is taken to be whole."""

SHRUNK_QUIET_S = 1.2
"""The same for one that is smaller than it was: it may still be growing."""

GONE_S = 2.0
"""A file missing for so long is gone; shorter absences belong to writing."""

IDLE_MS, ALERT_MS = 1000, 60
_SHRUNK = 0.9
_COMPANIONS = (".bin", ".mtl")

Stamp = tuple[tuple[int, int, int] | None, ...]


def stamp(path: Path) -> Stamp:
    """Return what changes when a mesh, or a file of its name that goes with it, is written.

    For each: time of the last change, size and number of the file; None where it is missing.
    """
    companions = (path.with_suffix(suffix) for suffix in _COMPANIONS)
    return tuple(_stamp(one) for one in (path, *companions))


def _stamp(path: Path) -> tuple[int, int, int] | None:
    try:
        status = os.stat(path)
    except OSError:
        return None
    return status.st_mtime_ns, status.st_size, status.st_ino


class FileWatch(QObject):
    """Watches one file: by the system's notices, and by looking now and then as they get lost.

    written() : there is another file, or the same one written anew, and it has come to rest
    gone() : it is missing; returned() : it is there again
    """

    written = Signal()
    gone = Signal()
    returned = Signal()

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._path: Path | None = None
        self._known: Stamp | None = None
        self._seen: Stamp | None = None
        self._since = 0.0
        self._is_gone = False
        self._notices = QFileSystemWatcher(self)
        self._timer = QTimer(self)
        self._notices.fileChanged.connect(self._on_notices_file_changed)
        self._notices.directoryChanged.connect(lambda _: self._look())
        self._timer.timeout.connect(self._look)

    @property
    def path(self) -> Path | None:
        """The file watched, None where there is none."""
        return self._path

    @property
    def quiet_s(self) -> float:
        """For how long the file has not changed, as far as is known."""
        return time.monotonic() - self._since

    def watch(self, path: Path) -> None:
        """Watch a file, and tell soon that it is there, as it may have changed meanwhile."""
        self.stop()
        self._path = path
        self._known, self._seen, self._since = None, None, time.monotonic()
        self._is_gone = False
        self._listen()
        self._timer.start(ALERT_MS)

    def stop(self) -> None:
        """Watch nothing."""
        self._timer.stop()
        listened = self._notices.files() + self._notices.directories()
        if listened:
            self._notices.removePaths(listened)
        self._path = None

    def _listen(self) -> None:
        """Have the system tell of the file; one that was replaced is another to it."""
        if self._path is None:
            return
        wanted = [str(self._path), str(self._path.parent)]
        known = self._notices.files() + self._notices.directories()
        new = [name for name in wanted if name not in known and os.path.exists(name)]
        if new:
            self._notices.addPaths(new)

    def _look(self) -> None:
        if self._path is None:
            return
        now = stamp(self._path)
        if now != self._seen:
            self._seen, self._since = now, time.monotonic()
        if now[0] is None:
            self._tell_gone()
        elif now == self._known:
            self._timer.start(IDLE_MS)
        elif self.quiet_s >= self._patience(now):
            self._known = now
            self._timer.start(IDLE_MS)
            self._listen()
            self._tell_returned()
            self.written.emit()
        elif self._timer.interval() != ALERT_MS:
            self._timer.start(ALERT_MS)

    def _patience(self, now: Stamp) -> float:
        before, size = self._known[0] if self._known else None, now[0][1] if now[0] else 0
        is_shrunk = size == 0 or (before is not None and size < _SHRUNK * before[1])
        return SHRUNK_QUIET_S if is_shrunk else QUIET_S

    def _tell_gone(self) -> None:
        self._timer.start(ALERT_MS if self.quiet_s < GONE_S else IDLE_MS)
        if self.quiet_s >= GONE_S and not self._is_gone:
            self._is_gone = True
            self.gone.emit()

    def _tell_returned(self) -> None:
        if self._is_gone:
            self._is_gone = False
            self.returned.emit()

    def _on_notices_file_changed(self) -> None:
        """Wait for rest even where the stamp is the same: clocks of some disks are coarse."""
        if self._known is not None and self._known[0] is not None:
            self._known = ((-1, self._known[0][1], -1), *self._known[1:])
        self._since = time.monotonic()
        self._listen()
        if self._path is not None:
            self._timer.start(ALERT_MS)
