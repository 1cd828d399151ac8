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
    for i in range(len(start)):
        bins[:] = 0.0
        total = 0.0
        for s in range(start[i], end[i]):
            length, degrees = _length_and_angle(line_xy, s)
            bins[int(degrees) % BINS] += length
            total += length
        if total <= 0.0:
            continue
        centre, most = 0, -1.0
        for k in range(BINS):
            b = (k + 1) // 2 if k % 2 else BINS - k // 2
            around = 0.0
            for near in range(b - _WINDOW, b + _WINDOW + 1):
                around += bins[near % BINS]
            if around > most * (1.0 + 1e-9) and around > 0.0:
                centre, most = b, around
        best = _mean_angle(line_xy, start[i], end[i], centre + 0.5, _WINDOW + 1.0)
        mean = _mean_angle(line_xy, start[i], end[i], best[0], _REFINE_DEGREES)
        if mean[1] >= least_share * total:
            angle[i] = mean[0] if mean[0] <= 45.0 else mean[0] - 90.0
    return angle


@njit(cache=True, nogil=True)
def _length_and_angle(line_xy, s):
    """Return the length of a line and its direction in degrees, 0 to 90."""
    dx, dy = line_xy[s, 2] - line_xy[s, 0], line_xy[s, 3] - line_xy[s, 1]
    return np.hypot(dx, dy), np.degrees(np.arctan2(dy, dx)) % 90.0


@njit(cache=True, nogil=True)
def _mean_angle(line_xy, first, last, about, reach):
    """Return the mean direction of the lines within `reach` degrees, 0 to 90, and their length."""
    total, turned = 0.0, 0.0
    for s in range(first, last):
        length, degrees = _length_and_angle(line_xy, s)
        off = (degrees - about + 45.0) % 90.0 - 45.0
        if abs(off) <= reach:
            total += length
            turned += length * off
    return ((about + turned / total) % 90.0 if total > 0.0 else about), total


@njit(cache=True, nogil=True)
def short_sides(point_xy, start):
    """Return (I,) float64 shorter side of the smallest-area rectangle round each island.

    point_xy : (N, 2) sorted by x, then y, within each island; island i has points start[i] to
    start[i + 1]. One side of that rectangle lies along a side of the convex hull (Freeman and
    Shapira 1975), so rotating calipers find it.
    """
    side = np.full(len(start) - 1, np.nan)
    hull = np.empty((2 * np.max(np.diff(start)) + 2 if len(start) > 1 else 0, 2))
    for i in range(len(start) - 1):
        count = _hull(point_xy, start[i], start[i + 1], hull)
        if count > 0:
            side[i] = _short_side(hull, count)
    return side


@njit(cache=True, nogil=True)
def _turn(ax, ay, bx, by, cx, cy):
    return (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)


@njit(cache=True, nogil=True)
def _hull(point_xy, first, last, hull):
    """Fill `hull` counter-clockwise from sorted points (Andrew's monotone chain)."""
    count, floor = 0, 2
    for step in range(2 * (last - first)):
        n = first + step if step < last - first else last - 1 - (step - (last - first))
        if step == last - first:
            floor = count + 1
        x, y = point_xy[n, 0], point_xy[n, 1]
        if count > 0 and hull[count - 1, 0] == x and hull[count - 1, 1] == y:
            continue
        while count >= floor and (
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
