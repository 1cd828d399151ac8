# mypy: allow-untyped-defs
"""Kernels for which islands cover each side of a piece, where anything is covered twice."""

from __future__ import annotations

import numpy as np
from numba import njit

from evenweave.measure.outline.array_kernels import resized, resized_rows
from evenweave.measure.overlap.grid_kernels import across
from evenweave.measure.overlap.winding_kernels import set_way, way_change


@njit(cache=True, nogil=True)
def row_crossings(segments, span, is_row_wanted, reference_y):
    """Return where segments cross the reference heights of the wanted rows.

    (N,) int32 row, (N,) abscissa, (N,) int32 segment, (N,) int32 direction (1 upward, -1).
    """
    count = 0
    for s in range(len(span)):
        count += is_row_wanted[span[s, 1]]
    row = np.empty(count, dtype=np.int32)
    x = np.empty(count)
    segment = np.empty(count, dtype=np.int32)
    direction = np.empty(count, dtype=np.int32)
    n = 0
    for s in range(len(span)):
        e, r = span[s, 0], span[s, 1]
        if is_row_wanted[r] == 0:
            continue
        y = reference_y[r]
        up = segments[e, 1] <= y
        if up == (segments[e, 3] <= y):
            continue
        row[n], x[n], segment[n] = r, across(segments, e, y), e
        direction[n] = 1 if up else -1
        n += 1
    return row[:n], x[:n], segment[:n], direction[:n]


@njit(cache=True, nogil=True)
def _add(island, change, count, place, active, size):
    """Change how often an island covers; `active[:size]` are those whose count is not 0."""
    before = count[island]
    count[island] = before + change
    if before == 0 and change != 0:
        active[size] = island
        place[island] = size
        return size + 1
    if before != 0 and before + change == 0:
        moved = active[size - 1]
        active[place[island]] = moved
        place[moved] = place[island]
        return size - 1
    return size


@njit(cache=True, nogil=True)
def reference_covers(
    crossing_row, crossing_x, crossing_segment, crossing_direction, weight, segment_island,
    wanted_cell, reference_x, island_count, budget,
):  # fmt: skip
    """Return the islands over the reference points of wanted cells, with their counts.

    The crossings are sorted by row and abscissa, the wanted cells ascending. Gives (W + 1,)
    starts and (N,) int32 islands and counts; more than `budget` entries: an empty start.
    """
    start = np.zeros(len(wanted_cell) + 1, dtype=np.int64)
    island = np.empty(4 * len(wanted_cell) + 16, dtype=np.int32)
    times = np.empty(len(island), dtype=np.int32)
    count = np.zeros(island_count, dtype=np.int32)
    place = np.zeros(island_count, dtype=np.int32)
    active = np.empty(island_count + 1, dtype=np.int32)
    size, n, k, row = 0, 0, 0, -1
    for w in range(len(wanted_cell)):
        cell_row = wanted_cell[w] // len(reference_x)
        x = reference_x[wanted_cell[w] % len(reference_x)]
        if cell_row != row:
            for i in range(size):
                count[active[i]] = 0
            size, row = 0, cell_row
            while k < len(crossing_row) and crossing_row[k] < row:
                k += 1
        while k < len(crossing_row) and crossing_row[k] == row and crossing_x[k] <= x:
            e = crossing_segment[k]
            size = _add(
                segment_island[e], -crossing_direction[k] * weight[e], count, place, active, size
            )
            k += 1
        if n + size > budget:
            return start[:0], island[:0], times[:0]
        if n + size > len(island):
            island = resized(island, n, 2 * (n + size))
            times = resized(times, n, len(island))
        for i in range(size):
            island[n], times[n] = active[i], count[active[i]]
            n += 1
        start[w + 1] = n
    return start, island[:n], times[:n]


@njit(cache=True, nogil=True)
def pair_borders(
    wanted, chain_start, points, longest, position, own_start, own_segment, own_sign, segments,
    weight, segment_island, chain_cell, cell_start, cell_segment, reference_x, reference_y,
    cell_cover, cover_start, cover_island, cover_times, island_count, budget,
):  # fmt: skip
    """Return the borders of what each pair of islands covers together.

    wanted : chains with something covered twice on a side; cell_cover : (cells,) int32 row of
    `cover_start` for the cells that hold them.

    Gives (B,) int64 keys a * islands + b with a <= b (a == b: covered twice by one island) and
    (B, 2) int32 points, directed with the common region on the left. More than `budget`
    entries: the key array is cut to length 0 and the first point is -1.
    """
    key = np.empty(4 * len(wanted) + 16, dtype=np.int64)
    border = np.empty((len(key), 2), dtype=np.int32)
    count = np.zeros(island_count, dtype=np.int32)
    place = np.zeros(island_count, dtype=np.int32)
    active = np.empty(island_count + 1, dtype=np.int32)
    net = np.zeros(island_count, dtype=np.int32)
    owners = np.empty(island_count, dtype=np.int32)
    way = np.empty(5)
    n = 0
    for w in range(len(wanted)):
        h = wanted[w]
        p, cell = longest[h], chain_cell[h]
        is_left = set_way(
            way, position, points[p, 0], points[p, 1],
            reference_x[cell % len(reference_x)], reference_y[cell // len(reference_x)],
        )  # fmt: skip
        own = own_segment[own_start[h] : own_start[h + 1]]
        owner_count = _owners(own, own_sign[own_start[h] :], weight, segment_island, owners, net)
        size = 0
        c = cell_cover[cell]
        for k in range(cover_start[c], cover_start[c + 1]):
            size = _add(cover_island[k], cover_times[k], count, place, active, size)
        for i in range(cell_start[cell], cell_start[cell + 1]):
            e = cell_segment[i]
            is_own = False
            for k in range(len(own)):
                is_own |= own[k] == e
            change = way_change(segments, e, way, is_own)
            if change != 0:
                size = _add(segment_island[e], change * weight[e], count, place, active, size)
        pieces = points[chain_start[h] : chain_start[h + 1]]
        needed = n + len(pieces) * owner_count * (size + owner_count + 1)
        if needed > budget:
            border[0, 0] = -1
            return key[:0], border[:1]
        if needed > len(key):
            key = resized(key, n, 2 * needed)
            border = resized_rows(border, n, len(key))
        # From here on `count` is on the left; on the right an owner has net less.
        for m in range(owner_count):
            if not is_left:
                size = _add(owners[m], net[owners[m]], count, place, active, size)
        n = _borders_of_chain(pieces, owners, owner_count, net, count, active, size, key, border, n)
        for m in range(owner_count):
            net[owners[m]] = 0
        for i in range(size):
            count[active[i]] = 0
    return key[:n], border[:n]


@njit(cache=True, nogil=True)
def _owners(own, own_sign, weight, segment_island, owners, net):
    """Collect the islands of a chain's segments; `net` is their depth on the left less right."""
    owner_count = 0
    for k in range(len(own)):
        i = segment_island[own[k]]
        is_known = False
        for m in range(owner_count):
            is_known |= owners[m] == i
        if not is_known:
            owners[owner_count] = i
            owner_count += 1
        net[i] += own_sign[k] * weight[own[k]]
    return owner_count


@njit(cache=True, nogil=True)
def _borders_of_chain(pieces, owners, owner_count, net, count, active, size, key, border, n):
    """Add the borders that a chain is for pairs of islands; `count` holds on its left."""
    island_count = len(net)
    for m in range(owner_count):
        a = owners[m]
        left, right = count[a], count[a] - net[a]
        if (left >= 2) != (right >= 2):
            n = _put(key, border, n, a * np.int64(island_count) + a, pieces, left >= 2)
        if (left >= 1) == (right >= 1):
            continue
        for i in range(size):
            b = active[i]
            if b != a and net[b] == 0 and count[b] >= 1:
                pair = min(a, b) * np.int64(island_count) + max(a, b)
                n = _put(key, border, n, pair, pieces, left >= 1)
    for m in range(owner_count):
        for k in range(m + 1, owner_count):
            a, b = owners[m], owners[k]
            if net[a] == 0 or net[b] == 0:
                continue
            left = count[a] >= 1 and count[b] >= 1
            right = count[a] - net[a] >= 1 and count[b] - net[b] >= 1
            if left != right:
                pair = min(a, b) * np.int64(island_count) + max(a, b)
                n = _put(key, border, n, pair, pieces, left)
    return n


@njit(cache=True, nogil=True)
def _put(key, border, n, value, pieces, is_left):
    for p in range(len(pieces)):
        key[n] = value
        border[n, 0] = pieces[p, 0] if is_left else pieces[p, 1]
        border[n, 1] = pieces[p, 1] if is_left else pieces[p, 0]
        n += 1
    return n
