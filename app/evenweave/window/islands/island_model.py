"""The island table's model: sorts and filters by numpy, so that 12,000 islands stay fast."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np
from PySide6.QtCore import (
    QAbstractTableModel,
    QItemSelection,
    QItemSelectionRange,
    QModelIndex,
    QObject,
    QPersistentModelIndex,
    Qt,
)

from evenweave.check.finding import Severity
from evenweave.quantities.catalogue import OCTAVES, STRETCH_95
from evenweave.quantities.catalogue import SURFACE as SURFACE_SHARE
from evenweave.quantities.catalogue import TEXELS as TEXELS_COVERED
from evenweave.window.parts import figures
from evenweave.window.parts.glyphs import severity_word
from evenweave.window.state.island_rows import (
    COLUMNS,
    DENSITY,
    FOUND_COLUMN,
    NAME,
    STRETCH,
    SURFACE,
    TEXELS,
    IslandRows,
    Order,
)

Index = QModelIndex | QPersistentModelIndex
Role = Qt.ItemDataRole
NOWHERE = QModelIndex()


class IslandModel(QAbstractTableModel):
    """Rows are the islands that pass the filter, in the order of the sorted column."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.rows: IslandRows | None = None
        self._order: Order = np.empty(0, np.intp)
        self._row_of: Order = np.empty(0, np.intp)
        self._text, self._at_least = "", 0
        self._column, self._descending = FOUND_COLUMN, True
        right = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
        left = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
        self._alignment = {column: left if column < STRETCH else right for column in range(COLUMNS)}

    def show_rows(self, rows: IslandRows | None) -> None:
        """Show the islands of another layout."""
        self.rows = rows
        self._arrange()

    def filter(self, text: str, at_least: int) -> None:
        """Show only islands whose name holds the text, of at least this severity."""
        self._text, self._at_least = text, at_least
        self._arrange()

    def island(self, row: int) -> int:
        """Return the island in a row, -1 outside."""
        return int(self._order[row]) if 0 <= row < len(self._order) else -1

    def row(self, island: int) -> int:
        """Return the row of an island, -1 where the filter hides it."""
        return int(self._row_of[island]) if 0 <= island < len(self._row_of) else -1

    def selection_of(self, islands: Iterable[int]) -> QItemSelection:
        """Return a selection of the islands' rows, in as few ranges as possible."""
        rows = np.array(sorted(row for k in islands if (row := self.row(k)) >= 0), dtype=np.intp)
        selection = QItemSelection()
        for run in np.split(rows, np.flatnonzero(np.diff(rows) > 1) + 1) if len(rows) else ():
            top, bottom = self.index(int(run[0]), 0), self.index(int(run[-1]), COLUMNS - 1)
            selection.append(QItemSelectionRange(top, bottom))
        return selection

    def _arrange(self) -> None:
        self.beginResetModel()
        if self.rows is None:
            self._order = np.empty(0, np.intp)
            self._row_of = np.empty(0, np.intp)
        else:
            self._order = self.rows.order(
                self._column,
                descending=self._descending,
                text=self._text,
                at_least=self._at_least,
            )
            self._row_of = np.full(len(self.rows.name), -1, np.intp)
            self._row_of[self._order] = np.arange(len(self._order))
        self.endResetModel()

    def alignment(self, column: int) -> Qt.AlignmentFlag:
        """Return where in its cell a column's text stands."""
        return self._alignment[column]

    def text(self, island: int, column: int) -> str:
        """Return what a cell says."""
        rows = self.rows
        assert rows is not None
        if column == NAME:
            return rows.name[island]
        if column == FOUND_COLUMN:
            number = int(rows.findings[island])
            return figures.count(number) if number else ""
        if column == STRETCH:
            return figures.plain(rows.stretch[island])
        if column == DENSITY:
            return figures.signed(rows.octaves[island])
        if column == SURFACE:
            return figures.percent(rows.surface[island])
        return figures.short_count(rows.texels[island])

    def _spoken(self, island: int, column: int) -> str:
        """What a screen reader says: the column's word with the value."""
        text = self.text(island, column)
        if column == FOUND_COLUMN:
            rows = self.rows
            assert rows is not None
            found = self._found(island)
            if not text:
                return found
            word = severity_word(Severity(int(rows.severity[island])))
            return self.tr("{found}, gravest: {word}").format(found=found, word=word)
        return f"{self._heading(column).replace(chr(10), ' ')} {text}"

    def _found(self, island: int) -> str:
        """Say how many findings are open, and how many are waived apart."""
        rows = self.rows
        assert rows is not None
        is_open, waived = int(rows.findings[island]), int(rows.waived[island])
        if not is_open and not waived:
            return self.tr("no findings")
        found = self.tr("nothing open")
        if is_open:
            found = figures.counted(is_open, self.tr("1 finding"), self.tr("{count} findings"))
        if waived:
            found += self.tr(", {count} waived").format(count=figures.count(waived))
        return found

    def _heading(self, column: int) -> str:
        return {
            NAME: self.tr("Island"),
            FOUND_COLUMN: self.tr("Found"),
            STRETCH: self.tr(STRETCH_95.header).replace(", ", "\n"),
            DENSITY: self.tr(OCTAVES.header).replace(", ", "\n"),
            SURFACE: self.tr(SURFACE_SHARE.header).replace(", ", "\n"),
            TEXELS: self.tr("Area\ntexels"),
        }[column]

    def _meaning(self, column: int) -> str:
        return {
            NAME: self.tr("Name of the island, after its part"),
            FOUND_COLUMN: self.tr(
                "How many open findings name the island, with the gravest one's sign; in brackets "
                "how many are waived"
            ),
            STRETCH: self.tr(STRETCH_95.what),
            DENSITY: self.tr(OCTAVES.what),
            SURFACE: self.tr(SURFACE_SHARE.what),
            TEXELS: self.tr(TEXELS_COVERED.what),
        }[column]

    # What Qt asks.

    def rowCount(self, parent: Index = NOWHERE) -> int:
        return 0 if parent.isValid() else len(self._order)

    def columnCount(self, parent: Index = NOWHERE) -> int:
        return 0 if parent.isValid() else COLUMNS

    def data(self, index: Index, role: int = Role.DisplayRole) -> Any:
        island, column = self.island(index.row()), index.column()
        if island < 0:
            return None
        if role == Role.DisplayRole:
            return self.text(island, column)
        if role == Role.TextAlignmentRole:
            return self._alignment[column]
        if role == Role.AccessibleTextRole:
            return self._spoken(island, column)
        if role == Role.ToolTipRole and column == NAME:
            return self.text(island, column)
        if role == Role.ToolTipRole and column == FOUND_COLUMN:
            return self._found(island)
        return None

    def headerData(
        self, section: int, orientation: Qt.Orientation, role: int = Role.DisplayRole
    ) -> Any:
        if orientation != Qt.Orientation.Horizontal or not 0 <= section < COLUMNS:
            return None
        if role == Role.DisplayRole:
            return self._heading(section)
        if role == Role.ToolTipRole:
            return self._meaning(section)
        if role == Role.TextAlignmentRole:
            return self._alignment[section]
        if role == Role.InitialSortOrderRole:
            order = Qt.SortOrder
            return order.AscendingOrder if section == NAME else order.DescendingOrder
        return None

    def sort(self, column: int, order: Qt.SortOrder = Qt.SortOrder.AscendingOrder) -> None:
        self._column = column
        self._descending = order == Qt.SortOrder.DescendingOrder
        self._arrange()
