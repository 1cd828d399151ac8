# mypy: allow-untyped-defs
"""Kernels for the room between islands: a tree of boxes round short runs of outline.

Runs hold up to `RUN` pieces of one island in one tile. The tree is complete and binary, node n
has the children 2n and 2n + 1; a node knows its box, and its island and tile where all below
agree (-1 where they differ, -2 where it is empty).
"""

from __future__ import annotations

import numpy as np
from numba import njit

RUN = 8
MIXED, EMPTY = -1, -2
_TIE = 1e-12


@njit(cache=True, nogil=True)
def count_parts(piece_xy, longest):
    """Return into how many parts `split_slanted` splits pieces."""
    parts = 0
    for n in range(len(piece_xy)):
        parts += _parts(piece_xy, n, longest)
    return parts


@njit(cache=True, nogil=True)
def split_slanted(piece_xy, longest):
    """Split long slanted pieces, whose boxes would be mostly empty.

    longest : how far a part may run along both axes, texels.
    Returns (M, 4) float64 parts and the (M,) int32 piece of each.
    """
    parts = count_parts(piece_xy, longest)
    part_xy = np.empty((parts, 4))
    part_piece = np.empty(parts, dtype=np.int32)
    m = 0
    for n in range(len(piece_xy)):
        count = _parts(piece_xy, n, longest)
        dx, dy = piece_xy[n, 2] - piece_xy[n, 0], piece_xy[n, 3] - piece_xy[n, 1]
        for k in range(count):
            part_xy[m, 0] = piece_xy[n, 0] + dx * (k / count)
            part_xy[m, 1] = piece_xy[n, 1] + dy * (k / count)
            part_xy[m, 2] = piece_xy[n, 0] + dx * ((k + 1) / count)
            part_xy[m, 3] = piece_xy[n, 1] + dy * ((k + 1) / count)
            part_piece[m] = n
            m += 1
        part_xy[m - 1, 2], part_xy[m - 1, 3] = piece_xy[n, 2], piece_xy[n, 3]
    return part_xy, part_piece


@njit(cache=True, nogil=True)
def _parts(piece_xy, n, longest):
    across = abs(piece_xy[n, 2] - piece_xy[n, 0])
    up = abs(piece_xy[n, 3] - piece_xy[n, 1])
    return max(1, int(np.ceil(min(across, up) / longest)))


@njit(cache=True, nogil=True)
def _spread(value):
    """Return the bits of a number below 4096 with a gap after each."""
    value = (value | (value << 8)) & 0x00FF00FF
    value = (value | (value << 4)) & 0x0F0F0F0F
    value = (value | (value << 2)) & 0x33333333
    return (value | (value << 1)) & 0x55555555


@njit(cache=True, nogil=True)
def curve_position(x, y, size):
    """Return how far along a Z-shaped curve through the tile a place lies, below 2**24."""
    column = min(max(int(x / size[0] * 4096.0), 0), 4095)
    row = min(max(int(y / size[1] * 4096.0), 0), 4095)
    return _spread(np.int64(column)) | (_spread(np.int64(row)) << 1)


@njit(cache=True, nogil=True)
def piece_keys(piece_xy, piece_owner, size):
    """Return (N,) int64: sorted by these, pieces of one owner and place are neighbours."""
    keys = np.empty(len(piece_xy), dtype=np.int64)
    for n in range(len(piece_xy)):
        x = 0.5 * (piece_xy[n, 0] + piece_xy[n, 2])
        y = 0.5 * (piece_xy[n, 1] + piece_xy[n, 3])
        keys[n] = (np.int64(piece_owner[n]) << 24) | curve_position(x, y, size)
    return keys


@njit(cache=True, nogil=True)
def make_runs(piece_owner):
    """Return (R + 1,) int32 starts of runs of at most `RUN` pieces of one owner."""
    start = np.empty(len(piece_owner) + 1, dtype=np.int32)
    runs = 0
    for n in range(len(piece_owner)):
        if n == 0 or piece_owner[n] != piece_owner[n - 1] or n - start[runs - 1] == RUN:
            start[runs] = n
            runs += 1
    start[runs] = len(piece_owner)
    return start[: runs + 1].copy()


@njit(cache=True, nogil=True)
def run_boxes(piece_xy, run_start):
    """Return (R, 4) float64 x0, y0, x1, y1 of every run."""
    boxes = np.empty((len(run_start) - 1, 4))
    for r in range(len(run_start) - 1):
        boxes[r, 0] = boxes[r, 1] = np.inf
        boxes[r, 2] = boxes[r, 3] = -np.inf
        for n in range(run_start[r], run_start[r + 1]):
            for k in range(2):
                boxes[r, k] = min(boxes[r, k], piece_xy[n, k], piece_xy[n, k + 2])
                boxes[r, k + 2] = max(boxes[r, k + 2], piece_xy[n, k], piece_xy[n, k + 2])
    return boxes


@njit(cache=True, nogil=True)
def run_keys(run_box, run_tile, size):
    """Return (R,) int64 order of the runs along a curve, tile by tile."""
    keys = np.empty(len(run_box), dtype=np.int64)
    for r in range(len(run_box)):
        x, y = 0.5 * (run_box[r, 0] + run_box[r, 2]), 0.5 * (run_box[r, 1] + run_box[r, 3])
        keys[r] = (np.int64(run_tile[r]) << 24) | curve_position(x, y, size)
    return keys


@njit(cache=True, nogil=True)
def build_tree(run_box, run_group, run_tile, order):
    """Return (2L, 4) boxes, (2L,) int32 group and (2L,) int32 tile of the nodes; L leaves."""
    leaves = 1
    while leaves < len(order):
        leaves *= 2
    box = np.empty((2 * leaves, 4))
    for n in range(2 * leaves):
        box[n, 0] = box[n, 1] = np.inf
        box[n, 2] = box[n, 3] = -np.inf
    group = np.full(2 * leaves, EMPTY, dtype=np.int32)
    tile = np.full(2 * leaves, EMPTY, dtype=np.int32)
    for k in range(len(order)):
        for side in range(4):
            box[leaves + k, side] = run_box[order[k], side]
        group[leaves + k] = run_group[order[k]]
        tile[leaves + k] = run_tile[order[k]]
    for n in range(leaves - 1, 0, -1):
        a, b = 2 * n, 2 * n + 1
        for k in range(2):
            box[n, k] = min(box[a, k], box[b, k])
            box[n, k + 2] = max(box[a, k + 2], box[b, k + 2])
        group[n] = group[a] if group[b] == EMPTY or group[a] == group[b] else MIXED
        tile[n] = tile[a] if tile[b] == EMPTY or tile[a] == tile[b] else MIXED
    return box, group, tile


@njit(cache=True, nogil=True)
def _box_gap2(a, n, b, m):
    dx = max(0.0, a[n, 0] - b[m, 2], b[m, 0] - a[n, 2])
    dy = max(0.0, a[n, 1] - b[m, 3], b[m, 1] - a[n, 3])
    return dx * dx + dy * dy


@njit(cache=True, nogil=True)
def _piece_gap2(a, n, b, m):
    """Return the squared gap between the boxes of two pieces."""
    dx = max(
        0.0,
        min(a[n, 0], a[n, 2]) - max(b[m, 0], b[m, 2]),
        min(b[m, 0], b[m, 2]) - max(a[n, 0], a[n, 2]),
    )
    dy = max(
        0.0,
        min(a[n, 1], a[n, 3]) - max(b[m, 1], b[m, 3]),
        min(b[m, 1], b[m, 3]) - max(a[n, 1], a[n, 3]),
    )
    return dx * dx + dy * dy


@njit(cache=True, nogil=True)
def _nearest_on(x, y, x0, y0, x1, y1):
    """Return the point of a piece nearest to (x, y) and its squared distance."""
    dx, dy = x1 - x0, y1 - y0
    length2 = dx * dx + dy * dy
    t = ((x - x0) * dx + (y - y0) * dy) / length2 if length2 > 0.0 else 0.0
    if t <= 0.0:
        px, py = x0, y0
    elif t >= 1.0:
        px, py = x1, y1
    else:
        px, py = x0 + t * dx, y0 + t * dy
    return px, py, (px - x) * (px - x) + (py - y) * (py - y)


@njit(cache=True, nogil=True)
def closest(ax, ay, bx, by, cx, cy, dx, dy):
    """Return the squared distance of the pieces a-b and c-d and the nearest point on each.

    Where parallel pieces are equally near all along, the middle of that stretch.
    """
    abx, aby, cdx, cdy = bx - ax, by - ay, dx - cx, dy - cy
    c_side, d_side = abx * (cy - ay) - aby * (cx - ax), abx * (dy - ay) - aby * (dx - ax)
    a_side, b_side = cdx * (ay - cy) - cdy * (ax - cx), cdx * (by - cy) - cdy * (bx - cx)
    if ((c_side > 0.0 and d_side < 0.0) or (c_side < 0.0 and d_side > 0.0)) and (
        (a_side > 0.0 and b_side < 0.0) or (a_side < 0.0 and b_side > 0.0)
    ):
        t = a_side / (a_side - b_side)
        x, y = ax + t * abx, ay + t * aby
        return 0.0, x, y, x, y
    best, mx, my, nx, ny, ties = np.inf, 0.0, 0.0, 0.0, 0.0, 0
    for k in range(4):
        if k < 2:
            fx, fy = (ax, ay) if k == 0 else (bx, by)
            tx, ty, gap = _nearest_on(fx, fy, cx, cy, dx, dy)
        else:
            tx, ty = (cx, cy) if k == 2 else (dx, dy)
            fx, fy, gap = _nearest_on(tx, ty, ax, ay, bx, by)
        if gap < best * (1.0 - _TIE):
            mx, my, nx, ny, ties = fx, fy, tx, ty, 1
        elif gap <= best * (1.0 + _TIE):
            mx, my, nx, ny, ties = mx + fx, my + fy, nx + tx, ny + ty, ties + 1
        best = min(best, gap)
    return best, mx / ties, my / ties, nx / ties, ny / ties


@njit(cache=True, nogil=True)
def _compare_runs(piece_xy, run_start, run_box, mine, other, best, points):
    """Lower `best` to the squared gap of two runs; fill `points` where it became less."""
    work = 0
    for n in range(run_start[mine], run_start[mine + 1]):
        for m in range(run_start[other], run_start[other + 1]):
            work += 1
            if _piece_gap2(piece_xy, n, piece_xy, m) >= best:
                continue
            gap, ax, ay, bx, by = closest(
                piece_xy[n, 0], piece_xy[n, 1], piece_xy[n, 2], piece_xy[n, 3],
                piece_xy[m, 0], piece_xy[m, 1], piece_xy[m, 2], piece_xy[m, 3],
            )  # fmt: skip
            work += 12
            if gap < best:
                best = gap
                points[0], points[1], points[2], points[3] = ax, ay, bx, by
    return best, work


@njit(cache=True, nogil=True)
def nearest_others(
    piece_xy, run_start, run_box, run_group, run_tile, order, node_box, node_group, node_tile,
    best, other, points, points_tile, touching, budget,
):  # fmt: skip
    """Find the nearest other group of every group, in its own tile.

    best : (G,) squared distances to beat, lowered; 0 is left alone. other : (G,) int32,
    points : (G, 4) float64 x, y on this and on the other, points_tile : (G,) int32 are filled.
    touching : squared distances below this are 0; budget : work allowed, in box comparisons.
    Returns whether the budget sufficed.
    """
    leaves = len(node_box) // 2
    stack = np.empty(128, dtype=np.int64)
    found = np.empty(4)
    work = 0
    for run in range(len(run_box)):
        g, tile = run_group[run], run_tile[run]
        if best[g] == 0.0 or node_group[1] == g:
            continue
        stack[0] = 1
        depth = 1
        while depth > 0:
            depth -= 1
            node = stack[depth]
            work += 5
            if _box_gap2(run_box, run, node_box, node) >= best[g]:
                continue
            if node >= leaves:
                leaf = order[node - leaves]
                gap, spent = _compare_runs(piece_xy, run_start, run_box, run, leaf, best[g], found)
                work += spent
                if gap < best[g]:
                    best[g] = 0.0 if gap < touching else gap
                    other[g] = run_group[leaf]
                    for k in range(4):
                        points[g, k] = found[k]
                    points_tile[g] = tile
                continue
            near, far = 2 * node, 2 * node + 1
            if _box_gap2(run_box, run, node_box, far) < _box_gap2(run_box, run, node_box, near):
                near, far = far, near
            for child in (far, near):
                if (
                    node_group[child] != g
                    and node_group[child] != EMPTY
                    and (node_tile[child] == tile or node_tile[child] == MIXED)
                ):
                    stack[depth] = child
                    depth += 1
        if work > budget:
            return False
    return True


@njit(cache=True, nogil=True)
def extremes(uv, line, start):
    """Return (I, 4, 2) float64: the points of each island farthest left, down, right and up."""
    islands = len(start) - 1
    points = np.empty((islands, 4, 2))
    for i in range(islands):
        for k in range(4):
            points[i, k] = uv[line[start[i], 0]]
        for s in range(start[i], start[i + 1]):
            for end in range(2):
                u, v = uv[line[s, end], 0], uv[line[s, end], 1]
                if u < points[i, 0, 0]:
                    points[i, 0, 0], points[i, 0, 1] = u, v
                if v < points[i, 1, 1]:
                    points[i, 1, 0], points[i, 1, 1] = u, v
                if u > points[i, 2, 0]:
                    points[i, 2, 0], points[i, 2, 1] = u, v
                if v > points[i, 3, 1]:
                    points[i, 3, 0], points[i, 3, 1] = u, v
    return points
