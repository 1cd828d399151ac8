"""What stands in the layout's place where there is nothing to lay flat."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel, QVBoxLayout, QWidget

from evenweave.window.parts import figures
from evenweave.window.parts.palette import GRID, title_font


class WithoutUvs(QWidget):
    """Says that a layout has nothing to lay flat, and what can be done about it."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.title = QLabel(self.tr("Nothing to lay flat here"), self)
        self.title.setFont(title_font(self.font()))
        self.text = QLabel(self)
        column = QVBoxLayout(self)
        column.setContentsMargins(4 * GRID, 2 * GRID, 4 * GRID, 2 * GRID)
        column.addStretch(1)
        for label in (self.title, self.text):
            label.setAlignment(Qt.AlignmentFlag.AlignHCenter)
            label.setWordWrap(True)
            column.addWidget(label)
        column.addStretch(1)

    def tell(self, missing: int, unusable: int) -> None:
        """Say how many faces lack UVs and how many have unusable ones."""
        lines = []
        if missing:
            one = self.tr("One face of this layout has no UVs in this set.")
            many = self.tr("{count} faces of this layout have no UVs in this set.")
            lines.append(figures.counted(missing, one, many))
        if unusable:
            one = self.tr("One face has UVs that are not finite.")
            many = self.tr("{count} faces have UVs that are not finite.")
            lines.append(figures.counted(unusable, one, many))
        lines.append(
            self.tr("Choose another UV set above, or unwrap these parts and export again.")
        )
        self.text.setText("\n".join(lines))
