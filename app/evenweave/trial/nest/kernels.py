# mypy: allow-untyped-defs
"""Kernels of the packer: islands as rows of cells, a tile as rows of bits.

A *stamp* is the set of cells that an island, grown by a radius, touches. A *run* is a stretch of
touched cells in one row of a stamp. A tile is kept as `levels`, (K, H, W) uint64: bit x of row y
of level k tells whether any of the 2**k cells from x on is taken. Two bits of one level then
tell whether a run of any length is free, for 64 places at once.
"""

from __future__ import annotations

import numpy as np
from numba import njit

_EVERY = np.uint64(0xFFFFFFFFFFFFFFFF)
_SLACK = 1e-7  # cells; a stamp touches what it comes this near


@njit(cache=True, nogil=True)
def stamp(line_xy, fill_xy, fill_weight, radius, shift, shape):
    """Return (rows, columns) uint8, 1 where a cell is touched by the grown island.

    line_xy : (S, 4) float64 cells, lines that bound the island; fill_xy : (E, 4) directed edges
    and fill_weight : (E,) int32 how often each winds round what is on its left
    radius : cells; shift : (x, y) added to all; shape : (rows, columns)
    """
    rows, columns = shape
    wound = np.zeros((rows, columns + 1), dtype=np.int32)
    touched = np.zeros((rows, columns + 1), dtype=np.int32)
    for e in range(len(fill_xy)):
        _wind(wound, fill_xy[e], fill_weight[e], shift)
    for s in range(len(line_xy)):
        _touch(touched, line_xy[s], radius + _SLACK, shift)
    mask = np.zeros((rows, columns), dtype=np.uint8)
    for y in range(rows):
        winding, cover = 0, 0
        for x in range(columns):
            winding += wound[y, x]
            cover += touched[y, x]
            if winding != 0 or cover > 0:
                mask[y, x] = 1
    return mask


@njit(cache=True, nogil=True)
def _wind(wound, edge, weight, shift):
    """Add an edge to the winding at the middles of the cells to its right."""
    rows, columns = wound.shape[0], wound.shape[1] - 1
    x0, y0, x1, y1 = edge[0] + shift[0], edge[1] + shift[1], edge[2] + shift[0], edge[3] + shift[1]
    if y0 == y1:
        return
    sign = weight
    if y0 > y1:
        x0, y0, x1, y1 = x1, y1, x0, y0
        sign = -weight
    slope = (x1 - x0) / (y1 - y0)
    for y in range(max(0, int(np.ceil(y0 - 0.5))), min(rows, int(np.ceil(y1 - 0.5)))):
        x = int(np.ceil(x0 + (y + 0.5 - y0) * slope - 0.5))
        wound[y, min(max(x, 0), columns)] += sign


@njit(cache=True, nogil=True)
def _touch(touched, line, radius, shift):
    """Add the cells that a line grown by a radius touches.

    Within the band of a row the grown line reaches farthest right nearest to its right end's
    height, for its right side is a concave function of the height.
    """
    rows, columns = touched.shape[0], touched.shape[1] - 1
    x0, y0, x1, y1 = line[0] + shift[0], line[1] + shift[1], line[2] + shift[0], line[3] + shift[1]
    if x0 > x1:
        x0, y0, x1, y1 = x1, y1, x0, y0
    low, high = min(y0, y1) - radius, max(y0, y1) + radius
    for y in range(max(0, int(np.floor(low))), min(rows, int(np.floor(high)) + 1)):
        bottom, top = max(float(y), low), min(y + 1.0, high)
        left = -_reach(-x0, y0, -x1, y1, radius, min(max(y0, bottom), top))
        right = _reach(x1, y1, x0, y0, radius, min(max(y1, bottom), top))
        first = min(max(int(np.floor(left)), 0), columns)
        last = min(max(int(np.floor(right)) + 1, 0), columns)
        if last > first:
            touched[y, first] += 1
            touched[y, last] -= 1


@njit(cache=True, nogil=True)
def _reach(x0, y0, x1, y1, radius, y):
    """Return the greatest x of a grown line at a height; its end 0 is the right one."""
    best = -np.inf
    d0, d1 = y - y0, y - y1
    if abs(d0) <= radius:
        best = x0 + np.sqrt(radius * radius - d0 * d0)
    if abs(d1) <= radius:
        best = max(best, x1 + np.sqrt(radius * radius - d1 * d1))
    dx, dy = x1 - x0, y1 - y0
    length = np.sqrt(dx * dx + dy * dy)
    if length > 0.0 and dy != 0.0:
        # The right flank: the line moved by the radius along the normal that points right.
        nx, ny = abs(dy) / length, -dx / length if dy > 0.0 else dx / length
        t = (y - ny * radius - y0) / dy
        if 0.0 <= t <= 1.0:
            best = max(best, x0 + t * dx + nx * radius)
    return best


@njit(cache=True, nogil=True)
def runs(mask):
    """Return (R, 3) int32 row, first column and length of the runs of a stamp.

    In an order in which a test against a crowded tile fails early: the longest first, then
    rows far apart.
    """
    rows, columns = mask.shape
    count = 0
    for y in range(rows):
        for x in range(columns):
            if mask[y, x] and (x == 0 or not mask[y, x - 1]):
                count += 1
    found = np.empty((count, 3), dtype=np.int32)
    count = 0
    for y in _scattered(rows):
        for x in range(columns):
            if mask[y, x]:
                if x == 0 or not mask[y, x - 1]:
                    found[count, 0], found[count, 1], found[count, 2] = y, x, 0
                    count += 1
                found[count - 1, 2] += 1
    if count:
        longest = int(np.argmax(found[:, 2]))
        for k in range(3):
            found[0, k], found[longest, k] = found[longest, k], found[0, k]
    return found


@njit(cache=True, nogil=True)
def _scattered(count):
    """Return 0 ... count - 1 so that any first few are far apart: bits reversed."""
    order = np.empty(count, dtype=np.int64)
    bits = 0
    while (1 << bits) < count:
        bits += 1
    place = 0
    for n in range(1 << bits):
        value = 0
        for b in range(bits):
            value |= ((n >> b) & 1) << (bits - 1 - b)
        if value < count:
            order[place] = value
            place += 1
    return order


@njit(cache=True, nogil=True)
def _window(levels, level, y, offset):
    """Return 64 bits of a row from an offset on."""
    word, bit = offset >> 6, offset & 63
    low = levels[level, y, word] >> np.uint64(bit)
    if bit == 0:
        return low
    return low | (levels[level, y, word + 1] << np.uint64(64 - bit))


@njit(cache=True, nogil=True)
def _lowest(word):
    """Return the number of the lowest bit that is set; there is one."""
    bit = 0
    for step in (32, 16, 8, 4, 2, 1):
        if word & ((np.uint64(1) << np.uint64(step)) - np.uint64(1)) == 0:
            word >>= np.uint64(step)
            bit += step
    return bit


@njit(cache=True, nogil=True)
def _first_free(levels, run, run_level, y, limit):
    """Return the lowest x at most `limit` at which all runs are free in row y, or -1."""
    for word in range((limit >> 6) + 1):
        start = word << 6
        taken = np.uint64(0)
        if limit - start < 63:
            taken = _EVERY << np.uint64(limit - start + 1)
        for r in range(len(run)):
            row, at, level = y + run[r, 0], start + run[r, 1], run_level[r]
            taken |= _window(levels, level, row, at)
            taken |= _window(levels, level, row, at + run[r, 2] - (1 << level))
            if taken == _EVERY:
                break
        if taken != _EVERY:
            return start + _lowest(~taken)
    return -1


@njit(cache=True, nogil=True)
def find_place(levels, run, size, room, lean, height, first, best):
    """Find the best free place for a stamp.

    Return whether it beats `best`, which it then fills, and the lowest row that may hold a free
    place at all.

    run : (R, 3) int32; size : (w, h) float64 cells, the block's true size
    room : (w, h) float64 cells, in which the block must lie; height : what is used of it
    lean : a place is better for less used height, then for less of lean * x + y
    first : no lower row has a free place. best : (4,) float64 used height, lean * x + y, x, y
    """
    most_x = int(np.floor(room[0] - size[0] + _SLACK))
    most_y = int(np.floor(room[1] - size[1] + _SLACK))
    is_better, lowest = False, -1
    if most_x < 0:
        return is_better, first
    run_level = np.empty(len(run), dtype=np.int64)
    for r in range(len(run)):
        run_level[r] = 0
        while (2 << run_level[r]) <= run[r, 2]:
            run_level[r] += 1
    for y in range(first, most_y + 1):
        used = max(height, y + size[1])
        if used > best[0]:
            break
        limit = most_x
        if used == best[0]:
            # Only what leans more than the best place so far can beat it.
            lead = best[1] - y
            if lead <= 0.0:
                break
            if lead < lean * most_x:
                limit = int(np.floor(lead / lean))
        x = _first_free(levels, run, run_level, y, limit)
        if lowest < 0 and (x >= 0 or limit < most_x):
            lowest = y
        if x >= 0 and (used < best[0] or lean * x + y < best[1]):
            best[0], best[1], best[2], best[3] = used, lean * x + y, x, y
            is_better = True
    return is_better, max(first, lowest)


@njit(cache=True, nogil=True)
def take(levels, mask, x, y):
    """Mark the cells of a stamp, whose corner lies at (x, y), as taken; what is outside is cut."""
    depth, height, words = levels.shape
    columns = (words - 2) * 64
    for row in range(max(0, -y), min(mask.shape[0], height - y)):
        for column in range(max(0, -x), min(mask.shape[1], columns - x)):
            if mask[row, column]:
                at = x + column
                levels[0, y + row, at >> 6] |= np.uint64(1) << np.uint64(at & 63)
        for level in range(1, depth):
            half = 1 << (level - 1)
            for word in range(words - 2):
                offset = (word << 6) + half
                more = np.uint64(0)
                if offset < columns:
                    more = _window(levels, level - 1, y + row, offset)
                levels[level, y + row, word] = levels[level - 1, y + row, word] | more
