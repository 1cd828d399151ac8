# mypy: allow-untyped-defs
"""Kernels that join pieces into chains, along which nothing changes on either side."""

from __future__ import annotations

import numpy as np
from numba import njit

from evenweave.measure.outline.array_kernels import resized


@njit(cache=True, nogil=True)
def chains(points, point_count):
    """Order pieces into chains through the points at which just two pieces meet.

    points : (P, 2) int32 ends of each piece.

    Returns (H + 1,) int32 starts, (P,) int32 piece and (P,) int32 way: 1 where the piece runs
    along its chain, -1 where it runs against it.
    """
    degree = np.zeros(point_count, dtype=np.int32)
    end = np.empty((point_count, 2), dtype=np.int32)
    for p in range(len(points)):
        for k in range(2):
            v = points[p, k]
            if degree[v] < 2:
                end[v, degree[v]] = 2 * p + k
            degree[v] += 1
    start = np.zeros(len(points) + 1, dtype=np.int32)
    piece = np.empty(len(points), dtype=np.int32)
    way = np.empty(len(points), dtype=np.int32)
    is_done = np.zeros(len(points), dtype=np.uint8)
    n, count = 0, 0
    for is_closed in range(2):
        for p in range(len(points)):
            for k in range(2):
                if is_done[p] == 1 or (is_closed == 0 and degree[points[p, k]] == 2):
                    continue
                here = 2 * p + k
                while is_done[here >> 1] == 0:
                    is_done[here >> 1] = 1
                    piece[n], way[n] = here >> 1, 1 - 2 * (here & 1)
                    n += 1
                    v = points[here >> 1, 1 - (here & 1)]
                    if degree[v] != 2:
                        break
                    here = end[v, 0] if end[v, 0] >> 1 != here >> 1 else end[v, 1]
                count += 1
                start[count] = n
    return start[: count + 1], piece, way


@njit(cache=True, nogil=True)
def longest_pieces(chain_start, points, position):
    """Return the (H,) int32 longest piece of each chain, counted along the chains."""
    longest = np.empty(len(chain_start) - 1, dtype=np.int32)
    for h in range(len(longest)):
        most = -1.0
        for p in range(chain_start[h], chain_start[h + 1]):
            dx = position[points[p, 1], 0] - position[points[p, 0], 0]
            dy = position[points[p, 1], 1] - position[points[p, 0], 1]
            if dx * dx + dy * dy > most:
                most, longest[h] = dx * dx + dy * dy, p
    return longest


@njit(cache=True, nogil=True)
def disagreement(chain_start, points, position, depth):
    """Return the summed length of chains whose neighbours round a point disagree on a depth.

    Between two chains that follow each other round a point lies one face, which both see.
    This is the proof that the depths belong to one covering; it is 0 but for rounding.
    """
    count = len(chain_start) - 1
    start = np.zeros(len(position) + 1, dtype=np.int32)
    for h in range(count):
        start[points[chain_start[h], 0] + 1] += 1
        start[points[chain_start[h + 1] - 1, 1] + 1] += 1
    for v in range(len(position)):
        start[v + 1] += start[v]
    place = resized(start, len(position), len(position))
    star = np.empty(2 * count, dtype=np.int32)
    angle = np.empty(2 * count)
    for h in range(count):
        for k in range(2):
            p = chain_start[h + k] - k
            v, w = points[p, k], points[p, 1 - k]
            value = np.arctan2(position[w, 1] - position[v, 1], position[w, 0] - position[v, 0])
            j = place[v]
            place[v] += 1
            while j > start[v] and angle[j - 1] > value:
                angle[j], star[j] = angle[j - 1], star[j - 1]
                j -= 1
            angle[j], star[j] = value, 2 * h + k
    total = 0.0
    for v in range(len(position)):
        for i in range(start[v], start[v + 1]):
            here = star[i]
            after = star[start[v] if i + 1 == start[v + 1] else i + 1]
            if depth[here >> 1, here & 1] != depth[after >> 1, 1 - (after & 1)]:
                for p in range(chain_start[here >> 1], chain_start[(here >> 1) + 1]):
                    a, b = points[p, 0], points[p, 1]
                    total += np.hypot(
                        position[a, 0] - position[b, 0], position[a, 1] - position[b, 1]
                    )
    return total
