"""Painting in turns: what changes at once is painted part by part, hands answered in between."""

from __future__ import annotations

from collections.abc import Iterable

from PySide6.QtCore import QObject, QTimer
from PySide6.QtWidgets import QWidget

_NEXT_MS = 1  # a timer of 0 ms would be a call in the same turn of the event loop


class Turns(QObject):
    """Holds the painting of some widgets, and lets one after the other paint, a turn each."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._held: list[QWidget] = []
        self._next = QTimer(self, interval=_NEXT_MS, singleShot=True)
        self._next.timeout.connect(self._on_next_timeout)

    def hold(self, widgets: Iterable[QWidget]) -> None:
        """Keep what these show until their turn comes, in this order."""
        for widget in widgets:
            if widget not in self._held and widget.isVisible():
                widget.setUpdatesEnabled(False)
                self._held.append(widget)
        if self._held and not self._next.isActive():
            self._next.start()

    def _on_next_timeout(self) -> None:
        self._held.pop(0).setUpdatesEnabled(True)
        if self._held:
            self._next.start()
