"""One pair of keys for two kinds of undo: of the trial while it is shown, else of edits."""

from __future__ import annotations

from PySide6.QtCore import QObject
from PySide6.QtGui import QAction

from evenweave.window.session import Session


class UndoSwitch(QObject):
    """Undoes and redoes what the shown side of the session has done, and says what that is."""

    def __init__(self, session: Session, parent: QObject) -> None:
        super().__init__(parent)
        self._session = session

    def undo(self) -> None:
        """Take the last step back."""
        trials = self._session.trials
        if trials.is_after:
            trials.undo()
        else:
            self._session.undo_stack.undo()

    def redo(self) -> None:
        """Do the step again that was taken back last."""
        trials = self._session.trials
        if trials.is_after:
            trials.redo()
        else:
            self._session.undo_stack.redo()

    def name(self, undo: QAction, redo: QAction) -> None:
        """Keep the two actions' texts in step with what they would do."""
        stack, trials = self._session.undo_stack, self._session.trials

        def tell() -> None:
            trial = trials.trial if trials.is_after else None
            back = stack.undoText() if trial is None else trial.undo_words
            again = stack.redoText() if trial is None else trial.redo_words
            can_undo = stack.canUndo() if trial is None else bool(trial.steps)
            can_redo = stack.canRedo() if trial is None else bool(trial.undone)
            is_free = trial is None or not trials.lane.is_busy
            named = self.tr("&Undo {what}").format(what=back) if back else self.tr("&Undo")
            undo.setText(named.rstrip())
            named = self.tr("Re&do {what}").format(what=again) if again else self.tr("Re&do")
            redo.setText(named.rstrip())
            undo.setEnabled(can_undo and is_free)
            redo.setEnabled(can_redo and is_free)

        stack.indexChanged.connect(tell)
        trials.changed.connect(tell)
        trials.turned.connect(tell)
        tell()
