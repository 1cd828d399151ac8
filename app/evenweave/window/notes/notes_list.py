"""The list of notes by state, those adrift and waivers without a finding at the end."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from PySide6.QtCore import (
    QAbstractListModel,
    QCoreApplication,
    QModelIndex,
    QObject,
    QPersistentModelIndex,
    QRectF,
    Qt,
    Signal,
)
from PySide6.QtGui import QKeyEvent, QPainter, QPalette
from PySide6.QtWidgets import (
    QStyleOptionViewItem,
    QWidget,
)

from evenweave.check.texts import templates
from evenweave.notes.store import STATES, Note, NoteState, Waiver
from evenweave.picture.lettering.pins import letters
from evenweave.window.parts import figures
from evenweave.window.parts.following_list import FollowingList, LineDelegate
from evenweave.window.parts.palette import GRID, current, tabular
from evenweave.window.services.notebook import Notebook

Index = QModelIndex | QPersistentModelIndex
Role = Qt.ItemDataRole
NOWHERE = QModelIndex()


@dataclass(frozen=True)
class Heading:
    """A group's name and how many are in it."""

    text: str
    count: int


Row = Heading | Note | Waiver


def state_word(state: NoteState) -> str:
    """Return the name of a note's state."""
    tr = QCoreApplication.translate
    return {
        "to do": tr("NoteState", "To do"),
        "done": tr("NoteState", "Done"),
        "deliberate": tr("NoteState", "Deliberate"),
    }[state]


def waived_title(waiver: Waiver) -> str:
    """Return the title of a waiver's check; its id where only later versions know it."""
    known = templates().get(waiver.check)
    return known["title"] if known else waiver.check


class NotesModel(QAbstractListModel):
    """Headings, notes and waivers in one flat list."""

    def __init__(self, notebook: Notebook, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._notebook = notebook
        self._rows: list[Row] = []

    def reload(self) -> None:
        """Show what the notebook holds now."""
        self.beginResetModel()
        self._rows = _rows(self._notebook)
        self.endResetModel()

    def row_at(self, number: int) -> Row | None:
        """Return a row."""
        return self._rows[number] if 0 <= number < len(self._rows) else None

    def place_of(self, id: str) -> int:
        """Return the row of a note or waiver, -1 where it is not in the list."""
        ids = ("" if isinstance(row, Heading) else row.id for row in self._rows)
        return next((number for number, one in enumerate(ids) if one == id and id), -1)

    def mark_of(self, row: Note | Waiver) -> str:
        """Return a note's letters, as its pin has them."""
        return letters(self._notebook.number(row.id)) if isinstance(row, Note) else ""

    def rowCount(self, parent: Index = NOWHERE) -> int:
        return 0 if parent.isValid() else len(self._rows)

    def flags(self, index: Index) -> Qt.ItemFlag:
        row = self.row_at(index.row())
        if row is None or isinstance(row, Heading):
            return Qt.ItemFlag.NoItemFlags
        return Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable

    def data(self, index: Index, role: int = Role.DisplayRole) -> Any:
        row = self.row_at(index.row())
        if row is None or role not in (
            Role.DisplayRole, Role.AccessibleTextRole, Role.ToolTipRole
        ):  # fmt: skip
            return None
        if isinstance(row, Heading):
            return None if role == Role.ToolTipRole else f"{row.text}  {figures.count(row.count)}"
        if isinstance(row, Waiver):
            return f"{waived_title(row)}: {row.reason}"
        line = " ".join(row.text.split())
        if role == Role.AccessibleTextRole:
            return f"{self.mark_of(row)}, {state_word(row.state)}, {row.place.island.name}: {line}"
        if role == Role.ToolTipRole:
            return row.text or None
        return line or self.tr("without words")


def _rows(notebook: Notebook) -> list[Row]:
    store, tr = notebook.store, QCoreApplication.translate
    adrift = {one.note.id for one in notebook.found if one.is_adrift}
    waiving = notebook.waiving
    groups: list[tuple[str, list[Note] | list[Waiver]]] = [
        (
            state_word(state),
            [one for one in store.notes if one.state == state and one.id not in adrift],
        )
        for state in STATES
    ]
    groups.append((tr("Notes", "Adrift"), [one for one in store.notes if one.id in adrift]))
    if waiving is not None:
        groups.append((tr("Notes", "Waivers adrift"), list(waiving.adrift)))
        groups.append((tr("Notes", "Waivers not needed now"), list(waiving.idle)))
    rows: list[Row] = []
    for text, group in groups:
        if group:
            rows += [Heading(text, len(group)), *group]
    return rows


class _NoteDelegate(LineDelegate):
    """A heading in faint type; a note with its letter, and its island at the right."""

    def __init__(self, model: NotesModel, parent: QObject) -> None:
        super().__init__(parent)
        self._model = model

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        row = self._model.row_at(index.row())
        painter.save()
        box, colours = QRectF(option.rect), current()
        inner = box.adjusted(GRID, 0, -GRID, 0)
        ink = option.palette.color(QPalette.ColorRole.Text)
        painter.setFont(tabular(painter.font()))
        if row is None or isinstance(row, Heading):
            ink = colours.faint
            inner.setTop(inner.top() + GRID // 2)
        else:
            self.draw_ground(painter, option)
            inner = self._paint_ends(painter, inner, row)
            if isinstance(row, Note) and (row.state == "done" or not row.text.strip()):
                ink = colours.faint
        painter.setPen(ink)
        text = painter.fontMetrics().elidedText(
            str(index.data(Role.DisplayRole)), Qt.TextElideMode.ElideRight, int(inner.width())
        )
        painter.drawText(inner, Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft, text)
        painter.restore()

    def _paint_ends(self, painter: QPainter, inner: QRectF, row: Note | Waiver) -> QRectF:
        """Write letter and island; return the room between."""
        faint, side = current().faint, Qt.AlignmentFlag
        metrics = painter.fontMetrics()
        inner = QRectF(inner)
        mark = self._model.mark_of(row)
        font = painter.font()
        font.setBold(True)
        painter.setFont(font)
        painter.drawText(inner, side.AlignVCenter | side.AlignLeft, mark)
        font.setBold(False)
        painter.setFont(font)
        inner.setLeft(inner.left() + 2.5 * GRID)
        islands = (row.place.island,) if isinstance(row, Note) else row.islands
        name = islands[0].name if islands else ""
        name = metrics.elidedText(name, Qt.TextElideMode.ElideMiddle, int(inner.width() * 0.4))
        painter.setPen(faint)
        painter.drawText(inner, side.AlignVCenter | side.AlignRight, name)
        inner.setRight(inner.right() - metrics.horizontalAdvance(name) - GRID)
        return inner


class NotesList(FollowingList):
    """Keeps step with the notebook's chosen note.

    waiver_chosen(waiver) : a waiver without a warning is to be read; None for none
    """

    waiver_chosen = Signal(object)

    def __init__(self, notebook: Notebook, parent: QWidget | None = None) -> None:
        self._notebook = notebook
        self._waiver = ""
        self._model = NotesModel(notebook)
        super().__init__(self._model, QCoreApplication.translate("NotesList", "Notes"), parent)
        self._model.setParent(self)
        self.setItemDelegate(_NoteDelegate(self._model, self))
        notebook.changed.connect(self._on_notebook_changed)
        notebook.waiving_changed.connect(self._on_notebook_changed)
        notebook.note_chosen.connect(self._on_notebook_note_chosen)
        self.clicked.connect(lambda _: notebook.ask_place())
        self._on_notebook_changed()

    def step(self, step: int) -> None:
        """Choose the next (1) or previous (-1) note of the list, and show its place."""
        rows = [self._model.row_at(k) for k in range(self._model.rowCount())]
        notes = [row for row in rows if isinstance(row, Note)]
        if not notes:
            return
        ids = [note.id for note in notes]
        chosen = self._notebook.chosen
        start = ids.index(chosen.id) if chosen else (-1 if step > 0 else 0)
        self._notebook.choose(ids[(start + step) % len(ids)])
        self._notebook.ask_place()

    def _on_notebook_changed(self) -> None:
        with self.following():
            self._model.reload()
        self._on_notebook_note_chosen()

    def _on_notebook_note_chosen(self) -> None:
        chosen = self._notebook.chosen
        row = self._model.place_of(chosen.id if chosen else self._waiver)
        self.follow(row)
        if chosen is not None or row < 0:
            self._waiver = ""

    def currentChanged(self, current: Index, previous: Index) -> None:
        super().currentChanged(current, previous)
        row = self._model.row_at(current.row())
        if self.is_following or row is None or isinstance(row, Heading):
            return
        self._waiver = row.id if isinstance(row, Waiver) else ""
        self._notebook.choose(row.id if isinstance(row, Note) else "")
        self.waiver_chosen.emit(row if isinstance(row, Waiver) else None)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self._notebook.ask_place()
            self._notebook.writing_asked.emit()
        else:
            super().keyPressEvent(event)
