"""The keyboard sheet: every key the window knows, on one page."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from PySide6.QtCore import Qt
from PySide6.QtGui import QAction, QKeySequence
from PySide6.QtWidgets import (
    QDialog,
    QDialogButtonBox,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from evenweave.window.parts.palette import GRID, tabular


class KeyboardSheet(QDialog):
    """Keys under headings, in two columns; made from the actions, so it is never out of date."""

    def __init__(
        self, listed: Mapping[str, Sequence[QAction]], parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setWindowTitle(self.tr("Keys"))
        sheet = QWidget(self)
        halves = QHBoxLayout(sheet)
        halves.setSpacing(4 * GRID)
        columns = [QVBoxLayout(), QVBoxLayout()]
        lengths = [0, 0]
        groups = {heading: [_row(one) for one in keys] for heading, keys in listed.items()}
        groups[self.tr("Everywhere")] = self._moves()
        for heading, lines in groups.items():
            rows = [line for line in lines if line[0]]
            shorter = 0 if lengths[0] <= lengths[1] else 1
            lengths[shorter] += len(rows) + 2
            columns[shorter].addWidget(_group(heading, rows, sheet))
        for column in columns:
            column.addStretch(1)
            column.setSpacing(0)
            halves.addLayout(column, 1)
        scroll = QScrollArea(self)
        scroll.setWidgetResizable(True)
        scroll.setFrameShape(QScrollArea.Shape.NoFrame)
        scroll.setWidget(sheet)
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Close, self)
        buttons.rejected.connect(self.reject)
        column = QVBoxLayout(self)
        column.addWidget(scroll, 1)
        column.addWidget(buttons)
        self.resize(88 * GRID, 76 * GRID)

    def _moves(self) -> list[tuple[str, str]]:
        return [
            (self.tr("Tab"), self.tr("Next control")),
            (self.tr("Alt and a marked letter"), self.tr("Straight to a control or menu")),
            (self.tr("Return"), self.tr("In the islands: frame; in the findings: show the place")),
        ]


def _row(action: QAction) -> tuple[str, str]:
    keys = action.shortcut().toString(QKeySequence.SequenceFormat.NativeText)
    return keys, action.text().replace("&", "").rstrip("…")


def _group(heading: str, rows: Sequence[tuple[str, str]], parent: QWidget) -> QWidget:
    group = QWidget(parent)
    grid = QGridLayout(group)
    grid.setContentsMargins(0, 0, 0, 2 * GRID)
    grid.setHorizontalSpacing(2 * GRID)
    grid.setVerticalSpacing(GRID // 2)
    title = QLabel(heading, group)
    title.setProperty("role", "faint")
    grid.addWidget(title, 0, 0, 1, 2)
    for number, (keys, what) in enumerate(rows, start=1):
        key = QLabel(keys, group)
        key.setFont(tabular(key.font()))
        grid.addWidget(key, number, 0)
        text = QLabel(what, group)
        text.setWordWrap(True)
        grid.addWidget(text, number, 1)
    grid.setColumnStretch(1, 1)
    grid.setColumnMinimumWidth(0, 12 * GRID)
    return group
