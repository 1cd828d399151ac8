"""A list of one-line rows: a sign, a text, and something aside; all advice is listed so."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from PySide6.QtCore import (
    QAbstractListModel,
    QItemSelection,
    QItemSelectionModel,
    QModelIndex,
    QObject,
    QPersistentModelIndex,
    QRectF,
    Qt,
    Signal,
)
from PySide6.QtGui import QPainter, QPalette
from PySide6.QtWidgets import (
    QAbstractItemView,
    QStyleOptionViewItem,
    QWidget,
)

from evenweave.check.finding import Severity
from evenweave.window.parts.following_list import FollowingList, LineDelegate
from evenweave.window.parts.glyphs import draw_severity
from evenweave.window.parts.palette import GRID, current, tabular

Index = QModelIndex | QPersistentModelIndex
Role = Qt.ItemDataRole
NOWHERE = QModelIndex()
_SIGN = 11


@dataclass(frozen=True)
class Row:
    """key : what the row stands for; sign : a severity's, None for no sign; is_faint : waits."""

    key: int
    text: str
    aside: str = ""
    sign: Severity | None = None
    is_faint: bool = False
    tip: str = ""


class RowModel(QAbstractListModel):
    """Rows, whose keys are all different."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.rows: list[Row] = []
        self._place: dict[int, int] = {}

    def show_rows(self, rows: Iterable[Row]) -> bool:
        """Show these rows; return whether they stand for the same things as before."""
        rows = list(rows)
        is_same = [one.key for one in rows] == [one.key for one in self.rows]
        if is_same:
            self.rows = rows
            if rows:
                self.dataChanged.emit(self.index(0), self.index(len(rows) - 1))
            return True
        self.beginResetModel()
        self.rows = rows
        self._place = {one.key: number for number, one in enumerate(rows)}
        self.endResetModel()
        return False

    def place_of(self, key: int) -> int:
        """Return the row of a key, -1 if there is none."""
        return self._place.get(key, -1)

    def rowCount(self, parent: Index = NOWHERE) -> int:
        return 0 if parent.isValid() else len(self.rows)

    def data(self, index: Index, role: int = Role.DisplayRole) -> Any:
        if not 0 <= index.row() < len(self.rows):
            return None
        row = self.rows[index.row()]
        if role == Role.DisplayRole:
            return row.text
        if role == Role.AccessibleTextRole:
            return f"{row.text}, {row.aside}" if row.aside else row.text
        if role == Role.ToolTipRole:
            return row.tip or None
        return None


class _RowDelegate(LineDelegate):
    """Text at the left, what is aside faint at the right; numbers stand last and stay."""

    def __init__(self, model: RowModel, parent: QObject) -> None:
        super().__init__(parent)
        self._model = model

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        row = self._model.rows[index.row()]
        painter.save()
        colours, box = current(), QRectF(option.rect)
        self.draw_ground(painter, option)
        inner = box.adjusted(GRID, 0, -GRID, 0)
        painter.setFont(tabular(painter.font()))
        if row.sign is not None:
            sign = QRectF(inner.left(), inner.center().y() - _SIGN / 2, _SIGN, _SIGN)
            draw_severity(painter, sign, row.sign, colour=colours.severity(row.sign))
        inner.setLeft(inner.left() + 2.5 * GRID)
        metrics, middle = painter.fontMetrics(), Qt.AlignmentFlag.AlignVCenter
        wide = min(metrics.horizontalAdvance(row.aside), int(inner.width() * 0.55))
        aside = metrics.elidedText(row.aside, Qt.TextElideMode.ElideMiddle, wide + 1)
        painter.setPen(colours.faint)
        painter.drawText(inner, middle | Qt.AlignmentFlag.AlignRight, aside)
        room = int(inner.width()) - wide - GRID
        text = metrics.elidedText(row.text, Qt.TextElideMode.ElideMiddle, room)
        ink = option.palette.color(QPalette.ColorRole.Text)
        painter.setPen(colours.faint if row.is_faint else ink)
        painter.drawText(inner, middle | Qt.AlignmentFlag.AlignLeft, text)
        painter.restore()


class RowList(FollowingList):
    """Shows rows. chosen(keys) : others were selected by hand."""

    chosen = Signal(object)

    def __init__(self, name: str, *, is_single: bool, parent: QWidget | None = None) -> None:
        mode = QAbstractItemView.SelectionMode
        self.rows = RowModel()
        super().__init__(self.rows, name, parent)
        self.rows.setParent(self)
        self.setItemDelegate(_RowDelegate(self.rows, self))
        self.setSelectionMode(mode.SingleSelection if is_single else mode.ExtendedSelection)

    @property
    def keys(self) -> tuple[int, ...]:
        """Keys of the selected rows, ascending."""
        return tuple(sorted(self.rows.rows[one.row()].key for one in self.selectedIndexes()))

    def show_rows(self, rows: Iterable[Row]) -> None:
        """Show these rows; what is selected stays, as far as it is still there."""
        kept = self.keys
        if not self.rows.show_rows(rows):
            self.select(kept)

    def select(self, keys: Sequence[int]) -> None:
        """Select rows without telling, and bring the first into view."""
        places = sorted(one for one in map(self.rows.place_of, keys) if one >= 0)
        chosen = QItemSelection()
        for place in places:
            chosen.select(self.rows.index(place), self.rows.index(place))
        flag = QItemSelectionModel.SelectionFlag
        with self.following():
            self.selectionModel().select(chosen, flag.ClearAndSelect)
            if places:
                first = self.rows.index(places[0])
                self.selectionModel().setCurrentIndex(first, flag.NoUpdate)
                self.scrollTo(first)

    def selectionChanged(self, selected: QItemSelection, deselected: QItemSelection) -> None:
        super().selectionChanged(selected, deselected)
        if not self.is_following:
            self.chosen.emit(self.keys)
