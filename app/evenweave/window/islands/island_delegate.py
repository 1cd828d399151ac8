"""Paints the cells of the island table, so that it reads as a picture."""

from __future__ import annotations

import math
from dataclasses import dataclass

from PySide6.QtCore import QModelIndex, QObject, QPersistentModelIndex, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPalette, QPen
from PySide6.QtWidgets import QStyle, QStyledItemDelegate, QStyleOptionViewItem

from evenweave.check.finding import Severity
from evenweave.limits.limits import DEFAULT, Limits
from evenweave.window.islands.island_model import IslandModel
from evenweave.window.parts import figures
from evenweave.window.parts import palette as colours
from evenweave.window.parts.glyphs import draw_severity
from evenweave.window.parts.palette import GRID
from evenweave.window.state.island_rows import DENSITY, FOUND_COLUMN, NAME, STRETCH

ROW_HEIGHT = 27
BAR_SHARE = 0.46  # of a cell; the number stands beside it
BAR_HEIGHT = 4
DENSITY_SPAN_OCTAVES = 1.0
STRETCH_SPANS = 3.0
"""A full stretch bar is this many times the limit's distance from 1."""


@dataclass(frozen=True)
class Bar:
    """A bar in a cell, in shares of its width: from `start` to `end`, with ticks at limits."""

    start: float
    end: float
    ticks: tuple[float, ...]
    is_beyond: bool


def stretch_bar(stretch: float, limits: Limits) -> Bar:
    """Return the bar of a stretch: it grows to the right from 1, on a logarithmic scale."""
    full = STRETCH_SPANS * math.log(max(limits.stretch_p95, 1.01))
    length = min(math.log(max(stretch, 1.0)) / full, 1.0)
    return Bar(0.0, length, (1 / STRETCH_SPANS,), stretch > limits.stretch_p95)


def density_bar(octaves: float, limits: Limits) -> Bar:
    """Return the bar of a density: it grows left or right from the target in the middle."""
    reach = max(-0.5, min(0.5, octaves / DENSITY_SPAN_OCTAVES / 2))
    tick = min(0.5, limits.density_octaves / DENSITY_SPAN_OCTAVES / 2)
    ticks = (0.5 - tick, 0.5, 0.5 + tick)
    start, end = min(0.5, 0.5 + reach), max(0.5, 0.5 + reach)
    return Bar(start, end, ticks, abs(octaves) > limits.density_octaves)


class IslandDelegate(QStyledItemDelegate):
    """Numbers with small bars beside them, severity signs, and a frame round the hovered row."""

    def __init__(self, model: IslandModel, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._model = model
        self.limits = DEFAULT
        self.hovered = -1
        self._font: tuple[QFont, QFontMetricsF] | None = None

    def paint(
        self,
        painter: QPainter,
        option: QStyleOptionViewItem,
        index: QModelIndex | QPersistentModelIndex,
    ) -> None:
        island, rows = self._model.island(index.row()), self._model.rows
        if island < 0 or rows is None:
            return
        box, column = QRectF(option.rect), index.column()
        state, qt = option.state, option.palette
        if index.row() % 2:
            painter.fillRect(box, qt.color(QPalette.ColorRole.AlternateBase))
        if state & QStyle.StateFlag.State_Selected:
            colours.fill_selected(painter, box, is_first=column == NAME)
        ink = qt.color(QPalette.ColorRole.Text)
        text = self._model.text(island, column)
        inner = box.adjusted(GRID, 0, -GRID, 0)
        if column == FOUND_COLUMN:
            self._paint_found(painter, inner, int(rows.severity[island]))
            inner.setLeft(inner.left() + 20)
            if rows.waived[island]:
                self._paint_waived(painter, inner, text, int(rows.waived[island]))
        bar = self._bar(column, island)
        if bar is not None:
            left = QRectF(inner.left(), inner.top(), BAR_SHARE * inner.width(), inner.height())
            self._paint_bar(painter, left, bar)
            inner.setLeft(left.right())
        if text:
            self._paint_text(painter, inner, text, ink=ink, column=column)
        if island == self.hovered:
            painter.setPen(QPen(ink, 1))
            painter.drawLine(box.topLeft(), box.topRight())
            painter.drawLine(box.bottomLeft(), box.bottomRight())
        if state & QStyle.StateFlag.State_HasFocus:
            painter.setPen(QPen(ink, 1, Qt.PenStyle.DotLine))
            painter.drawRect(box.adjusted(1.5, 1.5, -1.5, -1.5))

    def _bar(self, column: int, island: int) -> Bar | None:
        rows = self._model.rows
        assert rows is not None
        if column == STRETCH and not math.isnan(rows.stretch[island]):
            return stretch_bar(float(rows.stretch[island]), self.limits)
        if column == DENSITY and not math.isnan(rows.octaves[island]):
            return density_bar(float(rows.octaves[island]), self.limits)
        return None

    def _paint_text(
        self, painter: QPainter, box: QRectF, text: str, *, ink: QColor, column: int
    ) -> None:
        painter.setPen(ink)
        metrics = self._take_font(painter)
        if metrics.horizontalAdvance(text) > box.width():
            width = max(0, int(box.width()))
            text = metrics.elidedText(text, Qt.TextElideMode.ElideMiddle, width)
        painter.drawText(box, self._model.alignment(column), text)

    def _take_font(self, painter: QPainter) -> QFontMetricsF:
        """Write with digits of one width; the view gives every cell the same font."""
        if self._font is None or self._font[0] != painter.font():
            font = colours.tabular(painter.font())
            self._font = font, QFontMetricsF(font)
        painter.setFont(self._font[0])
        return self._font[1]

    def _paint_found(self, painter: QPainter, box: QRectF, severity: int) -> None:
        if severity:
            sign = QRectF(box.left(), box.center().y() - 5.5, 11, 11)
            colour = colours.current().severity(Severity(severity))
            draw_severity(painter, sign, Severity(severity), colour=colour)

    def _paint_waived(
        self,
        painter: QPainter,
        box: QRectF,
        text: str,
        waived: int,
    ) -> None:
        """Write how many findings are waived, in brackets behind those open, if there is room."""
        brackets = f"({figures.count(waived)})"
        wide = self._take_font(painter).horizontalAdvance
        if wide(f"{text} {brackets}") <= box.width():
            painter.setPen(colours.current().faint)
            right = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
            painter.drawText(box, right, brackets)

    def _paint_bar(self, painter: QPainter, box: QRectF, bar: Bar) -> None:
        palette = colours.current()
        track = QRectF(box.left(), box.center().y() - BAR_HEIGHT / 2, box.width(), BAR_HEIGHT)
        painter.fillRect(track, palette.ground)
        start = track.left() + bar.start * track.width()
        width = max((bar.end - bar.start) * track.width(), 1.0)
        fill = palette.finding if bar.is_beyond else palette.bar
        painter.fillRect(QRectF(start, track.top(), width, BAR_HEIGHT), fill)
        for tick in bar.ticks:
            at = track.left() + tick * track.width()
            mark = QRectF(at - 0.5, track.top() - 2, 1, BAR_HEIGHT + 4)
            painter.fillRect(mark, palette.faint)

    def sizeHint(
        self, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex
    ) -> QSize:
        return QSize(8 * GRID, ROW_HEIGHT)
