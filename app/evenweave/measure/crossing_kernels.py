"""Kernels that find where segments meet and cut them into pieces that meet at ends only."""

from __future__ import annotations

import numpy as np
from numba import njit


@njit(cache=True, nogil=True)
def _side(s, x, y):
    """Return twice the area of the triangle of a segment and a point, > 0 on its left."""
    return (s[2] - s[0]) * (y - s[1]) - (s[3] - s[1]) * (x - s[0])


@njit(cache=True, nogil=True)
def _apart(s, t, slack):
    return (
        max(s[0], s[2]) + slack < min(t[0], t[2])
        or max(t[0], t[2]) + slack < min(s[0], s[2])
        or max(s[1], s[3]) + slack < min(t[1], t[3])
        or max(t[1], t[3]) + slack < min(s[1], s[3])
    )


@njit(cache=True, nogil=True)
def _share(s, x, y):
    """Return where the point projects onto the segment: 0 at its start, 1 at its end."""
    dx, dy = s[2] - s[0], s[3] - s[1]
    return ((x - s[0]) * dx + (y - s[1]) * dy) / (dx * dx + dy * dy)


@njit(cache=True, nogil=True)
def _touches(s, length, x, y, slack):
    if abs(_side(s, x, y)) > slack * length:
        return False
    return 0.0 < _share(s, x, y) < 1.0


@njit(cache=True, nogil=True)
def _meet(s, t, s_ends, t_ends, s_length, t_length, slack):
    """Tell whether two segments cross, or an end of one touches the inside of the other."""
    c, d = _side(s, t[0], t[1]), _side(s, t[2], t[3])
    reach = slack * s_length
    if (c > reach and d > reach) or (c < -reach and d < -reach):
        return False
    a, b = _side(t, s[0], s[1]), _side(t, s[2], s[3])
    reach = slack * t_length
    if (a > reach and b > reach) or (a < -reach and b < -reach):
        return False
    if s_ends[0] == t_ends[0] or s_ends[0] == t_ends[1]:
        if s_ends[1] == t_ends[0] or s_ends[1] == t_ends[1]:
            return False
    elif s_ends[1] != t_ends[0] and s_ends[1] != t_ends[1]:
        return (
            ((a < 0) != (b < 0) and (c < 0) != (d < 0))
            or _touches(s, s_length, t[0], t[1], slack)
            or _touches(s, s_length, t[2], t[3], slack)
            or _touches(t, t_length, s[0], s[1], slack)
            or _touches(t, t_length, s[2], s[3], slack)
        )
    return _touches_apart(s, t, s_ends, t_ends, s_length, slack) or _touches_apart(
        t, s, t_ends, s_ends, t_length, slack
    )


@njit(cache=True, nogil=True)
def _touches_apart(s, t, s_ends, t_ends, s_length, slack):
    """Tell whether an end of t that is not an end of s touches s."""
    for k in range(2):
        if t_ends[k] != s_ends[0] and t_ends[k] != s_ends[1]:
            if _touches(s, s_length, t[2 * k], t[2 * k + 1], slack):
                return True
    return False


@njit(cache=True, nogil=True)
def meeting_pairs(segments, ends, cell_start, cell_segment, slack, budget):
    """Return (M, 2) int32 pairs e < f that meet (some repeated) and the number of tests.

    `ends` : (E, 2) int32 point at each end. More than `budget` tests: no pairs are returned.
    """
    length = np.sqrt(
        (segments[:, 2] - segments[:, 0]) ** 2 + (segments[:, 3] - segments[:, 1]) ** 2
    )
    pairs = np.empty((256, 2), dtype=np.int32)
    n, tests = 0, 0
    for k in range(len(cell_start) - 1):
        first, last = cell_start[k], cell_start[k + 1]
        tests += (last - first) * (last - first - 1) // 2
        if tests > budget:
            return pairs[:0], tests
        for i in range(first, last):
            e = cell_segment[i]
            for j in range(i + 1, last):
                f = cell_segment[j]
                if _apart(segments[e], segments[f], slack):
                    continue
                if _meet(segments[e], segments[f], ends[e], ends[f], length[e], length[f], slack):
                    if n == len(pairs):
                        larger = np.empty((2 * n, 2), dtype=np.int32)
                        larger[:n] = pairs
                        pairs = larger
                    pairs[n, 0], pairs[n, 1] = min(e, f), max(e, f)
                    n += 1
    return pairs[:n], tests


@njit(cache=True, nogil=True)
def splits(segments, ends, pairs, slack, point_count):
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
            s, t = segments[e], segments[f]
            length = np.sqrt((s[2] - s[0]) ** 2 + (s[3] - s[1]) ** 2)
            for k in range(2):
                if ends[f, k] == ends[e, 0] or ends[f, k] == ends[e, 1]:
                    continue
                if _touches(s, length, t[2 * k], t[2 * k + 1], slack):
                    segment[n], point[n] = e, ends[f, k]
                    share[n] = _share(s, t[2 * k], t[2 * k + 1])
                    n += 1
        if n > before:
            continue
        s, t = segments[pairs[p, 0]], segments[pairs[p, 1]]
        a, b = _side(t, s[0], s[1]), _side(t, s[2], s[3])
        c, d = _side(s, t[0], t[1]), _side(s, t[2], t[3])
        segment[n], segment[n + 1] = pairs[p, 0], pairs[p, 1]
        share[n], share[n + 1] = a / (a - b), c / (c - d)
        point[n] = point[n + 1] = point_count + crossings
        crossing[crossings, 0] = s[0] + share[n] * (s[2] - s[0])
        crossing[crossings, 1] = s[1] + share[n] * (s[3] - s[1])
        n += 2
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
    table = np.full(size, -1, dtype=np.int32)
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
def pieces(ends, split_segment, split_point):
    """Cut the segments at their splits, which are sorted by segment and share.

    Returns (P, 2) int32 points, in the segment's direction, and (P,) int32 segment.
    """
    points = np.empty((len(ends) + len(split_segment), 2), dtype=np.int32)
    segment = np.empty(len(points), dtype=np.int32)
    n, k = 0, 0
    for e in range(len(ends)):
        at = ends[e, 0]
        while True:
            is_split = k < len(split_segment) and split_segment[k] == e
            to = split_point[k] if is_split else ends[e, 1]
            if to != at:
                points[n, 0], points[n, 1], segment[n] = at, to, e
                n += 1
                at = to
            if not is_split:
                break
            k += 1
    return points[:n].copy(), segment[:n].copy()


@njit(cache=True, nogil=True)
def merged(points):
    """Return (P,) int32 number of the piece among those with the same two ends, whichever way.

    Numbers count from 0 in order of first appearance.
    """
    size = 16
    while size < 2 * len(points):
        size *= 2
    table = np.full(size, -1, dtype=np.int32)
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
