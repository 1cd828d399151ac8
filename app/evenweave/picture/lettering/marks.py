"""The signs of severities on pictures and pages, drawn by us: ring, diamond, notched square."""

from __future__ import annotations

import math

from evenweave.check.finding import Severity

Point = tuple[float, float]


def sign(severity: Severity, x: float, y: float, size: float) -> list[Point]:
    """Return the outline of a sign in the square of side `size` whose upper left corner is x, y."""
    half = size / 2
    if severity is Severity.NOTE:
        return _ring(x + half, y + half, half)
    if severity is Severity.WARNING:
        return [(x + half, y), (x + size, y + half), (x + half, y + size), (x, y + half)]
    notch = 0.42 * size
    return [
        (x, y),
        (x + size - notch, y),
        (x + size - notch, y + notch),
        (x + size, y + notch),
        (x + size, y + size),
        (x, y + size),
    ]


def _ring(x: float, y: float, radius: float) -> list[Point]:
    """Return a ring as one outline: round the outside, across, and back round the inside."""
    corners = 48
    turns = [2 * math.pi * i / corners for i in range(corners + 1)]
    outer = [(x + radius * math.cos(t), y + radius * math.sin(t)) for t in turns]
    hole = 0.66 * radius
    inner = [(x + hole * math.cos(t), y + hole * math.sin(t)) for t in reversed(turns)]
    return outer + inner
