"""The left panel: the islands of the shown layout, worst first, with a filter above."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QItemSelection, QItemSelectionModel, QRect, Qt
from PySide6.QtGui import QKeyEvent, QMouseEvent, QResizeEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QComboBox,
    QHBoxLayout,
    QHeaderView,
    QLabel,
    QLineEdit,
    QTableView,
    QVBoxLayout,
    QWidget,
)

from evenweave.check.finding import Severity
from evenweave.window.islands.island_delegate import ROW_HEIGHT, IslandDelegate
from evenweave.window.islands.island_model import IslandModel
from evenweave.window.parts import figures
from evenweave.window.parts.glyphs import severity_icon
from evenweave.window.parts.palette import GRID, current
from evenweave.window.services.session import Session
from evenweave.window.state.island_rows import (
    DENSITY,
    FOUND_COLUMN,
    NAME,
    STRETCH,
    SURFACE,
    TEXELS,
    IslandRows,
    has_same_findings,
    with_waivers,
)

_WIDTHS = {FOUND_COLUMN: 62, STRETCH: 86, DENSITY: 98, SURFACE: 64, TEXELS: 66}
_LEAST_NAME_WIDTH = 9 * GRID


class IslandTable(QWidget):
    """The table and its filter, kept in step with the session's selection and hover."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self.model = IslandModel(self)
        self.view = _IslandView(self.model, session, self)
        self.text_filter = QLineEdit(self)
        self.text_filter.setPlaceholderText(self.tr("Filter by name"))
        self.text_filter.setClearButtonEnabled(True)
        self.text_filter.setAccessibleName(self.tr("Filter islands by name"))
        self.severity_filter = QComboBox(self)
        self.severity_filter.setAccessibleName(self.tr("Filter islands by severity"))
        self._fill_severities()
        self.tally = QLabel(self)
        self.tally.setProperty("role", "faint")
        self._arrange()
        self.text_filter.textChanged.connect(self._on_filter_changed)
        self.severity_filter.currentIndexChanged.connect(self._on_filter_changed)
        session.layout_chosen.connect(self._on_session_layout_chosen)
        session.notebook.waiving_changed.connect(self._on_notebook_waiving_changed)
        session.selection_changed.connect(self.view.show_selection)
        session.hover_changed.connect(self.view.show_hover)

    def _arrange(self) -> None:
        filters = QHBoxLayout()
        filters.setContentsMargins(GRID, GRID, GRID, 0)
        filters.setSpacing(GRID)
        filters.addWidget(self.text_filter, 1)
        filters.addWidget(self.severity_filter)
        self.tally.setContentsMargins(GRID, 0, GRID, 0)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(GRID // 2)
        column.addLayout(filters)
        column.addWidget(self.tally)
        column.addWidget(self.view, 1)

    def _fill_severities(self) -> None:
        at = max(0, self.severity_filter.currentIndex())
        self.severity_filter.blockSignals(True)
        self.severity_filter.clear()
        self.severity_filter.addItem(self.tr("All"), 0)
        for severity, word in (
            (Severity.NOTE, self.tr("Notes or worse")),
            (Severity.WARNING, self.tr("Warnings or worse")),
            (Severity.FAULT, self.tr("Faults only")),
        ):
            icon = severity_icon(severity, current().severity(severity))
            self.severity_filter.addItem(icon, word, int(severity))
        self.severity_filter.setCurrentIndex(at)
        self.severity_filter.blockSignals(False)

    def _on_filter_changed(self) -> None:
        self.model.filter(self.text_filter.text(), self.severity_filter.currentData() or 0)
        self.view.show_selection()
        self._tell_tally()

    def _on_session_layout_chosen(self) -> None:
        self.model.show_rows(self._rows())
        self.view.show_limits()
        self._tell_tally()

    def _on_notebook_waiving_changed(self) -> None:
        """Count anew and stay where the table was."""
        rows, before = self._rows(), self.model.rows
        if rows is None or (before is not None and has_same_findings(rows, before)):
            return
        bar = self.view.verticalScrollBar()
        place = bar.value()
        self.model.show_rows(rows)
        bar.setValue(place)
        self._tell_tally()

    def _rows(self) -> IslandRows | None:
        """Return the islands shown, with their waivers as far as they are known."""
        session = self._session
        rows, shown, waiving = session.rows, session.shown, session.notebook.waiving
        if rows is None or shown is None or waiving is None:
            return rows
        standings = waiving.layouts[session.layout_index]
        return with_waivers(rows, standings)

    def _tell_tally(self) -> None:
        rows = self.model.rows
        total = len(rows.name) if rows else 0
        seen = self.model.rowCount()
        if seen == total:
            text = figures.counted(total, self.tr("1 island"), self.tr("{count} islands"))
        else:
            text = self.tr("{seen} of {total} islands").format(
                seen=figures.count(seen), total=figures.count(total)
            )
        self.tally.setText(text)

    def changeEvent(self, event: QEvent) -> None:
        if event.type() == QEvent.Type.PaletteChange:
            self._fill_severities()
        super().changeEvent(event)


class _IslandView(QTableView):
    """The table itself."""

    def __init__(self, model: IslandModel, session: Session, parent: QWidget) -> None:
        super().__init__(parent)
        self._model, self._session = model, session
        self._is_following = False
        self._delegate = IslandDelegate(model, self)
        self.setModel(model)
        self.setItemDelegate(self._delegate)
        self.setAccessibleName(self.tr("Islands"))
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.ExtendedSelection)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setHorizontalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setShowGrid(False)
        self.setWordWrap(False)
        self.setMouseTracking(True)
        self.setTabKeyNavigation(False)
        self.setSortingEnabled(True)
        self._size_columns()
        self.sortByColumn(FOUND_COLUMN, Qt.SortOrder.DescendingOrder)
        self.doubleClicked.connect(session.ask_framing)
        model.modelReset.connect(self.show_selection)

    def _size_columns(self) -> None:
        rows, columns = self.verticalHeader(), self.horizontalHeader()
        rows.hide()
        rows.setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        rows.setDefaultSectionSize(ROW_HEIGHT)
        columns.setHighlightSections(False)
        for header in (rows, columns):
            # With the view's own selection a header asks for every cell whenever it is painted.
            header.setSelectionModel(QItemSelectionModel(self._model, header))
        columns.setMinimumSectionSize(6 * GRID)
        for column, width in _WIDTHS.items():
            columns.setSectionResizeMode(column, QHeaderView.ResizeMode.Interactive)
            columns.resizeSection(column, width)

    def sort_by(self, column: int) -> None:
        """Sort by a column, worst first; the other way round if it is sorted by already.

        Where no island is selected the first one is, so that keys go on from there.
        """
        header = self.horizontalHeader()
        ascending, descending = Qt.SortOrder.AscendingOrder, Qt.SortOrder.DescendingOrder
        order = ascending if column == NAME else descending
        if header.sortIndicatorSection() == column and header.sortIndicatorOrder() == order:
            order = descending if order == ascending else ascending
        self.sortByColumn(column, order)
        if not self._session.selection and self._model.rowCount():
            self._session.select([self._model.island(0)])

    def show_selection(self) -> None:
        """Select what the session has selected, and bring its first row into view."""
        if self._is_following:
            return
        self._is_following = True
        flags = QItemSelectionModel.SelectionFlag
        selection = self._model.selection_of(self._session.selection)
        self.selectionModel().select(selection, flags.ClearAndSelect)
        rows = [selection.at(k).top() for k in range(selection.count())]
        if rows:
            first = self._model.index(min(rows), NAME)
            self.selectionModel().setCurrentIndex(first, flags.NoUpdate)
            self.scrollTo(first)
        self._is_following = False

    def show_hover(self) -> None:
        """Frame the row of the island under the pointer."""
        for island in (self._delegate.hovered, self._session.hover):
            self._repaint_row(self._model.row(island))
        self._delegate.hovered = self._session.hover

    def show_limits(self) -> None:
        """Draw the bars against the limits that the review was judged by."""
        review = self._session.review
        if review is not None:
            self._delegate.limits = review.limits
        self.viewport().update()

    def _repaint_row(self, row: int) -> None:
        if row >= 0:
            top = self.rowViewportPosition(row)
            self.viewport().update(QRect(0, top - 1, self.viewport().width(), ROW_HEIGHT + 2))

    def selectionChanged(self, selected: QItemSelection, deselected: QItemSelection) -> None:
        super().selectionChanged(selected, deselected)
        if not self._is_following:
            self._is_following = True
            self._session.select(
                self._model.island(row)
                for piece in self.selectionModel().selection().toList()
                for row in range(piece.top(), piece.bottom() + 1)
            )
            self._is_following = False

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        super().mouseMoveEvent(event)
        row = self.rowAt(int(event.position().y()))
        self._session.point_at(self._model.island(row))

    def leaveEvent(self, event: QEvent) -> None:
        self._session.point_at(-1)
        super().leaveEvent(event)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        columns = self.horizontalHeader()
        others = sum(columns.sectionSize(column) for column in _WIDTHS)
        room = self.viewport().width() - others
        columns.resizeSection(NAME, max(room, _LEAST_NAME_WIDTH))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self._session.ask_framing()
        else:
            super().keyPressEvent(event)
