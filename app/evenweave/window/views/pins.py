"""Pins of notes on canvas and 3D view: a badge with the note's letter, and a stem to its place."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QPainter, QPainterPath, QPen

from evenweave.picture.lettering.callouts import Callout
from evenweave.window.parts.palette import current

RADIUS = 10.0
_STEM = 13.0
_CLEAR = 2.0
_TURNS = (0, 45, -45, 90, -90, 135, -135, 180)  # degrees from straight up
_BETWEEN = (22, -22, 68, -68, 112, -112, 158, -158)
_REACHES = (1.0, 2.3, 3.6, 4.9)
_DARK, _PALE, _FAINT = QColor(26, 27, 31), QColor(252, 252, 250), QColor(118, 120, 124)


@dataclass(frozen=True)
class PlacedPin:
    """A pin on the screen. middle : of the badge, beside its place."""

    callout: Callout
    middle: QPointF

    @property
    def foot(self) -> QPointF:
        """The place pointed to."""
        return QPointF(self.callout.x, self.callout.y)

    @property
    def width(self) -> float:
        """Width of the badge: letters need more than a ring."""
        return 2 * RADIUS + 7 * (len(self.callout.mark) - 1)

    @property
    def box(self) -> QRectF:
        """Where the badge is."""
        half = self.width / 2
        return QRectF(self.middle.x() - half, self.middle.y() - RADIUS, 2 * half, 2 * RADIUS)


def placed_pins(callouts: Sequence[Callout], room: QRectF) -> tuple[PlacedPin, ...]:
    """Put each badge above its place; to another side where there is one, or no room.

    Places outside the room have no pin.
    """
    placed: list[PlacedPin] = []
    for one in callouts:
        if not room.contains(QPointF(one.x, one.y)):
            continue
        choices = _choices(one)
        inside = [pin for pin in choices if room.contains(pin.box)] or choices[:1]
        free = (pin for pin in inside if not any(_meet(pin.box, other.box) for other in placed))
        placed.append(next(free, None) or min(inside, key=partial(_covered, placed=placed)))
    return tuple(placed)


def _choices(callout: Callout) -> list[PlacedPin]:
    """Return where a badge may be, best first: around its place, farther off between the near."""
    ways = [(reach, turn) for reach in _REACHES for turn in (*_TURNS, *_BETWEEN)]
    near = [way for way in ways if way[0] > 1 or way[1] in _TURNS]
    return [PlacedPin(callout, _middle(callout, turn, reach)) for reach, turn in near]


def _covered(pin: PlacedPin, placed: Sequence[PlacedPin]) -> float:
    """Return how much of other badges a badge would lie on, in square pixels."""
    shared = (pin.box & other.box for other in placed)
    return sum(box.width() * box.height() for box in shared)


def _middle(callout: Callout, turn: float, reach: float) -> QPointF:
    way = math.radians(turn)
    length = (RADIUS + _STEM) * reach
    return QPointF(callout.x + length * math.sin(way), callout.y - length * math.cos(way))


def _meet(q_rect_f: QRectF, other: QRectF) -> bool:
    return q_rect_f.adjusted(-_CLEAR, -_CLEAR, _CLEAR, _CLEAR).intersects(other)


def pin_at(placed: Sequence[PlacedPin], position: QPointF) -> str:
    """Return the mark of the uppermost pin at a position, "" where there is none."""
    return next((one.callout.mark for one in reversed(placed) if one.box.contains(position)), "")


def draw_pins(painter: QPainter, placed: Sequence[PlacedPin], chosen: str) -> None:
    """Draw badges as pictures have them: done is faint, deliberate underlined."""
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    font = QFont(painter.font())
    font.setPixelSize(12)
    font.setBold(True)
    painter.setFont(font)
    for one in placed:
        _draw_stem(painter, one)
    for one in placed:
        _draw_badge(painter, one, is_chosen=one.callout.mark == chosen)
    painter.restore()


def _draw_stem(painter: QPainter, pin: PlacedPin) -> None:
    ink = _FAINT if pin.callout.style == "done" else _DARK
    for colour, width in ((_PALE, 4.0), (ink, 1.5)):
        pen = QPen(colour, width)
        pen.setCapStyle(Qt.PenCapStyle.RoundCap)
        painter.setPen(pen)
        painter.drawLine(pin.middle, pin.foot)
    painter.setPen(QPen(_PALE, 1))
    painter.setBrush(ink)
    painter.drawEllipse(pin.foot, 3.0, 3.0)


def _draw_badge(painter: QPainter, pin: PlacedPin, *, is_chosen: bool) -> None:
    ink = _FAINT if pin.callout.style == "done" else _DARK
    box = pin.box
    if is_chosen:
        ring = QPainterPath()
        ring.addRoundedRect(box.adjusted(-3, -3, 3, 3), RADIUS + 3, RADIUS + 3)
        painter.fillPath(ring, current().accent)
    painter.setPen(QPen(ink, 1.5))
    painter.setBrush(_PALE)
    painter.drawRoundedRect(box.adjusted(0.75, 0.75, -0.75, -0.75), RADIUS, RADIUS)
    painter.drawText(box, Qt.AlignmentFlag.AlignCenter, pin.callout.mark)
    if pin.callout.style == "deliberate":
        y = box.bottom() - 3.5
        painter.drawLine(QPointF(box.center().x() - 4, y), QPointF(box.center().x() + 4, y))
