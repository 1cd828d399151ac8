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
def _place(xy, triangle, corner_uv, uv, grid):
    """Fill (3, 3) with the corners of a triangle, lowest first, and the slopes from each upward.

    Each row is x, y in texels from a tile's lower left and dx / dy of the side to the next row,
    of the last row that of the side from the first.
    """
    column, row, width, height = grid
    for k in range(3):
        point = corner_uv[triangle[k]]
        x, y = (uv[point, 0] - column) * width, (uv[point, 1] - row) * height
        n = k
        while n > 0 and xy[n - 1, 1] > y:
            xy[n, 0], xy[n, 1] = xy[n - 1, 0], xy[n - 1, 1]
            n -= 1
        xy[n, 0], xy[n, 1] = x, y
    for k in range(3):
        low, high = (k, k + 1) if k < 2 else (0, 2)
        rise = xy[high, 1] - xy[low, 1]
        xy[k, 2] = (xy[high, 0] - xy[low, 0]) / rise if rise > 0.0 else 0.0


@njit(cache=True, nogil=True)
def _row_span(xy, y):
    """Return between which two x a triangle crosses a height y that is on it."""
    one = xy[0, 0] + (y - xy[0, 1]) * xy[2, 2]
    k = 0 if y < xy[1, 1] else 1
    other = xy[k, 0] + (y - xy[k, 1]) * xy[k, 2]
    return min(one, other), max(one, other)


@njit(cache=True, nogil=True)
def _centre_from(x, most):
    """Return the first texel whose centre is at x or beyond it, within 0 to `most`."""
    return int(min(max(np.ceil(x - 0.5), 0.0), float(most)))


@njit(cache=True, nogil=True)
def fill_texels(triangles, triangle_corner, corner_uv, uv, grid, mask):
    """Set the covered texels of an empty (rows, columns) uint8 mask to 1; return their number.

    triangles : (K,) int32 those to fill; grid : (column, row) of the tile, (width, height) of it.
    """
    rows, columns = mask.shape
    covered = 0
    xy = np.empty((3, 3))
    for n in range(len(triangles)):
        if covered == rows * columns:
            break
        _place(xy, triangle_corner[triangles[n]], corner_uv, uv, grid)
        for row in range(_centre_from(xy[0, 1], rows), _centre_from(xy[2, 1], rows)):
            left, right = _row_span(xy, row + 0.5)
            for x in range(_centre_from(left, columns), _centre_from(right, columns)):
                covered += 1 - mask[row, x]
                mask[row, x] = 1
    return covered


@njit(cache=True, nogil=True)
def draw_islands(triangle_island, triangle_corner, corner_uv, uv, grid, picture):
    """Write islands into the covered texels of a (rows, columns) picture; -2 where several."""
    rows, columns = picture.shape
    xy = np.empty((3, 3))
    for t in range(len(triangle_corner)):
        island = triangle_island[t]
        _place(xy, triangle_corner[t], corner_uv, uv, grid)
        for row in range(_centre_from(xy[0, 1], rows), _centre_from(xy[2, 1], rows)):
            left, right = _row_span(xy, row + 0.5)
            for x in range(_centre_from(left, columns), _centre_from(right, columns)):
                if picture[row, x] == -1:
                    picture[row, x] = island
                elif picture[row, x] != island:
                    picture[row, x] = -2


@njit(cache=True, nogil=True)
def count_work(triangle_corner, corner_uv, uv, size, most):
    """Return about how many texels filling all triangles visits.

    most : tiles that a triangle can fill at most. A row costs as much as eight texels.
    """
    xy = np.empty((3, 3))
    work = 0.0
    for t in range(len(triangle_corner)):
        _place(xy, triangle_corner[t], corner_uv, uv, (0.0, 0.0, size[0], size[1]))
        area = (xy[1, 0] - xy[0, 0]) * (xy[2, 1] - xy[0, 1])
        area -= (xy[2, 0] - xy[0, 0]) * (xy[1, 1] - xy[0, 1])
        rows = min(xy[2, 1] - xy[0, 1], most * size[1])
        work += min(0.5 * abs(area), most * size[0] * size[1]) + 8.0 * rows
    return work


@njit(cache=True, nogil=True)
def count_in_tiles(triangle_corner, corner_uv, uv, tile_slot):
    """Return per tile in use the (K + 1,) int64 starts of the triangles that reach into it.

    tile_slot : (201, 201) int32 slot of each tile by row and column, -100 first; -1 if not in use.
    """
    far = tile_slot.shape[0] // 2
    slots = 0
    for row in range(tile_slot.shape[0]):
        for column in range(tile_slot.shape[1]):
            slots = max(slots, tile_slot[row, column] + 1)
    start = np.zeros(slots + 1, dtype=np.int64)
    for t in range(len(triangle_corner)):
        c0, c1, r0, r1 = _tile_range(triangle_corner[t], corner_uv, uv, far)
        for row in range(r0, r1 + 1):
            for column in range(c0, c1 + 1):
                slot = tile_slot[row + far, column + far]
                if slot >= 0:
                    start[slot + 1] += 1
    for k in range(slots):
        start[k + 1] += start[k]
    return start


@njit(cache=True, nogil=True)
def sort_into_tiles(triangle_corner, corner_uv, uv, tile_slot, start):
    """Return (start[-1],) int32 triangles, grouped by the tiles they reach into."""
    far = tile_slot.shape[0] // 2
    at = start.copy()
    members = np.empty(start[-1], dtype=np.int32)
    for t in range(len(triangle_corner)):
        c0, c1, r0, r1 = _tile_range(triangle_corner[t], corner_uv, uv, far)
        for row in range(r0, r1 + 1):
            for column in range(c0, c1 + 1):
                slot = tile_slot[row + far, column + far]
                if slot >= 0:
                    members[at[slot]] = t
                    at[slot] += 1
    return members


@njit(cache=True, nogil=True)
def _tile_range(triangle, corner_uv, uv, far):
    """Return the columns and rows of tiles a triangle's box reaches into."""
    a, b, c = corner_uv[triangle[0]], corner_uv[triangle[1]], corner_uv[triangle[2]]
    u0, u1 = min(uv[a, 0], uv[b, 0], uv[c, 0]), max(uv[a, 0], uv[b, 0], uv[c, 0])
    v0, v1 = min(uv[a, 1], uv[b, 1], uv[c, 1]), max(uv[a, 1], uv[b, 1], uv[c, 1])
    return (
        int(max(np.floor(u0), -far)),
        int(min(np.ceil(u1) - 1, far)),
        int(max(np.floor(v0), -far)),
        int(min(np.ceil(v1) - 1, far)),
    )
