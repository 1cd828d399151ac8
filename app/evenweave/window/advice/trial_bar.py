"""The trial bar: how many changes, before or after, the numbers, and the ways out."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QAction
from PySide6.QtWidgets import (
    QButtonGroup,
    QHBoxLayout,
    QLabel,
    QProgressBar,
    QPushButton,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from evenweave.trial.document.change import Change
from evenweave.window.advice.trial_waiving import TrialWaiving
from evenweave.window.parts import figures
from evenweave.window.parts.flow import FlowLayout
from evenweave.window.parts.palette import GRID, tabular, title_font
from evenweave.window.services.session import Session

SHOWN = ("faults", "warnings", "waived", "stretch, 95 %", "density, 5 to 95 %", "coverage")


class TrialBar(QWidget):
    """Shown while something is being tried. Numbers are those of the layout shown.

    room_changed() : the bar appeared or went, so that everything below has another size
    """

    room_changed = Signal()

    def __init__(
        self, session: Session, actions: tuple[QAction, ...], parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._session = session
        self.waiving = TrialWaiving(session, self)
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self.setProperty("role", "strip")
        self.title = QLabel(self)
        self.title.setFont(title_font(self.font()))
        self.before, self.after = self._toggle(self.tr("Before")), self._toggle(self.tr("After"))
        self.sides = QButtonGroup(self)
        self.sides.addButton(self.before, 0)
        self.sides.addButton(self.after, 1)
        self.numbers = Numbers(self)
        self.work = Work(session, self)
        self.undo = self._stepping(self.tr("Undo"), session.undo)
        self.redo = self._stepping(self.tr("Redo"), session.redo)
        row = FlowLayout(self)
        row.setSpacing(GRID)
        for piece in (self.title, _together(self.before, self.after), self.numbers, self.work):
            row.addWidget(piece)
        row.addWidget(_together(self.undo, self.redo, *map(self._button, actions)))
        self.sides.idClicked.connect(lambda side: session.trials.show_after(side == 1))
        session.trials.changed.connect(self.refresh)
        session.trials.turned.connect(self.refresh)
        session.undo_stack.indexChanged.connect(self.refresh)
        session.layout_chosen.connect(self.refresh)
        self.waiving.changed.connect(self.refresh)
        self.refresh()

    def _toggle(self, text: str) -> QToolButton:
        button = QToolButton(self)
        button.setText(text)
        button.setCheckable(True)
        button.setProperty("role", "toggle")
        button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        return button

    def _button(self, action: QAction) -> QToolButton:
        button = QToolButton(self)
        button.setDefaultAction(action)
        button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        return button

    def _stepping(self, text: str, step: Callable[[], None]) -> QToolButton:
        """Return a button for a step of the trial, whatever else was done since."""
        button = QToolButton(self)
        button.setText(text)
        button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        button.clicked.connect(lambda _=False: step())
        return button

    def refresh(self) -> None:
        """Say how things stand."""
        trials = self._session.trials
        trial = trials.trial
        is_wanted = trial is not None or trials.lane.is_busy
        if is_wanted == self.isHidden():
            self.setVisible(is_wanted)
            self.room_changed.emit()
        count = len(trial.steps) if trial is not None else 0
        one, many = self.tr("Trial: 1 change"), self.tr("Trial: {count} changes")
        words = figures.counted(count, one, many)
        self.title.setText(words if trial is not None else self.tr("Trial"))
        self.title.setToolTip("\n".join(one.words for one in trial.steps) if trial else "")
        stack = self._session.undo_stack
        for button, what in ((self.undo, stack.undoText()), (self.redo, stack.redoText())):
            button.setEnabled(bool(what) and not trials.lane.is_busy)
            button.setToolTip(f"{button.text()} {what}".rstrip())
        for button, is_on in ((self.before, not trials.is_after), (self.after, trials.is_after)):
            button.setEnabled(trial is not None)
            button.setChecked(trial is not None and is_on)
        changes = self.waiving.changes
        if changes is not None:
            self.numbers.show_changes(changes)
        self.numbers.setVisible(trial is not None)


def _together(*pieces: QWidget) -> QWidget:
    """Return widgets that stay beside each other."""
    group = QWidget(pieces[0].parentWidget())
    row = QHBoxLayout(group)
    row.setContentsMargins(0, 0, 0, 0)
    row.setSpacing(GRID // 2)
    for piece in pieces:
        row.addWidget(piece)
    return group


class Work(QWidget):
    """What is being tried out, how far it is, and a button to stop it."""

    def __init__(self, session: Session, parent: QWidget) -> None:
        super().__init__(parent)
        self._trials = session.trials
        self.doing = QLabel(self)
        self.doing.setMinimumWidth(24 * GRID)
        self.bar = QProgressBar(self)
        self.bar.setRange(0, 1000)
        self.bar.setTextVisible(False)
        self.bar.setFixedSize(12 * GRID, GRID)
        self.bar.setAccessibleName(self.tr("Progress of the trial"))
        self.stop = QPushButton(self.tr("Cancel"), self)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(GRID)
        for piece in (self.doing, self.bar, self.stop):
            row.addWidget(piece)
        self.stop.clicked.connect(session.trials.cancel)
        session.trials.turned.connect(self._on_trials_turned)
        session.trials.lane.progressed.connect(self._on_lane_progressed)
        self._on_trials_turned()

    def _on_trials_turned(self) -> None:
        self.setVisible(self._trials.lane.is_busy)
        self.doing.setText(self.tr("Trying it out"))
        self.bar.setValue(0)

    def _on_lane_progressed(self, share: float, doing: str) -> None:
        self.doing.setText(doing[:1].upper() + doing[1:])
        self.bar.setValue(round(1000 * share))


class Numbers(QWidget):
    """Quantities before and after side by side; all of them in the tool tip."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.figures = {label: Figure(self) for label in SHOWN}
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(2 * GRID)
        for figure in self.figures.values():
            row.addWidget(figure)

    def show_changes(self, changes: tuple[Change, ...]) -> None:
        """Show what changed."""
        known = {one.label: one for one in changes}
        for label, figure in self.figures.items():
            figure.setVisible(label in known)
            if label in known:
                figure.show_change(known[label])
        lines = [f"{one.label}: {' → '.join(one.words())}" for one in changes]
        self.setToolTip("\n".join(lines))


class Figure(QWidget):
    """A quantity's name over its two numbers; better and worse are said in words."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.label, self.value = QLabel(self), QLabel(self)
        self.label.setProperty("role", "faint")
        self.value.setFont(tabular(self.font()))
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addWidget(self.label)
        column.addWidget(self.value)

    def show_change(self, change: Change) -> None:
        """Show a quantity before and after; a unit is written once."""
        word = {1: self.tr("better"), -1: self.tr("worse")}.get(change.gain, "")
        label = self.tr(change.label[:1].upper() + change.label[1:])
        self.label.setText(f"{label} · {word}" if word else label)
        before, after = change.words()
        is_same = before == after
        before = before.removesuffix(change.unit).rstrip()
        self.value.setText(after if is_same else f"{before} → {after}")
        font = tabular(self.font())
        font.setBold(bool(word))
        self.value.setFont(font)
