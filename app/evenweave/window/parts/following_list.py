"""A list that keeps step with what is chosen elsewhere, in rows of one height."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from PySide6.QtCore import (
    QAbstractItemModel,
    QEvent,
    QItemSelectionModel,
    QModelIndex,
    QPersistentModelIndex,
    QRectF,
    QSize,
    Qt,
)
from PySide6.QtGui import QFocusEvent, QPainter
from PySide6.QtWidgets import (
    QAbstractItemView,
    QListView,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QWidget,
)

from evenweave.window.parts.palette import GRID, current, fill_selected

Index = QModelIndex | QPersistentModelIndex
NOWHERE = QModelIndex()


class FollowingList(QListView):
    """`is_following` while it changes to fit others: then nobody has chosen anything here."""

    def __init__(self, model: QAbstractItemModel, name: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.is_following = False
        self.setModel(model)
        self.setAccessibleName(name)
        self.setUniformItemSizes(True)
        self.setMouseTracking(True)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)

    @contextmanager
    def following(self) -> Iterator[None]:
        """Change without having chosen."""
        was_following, self.is_following = self.is_following, True
        try:
            yield
        finally:
            self.is_following = was_following

    def follow(self, row: int) -> None:
        """Go to a row that was chosen elsewhere; -1 for none."""
        with self.following():
            if row < 0:
                self.clearSelection()
                self.setCurrentIndex(NOWHERE)
                return
            index = self.model().index(row, 0)
            flag = QItemSelectionModel.SelectionFlag.ClearAndSelect
            self.selectionModel().setCurrentIndex(index, flag)
            self.scrollTo(index)

    def focusInEvent(self, event: QFocusEvent) -> None:
        """Take the focus without choosing the first row."""
        with self.following():
            super().focusInEvent(event)

    def changeEvent(self, event: QEvent) -> None:
        if event.type() == QEvent.Type.PaletteChange:
            self.viewport().update()
        super().changeEvent(event)


class LineDelegate(QStyledItemDelegate):
    """Rows of one line."""

    def draw_ground(self, painter: QPainter, option: QStyleOptionViewItem) -> None:
        """Tint a row that is selected or pointed at."""
        if option.state & QStyle.StateFlag.State_Selected:
            fill_selected(painter, QRectF(option.rect))
        elif option.state & QStyle.StateFlag.State_MouseOver:
            painter.fillRect(QRectF(option.rect), current().ground)

    def sizeHint(self, option: QStyleOptionViewItem, index: Index) -> QSize:
        return QSize(10 * GRID, 3 * GRID + 4)
