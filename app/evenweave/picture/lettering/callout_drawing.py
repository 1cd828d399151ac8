"""Callouts drawn: a badge, a label, and an arrow to the place."""

from __future__ import annotations

import math

from evenweave.picture.lettering.callouts import BADGE_PX, MARK_PX, TEXT_PX, Arrangement, Placed
from evenweave.picture.lettering.lettering import Page
from evenweave.raster.colour.colours import Colour

_DARK: Colour = (26, 27, 31)
_PALE: Colour = (252, 252, 250)
_FAINT: Colour = (118, 120, 124)
_LINE_PX, _CASING_PX = 1.4, 1.3
_HEAD_PX = 7.0

Point = tuple[float, float]


def draw_callouts(
    page: Page, arrangement: Arrangement, unit: float, *, origin: tuple[int, int] = (0, 0)
) -> None:
    """Draw callouts on a page. origin : where the picture's corner lies on the page, in pixels."""
    for one in arrangement.placed:
        _draw_arrow(page, one, unit, origin)
    for one in arrangement.placed:
        _draw_box(page, one, unit, origin)


def _draw_arrow(page: Page, placed: Placed, unit: float, origin: tuple[int, int]) -> None:
    start = (placed.foot[0] + origin[0], placed.foot[1] + origin[1])
    tip = (placed.callout.x + origin[0], placed.callout.y + origin[1])
    length = math.dist(start, tip)
    if length < 1:
        return
    along = ((tip[0] - start[0]) / length, (tip[1] - start[1]) / length)
    head = min(_HEAD_PX * unit, length)
    neck = (tip[0] - along[0] * head, tip[1] - along[1] * head)
    for colour, extra in ((_PALE, _CASING_PX * unit), (_DARK, 0.0)):
        page.polygon(_bar(start, neck, along, _LINE_PX * unit / 2 + extra), colour)
        page.polygon(_head(tip, along, head, extra), colour)


def _bar(start: Point, end: Point, along: Point, half: float) -> list[Point]:
    x, y = -along[1] * half, along[0] * half
    return [
        (start[0] + x, start[1] + y), (end[0] + x, end[1] + y),
        (end[0] - x, end[1] - y), (start[0] - x, start[1] - y),
    ]  # fmt: skip


def _head(tip: Point, along: Point, length: float, extra: float) -> list[Point]:
    """Return the arrow's head, larger by `extra` all round."""
    point = (tip[0] + along[0] * 1.8 * extra, tip[1] + along[1] * 1.8 * extra)
    back = length + extra
    half = 0.42 * length + 1.5 * extra
    foot = (tip[0] - along[0] * back, tip[1] - along[1] * back)
    return [
        point,
        (foot[0] - along[1] * half, foot[1] + along[0] * half),
        (foot[0] + along[1] * half, foot[1] - along[0] * half),
    ]


def _draw_box(page: Page, placed: Placed, unit: float, origin: tuple[int, int]) -> None:
    x0, y0, x1, y1 = placed.box
    left, top, right, bottom = x0 + origin[0], y0 + origin[1], x1 + origin[0], y1 + origin[1]
    style = placed.callout.style
    edge = _FAINT if style == "done" else _DARK
    line = 1.5 * unit
    radius = (BADGE_PX * unit / 2) if style != "warning" else 4 * unit
    page.polygon(_rounded(left, top, right, bottom, radius=radius), edge)
    if placed.lines or style != "warning":
        inner = (left + line, top + line, right - line, bottom - line)
        page.polygon(_rounded(*inner, radius=radius - line), _PALE)
    seat = left + placed.badge_width
    if placed.lines and style == "warning":
        page.polygon(_rounded(left, top, seat, bottom, radius=radius), edge)
    mark = round(MARK_PX * unit)
    middle = (top + bottom) / 2
    ink = _PALE if style == "warning" else edge
    page.write(
        ((left + seat) / 2, middle + 0.37 * mark), placed.callout.mark, mark,
        colour=ink, weight="bold", align="middle",
    )  # fmt: skip
    if style == "deliberate":
        _draw_bar_below(page, (left + seat) / 2, middle + 0.62 * mark, mark)
    text = round(TEXT_PX * unit)
    step = 1.3 * text
    baseline = middle - (len(placed.lines) - 1) * step / 2 + 0.36 * text
    for number, words in enumerate(placed.lines):
        place = (seat + 5 * unit, baseline + number * step)
        page.write(place, words, text, colour=edge)


def _draw_bar_below(page: Page, x: float, y: float, size: float) -> None:
    """Underline a mark: what is meant stays as it is."""
    half, thick = 0.4 * size, max(0.12 * size, 1.0)
    page.polygon([(x - half, y), (x + half, y), (x + half, y + thick), (x - half, y + thick)],
                 _DARK)  # fmt: skip


def _rounded(left: float, top: float, right: float, bottom: float, *, radius: float) -> list[Point]:
    radius = max(min(radius, (right - left) / 2, (bottom - top) / 2), 0.0)
    corners = (
        (right - radius, bottom - radius, 0.0),
        (left + radius, bottom - radius, 0.5),
        (left + radius, top + radius, 1.0),
        (right - radius, top + radius, 1.5),
    )
    return [
        (
            x + radius * math.cos((start + step / 16) * math.pi),
            y + radius * math.sin((start + step / 16) * math.pi),
        )
        for x, y, start in corners
        for step in range(9)
    ]
