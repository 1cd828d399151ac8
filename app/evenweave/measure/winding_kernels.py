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

from evenweave.measure.grid_kernels import across, along, locate


@njit(cache=True, nogil=True)
def _change_across(s, y, x0, x1):
    """Return the change of winding on the way along y from x0 to x1 caused by a segment."""
    up = s[1] <= y
    if up == (s[3] <= y):
        return 0
    x = across(s, y)
    if (x <= x0) == (x <= x1):
        return 0
    return -1 if up == (x1 > x0) else 1


@njit(cache=True, nogil=True)
def _change_along(s, x, y0, y1):
    """Return the change of winding on the way along x from y0 to y1 caused by a segment."""
    right = s[0] <= x
    if right == (s[2] <= x):
        return 0
    y = along(s, x)
    if (y <= y0) == (y <= y1):
        return 0
    return 1 if right == (y1 > y0) else -1


@njit(cache=True, nogil=True)
def way_change(s, way, is_own):
    """Return the change of winding on the way (x0, y0, x1, y1, 1 if the last leg is level).

    A piece's own segments (`is_own`) are not met on the last leg, which ends on them.
    """
    x0, y0, x1, y1 = way[0], way[1], way[2], way[3]
    if way[4] > 0:
        change = _change_along(s, x0, y0, y1)
        return change if is_own else change + _change_across(s, y1, x0, x1)
    change = _change_across(s, y0, x0, x1)
    return change if is_own else change + _change_along(s, x1, y0, y1)


@njit(cache=True, nogil=True)
def set_way(way, start, end, x, y):
    """Set the way from a reference point to the middle of a piece from `start` to `end`.

    Returns whether it arrives on the left of the piece.
    """
    dx, dy = end[0] - start[0], end[1] - start[1]
    way[0], way[1] = x, y
    way[2], way[3] = (start[0] + end[0]) / 2, (start[1] + end[1]) / 2
    if abs(dy) >= abs(dx):
        way[4] = 1.0
        return (dy > 0) == (x < way[2])
    way[4] = 0.0
    return (dx > 0) == (y > way[3])


@njit(cache=True, nogil=True)
def piece_cells(points, position, columns, rows):
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
            way, position[points[p, 0]], position[points[p, 1]],
            reference_x[c % len(reference_x)], reference_y[c // len(reference_x)],
        )  # fmt: skip
        total = reference_depth[c]
        for i in range(cell_start[c], cell_start[c + 1]):
            e = cell_segment[i]
            is_own = False
            for k in range(own_start[p], own_start[p + 1]):
                is_own |= own_segment[k] == e
            total += weight[e] * way_change(segments[e], way, is_own)
        depth[p, 0] = total if is_left else total + net[p]
        depth[p, 1] = total - net[p] if is_left else total
    return depth


@njit(cache=True, nogil=True)
def unagreed_length(points, position, depth):
    """Return the summed length of pieces whose neighbours round a point disagree on a depth.

    Between two pieces that follow each other round a point lies one face, which both see.
    This is the proof that the depths belong to one covering; it is 0 but for rounding.
    """
    start = np.zeros(len(position) + 1, dtype=np.int32)
    for p in range(len(points)):
        start[points[p, 0] + 1] += 1
        start[points[p, 1] + 1] += 1
    for v in range(len(position)):
        start[v + 1] += start[v]
    place = start[:-1].copy()
    star = np.empty(2 * len(points), dtype=np.int32)
    for p in range(len(points)):
        for k in range(2):
            v = points[p, k]
            star[place[v]] = 2 * p + k
            place[v] += 1
    angle = np.empty(len(star))
    total = 0.0
    for v in range(len(position)):
        first, last = start[v], start[v + 1]
        if last - first > 2:
            _sort_round(star, angle, first, last, points, position)
        for i in range(first, last):
            here = star[i]
            after = star[first if i + 1 == last else i + 1]
            left = depth[here >> 1, here & 1]
            right = depth[after >> 1, 1 - (after & 1)]
            if left != right:
                a, b = points[here >> 1, 0], points[here >> 1, 1]
                total += np.hypot(position[a, 0] - position[b, 0], position[a, 1] - position[b, 1])
    return total


@njit(cache=True, nogil=True)
def _sort_round(star, angle, first, last, points, position):
    """Sort the pieces at a point by direction, counter-clockwise."""
    for i in range(first, last):
        p, k = star[i] >> 1, star[i] & 1
        v, w = points[p, k], points[p, 1 - k]
        item = star[i]
        value = np.arctan2(position[w, 1] - position[v, 1], position[w, 0] - position[v, 0])
        j = i
        while j > first and angle[j - 1] > value:
            angle[j], star[j] = angle[j - 1], star[j - 1]
            j -= 1
        angle[j], star[j] = value, item
