"""The colour bar: what the colours mean, how the surface is spread, and a range to isolate."""

from __future__ import annotations

import math

import numpy as np
from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QImage,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPalette,
    QPen,
)
from PySide6.QtWidgets import QSizePolicy, QWidget

from evenweave.picture.coloured import Coloured
from evenweave.picture.scene.heat import Heat
from evenweave.raster.colour.colours import ticks
from evenweave.window.parts.palette import GRID, tabular

_BAR = 10
_BARS = 30
_SIDE = 3 * GRID
_KEY_STEP = 1 / 48
_LEAST_DRAG_PX = 3.0


class ColourBar(QWidget):
    """A bar of colours with numbers below and the surface's histogram above.

    Dragging isolates a range; double click or Escape shows everything again. With the keyboard,
    left and right move the lower end, with Shift the upper end.
    range_brushed(low, high); cleared()
    """

    range_brushed = Signal(float, float)
    cleared = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._heat: Heat | None = None
        self._histogram = np.zeros(0)
        self._brush: tuple[float, float] | None = None
        self._pressed: float | None = None
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setCursor(Qt.CursorShape.IBeamCursor)
        self.setFont(tabular(self.font()))

    def show_colours(self, coloured: Coloured | None) -> None:
        """Show the numbers of what the views draw; nothing where the colours mean none."""
        self._heat = coloured.heat if coloured else None
        self._histogram = coloured.histogram if coloured else np.zeros(0)
        self._brush = coloured.look.brush if coloured and coloured.heat else None
        self.setVisible(self._heat is not None)
        if self._heat is not None:
            heat = self._heat
            self.setAccessibleName(self.tr("Colours: {what}").format(what=self.title))
            self.setAccessibleDescription(
                self.tr("From {low} to {high} {unit}. Drag to isolate a range.").format(
                    low=f"{heat.low:g}", high=f"{heat.high:g}", unit=heat.unit
                )
            )
            self.setToolTip(
                self.tr("Drag to isolate a range of values, double-click to show all again.")
            )
        self.update()

    @property
    def title(self) -> str:
        """What the colours show, with its unit."""
        if self._heat is None:
            return ""
        label = self.tr(self._heat.label)
        return f"{label} ({self._heat.unit})" if self._heat.unit else label

    @property
    def brush(self) -> tuple[float, float] | None:
        """The range isolated, or None."""
        return self._brush

    def value_at(self, x: float) -> float:
        """Return the value at a widget's x, held within the bar."""
        heat, bar = self._heat, self._bar()
        if heat is None or bar.width() <= 0:
            return math.nan
        share = min(max((x - bar.left()) / bar.width(), 0.0), 1.0)
        return heat.low + share * (heat.high - heat.low)

    def _x_at(self, value: float) -> float:
        heat, bar = self._heat, self._bar()
        if heat is None:
            return bar.left()
        share = (value - heat.low) / (heat.high - heat.low)
        return bar.left() + min(max(share, 0.0), 1.0) * bar.width()

    def _bar(self) -> QRectF:
        top = self.fontMetrics().height() + GRID + _BARS
        return QRectF(_SIDE, top, max(self.width() - 2 * _SIDE, 1), _BAR)

    def _set_brush(self, low: float, high: float) -> None:
        self._brush = (min(low, high), max(low, high))
        self.update()
        self.range_brushed.emit(*self._brush)

    def _clear(self) -> None:
        if self._brush is not None:
            self._brush = None
            self.update()
            self.cleared.emit()

    def _draw_histogram(self, painter: QPainter, bar: QRectF) -> None:
        heat = self._heat
        most = float(self._histogram.max(initial=0.0))
        if heat is None or most <= 0:
            return
        count = len(self._histogram)
        width = bar.width() / count
        strong = self.palette().color(QPalette.ColorRole.Text)
        weak = QColor(strong)
        strong.setAlphaF(0.62)
        weak.setAlphaF(0.2)
        painter.setPen(Qt.PenStyle.NoPen)
        for index, share in enumerate(self._histogram):
            if share <= 0:
                continue
            # Square root, so that a small share of bad surface stays visible.
            tall = max(math.sqrt(float(share) / most) * (_BARS - 2), 1.0)
            middle = heat.low + (index + 0.5) / count * (heat.high - heat.low)
            inside = self._brush is None or self._brush[0] <= middle <= self._brush[1]
            painter.setBrush(strong if inside else weak)
            left = bar.left() + index * width
            painter.drawRect(QRectF(left, bar.top() - 2 - tall, max(width - 0.6, 0.8), tall))

    def _draw_colours(self, painter: QPainter, bar: QRectF) -> None:
        if self._heat is None:
            return
        table = np.ascontiguousarray(self._heat.colours)
        image = QImage(table.data, len(table), 1, 3 * len(table), QImage.Format.Format_RGB888)
        painter.drawImage(bar, image)
        if self._brush is not None:
            veil = self.palette().color(QPalette.ColorRole.Window)
            veil.setAlphaF(0.75)
            low, high = self._x_at(self._brush[0]), self._x_at(self._brush[1])
            painter.fillRect(QRectF(bar.left(), bar.top(), low - bar.left(), _BAR), veil)
            painter.fillRect(QRectF(high, bar.top(), bar.right() - high, _BAR), veil)

    def _draw_brush(self, painter: QPainter, bar: QRectF) -> None:
        if self._brush is None:
            return
        painter.setPen(QPen(self.palette().color(QPalette.ColorRole.Text), 1.4))
        for value in self._brush:
            x = self._x_at(value)
            painter.drawLine(QPointF(x, bar.top() - _BARS), QPointF(x, bar.bottom() + 2))

    def _draw_ticks(self, painter: QPainter, bar: QRectF) -> None:
        heat = self._heat
        if heat is None:
            return
        metrics = self.fontMetrics()
        text = self.palette().color(QPalette.ColorRole.Text)
        most = max(2, min(9, int(bar.width() // (metrics.horizontalAdvance("+00.0") * 2))))
        painter.setPen(text)
        baseline = bar.bottom() + 4 + metrics.ascent()
        for value in ticks(heat.low, heat.high, most):
            x = self._x_at(value)
            painter.drawLine(QPointF(x, bar.bottom()), QPointF(x, bar.bottom() + 3))
            word = self._tick_word(value)
            wide = metrics.horizontalAdvance(word)
            left = min(max(x - wide / 2, 1.0), self.width() - wide - 1.0)
            painter.drawText(QPointF(left, baseline), word)

    def _tick_word(self, value: float) -> str:
        heat = self._heat
        if heat is None:
            return ""
        sign = "+" if heat.centre is not None and value > heat.centre else ""
        word = f"{sign}{value:g}".replace("-", "−")
        if value == heat.low and heat.centre is not None:
            return f"≤ {word}"
        return f"≥ {word}" if value == heat.high else word

    def _draw_title(self, painter: QPainter) -> None:
        metrics = self.fontMetrics()
        words = self.title
        if self._brush is not None:
            low, high = (f"{value:.3g}".replace("-", "−") for value in self._brush)
            words = self.tr("{what}: only {low} to {high}").format(what=words, low=low, high=high)
        room = self.width() - 2 * _SIDE
        words = metrics.elidedText(words, Qt.TextElideMode.ElideRight, room)
        painter.setPen(self.palette().color(QPalette.ColorRole.Text))
        painter.drawText(QPointF(_SIDE, 2 + metrics.ascent()), words)

    def sizeHint(self) -> QSize:
        height = 2 * self.fontMetrics().height() + GRID + _BARS + _BAR + GRID
        return QSize(40 * GRID, height)

    def minimumSizeHint(self) -> QSize:
        return QSize(20 * GRID, self.sizeHint().height())

    def paintEvent(self, event: QPaintEvent) -> None:
        if self._heat is None:
            return
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        bar = self._bar()
        self._draw_title(painter)
        self._draw_histogram(painter, bar)
        self._draw_colours(painter, bar)
        self._draw_ticks(painter, bar)
        self._draw_brush(painter, bar)
        if self.hasFocus():
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setPen(QPen(self.palette().color(QPalette.ColorRole.Highlight), 1.5))
            painter.drawRoundedRect(bar.adjusted(-3, -3, 3, 3), 3, 3)
        painter.end()

    def mousePressEvent(self, event: QMouseEvent) -> None:
        if event.button() == Qt.MouseButton.LeftButton and self._heat is not None:
            self._pressed = event.position().x()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        x = event.position().x()
        if self._pressed is not None and abs(x - self._pressed) >= _LEAST_DRAG_PX:
            self._set_brush(self.value_at(self._pressed), self.value_at(x))

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        self._pressed = None

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        self._clear()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        heat = self._heat
        way = {Qt.Key.Key_Left: -1, Qt.Key.Key_Right: 1}.get(Qt.Key(event.key()))
        if heat is not None and way is not None:
            low, high = self._brush or (heat.low, heat.high)
            step = way * _KEY_STEP * (heat.high - heat.low)
            if event.modifiers() & Qt.KeyboardModifier.ShiftModifier:
                high = min(max(high + step, low), heat.high)
            else:
                low = max(min(low + step, high), heat.low)
            self._set_brush(low, high)
        elif event.key() == Qt.Key.Key_Escape and self._brush is not None:
            self._clear()
        else:
            super().keyPressEvent(event)
