"""Running text in panels: paragraphs, sections under a faint heading, sections that fold."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFrame, QLabel, QScrollArea, QToolButton, QVBoxLayout, QWidget

from evenweave.window.parts.palette import GRID


def scrolled(page: QWidget, parent: QWidget) -> QScrollArea:
    """Return a page that scrolls down where the room is short."""
    scroll = QScrollArea(parent)
    scroll.setWidgetResizable(True)
    scroll.setFrameShape(QFrame.Shape.NoFrame)
    scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
    scroll.setWidget(page)
    return scroll


def paragraph(parent: QWidget) -> QLabel:
    """Return a label of running text."""
    label = QLabel(parent)
    label.setWordWrap(True)
    label.setTextFormat(Qt.TextFormat.PlainText)
    label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
    return label


class Section(QWidget):
    """A faint heading over a paragraph; hidden where there is nothing to say."""

    def __init__(self, heading: str, parent: QWidget) -> None:
        super().__init__(parent)
        title = QLabel(heading, self)
        title.setProperty("role", "faint")
        title.setVisible(bool(heading))
        self.body = paragraph(self)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, GRID // 2, 0, 0)
        column.setSpacing(GRID // 4)
        column.addWidget(title)
        column.addWidget(self.body)

    def show_text(self, text: str) -> None:
        """Show a paragraph, or nothing."""
        self.body.setText(text)
        self.setVisible(bool(text))


class Fold(QWidget):
    """A heading that opens and closes the paragraph below it."""

    def __init__(self, heading: str, parent: QWidget) -> None:
        super().__init__(parent)
        self.button = QToolButton(self)
        self.button.setText(heading)
        self.button.setProperty("role", "fold")
        self.button.setCheckable(True)
        self.button.setArrowType(Qt.ArrowType.RightArrow)
        self.button.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextBesideIcon)
        self.body = paragraph(self)
        self.body.hide()
        column = QVBoxLayout(self)
        column.setContentsMargins(0, GRID // 2, 0, 0)
        column.setSpacing(GRID // 4)
        column.addWidget(self.button)
        column.addWidget(self.body)
        self.button.toggled.connect(self._on_button_toggled)

    def show_text(self, text: str) -> None:
        """Show a paragraph, or nothing."""
        self.body.setText(text)
        self.setVisible(bool(text))

    def _on_button_toggled(self, is_open: bool) -> None:
        self.body.setVisible(is_open)
        self.button.setArrowType(Qt.ArrowType.DownArrow if is_open else Qt.ArrowType.RightArrow)
