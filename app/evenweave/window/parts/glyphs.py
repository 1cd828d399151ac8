"""Signs for severities in the window, always beside a word; `report.marks` has their outlines."""

from __future__ import annotations

from PySide6.QtCore import QCoreApplication, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QIcon, QPainter, QPixmap, QPolygonF

from evenweave.check.finding import Severity
from evenweave.picture.lettering.marks import sign


def severity_word(severity: Severity) -> str:
    """Return the severity's name in the user's language."""
    return {
        Severity.NOTE: QCoreApplication.translate("Severity", "Remark"),
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


def draw_severity(painter: QPainter, box: QRectF, severity: Severity, *, colour: QColor) -> None:
    """Draw the sign into a square box, as pictures and pages do."""
    corners = [QPointF(x, y) for x, y in sign(severity, box.x(), box.y(), box.width())]
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(colour)
    painter.drawPolygon(QPolygonF(corners), Qt.FillRule.WindingFill)
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
