"""One pair of keys for two histories, of edits and of the trial: the last thing done goes first."""

from __future__ import annotations

from typing import Literal

from PySide6.QtCore import QObject
from PySide6.QtGui import QAction

from evenweave.window.state.session import Session

Side = Literal["edit", "trial"]


class Timeline:
    """In which order the steps of both histories were done, told by how many each has."""

    def __init__(self) -> None:
        self._done: list[Side] = []
        self._undone: list[Side] = []

    @property
    def last(self) -> Side | None:
        """Whose step was done last, None where there is none."""
        return self._done[-1] if self._done else None

    @property
    def next(self) -> Side | None:
        """Whose step was taken back last, None where there is none."""
        return self._undone[-1] if self._undone else None

    def follow(self, side: Side, done: int, undone: int) -> None:
        """Note how many steps a history has now, and how many of it can be done again."""
        for steps, count in ((self._done, done), (self._undone, undone)):
            for _ in range(steps.count(side), count):
                steps.append(side)
            for _ in range(count, steps.count(side)):
                del steps[len(steps) - 1 - steps[::-1].index(side)]


class UndoSwitch(QObject):
    """Undoes and redoes whatever was done last, and says what that is."""

    def __init__(self, session: Session, parent: QObject) -> None:
        super().__init__(parent)
        self._session = session
        self._timeline = Timeline()

    def undo(self) -> None:
        """Take the last step back."""
        if self._timeline.last == "trial":
            self._session.trials.show_after(True)  # so that one sees what is undone
            self._session.trials.undo()
        else:
            self._session.undo_stack.undo()

    def redo(self) -> None:
        """Do the step again that was taken back last."""
        if self._timeline.next == "trial":
            self._session.trials.show_after(True)
            self._session.trials.redo()
        else:
            self._session.undo_stack.redo()

    def name(self, undo: QAction, redo: QAction) -> None:
        """Keep the two actions' texts in step with what they would do."""
        stack, trials = self._session.undo_stack, self._session.trials

        def tell() -> None:
            self._follow()
            trial, is_free = trials.trial, not trials.lane.is_busy
            sides = (self._timeline.last, self._timeline.next)
            words = (trial.undo_words, trial.redo_words) if trial is not None else ("", "")
            edits = (stack.undoText(), stack.redoText())
            plain = ((undo, self.tr("&Undo")), (redo, self.tr("Re&do")))
            for k, (action, text) in enumerate(plain):
                what = edits[k]
                if sides[k] == "trial":
                    what = self.tr("{step} (trial)").format(step=words[k])
                action.setText(f"{text} {what}" if sides[k] else text)
                action.setEnabled(sides[k] == "edit" or (sides[k] == "trial" and is_free))

        stack.indexChanged.connect(tell)
        trials.changed.connect(tell)
        trials.turned.connect(tell)
        tell()

    def _follow(self) -> None:
        stack, trial = self._session.undo_stack, self._session.trials.trial
        self._timeline.follow("edit", stack.index(), stack.count() - stack.index())
        steps, undone = (len(trial.steps), len(trial.undone)) if trial is not None else (0, 0)
        self._timeline.follow("trial", steps, undone)
