"""`Trials`: what is being tried on a copy, before and after, done in the background."""

from __future__ import annotations

from PySide6.QtCore import QObject, Signal

from evenweave.pipeline import Review
from evenweave.progress import Progress, within
from evenweave.trial import jobs
from evenweave.trial.document.document import Step, Trial, begin, rebased
from evenweave.trial.jobs import Job
from evenweave.trial.work.worker import Worker
from evenweave.window.state import open as steps
from evenweave.window.state.lane import Lane, Taker
from evenweave.window.state.open import Open, Tried
from evenweave.window.state.preparation import Prepared, prepared
from evenweave.window.state.store import Store

_TRYING = 0.9  # of the time; making the views ready takes the rest


class Trials(QObject):
    """The trial of the open file. The file and its review stay what they are.

    Each act is one step of the history; undoing it puts back what was shown before.

    changed() : something was tried, undone, switched, saved or given up
    said(sentences) : what a trial left undone
    turned() : the work began or ended
    """

    changed = Signal()
    said = Signal(object)
    turned = Signal()

    def __init__(self, store: Store, parent: QObject) -> None:
        super().__init__(parent)
        self._store = store
        self.lane, self.saving = Lane(self), Lane(self)
        self.worker = Worker()
        self._saved: tuple[Step, ...] = ()
        self.lane.started.connect(self.turned)
        self.lane.ended.connect(self.turned)
        for lane in (self.lane, self.saving):
            lane.failed.connect(store.problem_met)
        store.changed.connect(self._on_store_changed)
        store.trial_changed.connect(self.changed)

    @property
    def trial(self) -> Trial | None:
        """The trial, None where nothing has been tried."""
        tried = self._store.now.tried
        return tried.trial if tried else None

    @property
    def showing(self) -> Prepared | None:
        """What the views show instead of the file as it is; None where they show that."""
        now = self._store.now
        return now.tried.prepared if now.tried and now.is_after else None

    @property
    def is_after(self) -> bool:
        """Whether the copy is shown rather than the original."""
        return self.showing is not None

    @property
    def is_unsaved(self) -> bool:
        """Whether something would be lost."""
        trial = self.trial
        return trial is not None and bool(trial.steps) and trial.steps != self._saved

    @property
    def can_try(self) -> bool:
        """Whether more can be tried now: what is shown must be what it would change."""
        now = self._store.now
        is_current = now.tried is None or now.is_after
        return now.shown is not None and is_current and not self.lane.is_busy

    def try_out(self, job: Job) -> None:
        """Try one thing more, in the background."""
        if self.can_try:
            self._run(job, self._take)

    def show_after(self, is_after: bool) -> None:
        """Show the copy, or the file as it is."""
        now = self._store.now
        if now.tried is not None and is_after != now.is_after:
            self._store.put(steps.switched(now, now.tried, is_after=is_after))

    def switch(self) -> None:
        """Show the other of before and after."""
        self.show_after(not self._store.now.is_after)

    def discard(self) -> None:
        """Give the trial up; this can be undone too."""
        self.lane.cancel()
        before = self._store.now.tried
        if before is not None:
            self._do(self.tr("giving the trial up"), before, None, before)

    def cancel(self) -> None:
        """Stop the running work; what was tried before stays."""
        self.lane.cancel()

    def note_saved(self, trial: Trial) -> None:
        """Note that a copy of this state was saved."""
        self._saved = trial.steps
        self.changed.emit()

    def close(self) -> None:
        """End the work and its processes."""
        self.lane.cancel()
        self.worker.stop()
        for lane in (self.lane, self.saving):
            lane.close()
        self.worker.stop()

    def _on_store_changed(self, before: Open, after: Open) -> None:
        """Follow to the review of the same file under other limits; end with the file."""
        if after.file is before.file and after.tried is before.tried:
            return
        file, tried = after.file, after.tried
        if file is not None and tried is not None and tried.trial.original is not file.review:
            self._run(lambda trial, _, progress: jobs.Tried(trial), self._take_rebased)
            return
        self.lane.cancel()
        if after.file is not before.file:
            self._saved = ()

    def _run(self, job: Job, taker: Taker) -> None:
        now, trial, worker = self._store.now, self.trial, self.worker
        scene = now.showing.scene if now.showing else None
        if now.file is None:
            return
        original = now.file.review

        def work(progress: Progress) -> tuple[jobs.Tried, Prepared]:
            trying = within(progress, 0.0, _TRYING)
            tried = job(_on(trial, original, trying), worker, trying)
            ready = prepared(tried.trial.review, within(progress, _TRYING, 1.0), old=scene)
            return tried, ready

        self.lane.submit(work, taker)

    def _take(self, answer: tuple[jobs.Tried, Prepared]) -> None:
        tried, ready = answer
        if tried.trial.steps:
            before = self._store.now.tried
            known = len(before.trial.steps) if before else 0
            if len(tried.trial.steps) > known:
                after = Tried(tried.trial, ready)
                self._do(_words(tried.trial.steps[known:]), after, after, before)
        if tried.said:
            self.said.emit(tried.said)

    def _do(self, words: str, of: Tried, after: Tried | None, before: Tried | None) -> None:
        """Do a step of the history that only means something to the file it was tried on."""
        what = self.tr("{step} (trial)").format(step=words)

        def to(tried: Tried | None, now: Open) -> Open:
            is_gone = now.file is None or not steps.is_same_reading(of, now.file.review)
            return now if is_gone else steps.switched(now, tried, is_after=True)

        self._store.do(what, lambda now: to(after, now), lambda now: to(before, now))

    def _take_rebased(self, answer: tuple[jobs.Tried, Prepared]) -> None:
        tried, ready = answer
        now = self._store.now
        if now.tried is not None:
            after = Tried(tried.trial, ready)
            self._store.put(steps.switched(now, after, is_after=now.is_after))


def _words(tried: tuple[Step, ...]) -> str:
    """Return the words of the first step, and how many more were done in one go."""
    more = f" (+{len(tried) - 1})" if len(tried) > 1 else ""
    return tried[0].words + more


def _on(trial: Trial | None, original: Review, progress: Progress) -> Trial:
    """Return the trial on the review that is in force now."""
    if trial is None:
        return begin(original)
    return trial if trial.original is original else rebased(trial, original, progress)
