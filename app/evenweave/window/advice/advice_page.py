"""A page on a piece of advice: title, what, why, what to do, how it was found."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtWidgets import QVBoxLayout, QWidget

from evenweave.check.texts import Explanation
from evenweave.window.parts.palette import GRID, title_font
from evenweave.window.parts.prose import Fold, Section, paragraph


class AdvicePage(QWidget):
    """Shows one piece of advice, or two of which one is said of the other's island besides."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.title = paragraph(self)
        self.title.setFont(title_font(self.font()))
        self.what = paragraph(self)
        self.besides = Section("", self)
        self.why = Section(self.tr("Why it matters"), self)
        self.do = Section(self.tr("What to do"), self)
        self.how = Fold(self.tr("How it was found"), self)
        column = QVBoxLayout(self)
        column.setContentsMargins(2 * GRID, GRID, 2 * GRID, GRID)
        column.setSpacing(GRID // 2)
        for piece in (self.title, self.what, self.do, self.besides, self.why, self.how):
            column.addWidget(piece)
        column.addStretch(1)

    def show_text(self, title: str, what: str, do: str = "") -> None:
        """Show a few words that are no advice yet."""
        self.show_advice((Explanation(title, what, "", do, ""),))

    def show_advice(self, said: Sequence[Explanation]) -> None:
        """Show the first in full and of the others what they say and ask for."""
        first = said[0]
        self.title.setText(first.title)
        self.what.setText(first.what)
        self.why.show_text(first.why)
        self.do.show_text(first.do)
        self.how.show_text(first.how)
        self.besides.show_text("\n".join(f"{one.what} {one.do}" for one in said[1:]))
