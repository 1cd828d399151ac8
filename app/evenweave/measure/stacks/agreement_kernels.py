# mypy: allow-untyped-defs
"""Kernels that tell whether two outlines agree, in place or turned and mirrored.

Two outlines agree where every corner and every middle of an edge of each lies within a
tolerance of the other. Outlines are (E, 4) segments about their own centres, in loop order;
`distance` is how far each corner is from its centre.
"""

from __future__ import annotations

import numpy as np
from numba import njit


@njit(cache=True, nogil=True)
def _is_near(segments, e, x, y, tolerance):
    ax, ay = segments[e, 0], segments[e, 1]
    dx, dy = segments[e, 2] - ax, segments[e, 3] - ay
    square = dx * dx + dy * dy
    share = 0.0
    if square > 0.0:
        share = min(1.0, max(0.0, ((x - ax) * dx + (y - ay) * dy) / square))
    dx, dy = x - ax - share * dx, y - ay - share * dy
    return dx * dx + dy * dy <= tolerance * tolerance


@njit(cache=True, nogil=True)
def _find_near(segments, first, last, x, y, tolerance, hint):
    """Return an edge of the outline near the point, looked for around a hint, or -1."""
    count = last - first
    for k in range(count):
        step = (k + 1) // 2
        e = hint + (step if k % 2 == 1 else -step)
        if e < first:
            e += count
        elif e >= last:
            e -= count
        if _is_near(segments, e, x, y, tolerance):
            return e
    return -1


@njit(cache=True, nogil=True)
def _lies_on(segments, island_start, a, b, place, tolerance, corner, hint):
    """Tell whether outline a, placed, lies on outline b.

    place : cosine, sine, 1 or -1 for mirrored (v first changes its sign), then the shift.
    The corner is looked for first, round an edge of b as a hint.
    """
    turn, sine, mirror, dx, dy = place[0], place[1], place[2], place[3], place[4]
    first, last = island_start[a], island_start[a + 1]
    b0, b1 = island_start[b], island_start[b + 1]
    at = hint
    for i in range(last - first):
        e = corner + i if corner + i < last else corner + i - (last - first)
        for k in range(2):
            x, y = segments[e, 0], segments[e, 1]
            if k == 1:
                x, y = (x + segments[e, 2]) / 2, (y + segments[e, 3]) / 2
            y *= mirror
            at = _find_near(
                segments, b0, b1, turn * x - sine * y + dx, sine * x + turn * y + dy,
                tolerance, at,
            )  # fmt: skip
            if at < 0:
                return False
    return True


@njit(cache=True, nogil=True)
def agree(segments, island_start, a, b, place, tolerance, corner, hint):
    """Tell whether outline a, placed, and outline b lie on each other; see `_lies_on`."""
    if not _lies_on(segments, island_start, a, b, place, tolerance, corner, hint):
        return False
    turn, sine, mirror, dx, dy = place[0], place[1], place[2], place[3], place[4]
    back = np.empty(5)
    back[0], back[1], back[2] = turn, -sine * mirror, mirror
    back[3] = -(turn * dx + sine * dy)
    back[4] = -mirror * (turn * dy - sine * dx)
    return _lies_on(segments, island_start, b, a, back, tolerance, hint, corner)


@njit(cache=True, nogil=True)
def _turn_onto(segments, a, b, mirror, place):
    """Set the turn that points corner a (mirrored first where mirror is -1) at corner b."""
    ax, ay = segments[a, 0], segments[a, 1] * mirror
    bx, by = segments[b, 0], segments[b, 1]
    scale = np.sqrt((ax * ax + ay * ay) * (bx * bx + by * by))
    place[0], place[1] = (ax * bx + ay * by) / scale, (ax * by - ay * bx) / scale
    place[2], place[3], place[4] = mirror, 0.0, 0.0


@njit(cache=True, nogil=True)
def fits(segments, distance, island_start, a, b, corner, place, mirror, tolerance):
    """Look for a turn that puts outline a, by its farthest corner, on b; `place` is set to it."""
    for e in range(island_start[b], island_start[b + 1]):
        if abs(distance[e] - distance[corner]) > 2 * tolerance or distance[e] == 0.0:
            continue
        _turn_onto(segments, corner, e, mirror, place)
        if agree(segments, island_start, a, b, place, tolerance, corner, e):
            return True
    return False


@njit(cache=True, nogil=True)
def least_move(segments, distance, island_start, a, b, corner, shift, tolerance, reach):
    """Return the least move of any corner that puts outline a on b; `reach` if none is less.

    shift : (2,) from the centre of a to that of b.
    """
    dx, dy = shift
    if dx * dx + dy * dy >= reach * reach:
        return reach
    place = np.empty(5)
    best = reach
    for mirror in (1.0, -1.0):
        for e in range(island_start[b], island_start[b + 1]):
            if abs(distance[e] - distance[corner]) > 2 * tolerance or distance[e] == 0.0:
                continue
            corner_dx = segments[e, 0] + dx - segments[corner, 0]
            corner_dy = segments[e, 1] + dy - segments[corner, 1]
            if np.hypot(corner_dx, corner_dy) >= best:
                continue
            _turn_onto(segments, corner, e, mirror, place)
            moved = _largest_move(segments, island_start[a], island_start[a + 1], place, dx, dy)
            if moved < best and agree(segments, island_start, a, b, place, tolerance, corner, e):
                best = moved
    return best


@njit(cache=True, nogil=True)
def _largest_move(segments, first, last, place, dx, dy):
    most = 0.0
    for e in range(first, last):
        x, y = segments[e, 0], segments[e, 1] * place[2]
        mx = place[0] * x - place[1] * y + dx - segments[e, 0]
        my = place[1] * x + place[0] * y + dy - segments[e, 1]
        most = max(most, mx * mx + my * my)
    return np.sqrt(most)
