# mypy: allow-untyped-defs
"""Kernels for the shape of islands: dominant direction, smallest rectangle, loops."""

from __future__ import annotations

import numpy as np
from numba import njit

BINS = 90
_WINDOW = 2
_REFINE_DEGREES = 3.0


@njit(cache=True, nogil=True)
def dominant_angles(line_xy, start, end, least_share):
    """Return (I,) float64 degrees, -45 to 45, of the direction most outline runs along.

    line_xy : (S, 4) texels; island i has lines start[i] to end[i]. Directions are taken modulo
    90 degrees in 1 degree bins weighted by length; the fullest window of 5 bins is refined by
    the mean direction of the lines within 3 degrees of it. Of equal ones the least turned
    counts. NaN where less than `least_share` of the length lies within 3 degrees.
    """
    angle = np.full(len(start), np.nan)
    bins = np.empty(BINS)
    length, degrees = np.empty(len(line_xy)), np.empty(len(line_xy))
    for i in range(len(start)):
        bins[:] = 0.0
        total = 0.0
        for s in range(start[i], end[i]):
            dx, dy = line_xy[s, 2] - line_xy[s, 0], line_xy[s, 3] - line_xy[s, 1]
            length[s] = np.sqrt(dx * dx + dy * dy)
            degrees[s] = np.degrees(np.arctan2(dy, dx)) % 90.0
            bins[int(degrees[s]) % BINS] += length[s]
            total += length[s]
        if total <= 0.0:
            continue
        about = _fullest(bins) + 0.5
        for reach in (_WINDOW + 1.0, _REFINE_DEGREES):
            about, near = _mean_angle(length, degrees, (start[i], end[i]), about, reach)
        if near >= least_share * total:
            angle[i] = about if about <= 45.0 else about - 90.0
    return angle


@njit(cache=True, nogil=True)
def _fullest(bins):
    """Return the bin in the middle of the fullest window; of equal ones, the least turned."""
    centre, most = 0, 0.0
    for k in range(BINS):
        b = (k + 1) // 2 if k % 2 else BINS - k // 2
        around = 0.0
        for near in range(b - _WINDOW, b + _WINDOW + 1):
            around += bins[near % BINS]
        if around > most * (1.0 + 1e-9):
            centre, most = b, around
    return centre


@njit(cache=True, nogil=True)
def _mean_angle(length, degrees, lines, about, reach):
    """Return the mean direction of the lines within `reach` degrees, 0 to 90, and their length."""
    total, turned = 0.0, 0.0
    for s in range(lines[0], lines[1]):
        off = (degrees[s] - about + 45.0) % 90.0 - 45.0
        if abs(off) <= reach:
            total += length[s]
            turned += length[s] * off
    return ((about + turned / total) % 90.0 if total > 0.0 else about), total


@njit(cache=True, nogil=True)
def short_sides(line_xy, start):
    """Return (I,) float64 shorter side of the smallest-area rectangle round each island.

    line_xy : (S, 4) texels; island i has lines start[i] to start[i + 1]. One side of that
    rectangle lies along a side of the convex hull (Freeman and Shapira 1975), so rotating
    calipers find it.
    """
    side = np.full(len(start) - 1, np.nan)
    most = 0
    for i in range(len(start) - 1):
        most = max(most, start[i + 1] - start[i])
    point = np.empty((2 * most, 2))
    hull = np.empty((4 * most + 2, 2))
    for i in range(len(start) - 1):
        count = 0
        for s in range(start[i], start[i + 1]):
            # In a loop each line begins where another ends: an end is rarely news.
            ends = 1 if s + 1 < start[i + 1] and _joins(line_xy, s) else 2
            for end in range(ends):
                point[count, 0], point[count, 1] = line_xy[s, 2 * end], line_xy[s, 2 * end + 1]
                count += 1
        _sort(point, count)
        corners = _hull(point, count, hull)
        if corners > 0:
            side[i] = _short_side(hull, corners)
    return side


@njit(cache=True, nogil=True)
def _joins(line_xy, s):
    return line_xy[s, 2] == line_xy[s + 1, 0] and line_xy[s, 3] == line_xy[s + 1, 1]


@njit(cache=True, nogil=True)
def _sort(point, count):
    """Sort points by x, then y (Shell's method: points nearly in order take little)."""
    gap = 1
    while gap < count // 3:
        gap = 3 * gap + 1
    while gap > 0:
        for n in range(gap, count):
            x, y = point[n, 0], point[n, 1]
            m = n
            while m >= gap and (
                point[m - gap, 0] > x or (point[m - gap, 0] == x and point[m - gap, 1] > y)
            ):
                point[m, 0], point[m, 1] = point[m - gap, 0], point[m - gap, 1]
                m -= gap
            point[m, 0], point[m, 1] = x, y
        gap //= 3


@njit(cache=True, nogil=True)
def _turn(ax, ay, bx, by, cx, cy):
    return (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)


@njit(cache=True, nogil=True)
def _hull(point, points, hull):
    """Fill `hull` counter-clockwise from sorted points (Andrew's monotone chain)."""
    count, least = 0, 2
    for step in range(2 * points):
        n = step if step < points else 2 * points - 1 - step
        if step == points:
            least = count + 1
        x, y = point[n, 0], point[n, 1]
        if count > 0 and hull[count - 1, 0] == x and hull[count - 1, 1] == y:
            continue
        while count >= least and (
            _turn(
                hull[count - 2, 0], hull[count - 2, 1], hull[count - 1, 0], hull[count - 1, 1], x, y
            )
            <= 0.0
        ):
            count -= 1
        hull[count, 0], hull[count, 1] = x, y
        count += 1
    return count - 1 if count > 1 else count


@njit(cache=True, nogil=True)
def _short_side(hull, count):
    """Return the shorter side of the smallest rectangle round a hull of `count` points."""
    least, side = np.inf, 0.0
    right, top, left = 0, 0, 0
    for k in range(count):
        after = (k + 1) % count
        dx, dy = hull[after, 0] - hull[k, 0], hull[after, 1] - hull[k, 1]
        length = np.hypot(dx, dy)
        if length == 0.0:
            continue
        dx, dy = dx / length, dy / length
        if k == 0:
            right, top = after, after
        right = _advance(hull, count, right, dx, dy)
        top = _advance(hull, count, top if k else right, -dy, dx)
        left = _advance(hull, count, left if k else top, -dx, -dy)
        across = (hull[right, 0] - hull[left, 0]) * dx + (hull[right, 1] - hull[left, 1]) * dy
        up = (hull[top, 1] - hull[k, 1]) * dx - (hull[top, 0] - hull[k, 0]) * dy
        if across * up < least:
            least, side = across * up, min(across, up)
    return side


@njit(cache=True, nogil=True)
def _advance(hull, count, at, dx, dy):
    """Return the next corner, going round from `at`, after which the hull no longer rises."""
    for _ in range(count):
        after = (at + 1) % count
        if (hull[after, 0] - hull[at, 0]) * dx + (hull[after, 1] - hull[at, 1]) * dy <= 0.0:
            break
        at = after
    return at


@njit(cache=True, nogil=True)
def trace_loops(line, start, end, uv_count):
    """Follow outlines from line to line.

    line : (S, 2) int32 uv rows; island i has outline lines start[i] to end[i].
    Returns (S,) int32 lines in the order of their loops and (S + 1,) int32 starts of the loops,
    (L,) int32 island of each and (L,) bool whether it closes.
    """
    order = np.empty(len(line), dtype=np.int32)
    loop_start = np.empty(len(line) + 1, dtype=np.int32)
    loop_island = np.empty(len(line), dtype=np.int32)
    is_closed = np.zeros(len(line), dtype=np.bool_)
    leaving = np.full(uv_count, -1, dtype=np.int32)
    following = np.full(len(line), -1, dtype=np.int32)
    is_taken = np.zeros(len(line), dtype=np.bool_)
    count, loops = 0, 0
    for i in range(len(start)):
        for s in range(start[i], end[i]):
            leaving[line[s, 0]] = -1
            leaving[line[s, 1]] = -1
        for s in range(end[i] - 1, start[i] - 1, -1):
            following[s] = leaving[line[s, 0]]
            leaving[line[s, 0]] = s
        for first in range(start[i], end[i]):
            if is_taken[first]:
                continue
            loop_start[loops] = count
            loop_island[loops] = i
            s = first
            while s >= 0:
                is_taken[s] = True
                order[count] = s
                count += 1
                at = line[s, 1]
                s = leaving[at]
                while s >= 0 and is_taken[s]:
                    s = following[s]
                leaving[at] = s
            is_closed[loops] = line[order[count - 1], 1] == line[first, 0]
            loops += 1
    loop_start[loops] = count
    return order[:count], loop_start[: loops + 1], loop_island[:loops], is_closed[:loops]
