"""Two passes of a file: the verdict, both layouts, the islands and the findings that changed."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import QItemSelectionModel, Qt
from PySide6.QtGui import QCloseEvent, QKeySequence, QShortcut
from PySide6.QtWidgets import (
    QAbstractItemView,
    QComboBox,
    QHBoxLayout,
    QHeaderView,
    QLabel,
    QPushButton,
    QSplitter,
    QTableView,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from evenweave.compare.comparison import LayoutChange
from evenweave.compare.findings import FindingChange
from evenweave.compare.states import STATES
from evenweave.picture.difference import layout_named, new_states, old_states
from evenweave.progress import Progress
from evenweave.raster.look import COLOURS, Look
from evenweave.window.bars.layout_bar import labelled
from evenweave.window.comparison.colours import (
    Pair,
    pair_in_look,
    pair_in_states,
    state_swatch_html,
    state_word,
)
from evenweave.window.comparison.findings import FindingChangeList
from evenweave.window.comparison.table import ISLAND, ComparisonModel, SelectedRowDelegate
from evenweave.window.comparison.views import ComparisonViews
from evenweave.window.parts.palette import GRID, tabular, title_font
from evenweave.window.parts.words import colours_word, material_word
from evenweave.window.state.lane import Lane
from evenweave.window.state.pass_words import pass_sentence
from evenweave.window.state.preparation import Pass


class ComparisonWindow(QWidget):
    """Choosing an island or a finding moves both canvases there. Space blinks."""

    def __init__(self, passes: Pass, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent, Qt.WindowType.Window)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.passes, self._one, self._look = passes, passes.comparison, look
        self._lane = Lane(self)
        self._drawn: LayoutChange | None = None
        files = self._files()
        self.setWindowTitle(self.tr("{files} – Evenweave").format(files=files))
        self.verdict = QLabel(pass_sentence(*passes.told), self)
        self.verdict.setWordWrap(True)
        self.verdict.setFont(title_font(self.font()))
        self.files = QLabel(files, self)
        self.files.setProperty("role", "faint")
        self.layouts = QComboBox(self)
        self.colours = QComboBox(self)
        self.blinking = QToolButton(self)
        self.views = ComparisonViews(self)
        self.legend = QLabel(self)
        self.legend.setWordWrap(True)
        self.model = ComparisonModel(self._one, self)
        self.table = QTableView(self)
        self.findings = FindingChangeList(self)
        self.close_button = QPushButton(self.tr("Close"), self)
        self._fill_choosers()
        self._arrange()
        self._connect()
        self.resize(1200, 700)
        self.layouts.setCurrentIndex(self._one.layouts.index(layout_named(self._one, None)))
        self._show_layout()

    def _files(self) -> str:
        old, new = (one.asset.path for one in (self._one.old, self._one.new))
        if old == new:
            return self.tr("{file}, the pass before and this one").format(file=new.name)
        return f"{old.name} → {new.name}"

    def _fill_choosers(self) -> None:
        self.layouts.setAccessibleName(self.tr("Layout"))
        for change in self._one.layouts:
            self.layouts.addItem(material_word(change.name))
        self.colours.setAccessibleName(self.tr("What the colours show"))
        self.colours.addItem(self.tr("What changed"), None)
        for colours in COLOURS:
            self.colours.addItem(colours_word(colours), colours)
        self.blinking.setText(self.tr("&Blink (space)"))
        self.blinking.setCheckable(True)
        self.blinking.setProperty("role", "toggle")
        table = self.table
        table.setModel(self.model)
        table.setItemDelegate(SelectedRowDelegate(table))
        table.setAccessibleName(self.tr("Islands that changed"))
        table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        table.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        table.setShowGrid(False)
        table.setAlternatingRowColors(True)
        table.setFont(tabular(table.font()))
        table.verticalHeader().hide()
        table.verticalHeader().setDefaultSectionSize(3 * GRID + 4)
        header = table.horizontalHeader()
        header.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        header.setSectionResizeMode(ISLAND, QHeaderView.ResizeMode.Stretch)
        header.setMinimumSectionSize(7 * GRID)

    def _arrange(self) -> None:
        bar = QHBoxLayout()
        bar.setSpacing(2 * GRID)
        bar.addWidget(labelled(self.tr("&Layout"), self.layouts, self))
        bar.addWidget(labelled(self.tr("&Colours"), self.colours, self))
        bar.addWidget(self.blinking)
        bar.addWidget(self.legend, 1)
        lower = QSplitter(Qt.Orientation.Horizontal, self)
        lower.addWidget(self.table)
        lower.addWidget(self.findings)
        lower.setStretchFactor(0, 3)
        lower.setStretchFactor(1, 2)
        lower.setChildrenCollapsible(False)
        whole = QSplitter(Qt.Orientation.Vertical, self)
        whole.addWidget(self.views)
        whole.addWidget(lower)
        whole.setStretchFactor(0, 3)
        whole.setStretchFactor(1, 2)
        whole.setChildrenCollapsible(False)
        whole.setSizes([46 * GRID, 24 * GRID])
        top = QHBoxLayout()
        top.setSpacing(GRID)
        top.addWidget(self.files, 1)
        top.addWidget(self.close_button)
        column = QVBoxLayout(self)
        column.setContentsMargins(GRID, GRID, GRID, GRID)
        column.setSpacing(GRID)
        column.addLayout(top)
        column.addWidget(self.verdict)
        column.addLayout(bar)
        column.addWidget(whole, 1)

    def _connect(self) -> None:
        self.layouts.activated.connect(self._show_layout)
        self.colours.activated.connect(self._colour)
        self.blinking.toggled.connect(self.views.set_blinking)
        self.close_button.clicked.connect(self.close)
        self.views.old_clicked.connect(lambda island: self._choose_island("old", island))
        self.views.new_clicked.connect(lambda island: self._choose_island("new", island))
        self.table.selectionModel().currentRowChanged.connect(self._on_table_row_changed)
        self.findings.finding_chosen.connect(self._on_findings_finding_chosen)
        QShortcut(QKeySequence("Space"), self, self._on_space)
        QShortcut(QKeySequence("Esc"), self, self.close)

    @property
    def change(self) -> LayoutChange:
        """The layout shown."""
        return self._one.layouts[self.layouts.currentIndex()]

    def show_waiving(self, passes: Pass) -> None:
        """Tell the same passes again, of whose findings others are waived."""
        self.passes = passes
        self.verdict.setText(pass_sentence(*passes.told))
        self.findings.show_layout(passes, self.change)

    def _show_layout(self) -> None:
        change = self.change
        self.model.show_layout(change)
        self.findings.show_layout(self.passes, change)
        self._tell_legend(change)
        self._colour()

    def _colour(self) -> None:
        """Have the colours worked out."""
        passes, change, colours = self.passes, self.change, self.colours.currentData()
        look = None if colours is None else replace(self._look, colours=colours)
        self.legend.setVisible(look is None)

        def work(progress: Progress) -> Pair:
            if look is None:
                return pair_in_states(passes, change)
            return pair_in_look(passes, change, look)

        def show(pair: Pair) -> None:
            self.views.show_pair(pair, is_other=self._drawn is not change)
            self._drawn = change

        self._lane.submit(work, show)

    def _tell_legend(self, change: LayoutChange) -> None:
        codes = [*old_states(self._one, change.old).tolist()]
        added = STATES.index("added")
        codes += [code for code in new_states(self._one, change.new).tolist() if code == added]
        words = []
        for code, state in enumerate(STATES):
            if count := codes.count(code):
                swatch = state_swatch_html(state)
                words.append(f"{swatch}&nbsp;{state_word(state)}&nbsp;{count}")
        self.legend.setText(" &nbsp; ".join(words))

    def _choose_island(self, side: str, island: int) -> None:
        """Choose the island of a canvas in the table, if it changed; outline it in any case."""
        if island < 0:
            self.table.clearSelection()
            self.views.mark((), (), is_framed=False)
            return
        layout = self.change.old if side == "old" else self.change.new
        surface = self._one.match.old if side == "old" else self._one.match.new
        whole = int(surface.layout_island[layout]) + island
        column = self._one.islands.old if side == "old" else self._one.islands.new
        rows = (column == whole).nonzero()[0]
        if len(rows) == 0:
            return
        place = self.model.place_of(int(rows[0]))
        self._mark(int(rows[0]), is_framed=False)
        selection = self.table.selectionModel()
        selection.blockSignals(True)
        if place < 0:
            self.table.clearSelection()
        else:
            flags = QItemSelectionModel.SelectionFlag
            index = self.model.index(place, ISLAND)
            selection.setCurrentIndex(index, flags.ClearAndSelect | flags.Rows)
            self.table.scrollTo(index)
        selection.blockSignals(False)
        self.table.viewport().update()

    def _mark(self, row: int, *, is_framed: bool) -> None:
        old, new = int(self._one.islands.old[row]), int(self._one.islands.new[row])
        before = self._in_layout(self._one.old_place(old), self.change.old) if old >= 0 else ()
        after = self._in_layout(self._one.new_place(new), self.change.new) if new >= 0 else ()
        self.views.mark(before, after, is_framed=is_framed)

    @staticmethod
    def _in_layout(place: tuple[int, int], layout: int) -> tuple[int, ...]:
        return (place[1],) if place[0] == layout else ()

    def _on_table_row_changed(self) -> None:
        index = self.table.selectionModel().currentIndex()
        if index.isValid():
            self.findings.choose_none()
            self._mark(self.model.row(index.row()), is_framed=True)

    def _on_findings_finding_chosen(self, finding: FindingChange) -> None:
        self.table.clearSelection()
        self.table.selectionModel().clearCurrentIndex()
        before, after = (finding.islands, ()) if finding.is_past else ((), finding.islands)
        self.views.mark(before, after, is_framed=True)

    def _on_space(self) -> None:
        """Blink; the first time, begin to."""
        if not self.blinking.isChecked():
            self.blinking.setChecked(True)
        self.views.blink()

    def closeEvent(self, event: QCloseEvent) -> None:
        self._lane.close()
        for canvas in (self.views.before, self.views.after):
            canvas.close()
        super().closeEvent(event)
