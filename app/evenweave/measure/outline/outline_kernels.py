# mypy: allow-untyped-defs
"""Kernels that put each island's outline in order and measure it."""

from __future__ import annotations

import numpy as np
from numba import njit

from evenweave.measure.outline.array_kernels import unset


@njit(cache=True, nogil=True)
def loop_order(start, end, island_start, uv_count):
    """Return the (E,) int32 order in which each island's edges follow one another."""
    order = np.empty(len(start), dtype=np.int32)
    head = unset(uv_count)
    following = unset(len(start))
    is_done = np.zeros(len(start), dtype=np.uint8)
    n = 0
    for i in range(len(island_start) - 1):
        first, last = island_start[i], island_start[i + 1]
        for e in range(last - 1, first - 1, -1):
            following[e] = head[start[e]]
            head[start[e]] = e
        for first_edge in range(first, last):
            e = first_edge
            while e >= 0 and is_done[e] == 0:
                is_done[e] = 1
                order[n] = e
                n += 1
                e = head[end[e]]
                while e >= 0 and is_done[e] == 1:
                    e = following[e]
        for e in range(first, last):
            head[start[e]] = -1
    return order


@njit(cache=True, nogil=True)
def outline_measures(uv, start, end, weight, island_start, width, height):
    """Measure outlines in texels; the edges are in loop order.

    Returns (E, 4) segments about each island's centre of area, (E,) distance of their first
    corners from it, (I, 2) centres, (I, 4) greatest
    distance of a corner from it, square root of the area, larger and smaller radius of
    gyration, and (I,) int32 the edge that begins at the farthest corner (-1: no area).
    """
    islands = len(island_start) - 1
    segments = np.empty((len(start), 4))
    distance = np.zeros(len(start))
    centre = np.zeros((islands, 2))
    size = np.zeros((islands, 4))
    farthest = unset(islands)
    for i in range(islands):
        first, last = island_start[i], island_start[i + 1]
        if first == last:
            continue
        x0, y0 = uv[start[first], 0] * width, uv[start[first], 1] * height
        area, sx, sy, sxx, sxy, syy = 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
        for e in range(first, last):
            ax, ay = uv[start[e], 0] * width - x0, uv[start[e], 1] * height - y0
            bx, by = uv[end[e], 0] * width - x0, uv[end[e], 1] * height - y0
            segments[e, 0], segments[e, 1], segments[e, 2], segments[e, 3] = ax, ay, bx, by
            cross = (ax * by - bx * ay) * weight[e]
            area += cross / 2
            sx += (ax + bx) * cross / 6
            sy += (ay + by) * cross / 6
            sxx += (ax * ax + ax * bx + bx * bx) * cross / 12
            syy += (ay * ay + ay * by + by * by) * cross / 12
            sxy += (2 * ax * ay + ax * by + bx * ay + 2 * bx * by) * cross / 24
        if area <= 0.0:
            continue
        cx, cy = sx / area, sy / area
        centre[i, 0], centre[i, 1] = x0 + cx, y0 + cy
        sxx, syy, sxy = sxx / area - cx * cx, syy / area - cy * cy, sxy / area - cx * cy
        half, spread = (sxx + syy) / 2, np.hypot((sxx - syy) / 2, sxy)
        size[i, 1] = np.sqrt(area)
        size[i, 2] = np.sqrt(max(0.0, half + spread))
        size[i, 3] = np.sqrt(max(0.0, half - spread))
        for e in range(first, last):
            segments[e, 0] -= cx
            segments[e, 2] -= cx
            segments[e, 1] -= cy
            segments[e, 3] -= cy
            distance[e] = np.sqrt(segments[e, 0] ** 2 + segments[e, 1] ** 2)
            if distance[e] > size[i, 0]:
                size[i, 0], farthest[i] = distance[e], e
    return segments, distance, centre, size, farthest
