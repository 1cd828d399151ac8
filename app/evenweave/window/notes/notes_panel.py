"""The panel of notes: the list above, the chosen note, or a waiver without a finding, below."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QLabel,
    QPushButton,
    QSplitter,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from evenweave.notes.store import Waiver
from evenweave.window.notes.note_editor import NoteEditor
from evenweave.window.notes.notes_list import NotesList, waived_title
from evenweave.window.parts.palette import GRID, title_font
from evenweave.window.services.notebook import Notebook

_HINT, _NOTE, _WAIVER = range(3)


class NotesPanel(QWidget):
    """Keeps the page below in step with what is chosen above."""

    def __init__(self, notebook: Notebook, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._notebook = notebook
        self.list = NotesList(notebook, self)
        self.editor = NoteEditor(notebook, self)
        self.waiver = WaiverPage(notebook, self)
        self.hint = QLabel(self)
        self.hint.setWordWrap(True)
        self.hint.setProperty("role", "faint")
        self.hint.setMargin(2 * GRID)
        self.hint.setAlignment(Qt.AlignmentFlag.AlignTop)
        self._stack = QStackedWidget(self)
        for page in (self.hint, self.editor, self.waiver):
            self._stack.addWidget(page)
        self.splitter = QSplitter(Qt.Orientation.Vertical, self)
        self.splitter.addWidget(self.list)
        self.splitter.addWidget(self._stack)
        self.splitter.setChildrenCollapsible(False)
        self.splitter.setStretchFactor(0, 1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.splitter)
        notebook.changed.connect(self._show)
        notebook.note_chosen.connect(self._show)
        notebook.waiving_changed.connect(self._show)
        self.list.waiver_chosen.connect(self._on_list_waiver_chosen)
        self._show()

    def _show(self) -> None:
        store = self._notebook.store
        self.list.setVisible(self.list.model().rowCount() > 0)
        if self._notebook.chosen is not None:
            self.waiver.show_waiver(None)
            self._stack.setCurrentIndex(_NOTE)
        elif self.waiver.waiver in store.waivers:
            self._stack.setCurrentIndex(_WAIVER)
        else:
            self._stack.setCurrentIndex(_HINT)
        self.hint.setText(
            self.tr("Choose a note to read it and to see its place.")
            if store.notes
            else self.tr(
                "Point at a place of the layout or the object and press N to put a note there, "
                "or click with the right button. Notes are kept in a file beside the mesh; "
                "the mesh itself is never changed."
            )
        )

    def _on_list_waiver_chosen(self, waiver: Waiver | None) -> None:
        self.waiver.show_waiver(waiver)
        self._show()


class WaiverPage(QWidget):
    """A waiver whose finding is not raised, or whose islands are gone."""

    def __init__(self, notebook: Notebook, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.waiver: Waiver | None = None
        self.title = QLabel(self)
        self.title.setFont(title_font(self.font()))
        self.text = QLabel(self)
        self.take_back = QPushButton(self.tr("Take back"), self)
        column = QVBoxLayout(self)
        column.setContentsMargins(2 * GRID, 2 * GRID, 2 * GRID, 2 * GRID)
        column.setSpacing(GRID)
        for label in (self.title, self.text):
            label.setWordWrap(True)
            label.setTextFormat(Qt.TextFormat.PlainText)
            column.addWidget(label)
        column.addWidget(self.take_back, 0, Qt.AlignmentFlag.AlignLeft)
        column.addStretch(1)
        self.take_back.clicked.connect(
            lambda: notebook.unwaive((self.waiver,)) if self.waiver else None
        )

    def show_waiver(self, waiver: Waiver | None) -> None:
        """Fill the page."""
        self.waiver = waiver
        if waiver is not None:
            names = ", ".join(island.name for island in waiver.islands) or waiver.layout
            self.title.setText(self.tr("Waiver of {check}").format(check=waived_title(waiver)))
            self.text.setText(
                self.tr("On {islands}: “{reason}” {who}, {day}.").format(
                    islands=names, reason=waiver.reason, who=waiver.who, day=waiver.when[:10]
                )
            )
