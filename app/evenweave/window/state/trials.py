"""`Trials`: what is being tried on a copy, before and after, done in the background."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal

from evenweave.layout.layout import Layout
from evenweave.progress import Progress, within
from evenweave.trial.document.change import successors
from evenweave.trial.document.document import Step, Trial, begin, rebased, redone, undone
from evenweave.trial.jobs import Job, Tried
from evenweave.trial.work.worker import Worker
from evenweave.window.state.lane import Lane
from evenweave.window.state.preparation import Prepared, prepared

if TYPE_CHECKING:
    from evenweave.pipeline import Review
    from evenweave.window.state.session import Session

_TRYING = 0.9  # of the time; making the views ready takes the rest


class Trials(QObject):
    """The trial of the open file. The file and its review stay what they are.

    changed() : something was tried, undone, switched or given up
    said(sentences) : what a trial left undone
    turned() : the work began or ended
    """

    changed = Signal()
    said = Signal(object)
    turned = Signal()

    def __init__(self, session: Session) -> None:
        super().__init__(session)
        self._session = session
        self.lane, self.saving = Lane(self), Lane(self)
        self.worker = Worker()
        self._trial: Trial | None = None
        self._tried: Prepared | None = None
        self._is_after = True
        self._saved: tuple[Step, ...] = ()
        self.lane.started.connect(self.turned)
        self.lane.ended.connect(self.turned)
        for lane in (self.lane, self.saving):
            lane.failed.connect(session.problem_met)

    # What there is.

    @property
    def trial(self) -> Trial | None:
        """The trial, None where nothing has been tried."""
        return self._trial

    @property
    def showing(self) -> Prepared | None:
        """What the views show instead of the file as it is; None where they show that."""
        return self._tried if self._is_after else None

    @property
    def is_after(self) -> bool:
        """Whether the copy is shown rather than the original."""
        return self._trial is not None and self._is_after

    @property
    def is_unsaved(self) -> bool:
        """Whether something would be lost."""
        trial = self._trial
        return trial is not None and bool(trial.steps) and trial.steps != self._saved

    @property
    def can_try(self) -> bool:
        """Whether more can be tried now: what is shown must be what it would change."""
        is_current = self._trial is None or self._is_after
        return self._session.shown is not None and is_current and not self.lane.is_busy

    # Trying.

    def try_out(self, job: Job) -> None:
        """Try one thing more, in the background."""
        if self.can_try:
            self._run(job)

    def undo(self) -> None:
        """Take the last step back."""
        if self.can_try and self._trial is not None and self._trial.steps:
            self._run(lambda trial, _, progress: Tried(undone(trial, progress)))

    def redo(self) -> None:
        """Do again what was taken back."""
        if self.can_try and self._trial is not None and self._trial.undone:
            self._run(lambda trial, _, progress: Tried(redone(trial, progress)))

    def show_after(self, is_after: bool) -> None:
        """Show the copy, or the file as it is."""
        if self._trial is not None and is_after != self._is_after:
            was, self._is_after = self._session.shown, is_after
            self._session.take_switch(was)
            self.changed.emit()

    def switch(self) -> None:
        """Show the other of before and after."""
        self.show_after(not self._is_after)

    def discard(self) -> None:
        """Give the trial up."""
        self.lane.cancel()
        if self._trial is not None:
            was, was_after = self._session.shown, self._is_after
            self._forget()
            if was_after:
                self._session.take_switch(was)
            self.changed.emit()

    def cancel(self) -> None:
        """Stop the running work; what was tried before stays."""
        self.lane.cancel()

    def note_saved(self, trial: Trial) -> None:
        """Note that a copy of this state was saved."""
        self._saved = trial.steps
        self.changed.emit()

    def follow(self) -> None:
        """Follow the session to another review: to the same file's under other limits, or none."""
        trial, review = self._trial, self._session.original
        if trial is None or review is None or trial.original is review:
            return
        if review.asset is trial.original.asset and review.grouping == trial.original.grouping:
            self._run(lambda trial, _, progress: Tried(trial))
            return
        self.lane.cancel()
        self._forget()
        self.changed.emit()

    def close(self) -> None:
        """End the work and its processes."""
        self.lane.cancel()
        self.worker.stop()
        for lane in (self.lane, self.saving):
            lane.close()
        self.worker.stop()

    def _forget(self) -> None:
        self._trial, self._tried, self._is_after, self._saved = None, None, True, ()

    def _run(self, job: Job) -> None:
        original, trial, worker = self._session.original, self._trial, self.worker
        scene = self._session.scene
        if original is None:
            return

        def work(progress: Progress) -> tuple[Tried, Prepared]:
            trying = within(progress, 0.0, _TRYING)
            tried = job(_on(trial, original, trying), worker, trying)
            ready = prepared(tried.trial.review, within(progress, _TRYING, 1.0), old=scene)
            return tried, ready

        self.lane.submit(work, self._take)

    def _take(self, answer: tuple[Tried, Prepared]) -> None:
        tried, ready = answer
        if not tried.trial.steps and not tried.trial.undone:
            if tried.said:
                self.said.emit(tried.said)
            return
        was = self._session.shown
        self._trial, self._tried = tried.trial, ready
        if self._is_after:
            self._session.take_switch(was)
        self.changed.emit()
        if tried.said:
            self.said.emit(tried.said)


def _on(trial: Trial | None, original: Review, progress: Progress) -> Trial:
    """Return the trial on the review that is in force now."""
    if trial is None:
        return begin(original)
    return trial if trial.original is original else rebased(trial, original, progress)


def followed(before: Layout, after: Layout, islands: tuple[int, ...]) -> tuple[int, ...]:
    """Return the islands of another state of a layout that hold most faces of these."""
    return tuple(sorted(set(successors(before, after)[list(islands)].tolist())))
