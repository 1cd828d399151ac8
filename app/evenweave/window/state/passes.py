"""`Passes`: the open file read anew is shown at once, and compared with what it was afterwards."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal

from evenweave.check.finding import Finding
from evenweave.notes.waiving import apply_waivers
from evenweave.progress import Progress
from evenweave.window.state.lane import Lane
from evenweave.window.state.pass_following import followed
from evenweave.window.state.preparation import Pass, Prepared, compared

if TYPE_CHECKING:
    from evenweave.compare.comparison import Comparison
    from evenweave.window.state.session import Session


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

    def __init__(self, session: Session) -> None:
        super().__init__(session)
        self._session = session
        self._lane = Lane(self)
        self._before: Prepared | None = None
        self._was = _Look(0, (), None)

    @property
    def is_busy(self) -> bool:
        """Whether passes are being compared."""
        return self._lane.is_busy

    def take(self, after: Prepared) -> None:
        """Show the open file as it is now. Of passes in quick succession the last is compared."""
        session = self._session
        before = self._before if self._lane.is_busy else None
        if before is None:
            before = session.pass_now
            self._was = self._look()
        if before is None:
            return
        self._before = before
        old = before
        session.take_remeasured(after)
        shown, store = self._look(), session.notebook.store

        def work(progress: Progress) -> Pass:
            found = compared(old.review, after.review, progress)
            return Pass(old, after, found, apply_waivers(after.review, store))

        self._lane.submit(work, lambda answer: self._take_compared(answer, shown))

    def close(self) -> None:
        """End the background work."""
        self._lane.close()

    def _take_compared(self, answer: Pass, look: _Look) -> None:
        session = self._session
        if session.original is None or session.original.asset is not answer.after.review.asset:
            return
        self._before = None
        now = self._look()
        is_same = session.original is answer.after.review and not session.trials.showing
        if is_same and (now.layout, now.selection) == (look.layout, look.selection):
            self._follow(answer.comparison)
        self.taken.emit(answer)

    def _follow(self, comparison: Comparison) -> None:
        """Select what was selected, wherever it is now, unless something else is by now."""
        was, session = self._was, self._session
        layout, selection, finding = followed(comparison, was.layout, was.selection, was.finding)
        session.choose_layout(layout)
        session.select(selection)
        if finding is not None and session.finding is not finding:
            session.explain(finding)

    def _look(self) -> _Look:
        session = self._session
        if session.trials.showing:
            return _Look(session.layout_index, (), None)
        return _Look(session.layout_index, session.selection, session.finding)
