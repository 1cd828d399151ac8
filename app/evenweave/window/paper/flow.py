"""`Flow`: words, pictures and lines set one below the other on pages of paper."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

from PySide6.QtCore import QPointF, QRectF, QSizeF, Qt
from PySide6.QtGui import (
    QColor,
    QFont,
    QFontDatabase,
    QImage,
    QPainter,
    QPdfWriter,
    QPolygonF,
    QTextOption,
)

from evenweave.check.finding import Severity
from evenweave.picture.lettering.marks import sign
from evenweave.places import resource

INK, QUIET, LINE, BAR = QColor("#1d1b19"), QColor("#5a5650"), QColor("#c9c6c1"), QColor("#8d8982")
EDGE_PT, FOOT_PT = 42.0, 28.0
PLAIN, SMALL, HEAD, TITLE = 9.2, 7.8, 13.0, 22.0
_POINTS_PER_INCH = 72


@cache
def _family() -> str:
    """Return the bundled typeface, so that reviews look alike everywhere."""
    for name in ("DejaVuSans.ttf", "DejaVuSans-Bold.ttf"):
        number = QFontDatabase.addApplicationFont(str(resource(f"fonts/{name}")))
    return QFontDatabase.applicationFontFamilies(number)[0]


class Flow:
    """Pages being filled. Lengths are points, y runs down from the top of the page.

    y : where the next thing begins; width, left : of the column that things are set in
    """

    def __init__(self, writer: QPdfWriter, footer: str) -> None:
        self._writer, self._footer = writer, footer
        self._painter = QPainter(writer)
        self._scale = writer.resolution() / _POINTS_PER_INCH
        page = writer.pageLayout().fullRectPoints()
        self._page_width, self._page_height = float(page.width()), float(page.height())
        self.left, self.width = EDGE_PT, self._page_width - 2 * EDGE_PT
        self.y, self._page = EDGE_PT, 1
        self._write_footer()

    def end(self) -> None:
        """Finish the last page."""
        self._painter.end()

    @property
    def room(self) -> float:
        """Height that is left on this page."""
        return self._page_height - EDGE_PT - FOOT_PT + 14 - self.y

    def turn(self) -> None:
        """Begin a new page."""
        self._writer.newPage()
        self._page += 1
        self.y = EDGE_PT
        self._write_footer()

    def keep(self, height: float) -> None:
        """Begin a new page where less height than this is left on one that has been begun."""
        if self.room < height and self.y > EDGE_PT:
            self.turn()

    def skip(self, height: float) -> None:
        """Leave some height free; not at the top of a page."""
        if self.y > EDGE_PT:
            self.y += height

    def rule(self) -> None:
        """Draw a thin line across."""
        self.line((self.left, self.y), (self.left + self.width, self.y), LINE)

    # Drawing at places.

    def line(
        self,
        start: tuple[float, float],
        end: tuple[float, float],
        colour: QColor,
        *,
        width: float = 0.6,
        is_dashed: bool = False,
    ) -> None:
        """Draw a straight line."""
        pen = self._painter.pen()
        pen.setColor(colour)
        pen.setWidthF(width * self._scale)
        pen.setStyle(Qt.PenStyle.DashLine if is_dashed else Qt.PenStyle.SolidLine)
        self._painter.setPen(pen)
        self._painter.drawLine(self._point(start), self._point(end))

    def fill(self, box: QRectF, colour: QColor, *, radius: float = 0.0) -> None:
        """Fill a rectangle, its corners rounded."""
        self._painter.setPen(Qt.PenStyle.NoPen)
        self._painter.setBrush(colour)
        curve = radius * self._scale
        self._painter.drawRoundedRect(self._box(box), curve, curve)
        self._painter.setBrush(Qt.BrushStyle.NoBrush)

    def ring(self, box: QRectF, colour: QColor, *, width: float = 1.0) -> None:
        """Draw a rectangle with round ends."""
        pen = self._painter.pen()
        pen.setColor(colour)
        pen.setWidthF(width * self._scale)
        pen.setStyle(Qt.PenStyle.SolidLine)
        self._painter.setPen(pen)
        curve = min(box.width(), box.height()) / 2 * self._scale
        self._painter.drawRoundedRect(self._box(box), curve, curve)

    def sign(self, severity: Severity, x: float, y: float, size: float, colour: QColor) -> None:
        """Draw the sign of a severity in the square whose upper left corner is x, y."""
        corners = [self._point(corner) for corner in sign(severity, x, y, size)]
        self._painter.setPen(Qt.PenStyle.NoPen)
        self._painter.setBrush(colour)
        self._painter.drawPolygon(QPolygonF(corners), Qt.FillRule.WindingFill)
        self._painter.setBrush(Qt.BrushStyle.NoBrush)

    def picture(self, image: QImage, box: QRectF) -> None:
        """Draw a picture into a rectangle."""
        self._painter.drawImage(self._box(box), image)

    def height_of(self, text: str, width: float, size: float, *, bold: bool = False) -> float:
        """Return how high a text stands in a column of this width."""
        self._painter.setFont(self._font(size, bold))
        box = QRectF(0, 0, width * self._scale, 1e7)
        return self._painter.boundingRect(box, text, _wrapping()).height() / self._scale

    def width_of(self, text: str, size: float, *, bold: bool = False) -> float:
        """Return how wide a text is on one line."""
        self._painter.setFont(self._font(size, bold))
        return self._painter.fontMetrics().horizontalAdvance(text) / self._scale

    def write(
        self,
        text: str,
        box: QRectF,
        size: float = PLAIN,
        *,
        colour: QColor = INK,
        bold: bool = False,
        align: Qt.AlignmentFlag = Qt.AlignmentFlag.AlignLeft,
    ) -> None:
        """Write a text into a rectangle from its top, as many lines as it takes."""
        self._painter.setFont(self._font(size, bold))
        self._painter.setPen(colour)
        self._painter.drawText(self._box(box), text, _wrapping(align))

    # Setting one below the other.

    def words(
        self,
        text: str,
        size: float = PLAIN,
        *,
        colour: QColor = INK,
        bold: bool = False,
        after: float = 3.0,
    ) -> None:
        """Set a paragraph and move below it; what is longer than a page goes on on the next."""
        for piece in self._pieces(text, size, bold):
            high = self.height_of(piece, self.width, size, bold=bold)
            self.keep(high)
            self.write(piece, QRectF(self.left, self.y, self.width, high + 1), size,
                       colour=colour, bold=bold)  # fmt: skip
            self.y += high
        self.y += after

    def _pieces(self, text: str, size: float, bold: bool) -> Sequence[str]:
        """Cut a text at its spaces into pieces that fit a page."""
        most = self._page_height - 2 * EDGE_PT - FOOT_PT
        if self.height_of(text, self.width, size, bold=bold) <= most:
            return [text]
        step = max(int(most / (1.3 * size) * self.width / size), 1)
        pieces = []
        while text:
            cut = text.rfind(" ", 1, step) if len(text) > step else len(text)
            cut = step if cut <= 0 else cut
            pieces.append(text[:cut].strip())
            text = text[cut:]
        return pieces

    def _font(self, size: float, bold: bool) -> QFont:
        font = QFont(_family())
        font.setPixelSize(max(round(size * self._scale), 1))
        font.setBold(bold)
        # Letters drawn as one would not be found by those who search the page for a word.
        font.setFeature(QFont.Tag("liga"), 0)
        font.setHintingPreference(QFont.HintingPreference.PreferNoHinting)
        return font

    def _write_footer(self) -> None:
        box = QRectF(
            EDGE_PT, self._page_height - EDGE_PT - 4, self._page_width - 2 * EDGE_PT, 14
        )  # fmt: skip
        self.write(self._footer, box, SMALL, colour=QUIET)
        self.write(str(self._page), box, SMALL, colour=QUIET, align=Qt.AlignmentFlag.AlignRight)

    def _point(self, place: tuple[float, float]) -> QPointF:
        return QPointF(place[0] * self._scale, place[1] * self._scale)

    def _box(self, box: QRectF) -> QRectF:
        corner = self._point((box.x(), box.y()))
        return QRectF(corner, QSizeF(box.width() * self._scale, box.height() * self._scale))


def _wrapping(align: Qt.AlignmentFlag = Qt.AlignmentFlag.AlignLeft) -> QTextOption:
    option = QTextOption(align)
    option.setWrapMode(QTextOption.WrapMode.WrapAtWordBoundaryOrAnywhere)
    return option
