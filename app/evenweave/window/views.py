"""The middle: canvas and 3D view above or beside each other, and what takes their place."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QLabel, QSplitter, QStackedWidget, QVBoxLayout, QWidget

from evenweave.raster.camera import Orbit
from evenweave.report.scene import Bounds
from evenweave.window.look_bar import LookBar
from evenweave.window.palette import GRID, title_font
from evenweave.window.session import Session


class Views(QWidget):
    """The look bar above a splitter of views; a page of words where a layout has no UVs.

    cursor_moved(u, v, triangle) : u is NaN where the pointer left
    """

    cursor_moved = Signal(float, float, int)

    def __init__(self, session: Session, look_bar: LookBar, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self.canvas = self.canvas_panel = QWidget(self)
        self.solid = self.solid_panel = QWidget(self)
        self.splitter = QSplitter(Qt.Orientation.Vertical, self)
        self.splitter.addWidget(self.canvas)
        self.splitter.addWidget(self.solid)
        self.splitter.setChildrenCollapsible(False)
        self.without_uvs = WithoutUvs(self)
        self._stack = QStackedWidget(self)
        self._stack.addWidget(self.splitter)
        self._stack.addWidget(self.without_uvs)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addWidget(look_bar)
        column.addWidget(self._stack, 1)
        session.layout_chosen.connect(self._on_session_layout_chosen)

    @property
    def bounds(self) -> Bounds | None:
        """u0, v0, u1, v1 of the texture that the canvas shows."""
        return None

    @property
    def camera(self) -> Orbit | None:
        """Where the object is seen from."""
        return None

    def set_beside(self, is_beside: bool) -> None:
        """Put the views beside each other instead of one above the other."""
        horizontal, vertical = Qt.Orientation.Horizontal, Qt.Orientation.Vertical
        self.splitter.setOrientation(horizontal if is_beside else vertical)

    def _on_session_layout_chosen(self) -> None:
        shown = self._session.shown
        has_faces = shown is not None and shown.layout.island_count > 0
        self._stack.setCurrentIndex(0 if has_faces else 1)
        if shown is not None and not has_faces:
            self.without_uvs.tell(len(shown.layout.missing_face), len(shown.layout.unusable_face))


class WithoutUvs(QWidget):
    """Says that a layout has nothing to show, and what can be done about it."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.title = QLabel(self.tr("Nothing to lay flat here"), self)
        self.title.setFont(title_font(self.font()))
        self.text = QLabel(self)
        column = QVBoxLayout(self)
        column.setContentsMargins(4 * GRID, 4 * GRID, 4 * GRID, 4 * GRID)
        column.addStretch(1)
        for label in (self.title, self.text):
            label.setAlignment(Qt.AlignmentFlag.AlignHCenter)
            label.setWordWrap(True)
            column.addWidget(label)
        column.addStretch(2)

    def tell(self, missing: int, unusable: int) -> None:
        """Say how many faces lack UVs and how many have unusable ones."""
        lines = []
        if missing:
            lines.append(self.tr("%n face(s) of this layout have no UVs in this set.", "", missing))
        if unusable:
            lines.append(self.tr("%n face(s) have UVs that are not finite.", "", unusable))
        lines.append(
            self.tr("Choose another UV set above, or unwrap these parts and export again.")
        )
        self.text.setText("\n".join(lines))
