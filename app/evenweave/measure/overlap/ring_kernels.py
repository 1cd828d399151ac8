# mypy: allow-untyped-defs
"""Kernels that link the borders of regions into rings and measure them."""

from __future__ import annotations

import numpy as np
from numba import njit

from evenweave.measure.outline.array_kernels import resized, unset


@njit(cache=True, nogil=True)
def grouped_keys(key):
    """Return the (K,) int64 different keys, (B,) int32 order by key and (K + 1,) int32 starts.

    Keys are in the order in which they first appear.
    """
    size = 16
    while size < 2 * len(key):
        size *= 2
    table = unset(size)
    number = np.empty(len(key), dtype=np.int32)
    keys = np.empty(len(key), dtype=np.int64)
    start = np.zeros(len(key) + 1, dtype=np.int32)
    count = 0
    for b in range(len(key)):
        mixed = np.uint64(key[b]) * np.uint64(0x9E3779B97F4A7C15)
        slot = np.int64((mixed ^ (mixed >> np.uint64(29))) & np.uint64(size - 1))
        while table[slot] >= 0 and keys[table[slot]] != key[b]:
            slot = (slot + 1) & (size - 1)
        if table[slot] < 0:
            table[slot] = count
            keys[count] = key[b]
            count += 1
        number[b] = table[slot]
        start[number[b] + 1] += 1
    for k in range(count):
        start[k + 1] += start[k]
    place = resized(start, count, count)
    order = np.empty(len(key), dtype=np.int32)
    for b in range(len(key)):
        order[place[number[b]]] = b
        place[number[b]] += 1
    return keys[:count], order, start[: count + 1]


@njit(cache=True, nogil=True)
def rings(border, region_start, position):
    """Link the directed borders of each region into rings, with the region on their left.

    border : (B, 2) int32 points, grouped by region as (K + 1,) `region_start` tells.

    Returns (R + 1,) starts into `order`, (B,) int32 order of the borders, (R,) int32 region,
    (R,) signed area (holes are negative) and (R,) length. Parts of a region that touch at a
    point are rings apart. Where rounding left a ring open it is closed by a straight line.
    """
    head = unset(len(position))
    following = unset(len(border))
    is_used = np.zeros(len(border), dtype=np.uint8)
    order = np.empty(len(border), dtype=np.int32)
    start = np.zeros(len(border) + 1, dtype=np.int32)
    region = np.empty(len(border), dtype=np.int32)
    area = np.empty(len(border))
    length = np.empty(len(border))
    n, count = 0, 0
    for k in range(len(region_start) - 1):
        first, last = region_start[k], region_start[k + 1]
        for b in range(first, last):
            following[b] = head[border[b, 0]]
            head[border[b, 0]] = b
        for b in range(first, last):
            if is_used[b] == 1:
                continue
            at = b
            while at >= 0:
                is_used[at] = 1
                order[n] = at
                n += 1
                at = _next(border, head, following, is_used, position, at, b)
            region[count] = k
            area[count], length[count] = _measure(border, position, order[start[count] : n])
            count += 1
            start[count] = n
        for b in range(first, last):
            head[border[b, 0]] = -1
    return (
        start[: count + 1],
        order,
        region[:count],
        area[:count],
        length[:count],
    )


@njit(cache=True, nogil=True)
def _next(border, head, following, is_used, position, at, first):
    """Return the border that turns most to the left behind `at`, or -1 at the ring's end."""
    v = border[at, 1]
    best, least = -1, 0.0
    b = head[v]
    while b >= 0:
        if is_used[b] == 0 or b == first:
            if best < 0:
                best = b
            else:
                if least == 0.0:
                    least = _turn(border, position, at, best)
                turn = _turn(border, position, at, b)
                if turn < least:
                    best, least = b, turn
        b = following[b]
    return -1 if best == first else best


@njit(cache=True, nogil=True)
def _turn(border, position, at, after):
    """Return the clockwise angle from the way back along `at` to the border after it."""
    u, v, w = border[at, 0], border[at, 1], border[after, 1]
    back_x, back_y = position[u, 0] - position[v, 0], position[u, 1] - position[v, 1]
    x, y = position[w, 0] - position[v, 0], position[w, 1] - position[v, 1]
    turn = np.arctan2(x * back_y - y * back_x, x * back_x + y * back_y)
    return turn if turn > 0.0 else turn + 2 * np.pi


@njit(cache=True, nogil=True)
def _measure(border, position, order):
    """Return the signed area and the length of one ring."""
    x0, y0 = position[border[order[0], 0], 0], position[border[order[0], 0], 1]
    twice, length = 0.0, 0.0
    for k in range(len(order)):
        a, b = border[order[k], 0], border[order[k], 1]
        ax, ay = position[a, 0] - x0, position[a, 1] - y0
        bx, by = position[b, 0] - x0, position[b, 1] - y0
        twice += ax * by - ay * bx
        length += np.hypot(bx - ax, by - ay)
    return twice / 2, length


@njit(cache=True, nogil=True)
def inner_points(border, order, ring_start, region_first, region_ring, worst, position):
    """Return (K, 2) a point well inside the worst ring of each region, outside its holes.

    region_first : (K + 1,) into `region_ring`, the rings of each region; worst : (K,) rings.
    The point is the middle of the widest stretch on three level lines through the ring.
    """
    point = np.empty((len(worst), 2))
    for k in range(len(worst)):
        low, high = np.inf, -np.inf
        for b in range(ring_start[worst[k]], ring_start[worst[k] + 1]):
            y = position[border[order[b], 0], 1]
            low, high = min(low, y), max(high, y)
        most = -1.0
        for share in (0.5, 0.27, 0.76):
            y = low + share * (high - low)
            x, width = _widest(
                border, order, ring_start, region_ring[region_first[k] : region_first[k + 1]],
                worst[k], position, y,
            )  # fmt: skip
            if width > most:
                most = width
                point[k, 0], point[k, 1] = x, y
    return point


@njit(cache=True, nogil=True)
def _widest(border, order, ring_start, ring, worst, position, y):
    """Return the middle and width of the widest stretch at height y that begins on `worst`."""
    count = 0
    for r in ring:
        count += ring_start[r + 1] - ring_start[r]
    x = np.empty(count)
    is_worst = np.empty(count, dtype=np.uint8)
    n = 0
    for r in ring:
        for k in range(ring_start[r], ring_start[r + 1]):
            a, b = border[order[k], 0], border[order[k], 1]
            if (position[a, 1] <= y) == (position[b, 1] <= y):
                continue
            share = (y - position[a, 1]) / (position[b, 1] - position[a, 1])
            value = position[a, 0] + share * (position[b, 0] - position[a, 0])
            j = n
            while j > 0 and x[j - 1] > value:
                x[j], is_worst[j] = x[j - 1], is_worst[j - 1]
                j -= 1
            x[j], is_worst[j] = value, r == worst
            n += 1
    first = border[order[ring_start[worst]], 0]
    best, width = position[first, 0], -1.0
    for k in range(0, n - 1, 2):
        if is_worst[k] == 1 and x[k + 1] - x[k] > width:
            best, width = (x[k] + x[k + 1]) / 2, x[k + 1] - x[k]
    return best, width
