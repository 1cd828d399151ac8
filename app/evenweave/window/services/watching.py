"""`FileWatch`: tells when files have been written anew and their writer has come to rest."""

from __future__ import annotations

import os
import time
from collections.abc import Sequence
from pathlib import Path

from PySide6.QtCore import QFileSystemWatcher, QObject, QTimer, Signal

from evenweave.window.services.half_written import was_moved_in

QUIET_S = 0.2
"""Files that have not changed for so long are worth reading."""

MOVED_QUIET_S = 0.05
"""The same for a file without companions that was moved to its place when it was whole."""

GONE_S = 2.0
"""A file missing for so long is gone; shorter absences belong to writing."""

IDLE_MS, ALERT_MS = 1000, 40

Stamp = tuple[tuple[int, int, int] | None, ...]


def stamp(files: Sequence[Path]) -> Stamp:
    """Return what changes when a file is written.

    For each: time of the last change, size and number of the file; None where it is missing.
    """
    return tuple(map(_stamp, files))


def _stamp(path: Path) -> tuple[int, int, int] | None:
    try:
        status = os.stat(path)
    except OSError:
        return None
    return status.st_mtime_ns, status.st_size, status.st_ino


class FileWatch(QObject):
    """Watches a file and its companions: by the system's notices, which get lost, and by looking.

    written() : one of them is another, or written anew, and all have come to rest
    gone() : the file is missing; returned() : it is there again
    stirred() : something happened in the files' folders
    """

    written = Signal()
    gone = Signal()
    returned = Signal()
    stirred = Signal()

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._files: tuple[Path, ...] = ()
        self._known: Stamp | None = None
        self._seen: Stamp | None = None
        self._since = 0.0
        self._is_gone = False
        self._notices = QFileSystemWatcher(self)
        self._timer = QTimer(self)
        self._notices.fileChanged.connect(self._on_notices_file_changed)
        self._notices.directoryChanged.connect(self._on_notices_directory_changed)
        self._timer.timeout.connect(self._look)

    @property
    def path(self) -> Path | None:
        """The file watched, None where there is none."""
        return self._files[0] if self._files else None

    @property
    def files(self) -> tuple[Path, ...]:
        """The file watched and its companions."""
        return self._files

    @property
    def quiet_s(self) -> float:
        """For how long no file has changed, as far as is known."""
        return time.monotonic() - self._since

    @property
    def is_at_rest(self) -> bool:
        """Whether the last change, as far as is known, has been told."""
        return self._known is not None and self._seen == self._known

    def watch(self, files: tuple[Path, ...]) -> None:
        """Watch a file and its companions, and tell soon that they may have changed meanwhile.

        The companions of the file that is watched already may become others.
        """
        if files == self._files:
            return
        if files[:1] != self._files[:1]:
            self.stop()
            self._is_gone = False
        self._files = files
        self._known, self._seen, self._since = None, None, time.monotonic()
        self._listen()
        self._timer.start(ALERT_MS)

    def stop(self) -> None:
        """Watch nothing."""
        self._timer.stop()
        self._files = ()
        self._listen()

    def _listen(self) -> None:
        """Have the system tell of the files; one that was replaced is another to it."""
        wanted = {str(one) for path in self._files for one in (path, path.parent)}
        known = {*self._notices.files(), *self._notices.directories()}
        if idle := sorted(known - wanted):
            self._notices.removePaths(idle)
        if new := sorted(name for name in wanted - known if os.path.exists(name)):
            self._notices.addPaths(new)

    def _look(self) -> None:
        if not self._files:
            return
        now = stamp(self._files)
        if now != self._seen:
            self._seen, self._since = now, time.monotonic()
        if now[0] is None:
            self._tell_gone()
        elif now == self._known:
            self._timer.start(IDLE_MS)
            self._tell_returned()
        elif self.quiet_s >= self._rest_s():
            self._known = now
            self._timer.start(IDLE_MS)
            self._listen()
            self._tell_returned()
            self.written.emit()
        elif self._timer.interval() != ALERT_MS:
            self._timer.start(ALERT_MS)

    def _rest_s(self) -> float:
        is_whole = len(self._files) == 1 and was_moved_in(self._files[0])
        return MOVED_QUIET_S if is_whole else QUIET_S

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
        self._known, self._since = None, time.monotonic()
        self._listen()
        if self._files:
            self._timer.start(ALERT_MS)

    def _on_notices_directory_changed(self) -> None:
        self._look()
        self.stirred.emit()
