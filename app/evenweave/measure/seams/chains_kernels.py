# mypy: allow-untyped-defs, allow-untyped-calls
"""Kernels that string seam edges together."""

from __future__ import annotations

import numpy as np
from numba import njit

from evenweave.measure.seams.corner_kernels import corner_after


@njit(cache=True, nogil=True)
def link_seams(
    seam, seam_island, corner_face, face_start, corner_point, corner_uv, point_count
):  # fmt: skip
    """Link the ends of seam edges that go on into one another.

    seam, seam_island : (S, 2) int32 corners and islands of the two sides. End 2 i of seam i is
    at its first side's corner, end 2 i + 1 at its far corner. Two ends go on into one another
    where they lie at one point, of the same two islands, with the same uv on either side, and
    no third end does too.

    Returns (2 S,) int32 the end linked to each, -1 where the chain ends.
    """
    count = len(seam)
    # Per end: point, islands and uvs of its two sides, the lesser island (then uv) first.
    end_point = np.empty(2 * count, dtype=np.int32)
    end_key = np.empty((2 * count, 4), dtype=np.int32)
    for i in range(count):
        for side in range(2):
            end = 2 * i + side
            c, d = seam[i, 0], seam[i, 1]
            behind = corner_after(d, face_start, corner_face)
            is_opposite = corner_point[c] == corner_point[behind]
            if side == 1:
                c = corner_after(c, face_start, corner_face)
            # The second side's corner at the same point.
            other = behind if is_opposite == (side == 0) else d
            a, b = corner_uv[c], corner_uv[other]
            first, second = seam_island[i, 0], seam_island[i, 1]
            if second < first or (second == first and b < a):
                first, second, a, b = second, first, b, a
            end_point[end] = corner_point[c]
            end_key[end, 0], end_key[end, 1] = first, second
            end_key[end, 2], end_key[end, 3] = a, b
    bucket, item = _bucketed(end_point, point_count)
    link = np.full(2 * count, -1, dtype=np.int32)
    for p in range(point_count):
        for x in range(bucket[p], bucket[p + 1]):
            end, found, partners = item[x], -1, 0
            # Seams at one point are few; where they are many, chains simply end there.
            for y in range(bucket[p], min(bucket[p + 1], bucket[p] + 64)):
                other = item[y]
                if other != end and _equal(end_key, end, other):
                    found = other
                    partners += 1
            if partners == 1 and bucket[p + 1] - bucket[p] <= 64:
                link[end] = found
    return link


@njit(cache=True, nogil=True)
def _equal(key, a, b):
    return (
        key[a, 0] == key[b, 0]
        and key[a, 1] == key[b, 1]
        and key[a, 2] == key[b, 2]
        and key[a, 3] == key[b, 3]
    )


@njit(cache=True, nogil=True)
def _bucketed(end_point, point_count):
    bucket = np.zeros(point_count + 2, dtype=np.int32)
    for p in end_point:
        bucket[p + 2] += 1
    for p in range(point_count):
        bucket[p + 2] += bucket[p + 1]
    item = np.empty(len(end_point), dtype=np.int32)
    for end in range(len(end_point)):
        at = bucket[end_point[end] + 1]
        item[at] = end
        bucket[end_point[end] + 1] = at + 1
    return bucket, item


@njit(cache=True, nogil=True)
def walk_chains(link):
    """Follow the links: open chains from an end, closed ones from their least seam.

    Returns (K + 1,) int32 first place of each chain, (S,) int32 seams in order, (S,) bool
    whether each is walked from its far end, and (K,) bool whether the chain is closed.
    """
    count = len(link) // 2
    order = np.empty(count, dtype=np.int32)
    is_backward = np.empty(count, dtype=np.bool_)
    is_done = np.zeros(count, dtype=np.bool_)
    first = np.empty(count + 1, dtype=np.int32)
    is_closed = np.empty(count, dtype=np.bool_)
    chains = placed = 0
    for closed in range(2):
        for i in range(count):
            if is_done[i] or (closed == 0 and link[2 * i] >= 0 and link[2 * i + 1] >= 0):
                continue
            first[chains] = placed
            is_closed[chains] = closed == 1
            chains += 1
            # Enter at an end that leads nowhere; in a ring, at the near end.
            enter = 2 * i if closed == 1 or link[2 * i] < 0 else 2 * i + 1
            while enter >= 0 and not is_done[enter // 2]:
                order[placed] = enter // 2
                is_backward[placed] = enter % 2 == 1
                is_done[enter // 2] = True
                placed += 1
                enter = link[enter ^ 1]
    first[chains] = placed
    return first[: chains + 1].copy(), order, is_backward, is_closed[:chains].copy()
