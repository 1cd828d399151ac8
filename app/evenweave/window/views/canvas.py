"""The UV canvas: a layout laid flat, to look at, move about and pick from."""

from __future__ import annotations

import math

from PySide6.QtCore import QEvent, QPoint, QPointF, Qt, Signal
from PySide6.QtGui import (
    QContextMenuEvent,
    QKeyEvent,
    QMouseEvent,
    QResizeEvent,
    QWheelEvent,
)
from PySide6.QtWidgets import QWidget

from evenweave.window.views.layout_plot import LayoutPlot
from evenweave.window.views.pins import pin_at

_CLICK_PX = 4.0
_KEY_PAN, _KEY_ZOOM = 0.1, 1.25


class UvCanvas(LayoutPlot):
    """Shows one layout. Drag moves, the wheel zooms to the pointer, a click picks an island.

    island_hovered(island) : -1 over none; island_clicked(island, keyboard modifiers)
    cursor_moved(u, v, triangle) : u is NaN where the pointer left, triangle -1 over none
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

    # The pointer.

    def _place_of(self, position: QPointF) -> tuple[float, float, bool]:
        """Return u, v and whether the position lies on the plot's ground."""
        box = self.getPlotItem().getViewBox()
        scene = self.mapToScene(position.toPoint()) + (position - QPointF(position.toPoint()))
        spot = box.mapSceneToView(scene)
        return spot.x(), spot.y(), box.sceneBoundingRect().contains(scene)

    def _island_of(self, triangle: int) -> int:
        coloured = self.item.coloured
        return int(coloured.flat.triangle_island[triangle]) if coloured and triangle >= 0 else -1

    def _hover(self, island: int) -> None:
        if island != self._hovered:
            self._hovered = island
            self.island_hovered.emit(island)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        self._pressed = event.position()
        super().mousePressEvent(event)
        event.accept()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        super().mouseMoveEvent(event)
        u, v, is_inside = self._place_of(event.position())
        if event.buttons() != Qt.MouseButton.NoButton:
            return
        triangle = self.item.triangle_at(u, v) if is_inside else -1
        self._hover(self._island_of(triangle))
        self.cursor_moved.emit(u if is_inside else math.nan, v, triangle)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        super().mouseReleaseEvent(event)
        event.accept()
        pressed, self._pressed = self._pressed, None
        way = event.position() - (pressed or event.position())
        if pressed is None or math.hypot(way.x(), way.y()) > _CLICK_PX:
            return
        u, v, is_inside = self._place_of(event.position())
        mark = pin_at(self.item.placed, event.position())
        if event.button() == Qt.MouseButton.RightButton and is_inside:
            self.menu_asked.emit(
                event.globalPosition().toPoint(), u, v, self.item.triangle_at(u, v), mark
            )
        elif event.button() == Qt.MouseButton.LeftButton and mark:
            self.pin_clicked.emit(mark)
        elif event.button() == Qt.MouseButton.LeftButton and is_inside:
            island = self._island_of(self.item.triangle_at(u, v))
            self.island_clicked.emit(island, event.modifiers())

    def contextMenuEvent(self, event: QContextMenuEvent) -> None:
        """Answer the keyboard; a mouse may be about to zoom and is answered on release."""
        event.accept()
        if event.reason() == QContextMenuEvent.Reason.Keyboard:
            self.menu_asked.emit(event.globalPos(), math.nan, math.nan, -1, "")

    def wheelEvent(self, event: QWheelEvent) -> None:
        self._glide.stop()
        super().wheelEvent(event)

    def leaveEvent(self, event: QEvent) -> None:
        super().leaveEvent(event)
        self._hover(-1)
        self.cursor_moved.emit(math.nan, math.nan, -1)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        ways = {
            Qt.Key.Key_Left: (-1, 0),
            Qt.Key.Key_Right: (1, 0),
            Qt.Key.Key_Down: (0, -1),
            Qt.Key.Key_Up: (0, 1),
        }
        zooms = {Qt.Key.Key_Plus: 1 / _KEY_ZOOM, Qt.Key.Key_Equal: 1 / _KEY_ZOOM,
                 Qt.Key.Key_Minus: _KEY_ZOOM}  # fmt: skip
        key = Qt.Key(event.key())
        box = self.getPlotItem().getViewBox()
        if key in ways:
            self._begin_moving()
            seen = box.viewRect()
            span = _KEY_PAN * min(seen.width(), seen.height())
            box.translateBy(x=ways[key][0] * span, y=ways[key][1] * span)
        elif key in zooms:
            self._begin_moving()
            box.scaleBy((zooms[key], zooms[key]))
        elif key == Qt.Key.Key_Home:
            self.home()
        else:
            event.ignore()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        if hasattr(self, "far") and self.getPlotItem() is not None:  # none while it closes
            self._place_far()
            if self._home_wanted:
                self.home(is_sudden=True)

    def close(self) -> bool:
        self._still.stop()
        self._glide.stop()
        return bool(super().close())

    def changeEvent(self, event: QEvent) -> None:
        super().changeEvent(event)
        if event.type() == QEvent.Type.PaletteChange and hasattr(self, "item"):
            self.dress()
