"""Moving a view to another place in 150 ms, or at once where the system asks for no motion."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QEasingCurve, QObject, QVariantAnimation
from PySide6.QtWidgets import QStyle, QWidget

DURATION_MS = 150


class Glide(QObject):
    """Calls `move(share)` with shares from 0 to 1; a new glide ends the old one."""

    def __init__(self, widget: QWidget) -> None:
        super().__init__(widget)
        self._widget = widget
        self._move: Callable[[float], None] | None = None
        self._animation = QVariantAnimation(self)
        self._animation.setDuration(DURATION_MS)
        self._animation.setStartValue(0.0)
        self._animation.setEndValue(1.0)
        self._animation.setEasingCurve(QEasingCurve.Type.InOutCubic)
        self._animation.valueChanged.connect(self._on_animation_value_changed)

    def start(self, move: Callable[[float], None]) -> None:
        """Begin to move; jumps where motion is unwanted or nobody watches."""
        self.stop()
        if is_motion_reduced(self._widget) or not self._widget.isVisible():
            move(1.0)
            return
        self._move = move
        self._animation.start()

    def stop(self) -> None:
        """Stay where the view is now."""
        self._animation.stop()
        self._move = None

    def _on_animation_value_changed(self, share: float) -> None:
        if self._move is not None:
            self._move(float(share))


def is_motion_reduced(widget: QWidget) -> bool:
    """Tell whether the system's settings ask for no animation."""
    hint = QStyle.StyleHint.SH_Widget_Animation_Duration
    return widget.style().styleHint(hint, None, widget) == 0
