"""Strips above the views: an error, a remark of the reader, a hint. Each can be put away."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QEvent, QSize, Qt
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from evenweave.check.finding import Severity
from evenweave.window.parts.glyphs import severity_icon, severity_word
from evenweave.window.parts.palette import GRID, current


class Notices(QWidget):
    """At most one strip per key, newest at the top."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._strips: dict[str, Strip] = {}
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(0, 0, 0, 0)
        self._column.setSpacing(0)

    def tell(
        self,
        key: str,
        severity: Severity,
        text: str,
        *,
        offer: str = "",
        accept: Callable[[], None] | None = None,
    ) -> None:
        """Show a strip; `offer` is the word on its button, `accept` what the button does."""
        self.drop(key)
        strip = Strip(severity, text, offer, parent=self)
        strip.dismiss.clicked.connect(lambda: self.drop(key))
        if accept is not None:
            strip.offer.clicked.connect(accept)
        self._strips[key] = strip
        self._column.insertWidget(0, strip)

    def drop(self, key: str) -> None:
        """Put a strip away."""
        strip = self._strips.pop(key, None)
        if strip is not None:
            self._column.removeWidget(strip)
            strip.hide()
            strip.deleteLater()

    def text_of(self, key: str) -> str:
        """Return what a strip says, "" if it is not there."""
        strip = self._strips.get(key)
        return strip.text.text() if strip else ""


class Strip(QWidget):
    """A sign, a sentence, perhaps an offer, and a button to put it away."""

    def __init__(self, severity: Severity, text: str, offer: str, *, parent: QWidget) -> None:
        super().__init__(parent)
        self._severity = severity
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self.setProperty("role", "strip")
        self._sign = QLabel(self)
        self._sign.setAccessibleName(severity_word(severity))
        self.text = QLabel(text, self)
        self.text.setWordWrap(True)
        self.text.setTextFormat(Qt.TextFormat.PlainText)
        self.text.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.offer = QPushButton(offer, self)
        self.offer.setVisible(bool(offer))
        self.dismiss = QPushButton(self.tr("Put awa&y"), self)
        row = QHBoxLayout(self)
        row.setContentsMargins(2 * GRID, GRID // 2, GRID, GRID // 2)
        row.setSpacing(GRID)
        row.addWidget(self._sign)
        row.addWidget(self.text, 1)
        row.addWidget(self.offer)
        row.addWidget(self.dismiss)
        self._draw_sign()

    def _draw_sign(self) -> None:
        icon = severity_icon(self._severity, current().severity(self._severity))
        self._sign.setPixmap(icon.pixmap(QSize(16, 16), self.devicePixelRatioF()))

    def changeEvent(self, event: QEvent) -> None:
        if event.type() == QEvent.Type.PaletteChange:
            self._draw_sign()
        super().changeEvent(event)
