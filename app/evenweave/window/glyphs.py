"""Signs for severities, drawn by us: a ring, a diamond, a notched square. Always beside a word."""

from __future__ import annotations

from PySide6.QtCore import QCoreApplication, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QIcon, QPainter, QPainterPath, QPen, QPixmap, QPolygonF

from evenweave.check.warning import Severity


def severity_word(severity: Severity) -> str:
    """Return the severity's name in the user's language."""
    return {
        Severity.NOTE: QCoreApplication.translate("Severity", "Note"),
        Severity.WARNING: QCoreApplication.translate("Severity", "Warning"),
        Severity.FAULT: QCoreApplication.translate("Severity", "Fault"),
    }[severity]


def severity_heading(severity: Severity) -> str:
    """Return the severity's name as the heading of a group."""
    return {
        Severity.NOTE: QCoreApplication.translate("Severity", "Notes"),
        Severity.WARNING: QCoreApplication.translate("Severity", "Warnings"),
        Severity.FAULT: QCoreApplication.translate("Severity", "Faults"),
    }[severity]


def severity_path(severity: Severity, box: QRectF) -> QPainterPath:
    """Return the outline of the severity's sign inside a square box."""
    path = QPainterPath()
    if severity == Severity.NOTE:
        path.addEllipse(box.adjusted(1.5, 1.5, -1.5, -1.5))
    elif severity == Severity.WARNING:
        middle = box.center()
        corners = [
            QPointF(middle.x(), box.top()),
            QPointF(box.right(), middle.y()),
            QPointF(middle.x(), box.bottom()),
            QPointF(box.left(), middle.y()),
        ]
        path.addPolygon(QPolygonF(corners))
        path.closeSubpath()
    else:
        square = box.adjusted(0.5, 0.5, -0.5, -0.5)
        notch = square.width() * 0.42
        corners = [
            square.topLeft(),
            QPointF(square.right() - notch, square.top()),
            QPointF(square.right() - notch, square.top() + notch),
            QPointF(square.right(), square.top() + notch),
            square.bottomRight(),
            square.bottomLeft(),
        ]
        path.addPolygon(QPolygonF(corners))
        path.closeSubpath()
    return path


def draw_severity(painter: QPainter, box: QRectF, severity: Severity, *, colour: QColor) -> None:
    """Draw the sign: a note's ring is hollow, the others are filled."""
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    if severity == Severity.NOTE:
        painter.setPen(QPen(colour, max(1.5, box.width() / 6)))
        painter.setBrush(Qt.BrushStyle.NoBrush)
    else:
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(colour)
    painter.drawPath(severity_path(severity, box))
    painter.restore()


def severity_icon(severity: Severity, colour: QColor) -> QIcon:
    """Return the sign as an icon that is sharp on dense screens too."""
    icon = QIcon()
    for scale in (1, 2, 3):
        pixmap = QPixmap(16 * scale, 16 * scale)
        pixmap.setDevicePixelRatio(scale)
        pixmap.fill(Qt.GlobalColor.transparent)
        painter = QPainter(pixmap)
        draw_severity(painter, QRectF(2, 2, 12, 12), severity, colour=colour)
        painter.end()
        icon.addPixmap(pixmap)
    return icon
