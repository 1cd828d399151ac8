# mypy: allow-untyped-defs
"""Kernels that cut lines where they pass from one tile to the next."""

from __future__ import annotations

import numpy as np
from numba import njit

FAR_TILES = 100
"""Tiles farther than this from the tile 0-1 are left out: nobody paints there."""

_ACROSS = 2 * FAR_TILES + 1


@njit(cache=True, nogil=True)
def tile_number(column, row):
    """Return one number for a tile at -100 to 100 each way."""
    return (row + FAR_TILES) * _ACROSS + column + FAR_TILES


@njit(cache=True, nogil=True)
def _lines_between(a, b):
    low = max(min(a, b), -float(FAR_TILES))
    high = min(max(a, b), float(FAR_TILES + 1))
    return max(0, int(np.ceil(high)) - int(np.floor(low)) - 1) if high > low else 0


@njit(cache=True, nogil=True)
def count_pieces(uv, line):
    """Return how many pieces cutting may yield at most."""
    total = 0
    for s in range(len(line)):
        a, b = line[s, 0], line[s, 1]
        total += 1 + _lines_between(uv[a, 0], uv[b, 0]) + _lines_between(uv[a, 1], uv[b, 1])
    return total


@njit(cache=True, nogil=True)
def _near_part(u0, v0, u1, v1):
    """Return the parameters between which a line runs in the tiles that are not too far."""
    start, end = 0.0, 1.0
    for axis in range(2):
        a = u0 if axis == 0 else v0
        b = u1 if axis == 0 else v1
        low, high = -float(FAR_TILES), float(FAR_TILES + 1)
        if a == b:
            if a < low or a > high:
                return 1.0, 0.0
            continue
        enter, leave = (low - a) / (b - a), (high - a) / (b - a)
        start = max(start, min(enter, leave))
        end = min(end, max(enter, leave))
    return start, end


@njit(cache=True, nogil=True)
def _column(a, b, inward):
    """Return the tile, along one axis, of a piece between a and b; on a tile's edge, inwards."""
    low = min(a, b)
    column = int(np.floor(low))
    if a == b and low == column and inward < 0.0:
        column -= 1
    return column


@njit(cache=True, nogil=True)
def _next_line(now, end):
    """Return the next whole number on the way, or infinity when none comes before the end."""
    if end > now:
        line = np.floor(now) + 1.0
        return line if line < end else np.inf
    if end < now:
        line = np.ceil(now) - 1.0
        return line if line > end else np.inf
    return np.inf


@njit(cache=True, nogil=True)
def cut(uv, line, side, start, size, pieces):
    """Cut lines at the edges of tiles.

    size : (width, height) of a tile; pieces : upper bound of their number.
    Returns (N, 4) float64 x0, y0, x1, y1 from the tile's own lower left corner, (N,) int32
    island, (N,) int8 side and (N,) int32 tile number. Grouped by island, as the lines are.
    """
    piece_xy = np.empty((pieces, 4))
    piece_island = np.empty(pieces, dtype=np.int32)
    piece_side = np.empty(pieces, dtype=np.int8)
    piece_tile = np.empty(pieces, dtype=np.int32)
    width, height = size
    n = 0
    for i in range(len(start) - 1):
        for s in range(start[i], start[i + 1]):
            u0, v0 = uv[line[s, 0], 0], uv[line[s, 0], 1]
            u1, v1 = uv[line[s, 1], 0], uv[line[s, 1], 1]
            first, last = _near_part(u0, v0, u1, v1)
            if first > last:
                continue
            du, dv = u1 - u0, v1 - v0
            ua = u0 + first * du if first > 0.0 else u0
            va = v0 + first * dv if first > 0.0 else v0
            ue = u0 + last * du if last < 1.0 else u1
            ve = v0 + last * dv if last < 1.0 else v1
            is_done = False
            while not is_done:
                next_u, next_v = _next_line(ua, ue), _next_line(va, ve)
                at_u = (next_u - u0) / du if next_u != np.inf else np.inf
                at_v = (next_v - v0) / dv if next_v != np.inf else np.inf
                if at_u == np.inf and at_v == np.inf:
                    ub, vb = ue, ve
                    is_done = True
                else:
                    ub = next_u if at_u <= at_v else u0 + at_v * du
                    vb = next_v if at_v <= at_u else v0 + at_u * dv
                if (ua == ub and va == vb) and not (du == 0.0 and dv == 0.0):
                    continue
                column = _column(ua, ub, -side[s] * dv)
                row = _column(va, vb, side[s] * du)
                if abs(column) <= FAR_TILES and abs(row) <= FAR_TILES:
                    piece_xy[n, 0] = (ua - column) * width
                    piece_xy[n, 1] = (va - row) * height
                    piece_xy[n, 2] = (ub - column) * width
                    piece_xy[n, 3] = (vb - row) * height
                    piece_island[n] = i
                    piece_side[n] = side[s]
                    piece_tile[n] = tile_number(column, row)
                    n += 1
                ua, va = ub, vb
    return piece_xy[:n], piece_island[:n], piece_side[:n], piece_tile[:n]
