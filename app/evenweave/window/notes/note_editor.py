"""The chosen note as a page: its place, its state, and its text to type."""

from __future__ import annotations

from PySide6.QtCore import QDateTime, QEvent, Qt, Signal
from PySide6.QtGui import QFocusEvent, QKeyEvent, QKeySequence
from PySide6.QtWidgets import (
    QButtonGroup,
    QHBoxLayout,
    QLabel,
    QPlainTextEdit,
    QPushButton,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from evenweave.notes.store import STATES, Note
from evenweave.picture.lettering.pins import letters
from evenweave.window.notes.notes_list import state_word
from evenweave.window.parts.palette import GRID, title_font
from evenweave.window.parts.words import material_word
from evenweave.window.services.notebook import Notebook


class NoteEditor(QWidget):
    """Writes into the notebook as one types.

    move_asked() : the note shall be pinned to the selected island
    """

    move_asked = Signal()

    def __init__(self, notebook: Notebook, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._notebook = notebook
        self._is_showing = False
        self.title = QLabel(self)
        self.title.setFont(title_font(self.font()))
        self.title.setWordWrap(True)
        self.where = QLabel(self)
        self.where.setProperty("role", "faint")
        self.where.setWordWrap(True)
        self.states = QButtonGroup(self)
        self.text = _TextField(self)
        self.text.setAccessibleName(self.tr("Text of the note"))
        self.text.setPlaceholderText(self.tr("What is to change here? Esc ends typing."))
        self.text.setTabChangesFocus(True)
        self.show_place = QPushButton(self.tr("Show place"), self)
        self.move_here = QPushButton(self.tr("Pin to selected"), self)
        self.remove = QPushButton(self.tr("Remove"), self)
        self._arrange()
        self.text.textChanged.connect(self._on_text_changed)
        self.text.left.connect(self._on_text_left)
        self.states.buttonClicked.connect(self._on_states_button_clicked)
        self.show_place.clicked.connect(notebook.ask_place)
        self.move_here.clicked.connect(self.move_asked)
        self.remove.clicked.connect(self.remove_note)
        notebook.changed.connect(self._show)
        notebook.note_chosen.connect(self._show)
        self._show()

    def _arrange(self) -> None:
        states = QHBoxLayout()
        states.setSpacing(GRID // 2)
        for number, state in enumerate(STATES):
            button = QToolButton(self)
            button.setText(state_word(state))
            button.setProperty("role", "toggle")
            button.setCheckable(True)
            self.states.addButton(button, number)
            states.addWidget(button)
        states.addStretch(1)
        buttons = QHBoxLayout()
        buttons.setSpacing(GRID)
        for one in (self.show_place, self.move_here, self.remove):
            buttons.addWidget(one)
        column = QVBoxLayout(self)
        column.setContentsMargins(GRID, GRID, GRID, GRID)
        column.setSpacing(GRID)
        column.addWidget(self.title)
        column.addWidget(self.where)
        column.addLayout(states)
        column.addWidget(self.text, 1)
        column.addLayout(buttons)

    def begin_writing(self) -> None:
        """Put the cursor at the end of the text."""
        self.text.setFocus()
        self.text.moveCursor(self.text.textCursor().MoveOperation.End)

    def remove_note(self) -> None:
        """Take the chosen note away; undo brings it back."""
        if self._notebook.chosen is not None:
            self._notebook.remove(self._notebook.chosen.id)

    def set_state(self, number: int) -> None:
        """Give the chosen note another state."""
        if self._notebook.chosen is not None:
            self._notebook.set_state(self._notebook.chosen.id, STATES[number])

    def _show(self) -> None:
        note = self._notebook.chosen
        if note is None:
            return
        self._is_showing = True
        self.title.setText(self._title(note))
        self.states.button(STATES.index(note.state)).setChecked(True)
        if self.text.toPlainText() != note.text:
            self.text.setPlainText(note.text)
            self.text.moveCursor(self.text.textCursor().MoveOperation.End)
        found = {one.note.id: one for one in self._notebook.found}.get(note.id)
        is_adrift = found is not None and found.is_adrift
        self.where.setText(self._where(note, is_adrift))
        self.show_place.setEnabled(not is_adrift)
        self._is_showing = False

    def _title(self, note: Note) -> str:
        mark = letters(self._notebook.number(note.id))
        pattern = {
            "point": self.tr("{mark}  Point on {island}"),
            "face": self.tr("{mark}  Face of {island}"),
            "island": self.tr("{mark}  {island}"),
        }[note.kind]
        return pattern.format(mark=mark, island=note.place.island.name)

    def _where(self, note: Note, is_adrift: bool) -> str:
        if is_adrift:
            return self.tr(
                "Adrift: this surface is not in the file any more. "
                "Select an island and pin the note to it, or remove the note."
            )
        return self.tr("on {layout}, changed {day}").format(
            layout=material_word(note.place.layout),
            day=_local(note.changed),
        )

    def _on_text_changed(self) -> None:
        note = self._notebook.chosen
        if note is not None and not self._is_showing:
            self._notebook.write(note.id, self.text.toPlainText())

    def _on_text_left(self) -> None:
        self._notebook.end_typing()
        self._notebook.keeper.hurry()

    def _on_states_button_clicked(self, button: QToolButton) -> None:
        self.set_state(self.states.id(button))


def _local(time: str) -> str:
    """Return a time as notes keep it, UTC, in the words of the clock on the wall."""
    known = QDateTime.fromString(time, Qt.DateFormat.ISODate)
    return known.toLocalTime().toString("yyyy-MM-dd HH:mm") if known.isValid() else time


class _TextField(QPlainTextEdit):
    """A text field whose history is the session's.

    left() : it has lost the focus
    """

    left = Signal()

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.setUndoRedoEnabled(False)

    def event(self, event: QEvent) -> bool:
        """Leave undo and redo to the window, but not the key that ends typing."""
        if event.type() == QEvent.Type.ShortcutOverride and isinstance(event, QKeyEvent):
            standard = QKeySequence.StandardKey
            if event.matches(standard.Undo) or event.matches(standard.Redo):
                event.ignore()
                return False
            if event.key() == Qt.Key.Key_Escape:
                event.accept()
                return True
        return super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self.clearFocus()
        else:
            super().keyPressEvent(event)

    def focusOutEvent(self, event: QFocusEvent) -> None:
        super().focusOutEvent(event)
        self.left.emit()
