"""`Store`: holds what is open, tells what changed, and remembers what can be undone."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from PySide6.QtCore import QObject, Signal
from PySide6.QtGui import QUndoCommand, QUndoStack

from evenweave.raster.look import Look
from evenweave.window.state.open import Open

Step = Callable[[Open], Open]


class Store(QObject):
    """The one place that knows what is open. Whoever changes it hands a whole new `Open`.

    changed(before, after) : told once for every change, before the signals below
    review_replaced() : another review, of the same or another file, or of a copy
    layout_chosen(), selection_changed(), finding_chosen(), hover_changed(), look_changed()
    limits_changed() : other limits or another unit are in force; the review is to follow
    notes_changed() : notes or waivers are others; waiving_changed() : what is waived
    trial_changed() : something was tried, undone, switched or given up
    problem_met(error) : an expected failure; what was open is still open
    """

    changed = Signal(object, object)
    review_replaced = Signal()
    layout_chosen = Signal()
    selection_changed = Signal()
    hover_changed = Signal()
    finding_chosen = Signal()
    look_changed = Signal()
    limits_changed = Signal()
    notes_changed = Signal()
    waiving_changed = Signal()
    trial_changed = Signal()
    problem_met = Signal(object)

    def __init__(self, look: Look | None = None, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.now = Open(look=look or Look())
        self.undo_stack = QUndoStack(self)

    def put(self, after: Open) -> None:
        """Be `after` from now on, and tell what that changes."""
        before = self.now
        if after is before:
            return
        self.now = after
        self.changed.emit(before, after)
        for signal, is_meant in self._changes(before, after):
            if is_meant:
                signal.emit()

    def _changes(self, before: Open, after: Open) -> list[tuple[Any, bool]]:
        """Return each signal and whether it is to be told, in the order they are told."""
        is_new = after.review is not before.review
        is_layout = is_new or after.layout_index != before.layout_index
        rules = (before.limits, before.metres), (after.limits, after.metres)
        return [
            (self.review_replaced, is_new),
            (self.layout_chosen, is_layout),
            (self.selection_changed, is_layout or after.selection != before.selection),
            (self.finding_chosen, is_layout or after.finding is not before.finding),
            (self.hover_changed, after.hover != before.hover),
            (self.look_changed, after.look != before.look),
            (self.notes_changed, after.notes != before.notes),
            (self.waiving_changed, after.waiving is not before.waiving),
            (self.trial_changed, _trial(after) != _trial(before)),
            (self.limits_changed, rules[0] != rules[1]),
        ]

    def do(self, what: str, redo: Step, undo: Step, *, merges: Any = None) -> None:
        """Do what can be undone, under a name for the menu.

        redo, undo : from what is open then to what will be; returning the same value means that
        the step has lost its meaning, and it is forgotten
        merges : steps in a row with the same value, not None, are one
        """
        self.undo_stack.push(_Command(self, what, redo, undo, merges))

    def undo(self) -> None:
        """Take the last step back that still means something."""
        while self.undo_stack.canUndo() and self._stepped(self.undo_stack.undo):
            pass

    def redo(self) -> None:
        """Do the next step again that still means something."""
        while self.undo_stack.canRedo() and self._stepped(self.undo_stack.redo):
            pass

    def _stepped(self, step: Callable[[], None]) -> bool:
        """Make a step, and tell whether it changed nothing."""
        before = self.now
        step()
        return self.now is before


def _trial(now: Open) -> tuple[int, bool]:
    return id(now.tried), now.is_after


class _Command(QUndoCommand):
    """One step of the history."""

    def __init__(self, store: Store, what: str, redo: Step, undo: Step, merges: Any) -> None:
        super().__init__(what)
        self._store, self._redo, self._undo, self._merges = store, redo, undo, merges

    def redo(self) -> None:
        self._put(self._redo)

    def undo(self) -> None:
        self._put(self._undo)

    def _put(self, step: Step) -> None:
        before = self._store.now
        after = step(before)
        self.setObsolete(after is before)
        self._store.put(after)

    def id(self) -> int:
        return -1 if self._merges is None else 1

    def mergeWith(self, other: QUndoCommand) -> bool:
        if not isinstance(other, _Command) or other._merges != self._merges:
            return False
        self._redo = other._redo
        return True
