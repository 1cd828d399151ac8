# mypy: allow-untyped-defs
"""Kernels of a grid over segments, with lines set where the segments are.

Rows and columns are as wide as the segments are sparse, so that a stray island far out costs
nothing. A cell lists every segment that passes it; its reference point carries the winding depth.
Segments are (E, 4) float64 rows x0, y0, x1, y1.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from evenweave.measure.outline.array_kernels import resized, resized_rows, unset


@njit(cache=True, nogil=True)
def locate(lines, value, hint):
    """Return the gap k of ascending lines with lines[k] <= value < lines[k + 1], clamped."""
    last = len(lines) - 2
    if lines[hint] <= value:
        if hint == last or value < lines[hint + 1]:
            return hint
        if hint + 1 == last or value < lines[hint + 2]:
            return hint + 1
        low, high = hint + 2, last + 1
    else:
        if hint == 0:
            return 0
        if lines[hint - 1] <= value:
            return hint - 1
        low, high = 0, hint - 1
    while high - low > 1:
        middle = (low + high) >> 1
        if lines[middle] <= value:
            low = middle
        else:
            high = middle
    return low


@njit(cache=True, nogil=True)
def _columns(segments, e, low, high, pad, columns, hint):
    """Return the first and last column that a segment passes between two heights."""
    x0, y0, x1, y1 = segments[e, 0], segments[e, 1], segments[e, 2], segments[e, 3]
    if y0 > y1:
        x0, y0, x1, y1 = x1, y1, x0, y0
    if y1 - y0 > 4 * pad:
        slope = (x1 - x0) / (y1 - y0)
        if low - pad > y0:
            x0 = x0 + (low - pad - y0) * slope
        if high + pad < y1:
            x1 = x1 - (y1 - high - pad) * slope
    first = locate(columns, min(x0, x1) - pad, hint)
    return first, locate(columns, max(x0, x1) + pad, first)


@njit(cache=True, nogil=True)
def spans(segments, columns, rows, pad, room):
    """Return (S, 4) int32 segment, row, first and last column, ascending by segment.

    Segments that pass more than `room` rows in all: none are returned.
    """
    result = np.empty((min(room, 3 * len(segments) + 64), 4), dtype=np.int32)
    n, row, column = 0, 0, 0
    for e in range(len(segments)):
        y0, y1 = segments[e, 1], segments[e, 3]
        row = locate(rows, min(y0, y1) - pad, row)
        top = locate(rows, max(y0, y1) + pad, row)
        needed = n + top - row + 1
        if needed > room:
            return result[:0]
        if needed > len(result):
            result = resized_rows(result, n, min(room, max(needed, 2 * len(result))))
        for r in range(row, top + 1):
            first, last = _columns(segments, e, rows[r], rows[r + 1], pad, columns, column)
            result[n, 0], result[n, 1], result[n, 2], result[n, 3] = e, r, first, last
            column = first
            n += 1
    return result[:n]


@njit(cache=True, nogil=True)
def cell_counts(span, column_count, row_count):
    """Return (cells + 1,) int64 with the number of segments of cell k at k + 1."""
    counts = np.zeros(column_count * row_count + 1, dtype=np.int64)
    for s in range(len(span)):
        base = span[s, 1] * column_count + 1
        for c in range(span[s, 2], span[s, 3] + 1):
            counts[base + c] += 1
    return counts


@njit(cache=True, nogil=True)
def cell_lists(span, cell_start, column_count):
    """Return the (N,) int32 segments of all cells, those of one cell together."""
    place = resized(cell_start, len(cell_start) - 1, len(cell_start) - 1)
    result = np.empty(cell_start[-1], dtype=np.int32)
    for s in range(len(span)):
        base = span[s, 1] * column_count
        for c in range(span[s, 2], span[s, 3] + 1):
            result[place[base + c]] = span[s, 0]
            place[base + c] += 1
    return result


@njit(cache=True, nogil=True)
def reference_depths(segments, weight, span, columns, reference_x, reference_y):
    """Return the (rows * columns,) int32 winding depth at each cell's reference point."""
    column_count = len(reference_x)
    depth = np.zeros(len(reference_y) * column_count, dtype=np.int32)
    column = 0
    for s in range(len(span)):
        e, r = span[s, 0], span[s, 1]
        y = reference_y[r]
        up = segments[e, 1] <= y
        if up == (segments[e, 3] <= y):
            continue
        x = across(segments, e, y)
        column = locate(columns, x, column)
        c = column if x <= reference_x[column] else column + 1
        if c < column_count:
            depth[r * column_count + c] += -weight[e] if up else weight[e]
    for r in range(len(reference_y)):
        for c in range(1, column_count):
            depth[r * column_count + c] += depth[r * column_count + c - 1]
    return depth


@njit(cache=True, nogil=True)
def across(segments, e, y):
    """Return the x at which segment e, which is not horizontal, has height y."""
    share = (y - segments[e, 1]) / (segments[e, 3] - segments[e, 1])
    return segments[e, 0] + share * (segments[e, 2] - segments[e, 0])


@njit(cache=True, nogil=True)
def along(segments, e, x):
    """Return the y at which segment e, which is not vertical, has abscissa x."""
    share = (x - segments[e, 0]) / (segments[e, 2] - segments[e, 0])
    return segments[e, 1] + share * (segments[e, 3] - segments[e, 1])


@njit(cache=True, nogil=True)
def segments_of(uv, start, end, edge_island, is_kept, origin):
    """Return the edges of the islands that are kept as segments about an origin.

    (E, 4) float64 segment, (E, 2) int32 ends, (E,) float64 length, (E,) int32 number among all
    edges, and (N, 2) float64 the points that the ends number.
    """
    count = 0
    for e in range(len(start)):
        count += is_kept[edge_island[e]]
    segment = np.empty((count, 4))
    ends = np.empty((count, 2), dtype=np.int32)
    length = np.empty(count)
    edge = np.empty(count, dtype=np.int32)
    number = unset(len(uv))
    point = np.empty((2 * count, 2))
    n, points = 0, 0
    for e in range(len(start)):
        if is_kept[edge_island[e]] == 0:
            continue
        for k in range(2):
            v = start[e] if k == 0 else end[e]
            x, y = uv[v, 0] - origin[0], uv[v, 1] - origin[1]
            if number[v] < 0:
                number[v] = points
                point[points, 0], point[points, 1] = x, y
                points += 1
            ends[n, k] = number[v]
            segment[n, 2 * k], segment[n, 2 * k + 1] = x, y
        length[n] = np.sqrt(
            (segment[n, 2] - segment[n, 0]) ** 2 + (segment[n, 3] - segment[n, 1]) ** 2
        )
        edge[n] = e
        n += 1
    return segment, ends, length, edge, point[:points]
