"""`Reading`: files opened, measured and judged in the background; what is open stays until then."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from PySide6.QtCore import QObject, Signal

from evenweave.errors import EvenweaveError
from evenweave.limits.file import FoundLimits
from evenweave.limits.limits import Limits, Purpose
from evenweave.mesh.asset import Unit
from evenweave.pipeline import Grouping
from evenweave.progress import Progress
from evenweave.window.state import open as steps
from evenweave.window.state.lane import Lane
from evenweave.window.state.open import Open
from evenweave.window.state.preparation import (
    Opened,
    Prepared,
    opened,
    rejudged,
    remeasured,
    same_way,
)
from evenweave.window.state.store import Store


class Reading(QObject):
    """Opens files, and keeps the review in step with the limits and the unit in force.

    may_go : whether a trial, which ends where the mesh is another, may be lost
    read_again(prepared) : the open file was read once more because that was asked for
    """

    read_again = Signal(object)

    def __init__(self, store: Store, may_go: Callable[[], bool], parent: QObject) -> None:
        super().__init__(parent)
        self._store, self._may_go = store, may_go
        self.lane = Lane(self)
        self.opening: Path | None = None
        self._is_settling = False
        self.lane.ended.connect(self._on_lane_ended)
        self.lane.failed.connect(self._on_lane_failed)
        self.lane.broke.connect(self._settle)
        store.limits_changed.connect(self._follow)

    def open(self, path: Path) -> None:
        """Read and review a file in the background.

        Limits edited by hand stay in force as long as the same limits file applies.
        """
        if not self._may_go():
            return
        now = self._store.now
        self.opening = path
        self.lane.submit(lambda told: opened(path, now.found, now.limits, told), self.take_opened)

    def reread(self) -> None:
        """Read the open file again, keeping limits, layout and selection."""
        now = self._store.now
        if now.file is not None and self._may_go():
            review, limits = now.file.review, now.limits
            path = review.asset.path
            self.lane.submit(
                lambda told: same_way(review, path, limits, told), self.read_again.emit
            )

    def choose_grouping(self, grouping: Grouping) -> None:
        """Look at the asset by another UV set or with other materials merged."""
        now = self._store.now
        if now.file is not None and grouping != now.grouping and self._may_go():
            asset, limits = now.file.review.asset, now.limits
            self.lane.submit(lambda told: remeasured(asset, limits, grouping, told), self._take)

    def choose_unit(self, metres: float) -> None:
        """Take another length for one unit of the file. Can be undone."""
        before = self._store.now.metres
        if before is not None and before != metres:
            self._store.do(
                self.tr("length of a unit"),
                lambda now: replace(now, metres=metres),
                lambda now: replace(now, metres=before),
            )

    def edit_limits(self, limits: Limits, what: str) -> None:
        """Judge by other limits. Can be undone under the name `what`."""
        before = self._store.now.limits
        if limits != before:
            self._store.do(
                what,
                lambda now: replace(now, limits=limits),
                lambda now: replace(now, limits=before),
            )

    def choose_purpose(self, purpose: Purpose) -> None:
        """Judge the shown layout as one of this purpose, also where it looks like another."""
        now, shown = self._store.now, self._store.now.shown
        if shown is None or (shown.purpose == purpose and not shown.looks_tiling):
            return
        name = shown.layout.name
        others = tuple(one for one in now.limits.purposes if one[0] != name)
        limits = replace(now.limits, purposes=(*others, (name, purpose)))
        self.edit_limits(limits, self.tr("purpose of {layout}").format(layout=name))

    def take_limits_file(self, found_limits: FoundLimits) -> None:
        """Note that the limits in force are now those of a file."""
        self._store.put(replace(self._store.now, found=found_limits))

    def cancel(self) -> None:
        """Stop the running work. An edit whose review was not ready is taken back."""
        self.lane.cancel()
        self._settle()

    def take_opened(self, opened: Opened) -> None:
        """Show a file that was opened."""
        self._store.undo_stack.clear()
        self._store.put(steps.opened(self._store.now, opened.prepared, opened.found))
        if opened.problem is not None:
            self._store.problem_met.emit(opened.problem)

    def close(self) -> None:
        """End the background work."""
        self.lane.close()

    def _take(self, file: Prepared) -> None:
        self._store.put(steps.remeasured(self._store.now, file))

    def _follow(self) -> None:
        """Measure or judge anew, unless the review follows already."""
        now = self._store.now
        file, limits, metres = now.file, now.limits, now.metres
        if file is None or self._is_settling or _is_followed(now):
            return
        review = file.review

        def work(progress: Progress) -> Prepared:
            if metres is None or metres == review.asset.unit.metres:
                return rejudged(file, limits, progress)
            asset = replace(review.asset, unit=Unit(metres, is_stated=False))
            return remeasured(asset, limits, review.grouping, progress)

        self.lane.submit(work, self._take)

    def _settle(self) -> None:
        """Go back in the history, or on, to what the shown review was measured and judged by."""
        store, stack = self._store, self._store.undo_stack
        if store.now.file is None or _is_followed(store.now):
            return
        self._is_settling = True
        start = stack.index()
        for step, is_left in ((stack.undo, stack.canUndo), (stack.redo, stack.canRedo)):
            while not _is_followed(store.now) and is_left():
                step()
            if _is_followed(store.now):
                break
            stack.setIndex(start)
        self._is_settling = False

    def _on_lane_ended(self) -> None:
        self.opening = None

    def _on_lane_failed(self, error: EvenweaveError) -> None:
        self._settle()
        self._store.problem_met.emit(error)


def _is_followed(now: Open) -> bool:
    """Whether the file's review is by the limits and the unit in force."""
    if now.file is None:
        return True
    review = now.file.review
    return review.limits == now.limits and review.asset.unit.metres == now.metres
