"""The 3D view: the whole asset in space, coloured like the canvas, to turn about and pick from."""

from __future__ import annotations

import math

from PySide6.QtCore import QEvent, QPoint, QPointF, Qt, Signal
from PySide6.QtGui import (
    QContextMenuEvent,
    QKeyEvent,
    QMouseEvent,
    QWheelEvent,
)
from PySide6.QtWidgets import QWidget

from evenweave.window.views.pins import pin_at
from evenweave.window.views.solid_pane import SolidPane

_CLICK_PX = 4.0
_TURN_PER_PX = math.radians(0.4)
_KEY_TURN = math.radians(10)
_ZOOM_STEP = 1.2


class SolidView(SolidPane):
    """Shows the asset. Left drag turns, middle or Shift drag moves, the wheel zooms.

    island_hovered(island) : of the layout shown, -1 over none; island_clicked(island, modifiers)
    cursor_moved(u, v, triangle) : u is NaN where the pointer is over no triangle of the layout
    pin_clicked(mark); menu_asked(global position, u, v, triangle, mark of the pin there or "")
    """

    island_hovered = Signal(int)
    island_clicked = Signal(int, Qt.KeyboardModifier)
    cursor_moved = Signal(float, float, int)
    pin_clicked = Signal(str)
    menu_asked = Signal(QPoint, float, float, int, str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._hovered = -1
        self._pressed: QPointF | None = None
        self._last = QPointF()
        self.setMouseTracking(True)

    # The pointer.

    def triangle_at(self, position: QPointF) -> int:
        """Return the triangle of the layout shown at a position, or -1."""
        return self.picture.triangle_at(position)

    def tiles_per_px(self, triangle: int) -> float:
        """How much of a tile one pixel shows where the pointer is; NaN where none is known."""
        return self.picture.tiles_per_px(self._last, triangle)

    def _hover(self, island: int) -> None:
        if island != self._hovered:
            self._hovered = island
            self.island_hovered.emit(island)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        self._pressed = self._last = event.position()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        position = event.position()
        way, self._last = position - self._last, position
        buttons = event.buttons()
        is_left = bool(buttons & Qt.MouseButton.LeftButton)
        is_shift = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
        if buttons & Qt.MouseButton.MiddleButton or (is_left and is_shift):
            self._shift(way.x(), way.y())
        elif is_left:
            self._turn(-way.x() * _TURN_PER_PX, way.y() * _TURN_PER_PX)
        elif buttons == Qt.MouseButton.NoButton:
            triangle = self.triangle_at(position)
            self._hover(self.picture.island_of(triangle))
            u, v = self.picture.uv_at(position, triangle)
            self.cursor_moved.emit(u, v, triangle)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        pressed, self._pressed = self._pressed, None
        way = event.position() - (pressed or event.position())
        if pressed is None or math.hypot(way.x(), way.y()) > _CLICK_PX:
            return
        triangle = self.triangle_at(event.position())
        mark = pin_at(self.picture.placed, event.position())
        if event.button() == Qt.MouseButton.RightButton:
            u, v = self.picture.uv_at(event.position(), triangle)
            self.menu_asked.emit(event.globalPosition().toPoint(), u, v, triangle, mark)
        elif event.button() == Qt.MouseButton.LeftButton and mark:
            self.pin_clicked.emit(mark)
        elif event.button() == Qt.MouseButton.LeftButton:
            self.island_clicked.emit(self.picture.island_of(triangle), event.modifiers())

    def contextMenuEvent(self, event: QContextMenuEvent) -> None:
        """Answer the keyboard; a mouse is answered on release."""
        event.accept()
        if event.reason() == QContextMenuEvent.Reason.Keyboard:
            self.menu_asked.emit(event.globalPos(), math.nan, math.nan, -1, "")

    def wheelEvent(self, event: QWheelEvent) -> None:
        self._zoom(_ZOOM_STEP ** (event.angleDelta().y() / 120))
        event.accept()

    def leaveEvent(self, event: QEvent) -> None:
        self._hover(-1)
        self.cursor_moved.emit(math.nan, math.nan, -1)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        turns = {
            Qt.Key.Key_Left: (-1, 0),
            Qt.Key.Key_Right: (1, 0),
            Qt.Key.Key_Up: (0, 1),
            Qt.Key.Key_Down: (0, -1),
        }
        key = Qt.Key(event.key())
        if key in turns and event.modifiers() & Qt.KeyboardModifier.ShiftModifier:
            step = 0.08 * self.height()
            self._shift(-turns[key][0] * step, turns[key][1] * step)
        elif key in turns:
            self._turn(turns[key][0] * _KEY_TURN, turns[key][1] * _KEY_TURN)
        elif key in (Qt.Key.Key_Plus, Qt.Key.Key_Equal):
            self._zoom(_ZOOM_STEP)
        elif key == Qt.Key.Key_Minus:
            self._zoom(1 / _ZOOM_STEP)
        elif key == Qt.Key.Key_Home:
            self.home()
        else:
            super().keyPressEvent(event)
