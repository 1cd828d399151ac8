"""Keeping notes in their files: soon after each change, one write after the other, each whole."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from PySide6.QtCore import QObject, QTimer, Signal

from evenweave.errors import FileProblem
from evenweave.notes.notes_file import read_notes, save_notes
from evenweave.notes.store import NoteStore
from evenweave.progress import Progress
from evenweave.window.services.notes_merging import is_same, merged
from evenweave.window.state.lane import Lane

DELAY_MS = 300
"""Time from a change to its being written: less than it takes to type a word."""

AGAIN_MS = 5000
"""Time until what could not be written is tried again."""


@dataclass(frozen=True)
class _Page:
    """A store and the name of its mesh."""

    store: NoteStore
    mesh: str


class NotesKeeper(QObject):
    """Writes stores in the background.

    failed(path, error) : a file could not be written; told once until it could, or for another
    reason; it is tried again now and then
    kept(path) : what was to be kept in this file is kept
    rested() : nothing waits to be written, though some may have failed
    met(path, ours, both) : another hand wrote the file meanwhile; both is kept instead of ours
    """

    failed = Signal(object, object)
    kept = Signal(object)
    rested = Signal()
    met = Signal(object, object, object)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._wanted: dict[Path, _Page] = {}
        self._writing: dict[Path, _Page] = {}
        self._failing: dict[Path, _Page] = {}
        self._known: dict[Path, NoteStore] = {}
        self._lane = Lane(self)
        self._delay = QTimer(self, interval=DELAY_MS, singleShot=True)
        self._delay.timeout.connect(self.hurry)
        self._again = QTimer(self, interval=AGAIN_MS, singleShot=True)
        self._again.timeout.connect(self.try_again)
        self._told: dict[Path, str] = {}
        self._lane.failed.connect(self._on_lane_failed)
        self._lane.broke.connect(self._on_lane_failed)

    def note_read(self, path: Path, store: NoteStore) -> None:
        """Note what a file held when it was read."""
        self._known[path] = store

    def known(self, path: Path) -> NoteStore:
        """Return what a file held when it was last read or written here."""
        return self._known.get(path, NoteStore())

    def keep(self, path: Path, store: NoteStore, mesh: str) -> None:
        """Have a store written soon; a newer one takes the place of an older."""
        self._wanted[path] = _Page(store, mesh)
        if not self._delay.isActive():
            self._delay.start()

    def pending(self, path: Path) -> NoteStore | None:
        """Return the newest store that is not in its file yet, None where all is."""
        for pages in (self._wanted, self._writing, self._failing):
            if path in pages:
                return pages[path].store
        return None

    def is_failing(self, path: Path) -> bool:
        """Whether the file could not be written at the last attempt."""
        return path in self._failing

    @property
    def failing_meshes(self) -> tuple[str, ...]:
        """Names of the meshes whose notes could not be written at the last attempt."""
        return tuple(page.mesh for page in self._failing.values())

    @property
    def is_busy(self) -> bool:
        """Whether something waits to be written or is being written."""
        return bool(self._wanted or self._writing)

    def tell_again(self, path: Path) -> None:
        """Try a file that could not be written again, and tell if it still cannot be."""
        if self._told.pop(path, None) is not None:
            self.try_again()

    def forget(self, path: Path) -> None:
        """Give up what could not be written to a file."""
        self._wanted.pop(path, None)
        self._forget_failure(path)

    def _forget_failure(self, path: Path) -> None:
        self._failing.pop(path, None)
        self._told.pop(path, None)

    def try_again(self) -> None:
        """Begin to write what waits, and what could not be written."""
        self._wanted = {**self._failing, **self._wanted}
        self.hurry()

    def hurry(self) -> None:
        """Begin to write what waits."""
        self._delay.stop()
        if not self.is_busy:
            self.rested.emit()
        if self._writing or not self._wanted:
            return
        path, page = next(iter(self._wanted.items()))
        del self._wanted[path]
        self._writing = {path: page}

        known = self.known(path)

        def work(progress: Progress) -> NoteStore:
            return _saved(path, page, known)

        self._lane.submit(work, lambda both: self._take_written(path, page.store, both))

    def flush(self) -> None:
        """Write everything now, and wait for it. Nothing is written in the background after."""
        self._delay.stop()
        self._again.stop()
        self._lane.close()
        pages = {**self._failing, **self._writing, **self._wanted}
        self._wanted, self._writing = {}, {}
        for path, page in pages.items():
            try:
                self._known[path] = _saved(path, page, self.known(path))
            except FileProblem as problem:
                self._note_failure(path, page, problem)
            else:
                self._forget_failure(path)

    def _take_written(self, path: Path, ours: NoteStore, both: NoteStore) -> None:
        self._writing = {}
        self._forget_failure(path)
        self._known[path] = both
        if both is not ours:
            self.met.emit(path, ours, both)
        self.kept.emit(path)
        self.hurry()

    def _on_lane_failed(self, error: Exception) -> None:
        ((path, page),) = self._writing.items()
        self._writing = {}
        self._note_failure(path, page, error)
        self._again.start()
        self.hurry()

    def _note_failure(self, path: Path, page: _Page, error: Exception) -> None:
        self._failing[path] = page
        if self._told.get(path) != str(error):
            self._told[path] = str(error)
            self.failed.emit(path, error)


def _saved(path: Path, page: _Page, known: NoteStore) -> NoteStore:
    """Write a store, with what another hand wrote since `known`, and return it."""
    theirs, store = read_notes(path), page.store
    if path.exists() and not is_same(theirs, known):
        store = merged(known, page.store, theirs)
    save_notes(path, store, mesh=page.mesh)
    return store
