"""Asking for an older pass, and comparing with it in the background."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QFileDialog, QWidget

from evenweave.notes.waiving import apply_waivers
from evenweave.progress import Progress, within
from evenweave.window.comparison.window import ComparisonWindow
from evenweave.window.dialogs.dialogs import FILE_PATTERNS
from evenweave.window.services.session import Session
from evenweave.window.state.lane import Lane
from evenweave.window.state.preparation import Pass, compared, same_way


class Comparing(QObject):
    """Opens windows that show two passes.

    told(sentence); failed(error)
    """

    told = Signal(str)
    failed = Signal(object)

    def __init__(self, session: Session, window: QWidget) -> None:
        super().__init__(window)
        self._session, self._window = session, window
        self._lane = Lane(self)
        self._lane.failed.connect(self.failed)
        session.notebook.waiving_changed.connect(self._on_notebook_waiving_changed)
        self.shown: ComparisonWindow | None = None

    def ask(self) -> None:
        """Ask for an older pass of the open file."""
        review = self._session.original
        if review is None:
            return
        patterns = self.tr("Meshes ({patterns})").format(patterns=FILE_PATTERNS)
        name, _ = QFileDialog.getOpenFileName(
            self._window, self.tr("Compare with an older pass"), str(review.asset.path.parent),
            f"{patterns};;{self.tr('All files (*)')}",
        )  # fmt: skip
        if name:
            self.compare_with(Path(name))

    def compare_with(self, path: Path) -> None:
        """Read an older pass like the open file, and show both."""
        now = self._session.pass_now
        if now is None:
            return
        limits, store = self._session.limits, self._session.notebook.store

        def work(progress: Progress) -> Pass:
            older = same_way(now.review, path, limits, within(progress, 0.0, 0.8))
            found = compared(older.review, now.review, within(progress, 0.8, 1.0))
            return Pass(older, now, found, apply_waivers(now.review, store))

        self.told.emit(self.tr("Comparing with {file}…").format(file=path.name))
        self._lane.submit(work, self.show)

    def show(self, pair: Pass) -> None:
        """Show two passes; an earlier window gives way."""
        if self.shown is not None:
            self.shown.close()
        self.shown = ComparisonWindow(self._judged(pair), self._session.look, self._window)
        self.shown.destroyed.connect(self._on_shown_destroyed)
        self.shown.show()

    def close(self) -> None:
        """End the background work and close the window."""
        self._lane.close()
        if self.shown is not None:
            self.shown.close()

    def _judged(self, pair: Pass) -> Pass:
        """Return the passes under the waivers that there are now."""
        waiving, review = self._session.notebook.waiving, self._session.review
        if waiving is None or review is not pair.after.review:
            return pair
        return replace(pair, waiving=waiving)

    def _on_notebook_waiving_changed(self) -> None:
        if self.shown is not None:
            self.shown.show_waiving(self._judged(self.shown.passes))

    def _on_shown_destroyed(self) -> None:
        self.shown = None
