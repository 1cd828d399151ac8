"""Notes and waivers of the open mesh: what there is, where it is now, in which file it is kept."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from PySide6.QtCore import QObject, Signal

from evenweave.check.finding import Finding
from evenweave.errors import FileProblem
from evenweave.notes.locating import Finder, FoundNote, Spot
from evenweave.notes.notes_file import notes_path, read_notes
from evenweave.notes.place import Place
from evenweave.notes.store import Note, NoteStore, Waiver
from evenweave.notes.waiving import JudgedFinding, Waiving, apply_waivers
from evenweave.picture.lettering.pins import letters
from evenweave.progress import Progress
from evenweave.window.services.notes_keeper import NotesKeeper
from evenweave.window.services.notes_merging import is_same, merged
from evenweave.window.state.lane import Lane
from evenweave.window.state.store import Store


class NotesHeld(QObject):
    """The open mesh's `NoteStore`, edited through the session's undo stack and kept as it changes.

    changed() : notes or waivers are others, or are found elsewhere
    waiving_changed() : which warnings are waived
    note_chosen() : another note is read, or none
    place_asked(spot) : the views should show this place
    writing_asked() : the chosen note's text is to be typed
    failed(path, error) : notes could not be read or written; told once
    kept(path) : they could, in this file
    """

    changed = Signal()
    waiving_changed = Signal()
    note_chosen = Signal()
    place_asked = Signal(object)
    writing_asked = Signal()
    failed = Signal(object, object)
    kept = Signal(object)

    def __init__(self, store: Store, parent: QObject) -> None:
        super().__init__(parent)
        self._open = store
        self.keeper = NotesKeeper(self)
        self._reading, self._finding, self._looking = Lane(self), Lane(self), Lane(self)
        self.elsewhere: dict[Path, Path] = {}
        self._mesh: Path | None = None
        self._path: Path | None = None
        self._finder: Finder | None = None
        self._spots: dict[Place, Spot | None] = {}
        self._judged: tuple[Waiver, ...] = ()
        self._chosen = ""
        self._typing, self._is_typing = 0, False
        self.keeper.failed.connect(self.failed)
        self.keeper.kept.connect(self.kept)
        self.keeper.met.connect(self._on_keeper_met)
        self._reading.failed.connect(self._on_reading_failed)
        self._is_reading_in = False
        store.review_replaced.connect(self._on_store_review_replaced)
        store.notes_changed.connect(self._on_store_notes_changed)
        store.waiving_changed.connect(self.waiving_changed)

    # What there is.

    @property
    def store(self) -> NoteStore:
        """All notes and waivers."""
        return self._open.now.notes

    @property
    def path(self) -> Path | None:
        """The file that they are kept in, None where there is none that may be written."""
        return self._path

    @property
    def is_ready(self) -> bool:
        """Whether there is a mesh whose notes have been read, so that they can be edited."""
        return self._mesh is not None and not self._reading.is_busy

    @property
    def mesh(self) -> Path | None:
        """The mesh that they are about."""
        return self._mesh

    @property
    def found(self) -> tuple[FoundNote, ...]:
        """The notes in order, each with where it is now; none until all have been looked for."""
        if any(note.place not in self._spots for note in self.store.notes):
            return ()
        return tuple(FoundNote(note, self._spots[note.place]) for note in self.store.notes)

    def number(self, id: str) -> int:
        """Return which of the notes it is, from 0."""
        return next(number for number, one in enumerate(self.store.notes) if one.id == id)

    def spot(self, note: Note) -> Spot | None:
        """Return where a note is now, None where it is adrift."""
        return self._spots.get(note.place)

    @property
    def chosen(self) -> Note | None:
        """The note being read."""
        return next((one for one in self.store.notes if one.id == self._chosen), None)

    @property
    def waiving(self) -> Waiving | None:
        """Which findings of the review are waived; None until that is known."""
        return self._open.now.waiving

    def standing(self, finding: Finding | None) -> JudgedFinding | None:
        """Return what of a finding is waived; None until that is known."""
        if self.waiving is None or finding is None:
            return None
        return self.waiving.by_finding.get(finding)

    def is_waived(self, finding: Finding) -> bool:
        """Whether all of a finding is waived."""
        standing = self.standing(finding)
        return standing is not None and standing.is_waived

    def in_order(self, findings: tuple[Finding, ...]) -> tuple[Finding, ...]:
        """Return findings as they are listed: open ones before waived ones."""
        return tuple(sorted(findings, key=self.is_waived))

    @property
    def is_unkept(self) -> bool:
        """Whether there are notes that no file holds, nor will."""
        is_homeless = self._path is None and self.store != NoteStore()
        return is_homeless or bool(self.keeper.failing_meshes)

    def _edit(self, after: NoteStore, what: str, *, of: str = "", typed: int = 0) -> None:
        """Do an edit that can be undone under the name `what`, in which a note `of` has letters."""
        assert self.is_ready
        if of:
            what = what.format(mark=letters(self.number(of)))
        before = self.store
        self._open.do(
            what,
            lambda now: replace(now, notes=after),
            lambda now: replace(now, notes=before),
            merges=(of, typed) if typed else None,
        )

    def _on_store_notes_changed(self) -> None:
        """Look for what is new, and have everything kept, unless it came from the file itself."""
        store = self.store
        if not self._is_reading_in and self._path is not None and self._mesh is not None:
            self.keeper.keep(self._path, store, self._mesh.name)
        was_chosen, self._chosen = self._chosen, self.chosen.id if self.chosen else ""
        self.changed.emit()
        if was_chosen != self._chosen:
            self.note_chosen.emit()
        is_found = all(one.place in self._spots for one in store.notes)
        if self.waiving is None or self._judged is not store.waivers or not is_found:
            self._find()

    def _read_in(self, store: NoteStore) -> None:
        """Take what a file holds: it need not be written, and is no step of the history."""
        self._is_reading_in = True
        self._open.put(replace(self._open.now, notes=store))
        self._is_reading_in = False

    # Files.

    def keep_in(self, path: Path) -> None:
        """Keep this mesh's notes in another file from now on."""
        if self._mesh is None:
            return
        if self._path is not None:
            self.keeper.forget(self._path)
        self._path = self.elsewhere[self._mesh] = path
        self.keeper.keep(path, self.store, self._mesh.name)
        self.keeper.hurry()

    def look_again(self) -> None:
        """Take what another hand wrote into the file since it was read."""
        path = self._path
        if path is None:
            self._read_again()
        if path is None or not self.is_ready or self.keeper.pending(path) is not None:
            return
        known = self.keeper.known(path)

        def take(theirs: NoteStore) -> None:
            if path == self._path and not is_same(theirs, known):
                self.keeper.note_read(path, theirs)
                self._on_keeper_met(path, known, theirs)

        self._looking.submit(lambda _: read_notes(path), take)

    def _read_again(self) -> None:
        """Go on with a file that could not be used, if it has been restored or moved away."""
        mesh = self._mesh
        if mesh is None or not self.is_ready:
            return
        path = self.elsewhere.get(mesh, notes_path(mesh))

        def take(theirs: NoteStore) -> None:
            if mesh != self._mesh or self._path is not None:
                return
            self._path = path
            self.keeper.note_read(path, theirs)
            if theirs != NoteStore():
                self._on_keeper_met(path, NoteStore(), theirs)
            self.keeper.keep(path, self.store, mesh.name)

        self._looking.submit(lambda _: read_notes(path), take)

    def _on_keeper_met(self, path: Path, ours: NoteStore, both: NoteStore) -> None:
        """Go on with what another hand wrote; it can be undone like an edit."""
        if path == self._path:
            self._edit(merged(ours, self.store, both), self.tr("notes of another hand"))

    def close(self) -> None:
        """Write what is not written yet and end the background work."""
        for lane in (self._reading, self._finding, self._looking):
            lane.close()
        self.keeper.flush()

    def _on_store_review_replaced(self) -> None:
        review = self._open.now.review
        self._spots, self._finder = {}, None
        if review is None:
            return
        self._finder = Finder([one.layout for one in review.layouts])
        mesh = review.asset.path
        if mesh == self._mesh:
            self._find()
            return
        self._mesh, self._chosen = mesh, ""
        path = self._path = self.elsewhere.get(mesh, notes_path(mesh))
        self._read_in(NoteStore())
        self.changed.emit()
        self.waiving_changed.emit()
        self.note_chosen.emit()
        pending = self.keeper.pending(path)
        if pending is not None:
            self._take(pending)
            self.keeper.tell_again(path)
        else:
            self._reading.submit(lambda _: read_notes(path), self._take_read)

    def _take_read(self, store: NoteStore) -> None:
        if self._path is not None:
            self.keeper.note_read(self._path, store)
        self._take(store)

    def _on_reading_failed(self, error: FileProblem) -> None:
        """The file cannot be used and is not to be written over."""
        path, self._path = self._path, None
        self.failed.emit(path, error)
        self._find()

    # Where things are.

    def _take(self, store: NoteStore) -> None:
        """Take what was read. Places and waivers are due even where it is what there was."""
        if store == self.store:
            self.changed.emit()
            self._find()
        self._read_in(store)

    def _find(self) -> None:
        """Look for notes whose place is not known yet, and for what is waived."""
        review, finder, store = self._open.now.review, self._finder, self.store
        if review is None or finder is None:
            return
        unknown = tuple(one for one in store.notes if one.place not in self._spots)

        def work(progress: Progress) -> tuple[tuple[FoundNote, ...], Waiving]:
            return finder.notes(unknown), apply_waivers(review, store, finder)

        self._judged = store.waivers
        self._finding.submit(work, self._take_found)

    def _take_found(self, answer: tuple[tuple[FoundNote, ...], Waiving]) -> None:
        found, waiving = answer
        self._spots.update((one.note.place, one.spot) for one in found)
        self.changed.emit()
        self._open.put(replace(self._open.now, waiving=waiving))
