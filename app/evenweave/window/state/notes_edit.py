"""`NotesEdit`: one change of notes or waivers, to be undone and done again."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtGui import QUndoCommand

from evenweave.notes.store import NoteStore

_TYPED = 1  # what undo commands that may merge are known by


class NotesEdit(QUndoCommand):
    """Goes from one store to another; letters typed in one go make one edit."""

    def __init__(
        self,
        show: Callable[[NoteStore], None],
        before: NoteStore,
        after: NoteStore,
        *,
        what: str,
        typed: tuple[str, int],  # the note, and which go of typing, 0 for none
    ) -> None:
        super().__init__(what)
        self._show, self._before, self._after, self._typed = show, before, after, typed

    def redo(self) -> None:
        self._show(self._after)

    def undo(self) -> None:
        self._show(self._before)

    def id(self) -> int:
        return _TYPED if self._typed[1] else -1

    def mergeWith(self, other: QUndoCommand) -> bool:
        if not isinstance(other, NotesEdit) or other._typed != self._typed:
            return False
        self._after = other._after
        return True
