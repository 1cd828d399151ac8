# mypy: allow-untyped-defs
"""Kernels for the sides of a triangle on the screen: who owns a point, and how near a side is.

Positions are snapped to 1/256 pixel and edge functions hold whole numbers, in int64 for small
triangles and in float64, exact up to 2**53, for others, so that neighbours meet without gap or
double cover (half-open rule on the edges).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit, types

from evenweave.raster.kernel_types import B1, F2, I1, I2, L2, i64

SUB = 256.0
HALF = 128.0
SMALL = 3 * 256  # extent up to which whole numbers are used, and no wire is drawn
WIRED = 4 * 256  # extent below which there can be no wire
WIRE_NONE_PX = 5.0  # height of a triangle at which its wire is gone
WIRE_FULL_PX = 14.0  # and at which it is fully there
LONG_PX = 24  # from this length of a row it pays to jump to where it enters the triangle


class Screen(NamedTuple):
    """Triangles on the screen.

    position : (N, 2) int64 in 1/256 pixel; triangle : (T, 3) int32; number : (T,) int32 to write
    edges : (T,) uint8, bit i where the side from corner i to i + 1 is a polygon's edge
    chunk_px : (K, 4 or 5) x0, y0, x1, y1 in pixels, and inverse depth, of every `size` triangles
    """

    position: np.ndarray
    triangle: np.ndarray
    number: np.ndarray
    edges: np.ndarray
    chunk_px: np.ndarray
    size: int


class Part(NamedTuple):
    """A rectangle of a picture, in pixels; the ends are not part of it."""

    row0: int
    row1: int
    column0: int
    column1: int


class Corners(NamedTuple):
    """A triangle's corners in 1/256 pixel."""

    ax: float
    ay: float
    bx: float
    by: float
    cx: float
    cy: float


class Box(NamedTuple):
    """First and last pixel whose centre lies in a triangle's box, and its extent in 1/256 pixel."""

    x0: int
    x1: int
    y0: int
    y1: int
    extent: int


class Sides(NamedTuple):
    """The edge functions of the sides opposite a, b and c at a pixel's centre: not below 0 inside.

    right, down : what is added from one pixel to the next; area : twice the triangle's
    """

    p: float
    q: float
    s: float
    p_right: float
    q_right: float
    s_right: float
    p_down: float
    q_down: float
    s_down: float
    area: float


class Wire(NamedTuple):
    """How a triangle's polygon edges are inked: its share of the full strength, and per side."""

    fade: float
    p_per: float
    q_per: float
    s_per: float
    p_ink: float
    q_ink: float
    s_ink: float


SCREEN = types.NamedTuple((L2, I2, I1, B1, F2, i64), Screen)
PART = types.NamedUniTuple(i64, 4, Part)


@njit(cache=True, nogil=True)
def owns(dx, dy):
    """Whether a side in this direction, the inside at its right hand, owns its points."""
    return dy < 0 or (dy == 0 and dx > 0)


@njit(cache=True, nogil=True)
def covers(ax, ay, bx, by, cx, cy):
    """Whether the triangle holds the origin; on a side, whether the side is ours."""
    p = bx * cy - by * cx
    q = cx * ay - cy * ax
    s = ax * by - ay * bx
    area = p + q + s
    if area < 0:
        p = -p
        q = -q
        s = -s
    least = min(p, min(q, s))
    if least < 0:
        return False
    if least > 0:
        return True
    if area == 0:
        return False
    turn = 1 if area > 0 else -1
    if p == 0 and not owns((cx - bx) * turn, (cy - by) * turn):
        return False
    if q == 0 and not owns((ax - cx) * turn, (ay - cy) * turn):
        return False
    return not (s == 0 and not owns((bx - ax) * turn, (by - ay) * turn))


@njit(cache=True, nogil=True)
def is_aside(chunk_px, k, part):
    """Whether a chunk lies wholly beside a rectangle of the picture."""
    return (
        chunk_px[k, 3] < part.row0
        or chunk_px[k, 1] > part.row1
        or chunk_px[k, 2] < part.column0
        or chunk_px[k, 0] > part.column1
    )


@njit(cache=True, nogil=True)
def pixel_box(at, part):
    """Return the `Box` of whole-numbered `Corners` within a rectangle."""
    left = min(at.ax, min(at.bx, at.cx))
    right = max(at.ax, max(at.bx, at.cx))
    top = min(at.ay, min(at.by, at.cy))
    bottom = max(at.ay, max(at.by, at.cy))
    return Box(
        max((left + 127) >> 8, part.column0),
        min((right - 128) >> 8, part.column1 - 1),
        max((top + 127) >> 8, part.row0),
        min((bottom - 128) >> 8, part.row1 - 1),
        max(right - left, bottom - top),
    )


@njit(cache=True, nogil=True)
def sides(at, fx, fy):
    """Return the `Sides` of `Corners` at a centre, in their kind of number; area 0 if it has none.

    -right is dy along a side, down is dx: a side that does not own its points is 1 further off.
    """
    area = (at.bx - at.ax) * (at.cy - at.ay) - (at.cx - at.ax) * (at.by - at.ay)
    turn = 1 if area > 0 else -1
    px = (at.by - at.cy) * turn
    py = (at.cx - at.bx) * turn
    qx = (at.cy - at.ay) * turn
    qy = (at.ax - at.cx) * turn
    sx = (at.ay - at.by) * turn
    sy = (at.bx - at.ax) * turn
    return Sides(
        px * (fx - at.bx) + py * (fy - at.by) - (0 if owns(py, -px) else 1),
        qx * (fx - at.cx) + qy * (fy - at.cy) - (0 if owns(qy, -qx) else 1),
        sx * (fx - at.ax) + sy * (fy - at.ay) - (0 if owns(sy, -sx) else 1),
        px * 256,
        qx * 256,
        sx * 256,
        py * 256,
        qy * 256,
        sy * 256,
        area * turn,
    )


@njit(cache=True, nogil=True)
def lead(side, p, q, s, most):
    """Return how many pixels a row may skip before it enters the triangle, one pixel early."""
    skip = 0.0
    if p < 0.0 and side.p_right > 0.0:
        skip = max(skip, -p / side.p_right - 1.0)
    if q < 0.0 and side.q_right > 0.0:
        skip = max(skip, -q / side.q_right - 1.0)
    if s < 0.0 and side.s_right > 0.0:
        skip = max(skip, -s / side.s_right - 1.0)
    return np.floor(min(skip, most))


@njit(cache=True, nogil=True)
def wire_of(side, edges, extent):
    """Return the `Wire` of a triangle; sides that are no polygon edge stay infinitely far away."""
    if extent <= WIRED:
        return Wire(0.0, 0.0, 0.0, 0.0, 1e9, 1e9, 1e9)
    p_len = np.sqrt(side.p_right * side.p_right + side.p_down * side.p_down)
    q_len = np.sqrt(side.q_right * side.q_right + side.q_down * side.q_down)
    s_len = np.sqrt(side.s_right * side.s_right + side.s_down * side.s_down)
    height = side.area / max(p_len, max(q_len, s_len))
    return Wire(
        min(max((height - WIRE_NONE_PX) / (WIRE_FULL_PX - WIRE_NONE_PX), 0.0), 1.0),
        1.0 / p_len,
        1.0 / q_len,
        1.0 / s_len,
        0.0 if edges & 2 else 1e9,
        0.0 if edges & 4 else 1e9,
        0.0 if edges & 1 else 1e9,
    )


@njit(cache=True, nogil=True)
def inked(line, p, q, s):
    """Return the strength of the wire, 0 to 255, where the edge functions are p, q and s."""
    if line.fade <= 0.0:
        return 0.0
    near = min(
        p * line.p_per + line.p_ink,
        min(q * line.q_per + line.q_ink, s * line.s_per + line.s_ink),
    )
    return max(1.0 - near, 0.0) * line.fade * 255.0
