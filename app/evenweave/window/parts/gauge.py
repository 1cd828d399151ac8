"""A gauge: one value against its limit, on a line."""

from __future__ import annotations

import math
from dataclasses import dataclass

from PySide6.QtCore import QEvent, QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QSizePolicy, QWidget

from evenweave.check.finding import Finding, Severity
from evenweave.window.parts import figures
from evenweave.window.parts.palette import GRID, current, tabular


@dataclass(frozen=True)
class Scale:
    """Where things stand on the line, in shares of its length.

    good : (start, end) of what is acceptable; value, limit : their places
    """

    good: tuple[float, float]
    value: float
    limit: float


def scale_of(value: float, limit: float) -> Scale | None:
    """Return where value and limit stand, or None where a line would say nothing.

    Acceptable is what lies on the limit's far side from the value: up to the limit where the
    value is above it, from the limit on where it is below.
    """
    if not (math.isfinite(value) and math.isfinite(limit)) or (value == 0 and limit == 0):
        return None
    low = min(0.0, value * 1.15)
    high = max(value, limit, -value if value < 0 else 0.0) * 1.15
    if high <= low or (limit == 0 and value > 0):
        return None

    def share(number: float) -> float:
        return (number - low) / (high - low)

    if value > limit:
        good = (share(0.0), share(limit))
    elif value < 0 and limit > 0:
        good = (share(max(-limit, low)), share(min(limit, high)))
    else:
        good = (share(limit), 1.0)
    return Scale(good, share(value), good[0] if value < 0 < limit else share(limit))


class Gauge(QWidget):
    """Draws the scale, the acceptable stretch of it, a mark at the value and both numbers."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._finding: Finding | None = None
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setFont(tabular(self.font()))

    def show_finding(self, finding: Finding) -> None:
        """Show a finding's value against its limit; hide where there is nothing to compare."""
        self._finding = finding
        scale = scale_of(finding.value, finding.limit)
        self.setVisible(scale is not None)
        self.setAccessibleName(
            self.tr("Value {value}, limit {limit}").format(
                value=figures.measured(finding.value, finding.unit),
                limit=figures.measured(finding.limit, finding.unit),
            )
        )
        self.update()

    def _paint_words(self, painter: QPainter, line: QRectF, scale: Scale) -> None:
        finding = self._finding
        assert finding is not None
        height = painter.fontMetrics().height()
        value = figures.measured(finding.value, finding.unit)
        limit = self.tr("limit {limit}").format(limit=figures.measured(finding.limit))
        for text, share, top, colour in (
            (value, scale.value, line.top() - GRID - height, current().text),
            (limit, scale.limit, line.bottom() + GRID, current().faint),
        ):
            width = painter.fontMetrics().horizontalAdvance(text) + 2
            left = line.left() + share * line.width() - width / 2
            left = min(max(left, 0.0), max(0.0, self.width() - width))
            painter.setPen(colour)
            painter.drawText(QRectF(left, top, width, height), Qt.AlignmentFlag.AlignCenter, text)

    def sizeHint(self) -> QSize:
        return QSize(20 * GRID, 2 * self.fontMetrics().height() + 4 * GRID)

    def changeEvent(self, event: QEvent) -> None:
        if event.type() == QEvent.Type.PaletteChange:
            self.update()
        super().changeEvent(event)

    def paintEvent(self, event: QPaintEvent) -> None:
        finding = self._finding
        scale = scale_of(finding.value, finding.limit) if finding else None
        if finding is None or scale is None:
            return
        colours = current()
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        middle = self.height() / 2
        line = QRectF(1, middle - 3, self.width() - 2, 6)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(colours.line)
        painter.drawRoundedRect(line, 3, 3)
        painter.setBrush(colours.bar)
        start, end = (line.left() + share * line.width() for share in scale.good)
        painter.drawRoundedRect(QRectF(start, line.top(), end - start, line.height()), 3, 3)
        at = line.left() + scale.limit * line.width()
        painter.setPen(QPen(colours.text, 1.5))
        painter.drawLine(QPointF(at, line.top() - 3), QPointF(at, line.bottom() + 5))
        at = line.left() + scale.value * line.width()
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(colours.severity(Severity(finding.severity)))
        tip = line.top() - 1
        painter.drawPolygon(
            QPolygonF([QPointF(at, tip + 5), QPointF(at - 5, tip - 5), QPointF(at + 5, tip - 5)])
        )
        self._paint_words(painter, line, scale)
        painter.end()
