"""What the window shows before the first file: what to do, and the files opened last."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtGui import QIcon
from PySide6.QtWidgets import QLabel, QPushButton, QVBoxLayout, QWidget

from evenweave.places import resource
from evenweave.window.parts.palette import GRID, title_font

_SHOWN_RECENT = 5
_MARK = 10 * GRID


class StartPage(QWidget):
    """Takes a dropped file (the window does the catching) and offers what to open.

    open_asked(); sample_asked(); file_asked(path)
    """

    open_asked = Signal()
    sample_asked = Signal()
    file_asked = Signal(Path)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._mark = QLabel(self)
        self._mark.setAlignment(Qt.AlignmentFlag.AlignHCenter)
        mark = QIcon(str(resource("icon.svg")))
        self._mark.setPixmap(mark.pixmap(QSize(_MARK, _MARK), self.devicePixelRatioF()))
        self.title = QLabel(self.tr("Open a mesh to look at its UVs"), self)
        self.title.setFont(title_font(self.font()))
        self.text = QLabel(
            self.tr("Drop an OBJ, glTF, GLB, USD, PLY or COLLADA file anywhere in this window."),
            self,
        )
        self.problem = QLabel(self)
        self.problem.setWordWrap(True)
        self.problem.hide()
        self.open = QPushButton(self.tr("&Choose a file…"), self)
        self.sample = QPushButton(self.tr("Open the harbour lantern, our s&ample"), self)
        self._recent = QWidget(self)
        self._recent_title = QLabel(self.tr("Opened last"), self._recent)
        self._recent_title.setProperty("role", "faint")
        self.recent = QVBoxLayout()
        self.recent.setSpacing(0)
        self._arrange()
        self.open.clicked.connect(self.open_asked)
        self.sample.clicked.connect(self.sample_asked)

    def _arrange(self) -> None:
        middle = Qt.AlignmentFlag.AlignHCenter
        for label in (self.title, self.text, self.problem, self._recent_title):
            label.setAlignment(middle)
        lower = QVBoxLayout(self._recent)
        lower.addWidget(self._recent_title)
        lower.addLayout(self.recent)
        column = QVBoxLayout(self)
        column.setContentsMargins(4 * GRID, 4 * GRID, 4 * GRID, 4 * GRID)
        column.setSpacing(GRID)
        column.addStretch(2)
        column.addWidget(self._mark)
        column.addSpacing(GRID)
        column.addWidget(self.title)
        column.addWidget(self.text)
        column.addWidget(self.problem)
        column.addSpacing(GRID)
        column.addWidget(self.open, 0, middle)
        column.addWidget(self.sample, 0, middle)
        column.addSpacing(2 * GRID)
        column.addWidget(self._recent)
        column.addStretch(3)

    def show_opening(self, name: str) -> None:
        """Say which file is being opened; "" offers files again."""
        self.title.setText(
            self.tr("Opening {name}").format(name=name)
            if name
            else self.tr("Open a mesh to look at its UVs")
        )
        for piece in (self.text, self.open, self.sample, self._recent):
            piece.setVisible(not name)
        if name:
            self.show_problem("")

    def show_problem(self, sentence: str) -> None:
        """Say why a file could not be opened; "" takes it back."""
        self.problem.setText(sentence)
        self.problem.setVisible(bool(sentence))

    def show_recent(self, paths: Sequence[Path]) -> None:
        """Offer the files opened last."""
        while (item := self.recent.takeAt(0)) is not None:
            if (widget := item.widget()) is not None:
                widget.hide()
                widget.deleteLater()
        for path in paths[:_SHOWN_RECENT]:
            button = QPushButton(path.name.replace("&", "&&"), self)
            button.setFlat(True)
            button.setToolTip(str(path))
            button.clicked.connect(lambda _=False, path=path: self.file_asked.emit(path))
            self.recent.addWidget(button, 0, Qt.AlignmentFlag.AlignHCenter)
        self._recent_title.setVisible(bool(paths))
