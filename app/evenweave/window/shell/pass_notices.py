"""Strips that tell of passes read again, of files gone, and of notes that cannot be kept."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from PySide6.QtCore import QEventLoop, QObject, Qt, QTimer, Signal
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QFileDialog, QMessageBox, QWidget

from evenweave.check.finding import Severity
from evenweave.compare.verdict import judgement
from evenweave.errors import EvenweaveError
from evenweave.mesh.asset import Asset
from evenweave.notes.notes_file import SUFFIX
from evenweave.window.services.session import Session
from evenweave.window.shell.notices import Notices
from evenweave.window.state.pass_words import pass_sentence
from evenweave.window.state.preparation import Pass
from evenweave.window.state.settings import Settings

_WRITING_MS = 5000
_PASS, _FILE, _NOTES = "pass", "file", "notes"


class PassNotices(QObject):
    """Keeps the strips in step with the session.

    told(sentence) : for the status bar
    comparison_asked(pass) : the last two passes shall be looked at side by side
    """

    told = Signal(str)
    comparison_asked = Signal(object)

    def __init__(
        self, session: Session, settings: Settings, notices: Notices, *, window: QWidget
    ) -> None:
        super().__init__(window)
        self._session, self._settings = session, settings
        self._notices, self._window = notices, window
        self._path: Path | None = None
        self._asset: Asset | None = None
        self._taken: Pass | None = None
        session.review_replaced.connect(self._on_session_review_replaced)
        session.passes.taken.connect(self._on_passes_taken)
        live, notebook = session.live, session.notebook
        live.reading.connect(self._on_live_reading)
        live.doubted.connect(self._on_live_doubted)
        live.failed.connect(self._on_live_failed)
        live.held.connect(self._on_live_held)
        live.gone.connect(self._on_live_gone)
        live.returned.connect(lambda _: notices.drop(_FILE))
        notebook.elsewhere.update(settings.notes_elsewhere)
        notebook.failed.connect(self._on_notebook_failed)
        notebook.kept.connect(self._on_notebook_kept)
        notebook.waiving_changed.connect(self._on_notebook_waiving_changed)
        application = QGuiApplication.instance()
        if isinstance(application, QGuiApplication):
            application.applicationStateChanged.connect(self._on_application_state_changed)

    def _on_application_state_changed(self, state: Qt.ApplicationState) -> None:
        """Write notes when one turns elsewhere; look for those of others on coming back."""
        notebook = self._session.notebook
        if state == Qt.ApplicationState.ApplicationActive:
            notebook.look_again()
        notebook.keeper.try_again()

    def _on_session_review_replaced(self) -> None:
        review = self._session.original
        if review is not None and review.asset.path != self._path:
            self._path = review.asset.path
            self._taken = None
            for key in (_PASS, _FILE, _NOTES):
                self._notices.drop(key)
        if review is not None and review.asset is not self._asset:
            self._asset = review.asset
            self._notices.drop(_FILE)

    def _on_passes_taken(self, taken: Pass) -> None:
        self._notices.drop(_FILE)
        self.told.emit("")
        self._taken = taken
        self._tell_pass()

    def _on_notebook_waiving_changed(self) -> None:
        """Tell the last pass anew, unless it was put away or is not what is looked at."""
        waiving, review = self._session.notebook.waiving, self._session.review
        if not self._notices.text_of(_PASS):
            self._taken = None
        if self._taken is None or waiving is None or review is not self._taken.after.review:
            return
        was, self._taken = self._taken, replace(self._taken, waiving=waiving)
        if pass_sentence(*was.told) != pass_sentence(*self._taken.told):
            self._tell_pass()

    def _tell_pass(self) -> None:
        taken = self._taken
        if taken is None:
            return
        is_open, waived = taken.told
        worse = judgement(is_open) in ("worse", "mixed")
        self._notices.tell(
            _PASS,
            Severity.WARNING if worse else Severity.NOTE,
            self.tr("{file} was read again. {sentence}").format(
                file=taken.after.review.asset.path.name, sentence=pass_sentence(is_open, waived)
            ),
            offer=self.tr("Co&mpare"),
            accept=lambda: self.comparison_asked.emit(taken),
        )

    def _on_live_reading(self, path: Path) -> None:
        self.told.emit(self.tr("Reading {file} again…").format(file=path.name))

    def _on_live_doubted(self, path: Path) -> None:
        text = self.tr("{file} may be half written. Waiting for the rest…")
        self.told.emit(text.format(file=path.name))

    def _on_live_failed(self, error: EvenweaveError) -> None:
        self._notices.tell(
            _FILE,
            Severity.FAULT,
            self.tr("The new pass cannot be read. {sentence}").format(sentence=error),
        )

    def _on_live_held(self) -> None:
        self._notices.tell(
            _FILE,
            Severity.NOTE,
            self.tr(
                "There is a new pass of this file. Reading it ends the trial, which is not saved."
            ),
            offer=self.tr("Read it"),
            accept=self._session.reread,
        )

    def _on_live_gone(self, path: Path) -> None:
        self._notices.tell(
            _FILE,
            Severity.NOTE,
            self.tr("{file} is gone. It will be read when it returns.").format(file=path.name),
        )

    def _on_notebook_failed(self, path: Path, error: EvenweaveError) -> None:
        self._notices.tell(
            _NOTES,
            Severity.WARNING,
            self.tr("{sentence} Until then notes are kept in memory.").format(sentence=error),
            offer=self.tr("Keep elsewhere…"),
            accept=self.ask_elsewhere,
        )

    def _on_notebook_kept(self, path: Path) -> None:
        if path == self._session.notebook.path:
            self._notices.drop(_NOTES)

    def ask_elsewhere(self) -> None:
        """Ask for another file to keep the notes in."""
        mesh = self._session.notebook.mesh
        if mesh is None:
            return
        name, _ = QFileDialog.getSaveFileName(
            self._window, self.tr("Keep the notes"), str(Path.home() / (mesh.name + SUFFIX)),
            self.tr("Notes (*{suffix})").format(suffix=SUFFIX),
        )  # fmt: skip
        if name:
            self.keep_elsewhere(Path(name))

    def may_leave(self) -> bool:
        """Ask what becomes of notes that no file holds; tell whether the window may close."""
        notebook = self._session.notebook
        notebook.keeper.try_again()
        self._wait_for_writing()
        if not notebook.is_unkept:
            return True
        names = dict.fromkeys(notebook.keeper.failing_meshes)
        if notebook.path is None and notebook.mesh is not None:
            names[notebook.mesh.name] = None
        button = QMessageBox.StandardButton
        answer = QMessageBox.warning(
            self._window,
            self.tr("Notes are not kept"),
            self.tr("The notes on {names} are only in memory.").format(names=", ".join(names)),
            button.Save | button.Discard | button.Cancel,
            button.Save,
        )
        if answer == button.Save:
            self.ask_elsewhere()
            self._wait_for_writing()
            return not notebook.is_unkept
        return answer == button.Discard

    def _wait_for_writing(self) -> None:
        keeper, loop = self._session.notebook.keeper, QEventLoop(self)
        keeper.rested.connect(loop.quit)
        if keeper.is_busy:
            QTimer.singleShot(_WRITING_MS, loop, loop.quit)
            loop.exec()

    def keep_elsewhere(self, path: Path) -> None:
        """Keep the notes on this mesh in another file, from now on and next time."""
        notebook = self._session.notebook
        notebook.keep_in(path)
        self._notices.drop(_NOTES)
        self._settings.remember_notes_elsewhere(notebook.elsewhere)
