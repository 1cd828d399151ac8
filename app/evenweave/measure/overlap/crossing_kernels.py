# mypy: allow-untyped-defs
"""Kernels that find where segments meet and cut them into pieces that meet at ends only."""

from __future__ import annotations

import numpy as np
from numba import njit

from evenweave.measure.outline.array_kernels import resized_rows, unset


@njit(cache=True, nogil=True)
def _side(segments, e, x, y):
    """Return twice the area of the triangle of a segment and a point, > 0 on its left."""
    x0, y0 = segments[e, 0], segments[e, 1]
    return (segments[e, 2] - x0) * (y - y0) - (segments[e, 3] - y0) * (x - x0)


@njit(cache=True, nogil=True)
def _is_apart(segments, e, f, axis, slack):
    e0, e1 = segments[e, axis], segments[e, axis + 2]
    f0, f1 = segments[f, axis], segments[f, axis + 2]
    return max(e0, e1) + slack < min(f0, f1) or max(f0, f1) + slack < min(e0, e1)


@njit(cache=True, nogil=True)
def _share(segments, e, x, y):
    """Return where the point projects onto the segment: 0 at its start, 1 at its end."""
    x0, y0 = segments[e, 0], segments[e, 1]
    dx, dy = segments[e, 2] - x0, segments[e, 3] - y0
    return ((x - x0) * dx + (y - y0) * dy) / (dx * dx + dy * dy)


@njit(cache=True, nogil=True)
def _touches(segments, ends, length, e, f, k, slack):
    """Tell whether end k of segment f lies inside segment e and is none of its ends."""
    if ends[f, k] == ends[e, 0] or ends[f, k] == ends[e, 1]:
        return False
    x, y = segments[f, 2 * k], segments[f, 2 * k + 1]
    if abs(_side(segments, e, x, y)) > slack * length[e]:
        return False
    return 0.0 < _share(segments, e, x, y) < 1.0


@njit(cache=True, nogil=True)
def _meet(segments, ends, length, e, f, slack):
    """Tell whether two segments cross, or an end of one touches the inside of the other."""
    for k in range(2):
        for m in range(2):
            if ends[e, k] == ends[f, m]:
                return _fold(segments, ends, length, e, f, k, m, slack)
    if _is_apart(segments, e, f, 0, slack) or _is_apart(segments, e, f, 1, slack):
        return False
    c = _side(segments, e, segments[f, 0], segments[f, 1])
    d = _side(segments, e, segments[f, 2], segments[f, 3])
    reach = slack * length[e]
    if (c > reach and d > reach) or (c < -reach and d < -reach):
        return False
    a = _side(segments, f, segments[e, 0], segments[e, 1])
    b = _side(segments, f, segments[e, 2], segments[e, 3])
    reach = slack * length[f]
    if (a > reach and b > reach) or (a < -reach and b < -reach):
        return False
    if (a < 0) != (b < 0) and (c < 0) != (d < 0):
        return True
    for k in range(4):
        if _touches(segments, ends, length, e, f, k & 1, slack):
            return True
        if k == 1:
            e, f = f, e
    return False


@njit(cache=True, nogil=True)
def _fold(segments, ends, length, e, f, k, m, slack):
    """Tell whether two segments that begin at one point, ends k and m, lie on each other."""
    x, y = segments[e, 2 * k], segments[e, 2 * k + 1]
    ex, ey = segments[e, 2 - 2 * k] - x, segments[e, 3 - 2 * k] - y
    fx, fy = segments[f, 2 - 2 * m] - x, segments[f, 3 - 2 * m] - y
    if ex * fx + ey * fy <= 0 or abs(ex * fy - ey * fx) > slack * max(length[e], length[f]):
        return False
    return _touches(segments, ends, length, e, f, 1 - m, slack) or _touches(
        segments, ends, length, f, e, 1 - k, slack
    )


@njit(cache=True, nogil=True)
def meeting_pairs(segments, ends, length, cell_start, cell_segment, column_count, slack, budget):
    """Return (M, 2) int32 pairs e < f that meet (some repeated) and the number of tests.

    ends : (E, 2) int32 point at each end; length : (E,). It gives up, with no pairs, after
    `budget` tests or budget / 16 meetings; the number of tests is then larger than `budget`.
    Cells are visited in bands of eight rows, so that the segments of a place stay in the cache.
    """
    pairs = np.empty((256, 2), dtype=np.int32)
    n, tests = 0, 0
    cells = len(cell_start) - 1
    for band in range(0, cells, 8 * column_count):
        for k in range(8 * column_count):
            cell = band + (k % 8) * column_count + k // 8
            if cell >= cells:
                continue
            first, last = cell_start[cell], cell_start[cell + 1]
            tests += (last - first) * (last - first - 1) // 2
            if tests > budget:
                return pairs[:0], tests
            for i in range(first, last):
                e = cell_segment[i]
                for j in range(i + 1, last):
                    f = cell_segment[j]
                    if _meet(segments, ends, length, e, f, slack):
                        if n > budget // 16:
                            return pairs[:0], budget + 1
                        if n == len(pairs):
                            pairs = resized_rows(pairs, n, 2 * n)
                        pairs[n, 0], pairs[n, 1] = e, f
                        n += 1
    return pairs[:n], tests


@njit(cache=True, nogil=True)
def splits(segments, ends, length, pairs, slack, point_count):
    """Return where the pairs cut each other.

    (N,) int32 segment, (N,) share along it, (N,) int32 point, and the (K, 2) crossing points,
    which are numbered from `point_count` on.
    """
    segment = np.empty(4 * len(pairs), dtype=np.int32)
    share = np.empty(4 * len(pairs))
    point = np.empty(4 * len(pairs), dtype=np.int32)
    crossing = np.empty((len(pairs), 2))
    n, crossings = 0, 0
    for p in range(len(pairs)):
        before = n
        for swap in range(2):
            e, f = pairs[p, swap], pairs[p, 1 - swap]
            for k in range(2):
                if _touches(segments, ends, length, e, f, k, slack):
                    segment[n], point[n] = e, ends[f, k]
                    share[n] = _share(segments, e, segments[f, 2 * k], segments[f, 2 * k + 1])
                    n += 1
        if n > before:
            continue
        e, f = pairs[p, 0], pairs[p, 1]
        for _swap in range(2):
            a = _side(segments, f, segments[e, 0], segments[e, 1])
            b = _side(segments, f, segments[e, 2], segments[e, 3])
            segment[n], share[n], point[n] = e, a / (a - b), point_count + crossings
            n += 1
            e, f = f, e
        crossing[crossings, 0] = segments[e, 0] + share[n - 2] * (segments[e, 2] - segments[e, 0])
        crossing[crossings, 1] = segments[e, 1] + share[n - 2] * (segments[e, 3] - segments[e, 1])
        crossings += 1
    return segment[:n], share[:n], point[:n], crossing[:crossings]


@njit(cache=True, nogil=True)
def _slot(x, y, mask):
    mixed = np.uint64(x) * np.uint64(0x9E3779B97F4A7C15) ^ np.uint64(y) * np.uint64(
        0xC2B2AE3D27D4EB4F
    )
    mixed ^= mixed >> np.uint64(29)
    return np.int64(mixed & np.uint64(mask))


@njit(cache=True, nogil=True)
def welded(points, radius):
    """Return (K,) int32: for each point the first point within `radius` in x and y."""
    size = 16
    while size < 2 * len(points):
        size *= 2
    table = unset(size)
    first = np.empty(len(points), dtype=np.int32)
    cell = 4 * radius
    for p in range(len(points)):
        x, y = points[p, 0] / cell, points[p, 1] / cell
        found = -1
        for i in range(np.int64(np.floor(x - 0.25)), np.int64(np.floor(x + 0.25)) + 1):
            for j in range(np.int64(np.floor(y - 0.25)), np.int64(np.floor(y + 0.25)) + 1):
                slot = _slot(i, j, size - 1)
                while table[slot] >= 0 and found < 0:
                    q = table[slot]
                    if max(abs(points[p, 0] - points[q, 0]), abs(points[p, 1] - points[q, 1])) <= (
                        radius
                    ):
                        found = q
                    slot = (slot + 1) & (size - 1)
        if found < 0:
            found = p
            slot = _slot(np.int64(np.floor(x)), np.int64(np.floor(y)), size - 1)
            while table[slot] >= 0:
                slot = (slot + 1) & (size - 1)
            table[slot] = p
        first[p] = found
    return first


@njit(cache=True, nogil=True)
def pieces(ends, split_segment, split_share, split_point):
    """Cut the segments at their splits.

    Returns (P, 2) int32 points, in the segment's direction, and (P,) int32 segment.
    """
    start = np.zeros(len(ends) + 1, dtype=np.int32)
    for k in range(len(split_segment)):
        start[split_segment[k] + 1] += 1
    for e in range(len(ends)):
        start[e + 1] += start[e]
    split = np.empty(len(split_segment), dtype=np.int32)
    filled = np.zeros(len(ends), dtype=np.int32)
    for k in range(len(split_segment)):
        e = split_segment[k]
        j = start[e] + filled[e]
        filled[e] += 1
        while j > start[e] and split_share[split[j - 1]] > split_share[k]:
            split[j] = split[j - 1]
            j -= 1
        split[j] = k
    points = np.empty((len(ends) + len(split), 2), dtype=np.int32)
    segment = np.empty(len(points), dtype=np.int32)
    n = 0
    for e in range(len(ends)):
        at = ends[e, 0]
        for k in range(start[e], start[e + 1] + 1):
            to = ends[e, 1] if k == start[e + 1] else split_point[split[k]]
            if to != at:
                points[n, 0], points[n, 1], segment[n] = at, to, e
                n += 1
                at = to
    return points[:n], segment[:n]


@njit(cache=True, nogil=True)
def merged(points):
    """Return (P,) int32 number of the piece among those with the same two ends, whichever way.

    Numbers count from 0 in order of first appearance.
    """
    size = 16
    while size < 2 * len(points):
        size *= 2
    table = unset(size)
    number = np.empty(len(points), dtype=np.int32)
    n = 0
    for p in range(len(points)):
        low, high = min(points[p, 0], points[p, 1]), max(points[p, 0], points[p, 1])
        slot = _slot(np.int64(low), np.int64(high), size - 1)
        while True:
            q = table[slot]
            if q < 0:
                table[slot] = p
                number[p] = n
                n += 1
                break
            if min(points[q, 0], points[q, 1]) == low and max(points[q, 0], points[q, 1]) == high:
                number[p] = number[q]
                break
            slot = (slot + 1) & (size - 1)
    return number
