# mypy: allow-untyped-defs
"""Kernels that count overlap along rows of texel centres."""

from __future__ import annotations

import numpy as np
from numba import njit

from evenweave.measure.outline.array_kernels import ascending, resized_rows, unset

# Columns of what is known of the row so far, and of each island that is present in it.
SHARED, SHARED_FROM, SHARED_TO, PRESENT, LAST = range(5)
ENTERED, SHARED_BEFORE, PREVIOUS, FOLLOWING = range(4)


@njit(cache=True, nogil=True)
def crossings(segments, weight, segment_island, texels):
    """Return where segments cross rows of texel centres.

    (N,) int32 row, (N,) int32 first column whose centre lies behind the crossing, (N,) int32
    island and (N,) int32 change of its winding on the way to larger u.
    """
    count = 0
    for e in range(len(segments)):
        first, last = _rows(segments[e], texels)
        count += last - first
    row = np.empty(count, dtype=np.int32)
    column = np.empty(count, dtype=np.int32)
    island = np.empty(count, dtype=np.int32)
    change = np.empty(count, dtype=np.int32)
    n = 0
    for e in range(len(segments)):
        s = segments[e]
        first, last = _rows(s, texels)
        for r in range(first, last):
            share = ((r + 0.5) / texels - s[1]) / (s[3] - s[1])
            x = (s[0] + share * (s[2] - s[0])) * texels
            row[n], column[n] = r, np.int32(np.ceil(x - 0.5))
            island[n] = segment_island[e]
            change[n] = -weight[e] if s[3] > s[1] else weight[e]
            n += 1
    return row, column, island, change


@njit(cache=True, nogil=True)
def _rows(segment, texels):
    """Return the first row whose centre is at or above the lower end, and that of the upper."""
    low, high = min(segment[1], segment[3]), max(segment[1], segment[3])
    return np.int64(np.ceil(low * texels - 0.5)), np.int64(np.ceil(high * texels - 0.5))


@njit(cache=True, nogil=True)
def sweep_order(row, column, change):
    """Return the (N,) int32 order by row, column and change (leaving before entering)."""
    order = ascending(len(row))
    if len(row) == 0:
        return order
    key = np.empty(len(row), dtype=np.int64)
    low_row, low_column = row.min(), column.min()
    for k in range(len(row)):
        key[k] = (
            (np.int64(row[k] - low_row) << 32)
            + (np.int64(column[k] - low_column) << 1)
            + (change[k] > 0)
        )
    other = np.empty_like(order)
    most = key.max()
    for shift in range(0, 63, 16):
        if most >> shift == 0:
            break
        start = np.zeros(65537, dtype=np.int64)
        for k in range(len(key)):
            start[((key[k] >> shift) & 65535) + 1] += 1
        for k in range(65536):
            start[k + 1] += start[k]
        for k in range(len(order)):
            digit = (key[order[k]] >> shift) & 65535
            other[start[digit]] = order[k]
            start[digit] += 1
        order, other = other, order
    return order


@njit(cache=True, nogil=True)
def sweep(row, column, island, change, island_count):
    """Count texels covered twice along crossings in `sweep_order`.

    Returns (I,) texels of each island that others cover too, (I,) one of those others or -1,
    (I, 3) the longest such run: length, middle column and row; (I,) texels it covers twice
    itself and (I, 3) the longest such run. And (R, 3) int32 runs row, first and end
    column of everything covered twice or more.
    """
    shared, folded = np.zeros(island_count), np.zeros(island_count)
    shared_run, folded_run = np.zeros((island_count, 3)), np.zeros((island_count, 3))
    partner = unset(island_count)
    count = np.zeros(island_count, dtype=np.int32)
    doubled = np.zeros(island_count, dtype=np.int64)
    inside = np.empty((island_count, 4), dtype=np.int64)
    line = np.zeros(5, dtype=np.int64)
    line[LAST] = -1
    runs = np.empty((1024, 3), dtype=np.int32)
    n, total, run_from = 0, 0, np.int64(0)
    for k in range(len(row)):
        i, x, y = island[k], np.int64(column[k]), row[k] + 0.5
        if k == 0 or row[k] != row[k - 1]:
            line[SHARED], line[SHARED_FROM], line[SHARED_TO] = 0, 0, 0
        before, after = count[i], count[i] + change[k]
        count[i] = after
        if total < 2 <= total + change[k]:
            run_from = x
        if total + change[k] < 2 <= total and x > run_from:
            n, runs = _add_run(runs, n, row[k], run_from, x)
        total += change[k]
        if before < 2 <= after:
            doubled[i] = x
        if after < 2 <= before:
            folded[i] += x - doubled[i]
            _keep_longest(folded_run, i, doubled[i], x, y)
        if before < 1 <= after:
            _enter(i, x, line, inside, partner)
        if after < 1 <= before:
            first, end = _leave(i, x, line, inside, shared)
            _keep_longest(shared_run, i, first, end, y)
    return (
        shared, partner, shared_run, folded, folded_run, runs[:n]
    )  # fmt: skip


@njit(cache=True, nogil=True)
def _keep_longest(run, i, first, end, y):
    if end - first > run[i, 0]:
        run[i, 0], run[i, 1], run[i, 2] = end - first, (first + end) / 2, y


@njit(cache=True, nogil=True)
def _shared_until(x, line):
    """Return how many texels of this row up to column x lie in several islands."""
    return line[SHARED] + (x - line[SHARED_FROM] if line[PRESENT] >= 2 else 0)


@njit(cache=True, nogil=True)
def _enter(i, x, line, inside, partner):
    """Let an island begin at column x; it and the last one still present become partners."""
    last = line[LAST]
    inside[i, ENTERED], inside[i, SHARED_BEFORE] = x, _shared_until(x, line)
    inside[i, PREVIOUS], inside[i, FOLLOWING] = last, -1
    if last >= 0:
        inside[last, FOLLOWING] = i
        if partner[i] < 0:
            partner[i] = last
        if partner[last] < 0:
            partner[last] = i
    if line[PRESENT] == 1:
        line[SHARED_FROM] = x
    line[LAST] = i
    line[PRESENT] += 1


@njit(cache=True, nogil=True)
def _leave(i, x, line, inside, shared):
    """Let an island end at column x; return the last run of it that others share."""
    now = _shared_until(x, line)
    shared[i] += now - inside[i, SHARED_BEFORE]
    first = max(line[SHARED_FROM], inside[i, ENTERED])
    end = x if line[PRESENT] >= 2 else line[SHARED_TO]
    if line[PRESENT] == 2:
        line[SHARED], line[SHARED_TO] = now, x
    previous, following = inside[i, PREVIOUS], inside[i, FOLLOWING]
    if following >= 0:
        inside[following, PREVIOUS] = previous
    else:
        line[LAST] = previous
    if previous >= 0:
        inside[previous, FOLLOWING] = following
    line[PRESENT] -= 1
    return first, end


@njit(cache=True, nogil=True)
def _add_run(runs, n, row, first, end):
    """Append a run, or lengthen the last one where it ends just there."""
    if n > 0 and runs[n - 1, 0] == row and runs[n - 1, 2] == first:
        runs[n - 1, 2] = end
        return n, runs
    if n == len(runs):
        runs = resized_rows(runs, n, 2 * n)
    runs[n, 0], runs[n, 1], runs[n, 2] = row, first, end
    return n + 1, runs


@njit(cache=True, nogil=True)
def run_outline(runs):
    """Return the (S, 4) outline, in texels, of runs sorted by row and column.

    Between two rows the outline runs where just one of them is covered.
    """
    outline = np.empty((256, 4))
    n, low = 0, 0
    for k in range(len(runs)):
        for x in (runs[k, 1], runs[k, 2]):
            n, outline = _add_line(outline, n, x, runs[k, 0], x, runs[k, 0] + 1)
    while low < len(runs):
        high = low
        while high < len(runs) and runs[high, 0] == runs[low, 0]:
            high += 1
        top = high
        if high < len(runs) and runs[high, 0] == runs[low, 0] + 1:
            while top < len(runs) and runs[top, 0] == runs[high, 0]:
                top += 1
        if low == 0 or runs[low - 1, 0] != runs[low, 0] - 1:
            n, outline = _differences(outline, n, runs, (low, low, low, high), runs[low, 0])
        n, outline = _differences(outline, n, runs, (low, high, high, top), runs[low, 0] + 1)
        low = high
    return outline[:n]


@njit(cache=True, nogil=True)
def _differences(outline, n, runs, rows, y):
    """Add level lines at y where only the runs below or only those above cover.

    rows : the runs below and those above as first, end, first, end.
    """
    i, below, j, above = 2 * rows[0], 2 * rows[1], 2 * rows[2], 2 * rows[3]
    start = 0
    while i < below or j < above:
        x0 = runs[i // 2, 1 + i % 2] if i < below else 2**31 - 1
        x1 = runs[j // 2, 1 + j % 2] if j < above else 2**31 - 1
        x = min(x0, x1)
        if i % 2 != j % 2 and x > start:
            n, outline = _add_line(outline, n, start, y, x, y)
        if x0 == x:
            i += 1
        if x1 == x:
            j += 1
        start = x
    return n, outline


@njit(cache=True, nogil=True)
def _add_line(outline, n, x0, y0, x1, y1):
    if n == len(outline):
        outline = resized_rows(outline, n, 2 * n)
    outline[n, 0], outline[n, 1], outline[n, 2], outline[n, 3] = x0, y0, x1, y1
    return n + 1, outline
