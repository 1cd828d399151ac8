# mypy: allow-untyped-defs
"""Kernels for how often each side of a piece is covered.

The way from a cell's reference point, whose depth is known, to the middle of a piece runs along
the axes and ends square to the piece as nearly as they allow. Every segment crossed on the way
changes the depth. The segments that contain the piece itself are met only at its middle, so that
both sides follow without stepping off the piece by some small distance. A way that runs just
through a point or along a segment is taken to run infinitesimally above and to the right of it.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from evenweave.measure.overlap.grid_kernels import across, along, locate


@njit(cache=True, nogil=True)
def _change_across(segments, e, y, x0, x1):
    """Return the change of winding on the way along y from x0 to x1 caused by a segment."""
    up = segments[e, 1] <= y
    if up == (segments[e, 3] <= y):
        return 0
    x = across(segments, e, y)
    if (x <= x0) == (x <= x1):
        return 0
    return -1 if up == (x1 > x0) else 1


@njit(cache=True, nogil=True)
def _change_along(segments, e, x, y0, y1):
    """Return the change of winding on the way along x from y0 to y1 caused by a segment."""
    right = segments[e, 0] <= x
    if right == (segments[e, 2] <= x):
        return 0
    y = along(segments, e, x)
    if (y <= y0) == (y <= y1):
        return 0
    return 1 if right == (y1 > y0) else -1


@njit(cache=True, nogil=True)
def way_change(segments, e, way, is_own):
    """Return the change of winding on the way (x0, y0, x1, y1, 1 if the last leg is level).

    A piece's own segments (`is_own`) are not met on the last leg, which ends on them.
    """
    x0, y0, x1, y1 = way[0], way[1], way[2], way[3]
    if way[4] > 0:
        change = _change_along(segments, e, x0, y0, y1)
        return change if is_own else change + _change_across(segments, e, y1, x0, x1)
    change = _change_across(segments, e, y0, x0, x1)
    return change if is_own else change + _change_along(segments, e, x1, y0, y1)


@njit(cache=True, nogil=True)
def set_way(way, position, start, end, x, y):
    """Set the way from a reference point to the middle of a piece between two points.

    Returns whether it arrives on the left of the piece.
    """
    x0, y0, x1, y1 = position[start, 0], position[start, 1], position[end, 0], position[end, 1]
    dx, dy = x1 - x0, y1 - y0
    way[0], way[1], way[2], way[3] = x, y, (x0 + x1) / 2, (y0 + y1) / 2
    if abs(dy) >= abs(dx):
        way[4] = 1.0
        return (dy > 0) == (x < way[2])
    way[4] = 0.0
    return (dx > 0) == (y > way[3])


@njit(cache=True, nogil=True)
def middle_cells(points, position, columns, rows):
    """Return the (P,) int32 cell that holds the middle of each piece."""
    cell = np.empty(len(points), dtype=np.int32)
    column, row = 0, 0
    for p in range(len(points)):
        a, b = points[p, 0], points[p, 1]
        column = locate(columns, (position[a, 0] + position[b, 0]) / 2, column)
        row = locate(rows, (position[a, 1] + position[b, 1]) / 2, row)
        cell[p] = row * (len(columns) - 1) + column
    return cell


@njit(cache=True, nogil=True)
def side_depths(
    points, position, net, own_start, own_segment, segments, weight, cell, cell_start,
    cell_segment, reference_x, reference_y, reference_depth,
):  # fmt: skip
    """Return the (P, 2) int32 winding depth on the left and on the right of each piece.

    points : (P, 2) int32 ends; position : (N, 2); net : (P,) depth on the left minus the right
    own_start : (P + 1,) and own_segment : the segments that contain each piece
    """
    depth = np.empty((len(points), 2), dtype=np.int32)
    way = np.empty(5)
    for p in range(len(points)):
        c = cell[p]
        is_left = set_way(
            way, position, points[p, 0], points[p, 1],
            reference_x[c % len(reference_x)], reference_y[c // len(reference_x)],
        )  # fmt: skip
        total = reference_depth[c]
        for i in range(cell_start[c], cell_start[c + 1]):
            e = cell_segment[i]
            is_own = False
            for k in range(own_start[p], own_start[p + 1]):
                is_own |= own_segment[k] == e
            total += weight[e] * way_change(segments, e, way, is_own)
        depth[p, 0] = total if is_left else total + net[p]
        depth[p, 1] = total - net[p] if is_left else total
    return depth
