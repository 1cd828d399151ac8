# mypy: allow-untyped-defs, allow-untyped-calls
"""Kernels that spread sample points over islands, and count on whose surface they fall."""

from __future__ import annotations

import numpy as np
from numba import njit

# The plastic number's powers: Roberts' low-discrepancy sequence in two dimensions.
_STEP_V, _STEP_W = 0.7548776662466927, 0.5698402909980532


@njit(cache=True, nogil=True)
def boxes(corner, island, count):
    """Return (count, 6) the box round each island, least corner first; islands < 0 are left out."""
    box = np.empty((count, 6), dtype=np.float64)
    box[:, :3] = np.inf
    box[:, 3:] = -np.inf
    for t in range(len(island)):
        i = island[t]
        if i < 0:
            continue
        for k in range(3):
            for d in range(3):
                box[i, d] = min(box[i, d], corner[t, k, d])
                box[i, 3 + d] = max(box[i, 3 + d], corner[t, k, d])
    return box


@njit(cache=True, nogil=True)
def spread(corner, area, island, island_area, per_island):
    """Spread at least one sample over each triangle, and about so many over each island.

    Returns (N,) int32 the samples' triangles, (N, 3) points and (N,) the area each stands for;
    on an island without area each triangle counts the same. Samples stand in the triangles'
    order, the first of each in its centre.
    """
    total = 0
    for t in range(len(area)):
        total += _count(t, area, island, island_area, per_island)
    triangle = np.empty(total, dtype=np.int32)
    point = np.empty((total, 3), dtype=np.float64)
    weight = np.empty(total, dtype=np.float64)
    row = 0
    for t in range(len(area)):
        count = _count(t, area, island, island_area, per_island)
        i = island[t]
        share = area[t] / count
        if i >= 0 and island_area[i] <= 0.0:
            share = 1e-300
        for k in range(count):
            v, w = (1.0 / 3.0 + k * _STEP_V) % 1.0, (1.0 / 3.0 + k * _STEP_W) % 1.0
            if v + w > 1.0:
                v, w = 1.0 - v, 1.0 - w
            for d in range(3):
                point[row, d] = (
                    (1.0 - v - w) * corner[t, 0, d] + v * corner[t, 1, d] + w * corner[t, 2, d]
                )
            triangle[row] = t
            weight[row] = share
            row += 1
    return triangle, point, weight


@njit(cache=True, nogil=True)
def _count(t, area, island, island_area, per_island):
    i = island[t]
    if i < 0 or island_area[i] <= 0.0:
        return 1
    return max(1, int(np.ceil(per_island * area[t] / island_area[i])))


@njit(cache=True, nogil=True)
def votes(triangle, weight, found_triangle, own_island, other_island):
    """Sum the weights of samples by the pair of islands they join.

    triangle : (N,) int32 of the own surface; found : (N, K) int32 of the other, -1 for none
    Returns the distinct pairs, (P,) int64 own << 32 | other, and their sums.
    """
    size = 1024
    slots = np.full(size, -1, dtype=np.int32)
    key = np.empty(size // 2, dtype=np.int64)
    total = np.empty(size // 2, dtype=np.float64)
    count = 0
    last, place = np.int64(-1), 0
    for i in range(len(triangle)):
        own = own_island[triangle[i]]
        if own < 0:
            continue
        for k in range(found_triangle.shape[1]):
            if found_triangle[i, k] < 0 or other_island[found_triangle[i, k]] < 0:
                continue
            pair = (np.int64(own) << 32) | np.int64(other_island[found_triangle[i, k]])
            if pair != last:
                if count == len(key):
                    size *= 2
                    slots, key, total = _grown(size, key, total)
                slot = _slot(slots, key, pair)
                if slots[slot] < 0:
                    slots[slot] = count
                    key[count] = pair
                    total[count] = 0.0
                    count += 1
                last, place = pair, slots[slot]
            total[place] += weight[i]
    return key[:count].copy(), total[:count].copy()


@njit(cache=True, nogil=True)
def _slot(slots, key, pair):
    """Return the slot that holds a pair, or the empty one where it belongs."""
    mask = np.uint64(len(slots) - 1)
    mixed = np.uint64(pair) * np.uint64(0x9E3779B97F4A7C15)
    slot = np.int64((mixed ^ (mixed >> np.uint64(29))) & mask)
    while slots[slot] >= 0 and key[slots[slot]] != pair:
        slot = (slot + 1) & np.int64(mask)
    return slot


@njit(cache=True, nogil=True)
def _grown(size, key, total):
    slots = np.full(size, -1, dtype=np.int32)
    keys = np.empty(size // 2, dtype=np.int64)
    totals = np.empty(size // 2, dtype=np.float64)
    keys[: len(key)] = key
    totals[: len(total)] = total
    for i in range(len(key)):
        slots[_slot(slots, keys, key[i])] = i
    return slots, keys, totals
