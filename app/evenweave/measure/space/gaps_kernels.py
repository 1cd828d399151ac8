# mypy: allow-untyped-defs
"""Kernels for the room between islands, found in a tree of boxes round runs of outline."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit

from evenweave.measure.space.runs_kernels import EMPTY, MIXED

_TIE = 1e-12


class Nearest(NamedTuple):
    """What is nearest to each group.

    gap2 : (G,) squared distances to beat, lowered; 0 is left alone
    other : (G,) int32, points : (G, 4) float64 x, y on this and on the other, tile : (G,) int32
    """

    gap2: np.ndarray
    other: np.ndarray
    points: np.ndarray
    tile: np.ndarray


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
def nearest_others(runs, tree, nearest, touching, budget):
    """Find the nearest other group of every group, in its own tile; lowers and fills `nearest`.

    touching : squared distances below this are 0; budget : work allowed, in box comparisons.
    Returns whether the budget sufficed.
    """
    piece_xy, run_start, run_box, run_group, run_tile = runs
    order, node_box, node_group, node_tile = tree
    best, other, points, points_tile = nearest
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
