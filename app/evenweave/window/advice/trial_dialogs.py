"""What trials ask: where to save a copy, whether to leave one; and what they tell."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QFileDialog, QMessageBox, QWidget

from evenweave.check.numbers import number
from evenweave.errors import FileProblem
from evenweave.progress import Progress
from evenweave.trial.document.document import Trial
from evenweave.trial.save.save import Saved, save_copy, suffixes
from evenweave.window.advice.pack_dialog import PackDialog
from evenweave.window.services.session import Session

_ENDING = "_trial"


class TrialDialogs(QObject):
    """Asks over the window. told(sentence), saved() : a copy was; failed(error) : none can be."""

    told = Signal(str)
    saved = Signal()
    failed = Signal(object)

    def __init__(self, session: Session, window: QWidget) -> None:
        super().__init__(window)
        self._session, self._window = session, window

    def ask_pack(self) -> None:
        """Open the packing what-if."""
        if self._session.shown is not None and self._session.trials.can_try:
            PackDialog(self._session, self._window).open()

    def ask_save(self) -> None:
        """Ask where a copy goes, and save it; refuse formats that no copy is written in."""
        trial = self._session.trials.trial
        if trial is None:
            return
        original = trial.original.asset
        known = suffixes(original)
        path = original.path
        if not known:
            self.failed.emit(
                FileProblem(
                    path,
                    "",
                    self.tr("copies in this format cannot be saved"),
                    self.tr("export the mesh as OBJ, glTF, GLB or USD and try it on that"),
                )
            )
            return
        patterns = " ".join(f"*{one}" for one in known)
        name, _ = QFileDialog.getSaveFileName(
            self._window,
            self.tr("Save a copy"),
            str(path.with_name(f"{path.stem}{_ENDING}{known[0]}")),
            self.tr("Meshes ({patterns})").format(patterns=patterns),
        )
        if name:
            self.save(Path(name), replace=True)

    def save(self, path: Path, *, replace: bool) -> None:
        """Save a copy with the trial's coordinates. Never over the mesh that is open."""
        trial = self._session.trials.trial
        if trial is None:
            return

        def work(progress: Progress) -> tuple[Trial, Saved]:
            original, changed = trial.original.asset, trial.asset
            return trial, save_copy(original, changed, path, replace=replace, progress=progress)

        self._session.trials.saving.submit(work, self._take)

    def _take(self, answer: tuple[Trial, Saved]) -> None:
        trial, saved = answer
        self._session.trials.note_saved(trial)
        self.saved.emit()
        said = self.tr(
            "Saved {file}, read back and compared: coordinates differ by {worst} of a tile at most."
        ).format(file=saved.files[0].name, worst=number(saved.worst_difference, 1))
        self.told.emit(" ".join((said, *saved.caveats)))

    def may_leave(self) -> bool:
        """Ask whether a trial that is not saved may be lost."""
        box = QMessageBox(self._window)
        box.setIcon(QMessageBox.Icon.NoIcon)
        box.setWindowTitle(self.tr("A trial is not saved"))
        box.setText(self.tr("What was tried is not saved to a copy and will be lost."))
        box.setInformativeText(self.tr("The mesh itself is as it was."))
        lose = box.addButton(self.tr("Lose the trial"), QMessageBox.ButtonRole.DestructiveRole)
        stay = box.addButton(self.tr("Stay"), QMessageBox.ButtonRole.RejectRole)
        box.setDefaultButton(stay)
        box.setEscapeButton(stay)
        box.exec()
        is_lost = box.clickedButton() is lose
        box.deleteLater()
        return is_lost
