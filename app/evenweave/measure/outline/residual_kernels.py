# mypy: allow-untyped-defs
"""Kernels that cancel the edges between an island's triangles."""

from __future__ import annotations

import numpy as np
from numba import njit

from evenweave.measure.outline.array_kernels import ascending


@njit(cache=True, nogil=True)
def _twice_area(uv, a, b, c):
    return (uv[b, 0] - uv[a, 0]) * (uv[c, 1] - uv[a, 1]) - (uv[b, 1] - uv[a, 1]) * (
        uv[c, 0] - uv[a, 0]
    )


@njit(cache=True, nogil=True)
def island_winding(uv, corner_uv, triangle_corner, triangle_face, face_island, island_count):
    """Return (I,) int32 winding (1, -1, 0 both or neither) and (I,) summed triangle areas."""
    counter = np.zeros(island_count, dtype=np.uint8)
    clockwise = np.zeros(island_count, dtype=np.uint8)
    area = np.zeros(island_count)
    for t in range(len(triangle_corner)):
        twice = _twice_area(
            uv,
            corner_uv[triangle_corner[t, 0]],
            corner_uv[triangle_corner[t, 1]],
            corner_uv[triangle_corner[t, 2]],
        )
        island = face_island[triangle_face[t]]
        area[island] += abs(twice) / 2
        if twice > 0:
            counter[island] = 1
        elif twice < 0:
            clockwise[island] = 1
    winding = np.zeros(island_count, dtype=np.int32)
    for i in range(island_count):
        winding[i] = np.int32(counter[i]) - np.int32(clockwise[i])
    return winding, area


@njit(cache=True, nogil=True)
def _signed_hash(a, b):
    if a == b:
        return np.int64(0)
    low, high = min(a, b), max(a, b)
    x = (np.uint64(low) << np.uint64(32)) | np.uint64(high)
    x = (x ^ (x >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    x = (x ^ (x >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    mixed = np.int64(x ^ (x >> np.uint64(31)))
    return mixed if a < b else -mixed


@njit(cache=True, nogil=True)
def cancelling_islands(face_start, corner_uv, face_island, outline, winding):
    """Tell which islands wind one way and are bounded by their outline alone.

    Returns (I,) and (C,) uint8: the island is such a one; the corner begins an outline edge.
    """
    is_outline = np.zeros(len(corner_uv), dtype=np.uint8)
    for k in range(len(outline)):
        is_outline[outline[k]] = 1
    excess = np.zeros(len(winding), dtype=np.int64)
    for f in range(len(face_island)):
        first, last = face_start[f], face_start[f + 1] - 1
        total = np.int64(0)
        for c in range(first, last + 1):
            if is_outline[c] == 0:
                total += _signed_hash(corner_uv[c], corner_uv[first if c == last else c + 1])
        excess[face_island[f]] += total
    is_simple = np.zeros(len(winding), dtype=np.uint8)
    for i in range(len(winding)):
        is_simple[i] = winding[i] != 0 and excess[i] == 0
    return is_simple, is_outline


@njit(cache=True, nogil=True)
def outline_edges(face_start, corner_uv, face_island, is_simple, is_outline, winding):
    """Return start, end, island, weight (each (E,) int32) of the simple islands' outlines."""
    count = 0
    for c in range(len(is_outline)):
        count += is_outline[c]
    edge_start = np.empty(count, dtype=np.int32)
    edge_end = np.empty(count, dtype=np.int32)
    edge_island = np.empty(count, dtype=np.int32)
    n = 0
    for f in range(len(face_island)):
        island = face_island[f]
        if is_simple[island] == 0:
            continue
        first, last = face_start[f], face_start[f + 1] - 1
        for c in range(first, last + 1):
            if is_outline[c] == 0:
                continue
            a, b = corner_uv[c], corner_uv[first if c == last else c + 1]
            if a == b:
                continue
            forward = winding[island] > 0
            edge_start[n] = a if forward else b
            edge_end[n] = b if forward else a
            edge_island[n] = island
            n += 1
    weight = np.ones(n, dtype=np.int32)
    return edge_start[:n], edge_end[:n], edge_island[:n], weight


@njit(cache=True, nogil=True)
def cancelled_edges(uv, corner_uv, triangle_corner, triangle_face, face_island, is_simple):
    """Return start, end, island, weight (each (E,) int32) of all islands that are not simple."""
    count = 0
    for t in range(len(triangle_corner)):
        if is_simple[face_island[triangle_face[t]]] == 0:
            count += 3
    low = np.empty(count, dtype=np.int32)
    high = np.empty(count, dtype=np.int32)
    island = np.empty(count, dtype=np.int32)
    sign = np.empty(count, dtype=np.int32)
    n = 0
    for t in range(len(triangle_corner)):
        home = face_island[triangle_face[t]]
        if is_simple[home] == 1:
            continue
        a = corner_uv[triangle_corner[t, 0]]
        b = corner_uv[triangle_corner[t, 1]]
        c = corner_uv[triangle_corner[t, 2]]
        if _twice_area(uv, a, b, c) < 0:
            b, c = c, b
        for p, q in ((a, b), (b, c), (c, a)):
            if p != q:
                low[n], high[n] = min(p, q), max(p, q)
                sign[n] = 1 if p < q else -1
                island[n] = home
                n += 1
    return _summed(low[:n], high[:n], island[:n], sign[:n], len(uv))


@njit(cache=True, nogil=True)
def _summed(low, high, island, sign, uv_count):
    """Add up the signs of equal edges of one island; keep those that do not cancel."""
    count = len(low)
    order = ascending(count)
    if count > 0:
        order = _counted(order, island, island.max() + 1)
        order = _counted(order, high, uv_count)
        order = _counted(order, low, uv_count)
    edge_start = np.empty(count, dtype=np.int32)
    edge_end = np.empty(count, dtype=np.int32)
    edge_island = np.empty(count, dtype=np.int32)
    weight = np.empty(count, dtype=np.int32)
    n, k = 0, 0
    while k < count:
        e, total = order[k], 0
        while k < count:
            other = order[k]
            if low[other] != low[e] or high[other] != high[e] or island[other] != island[e]:
                break
            total += sign[other]
            k += 1
        if total != 0:
            edge_start[n] = low[e] if total > 0 else high[e]
            edge_end[n] = high[e] if total > 0 else low[e]
            edge_island[n] = island[e]
            weight[n] = abs(total)
            n += 1
    return edge_start[:n], edge_end[:n], edge_island[:n], weight[:n]


@njit(cache=True, nogil=True)
def _counted(order, key, size):
    """Return the order sorted by key[order], equal keys as they were (a counting sort)."""
    start = np.zeros(size + 1, dtype=np.int32)
    for k in range(len(key)):
        start[key[k] + 1] += 1
    for k in range(size):
        start[k + 1] += start[k]
    result = np.empty_like(order)
    for k in range(len(order)):
        value = key[order[k]]
        result[start[value]] = order[k]
        start[value] += 1
    return result


@njit(cache=True, nogil=True)
def grouped(key, size):
    """Return the (N,) int32 order that groups by key, and (size + 1,) starts of the groups."""
    start = np.zeros(size + 1, dtype=np.int32)
    for k in range(len(key)):
        start[key[k] + 1] += 1
    for k in range(size):
        start[k + 1] += start[k]
    return _counted(ascending(len(key)), key, size), start
