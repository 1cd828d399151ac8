# mypy: allow-untyped-defs
"""Kernels that fill triangles over texel centres.

A texel is covered when its centre lies inside; a centre exactly on an edge belongs to what lies
to the right of it or above, so that triangles sharing an edge never cover a texel twice.
Along the edge both triangles compute the same crossing, to the last bit.
"""

from __future__ import annotations

import numpy as np
from numba import njit


@njit(cache=True, nogil=True)
def texel_corners(triangle_uv, uv, corner, size):
    """Return the (K, 3, 2) float64 corners of triangles in texels from a tile's lower left.

    triangle_uv : (K, 3) rows of `uv`; corner : (column, row) of the tile; size : of a tile.
    """
    xy = np.empty((len(triangle_uv), 3, 2))
    for t in range(len(triangle_uv)):
        for k in range(3):
            xy[t, k, 0] = (uv[triangle_uv[t, k], 0] - corner[0]) * size[0]
            xy[t, k, 1] = (uv[triangle_uv[t, k], 1] - corner[1]) * size[1]
    return xy


@njit(cache=True, nogil=True)
def row_span(xy, t, y):
    """Return between which two x triangle t crosses the height y; two infinities if it misses."""
    left, right = np.inf, -np.inf
    for k in range(3):
        a, b = k, (k + 1) % 3
        if xy[t, a, 1] > xy[t, b, 1]:
            a, b = b, a
        if xy[t, a, 1] <= y < xy[t, b, 1]:
            slope = (xy[t, b, 0] - xy[t, a, 0]) / (xy[t, b, 1] - xy[t, a, 1])
            x = xy[t, a, 0] + (y - xy[t, a, 1]) * slope
            left, right = min(left, x), max(right, x)
    return left, right


@njit(cache=True, nogil=True)
def centre_at_or_after(x, most):
    """Return the first texel whose centre is at x or beyond it, within 0 to `most`."""
    return int(min(max(np.ceil(x - 0.5), 0.0), float(most)))


@njit(cache=True, nogil=True)
def fill_texels(xy, mask):
    """Set the covered texels of an empty (rows, columns) uint8 mask to 1; return their number."""
    rows, columns = mask.shape
    covered = 0
    for t in range(len(xy)):
        if covered == rows * columns:
            break
        low = min(xy[t, 0, 1], xy[t, 1, 1], xy[t, 2, 1])
        high = max(xy[t, 0, 1], xy[t, 1, 1], xy[t, 2, 1])
        for row in range(centre_at_or_after(low, rows), centre_at_or_after(high, rows)):
            left, right = row_span(xy, t, row + 0.5)
            if left < right:
                for x in range(
                    centre_at_or_after(left, columns), centre_at_or_after(right, columns)
                ):
                    covered += 1 - mask[row, x]
                    mask[row, x] = 1
    return covered


@njit(cache=True, nogil=True)
def draw_islands(xy, triangle_island, picture):
    """Write islands into the covered texels of a (rows, columns) picture; -2 where several."""
    rows, columns = picture.shape
    for t in range(len(xy)):
        low = min(xy[t, 0, 1], xy[t, 1, 1], xy[t, 2, 1])
        high = max(xy[t, 0, 1], xy[t, 1, 1], xy[t, 2, 1])
        for row in range(centre_at_or_after(low, rows), centre_at_or_after(high, rows)):
            left, right = row_span(xy, t, row + 0.5)
            if left < right:
                for x in range(
                    centre_at_or_after(left, columns), centre_at_or_after(right, columns)
                ):
                    held = picture[row, x]
                    if held == -1:
                        picture[row, x] = triangle_island[t]
                    elif held != triangle_island[t]:
                        picture[row, x] = -2


@njit(cache=True, nogil=True)
def count_in_tiles(triangle_uv, uv, tile_slot, far):
    """Return per tile in use the (K + 1,) int64 starts of the triangles that reach into it.

    tile_slot : (rows, columns) int32 slot of each tile from -far to far, -1 where not in use.
    """
    slots = tile_slot.max() + 1 if tile_slot.size else 0
    start = np.zeros(slots + 1, dtype=np.int64)
    for t in range(len(triangle_uv)):
        c0, c1, r0, r1 = _tile_range(triangle_uv, uv, t, far)
        for row in range(r0, r1 + 1):
            for column in range(c0, c1 + 1):
                slot = tile_slot[row + far, column + far]
                if slot >= 0:
                    start[slot + 1] += 1
    for k in range(slots):
        start[k + 1] += start[k]
    return start


@njit(cache=True, nogil=True)
def sort_into_tiles(triangle_uv, uv, tile_slot, far, start):
    """Return (start[-1],) int32 triangles, grouped by the tiles they reach into."""
    at = start.copy()
    members = np.empty(start[-1], dtype=np.int32)
    for t in range(len(triangle_uv)):
        c0, c1, r0, r1 = _tile_range(triangle_uv, uv, t, far)
        for row in range(r0, r1 + 1):
            for column in range(c0, c1 + 1):
                slot = tile_slot[row + far, column + far]
                if slot >= 0:
                    members[at[slot]] = t
                    at[slot] += 1
    return members


@njit(cache=True, nogil=True)
def _tile_range(triangle_uv, uv, t, far):
    """Return the columns and rows of tiles a triangle's box reaches into."""
    a, b, c = triangle_uv[t, 0], triangle_uv[t, 1], triangle_uv[t, 2]
    u0, u1 = min(uv[a, 0], uv[b, 0], uv[c, 0]), max(uv[a, 0], uv[b, 0], uv[c, 0])
    v0, v1 = min(uv[a, 1], uv[b, 1], uv[c, 1]), max(uv[a, 1], uv[b, 1], uv[c, 1])
    return (
        int(max(np.floor(u0), -far)),
        int(min(np.ceil(u1) - 1, far)),
        int(max(np.floor(v0), -far)),
        int(min(np.ceil(v1) - 1, far)),
    )
