"""The islands that changed from one pass to the next, as a table."""

from __future__ import annotations

from typing import Any

import numpy as np
from PySide6.QtCore import (
    QAbstractTableModel,
    QModelIndex,
    QObject,
    QPersistentModelIndex,
    QRectF,
    Qt,
)
from PySide6.QtGui import QPainter
from PySide6.QtWidgets import QStyle, QStyledItemDelegate, QStyleOptionViewItem

from evenweave.arrays import IntArray
from evenweave.compare.comparison import Comparison, LayoutChange
from evenweave.compare.states import STATES
from evenweave.window.comparison.colours import state_swatch, state_word
from evenweave.window.parts import figures
from evenweave.window.parts.palette import fill_selected

Index = QModelIndex | QPersistentModelIndex
Role = Qt.ItemDataRole
NOWHERE = QModelIndex()
_LEAST_PX = 0.05
ISLAND, STATE, MOVED, SCALE, TURNED, DENSITY, STRETCH = range(7)


def changed_rows(comparison: Comparison, change: LayoutChange) -> IntArray:
    """Return the rows of a comparison's islands that changed in a layout, gravest first."""
    islands = comparison.islands
    in_layout = _in(islands.old, comparison.match.old.layout_island, change.old) | _in(
        islands.new, comparison.match.new.layout_island, change.new
    )
    code = np.array([STATES.index(state) for state in islands.state], dtype=np.int64)
    rows = np.flatnonzero(in_layout & (code > 0))
    shift = np.nan_to_num(np.linalg.norm(islands.offset_px[rows], axis=1))
    return rows[np.lexsort((-shift, -code[rows]))].astype(np.int32)


def _in(island: IntArray, first: IntArray, layout: int) -> np.ndarray:
    if layout < 0:
        return np.zeros(len(island), dtype=bool)
    return np.asarray((island >= first[layout]) & (island < first[layout + 1]))


class ComparisonModel(QAbstractTableModel):
    """One row for each island of a layout that changed."""

    def __init__(self, comparison: Comparison, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._one = comparison
        self._rows: IntArray = np.zeros(0, dtype=np.int32)
        self._headings = (
            self.tr("Island"),
            self.tr("What"),
            self.tr("Moved\ntexels"),
            self.tr("Scale"),
            self.tr("Turned\ndegrees"),
            self.tr("Density\noctaves"),
            self.tr("Stretch\n95 %"),
        )

    def show_layout(self, change: LayoutChange) -> None:
        """Show the islands of another layout."""
        self.beginResetModel()
        self._rows = changed_rows(self._one, change)
        self.endResetModel()

    def row(self, number: int) -> int:
        """Return which row of the comparison's islands a row of the table is."""
        return int(self._rows[number])

    def place_of(self, row: int) -> int:
        """Return where a row of the comparison is in the table, -1 where it is not."""
        found = np.flatnonzero(self._rows == row)
        return int(found[0]) if len(found) else -1

    def rowCount(self, parent: Index = NOWHERE) -> int:
        return 0 if parent.isValid() else len(self._rows)

    def columnCount(self, parent: Index = NOWHERE) -> int:
        return 0 if parent.isValid() else len(self._headings)

    def headerData(
        self, section: int, orientation: Qt.Orientation, role: int = Role.DisplayRole
    ) -> Any:
        if orientation != Qt.Orientation.Horizontal:
            return None
        if role == Role.TextAlignmentRole:
            return _alignment(section)
        return self._headings[section] if role == Role.DisplayRole else None

    def data(self, index: Index, role: int = Role.DisplayRole) -> Any:
        row, column = self.row(index.row()), index.column()
        if role == Role.TextAlignmentRole:
            return _alignment(column)
        if role == Role.DecorationRole and column == STATE:
            return state_swatch(self._one.islands.state[row])
        return self._text(row, column) if role == Role.DisplayRole else None

    def _text(self, row: int, column: int) -> str:
        islands = self._one.islands
        if column == ISLAND:
            return self._one.island_name(row)
        if column == STATE:
            word = state_word(islands.state[row])
            return (
                self.tr("{what}, UVs lost").format(what=word) if islands.has_lost_uvs[row] else word
            )
        if column == MOVED:
            distance = float(np.linalg.norm(islands.offset_px[row]))
            return figures.plain(0.0, 1) if distance < _LEAST_PX else figures.measured(distance)
        if column == SCALE:
            return figures.plain(float(islands.scale[row]), 3)
        if column == TURNED:
            return figures.signed(float(islands.turn_degrees[row]), 1)
        name, digits = {DENSITY: ("density_octaves", 2), STRETCH: ("stretch_p95", 2)}[column]
        before, after = self._one.figures[name][row]
        if column == DENSITY:
            return f"{figures.signed(before, digits)} → {figures.signed(after, digits)}"
        return f"{figures.plain(before, digits)} → {figures.plain(after, digits)}"


class SelectedRowDelegate(QStyledItemDelegate):
    """Tints selected rows as everywhere in the window."""

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        plain = QStyleOptionViewItem(option)
        if option.state & QStyle.StateFlag.State_Selected:
            fill_selected(painter, QRectF(option.rect), is_first=index.column() == 0)
        plain.state &= ~(QStyle.StateFlag.State_Selected | QStyle.StateFlag.State_HasFocus)
        super().paint(painter, plain, index)


def _alignment(column: int) -> Qt.AlignmentFlag:
    side = Qt.AlignmentFlag.AlignLeft if column in (ISLAND, STATE) else Qt.AlignmentFlag.AlignRight
    return side | Qt.AlignmentFlag.AlignVCenter
