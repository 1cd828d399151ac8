"""`Passes`: the open file read anew is shown at once, and compared with what it was afterwards."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal

from evenweave.check.finding import Finding
from evenweave.notes.waiving import apply_waivers
from evenweave.progress import Progress
from evenweave.window.services.pass_following import followed
from evenweave.window.state import open as steps
from evenweave.window.state.lane import Lane
from evenweave.window.state.preparation import Pass, Prepared, compared
from evenweave.window.state.store import Store

if TYPE_CHECKING:
    from evenweave.compare.comparison import Comparison


@dataclass(frozen=True, eq=False)
class _Look:
    """What was shown, selected and read."""

    layout: int
    selection: tuple[int, ...]
    finding: Finding | None


class Passes(QObject):
    """Takes new passes. What is selected follows names at first, then the surface.

    taken(pass) : a pass was compared with the one before
    """

    taken = Signal(object)

    def __init__(self, store: Store, parent: QObject) -> None:
        super().__init__(parent)
        self._store = store
        self._lane = Lane(self)
        self._before: Prepared | None = None
        self._was = _Look(0, (), None)

    @property
    def is_busy(self) -> bool:
        """Whether passes are being compared."""
        return self._lane.is_busy

    def take(self, after: Prepared) -> None:
        """Show the open file as it is now. Of passes in quick succession the last is compared."""
        store = self._store
        before = self._before if self._lane.is_busy else None
        if before is None:
            before = store.now.file
            self._was = self._look()
        if before is None:
            return
        self._before = before
        old = before
        store.put(steps.remeasured(store.now, after))
        shown, notes = self._look(), store.now.notes

        def work(progress: Progress) -> Pass:
            found = compared(old.review, after.review, progress)
            return Pass(old, after, found, apply_waivers(after.review, notes))

        self._lane.submit(work, lambda answer: self._take_compared(answer, shown))

    def close(self) -> None:
        """End the background work."""
        self._lane.close()

    def _take_compared(self, answer: Pass, look: _Look) -> None:
        open_now = self._store.now
        if open_now.file is None or open_now.file.review.asset is not answer.after.review.asset:
            return
        self._before = None
        now = self._look()
        is_same = open_now.review is answer.after.review
        if is_same and (now.layout, now.selection) == (look.layout, look.selection):
            self._follow(answer.comparison)
        self.taken.emit(answer)

    def _follow(self, comparison: Comparison) -> None:
        """Select what was selected, wherever it is now, unless something else is by now."""
        was, now = self._was, self._store.now
        layout, selection, finding = followed(comparison, was.layout, was.selection, was.finding)
        after = now if layout == now.layout_index else steps.layout_chosen(now, layout)
        if selection != after.selection:
            after = steps.selected(after, selection)
        if finding is not None:
            after = replace(after, finding=finding)
        self._store.put(after)

    def _look(self) -> _Look:
        now = self._store.now
        if now.showing is not now.file:
            return _Look(now.layout_index, (), None)
        return _Look(now.layout_index, now.selection, now.finding)
