"""`TrialWaiving`: what is waived before and after a trial, so that open findings can be counted."""

from __future__ import annotations

from PySide6.QtCore import QObject, Signal

from evenweave.notes.store import Waiver
from evenweave.notes.waiving import Waiving, apply_waivers
from evenweave.pipeline import Review
from evenweave.progress import Progress, silent
from evenweave.trial.document.change import Change, open_changes
from evenweave.window.services.session import Session
from evenweave.window.state.lane import Lane

Question = tuple[Review, Review, tuple[Waiver, ...]]


class TrialWaiving(QObject):
    """Follows the trial and the waivers; finding what they mean in the copy takes a moment.

    changed() : the numbers are others
    """

    changed = Signal()

    def __init__(self, session: Session, parent: QObject) -> None:
        super().__init__(parent)
        self._session = session
        self._lane = Lane(self)
        self._asked: Question | None = None
        self._judged: tuple[Waiving, Waiving] | None = None
        session.trials.changed.connect(self._ask)
        session.notebook.waiving_changed.connect(self._ask)

    @property
    def changes(self) -> tuple[Change, ...] | None:
        """Numbers of the layout shown, before and after; None until they are known."""
        if self._asked is None or self._judged is None:
            return None
        index = self._session.layout_index
        (before, after, _), (judged_before, judged_after) = self._asked, self._judged
        return open_changes(
            before.layouts[index],
            after.layouts[index],
            (judged_before.layouts[index], judged_after.layouts[index]),
        )

    def close(self) -> None:
        """End the background work."""
        self._lane.close()

    def _ask(self) -> None:
        trial, store = self._session.trials.trial, self._session.notebook.store
        if trial is None:
            self._asked = self._judged = None
            return
        before, after = trial.original, trial.review
        if self._is_known(before, after, store.waivers):
            return
        self._asked, self._judged = (before, after, store.waivers), None

        def work(_: Progress) -> tuple[Waiving, Waiving]:
            return apply_waivers(before, store), apply_waivers(after, store)

        if store.waivers:
            self._lane.submit(work, self._take)
        else:
            self._lane.cancel()
            self._take(work(silent))

    def _is_known(self, before: Review, after: Review, waivers: tuple[Waiver, ...]) -> bool:
        asked = self._asked
        return asked is not None and (
            asked[0] is before and asked[1] is after and asked[2] is waivers
        )

    def _take(self, judged: tuple[Waiving, Waiving]) -> None:
        self._judged = judged
        self.changed.emit()
