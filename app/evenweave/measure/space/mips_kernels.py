# mypy: allow-untyped-defs
"""Kernels that mark texel blocks with the islands they hold, level by level.

Coordinates are whole numbers of 1/256 texel. A block holds content of an island when the inside
of the block meets it; an edge that runs along the side of a block lies in one block only.
Marked blocks are kept in an open hash table: `keys` (-1 is free), and `states` (island, or -2
for several).
"""

from __future__ import annotations

import numpy as np
from numba import njit

SUBTEXEL_BITS = 8
FREE, SEVERAL = -1, -2


@njit(cache=True, nogil=True)
def to_subtexels(piece_xy):
    """Return (N, 4) int64 in 1/256 texel, to the nearest."""
    rounded = np.empty(piece_xy.shape, dtype=np.int64)
    for n in range(len(piece_xy)):
        for k in range(4):
            rounded[n, k] = np.int64(np.floor(piece_xy[n, k] * (1 << SUBTEXEL_BITS) + 0.5))
    return rounded


@njit(cache=True, nogil=True)
def count_steps(piece, shift):
    """Return the blocks of 2**shift subtexels that pieces may touch, at most."""
    steps = 0
    for n in range(len(piece)):
        across = abs(piece[n, 2] - piece[n, 0])
        up = abs(piece[n, 3] - piece[n, 1])
        steps += ((across + up) >> shift) + 2
    return steps


@njit(cache=True, nogil=True)
def _passed(a, b, shift, is_inward):
    """Return the first and last block that the inside of a stretch from a to b lies in.

    A stretch without length on the side of a block lies in the one before if not inward.
    """
    low, high = min(a, b), max(a, b)
    first = low >> shift
    if low == high:
        if not is_inward and first << shift == low:
            first -= 1
        return first, first
    return first, -((-high) >> shift) - 1


@njit(cache=True, nogil=True)
def row_range(piece, n, shift, side):
    """Return the first and last row of blocks that the inside of piece n passes through."""
    return _passed(piece[n, 1], piece[n, 3], shift, side * (piece[n, 2] - piece[n, 0]) >= 0)


@njit(cache=True, nogil=True)
def column_range(piece, n, shift, side, row):
    """Return the first and last column of blocks that piece n passes through in a row."""
    x0, y0, x1, y1 = piece[n, 0], piece[n, 1], piece[n, 2], piece[n, 3]
    first, last = _passed(x0, x1, shift, side * (y1 - y0) <= 0)
    if first == last or y0 == y1:
        return first, last
    if y1 < y0:
        x0, y0, x1, y1 = x1, y1, x0, y0
    dx, dy = x1 - x0, y1 - y0
    low = x0 * dy + (max(row << shift, y0) - y0) * dx
    high = x0 * dy + (min((row + 1) << shift, y1) - y0) * dx
    if dx < 0:
        low, high = high, low
    return low // (dy << shift), -((-high) // (dy << shift)) - 1


@njit(cache=True, nogil=True)
def has_no_inside(piece, n, shift):
    """Tell whether a piece is a mere point on the side of a block."""
    x, y = piece[n, 0], piece[n, 1]
    is_point = x == piece[n, 2] and y == piece[n, 3]
    return is_point and ((x >> shift) << shift == x or (y >> shift) << shift == y)


@njit(cache=True, nogil=True)
def _slot(keys, key):
    # Four blocks in a row lie side by side in the table, as an outline passes them together.
    mask = len(keys) - 1
    mixed = (key >> np.int64(2)) * np.int64(-7046029254386353131) >> np.int64(28)
    at = ((mixed << np.int64(2)) | (key & np.int64(3))) & mask
    while keys[at] != FREE and keys[at] != key:
        at = (at + 1) & mask
    return at


@njit(cache=True, nogil=True)
def _grown(keys, states):
    new_keys = np.full(2 * len(keys), FREE, dtype=np.int64)
    new_states = np.empty(2 * len(keys), dtype=np.int32)
    for k in range(len(keys)):
        if keys[k] != FREE:
            at = _slot(new_keys, keys[k])
            new_keys[at] = keys[k]
            new_states[at] = states[k]
    return new_keys, new_states


@njit(cache=True, nogil=True)
def _meet(states, at, state, level, conflict):
    """Add a state to a marked block; note the level where islands meet for the first time."""
    held = states[at]
    if held == state:
        return
    if held != SEVERAL and conflict[held] > level:
        conflict[held] = level
    if state != SEVERAL and conflict[state] > level:
        conflict[state] = level
    states[at] = SEVERAL


@njit(cache=True, nogil=True)
def mark_blocks(piece, piece_island, piece_side, piece_tile, grid, conflict):
    """Mark every block that a piece passes through.

    grid : (log2 of the subtexels along a block, columns, rows, level)
    conflict : (I,) int32 lowest level at which an island met another, lowered
    Returns keys and states of the table.
    """
    shift, columns, rows, level = grid
    size = 1024
    while size < len(piece):
        size *= 2
    keys = np.full(size, FREE, dtype=np.int64)
    states = np.empty(size, dtype=np.int32)
    used = 0
    for n in range(len(piece)):
        if has_no_inside(piece, n, shift):
            continue
        side = np.int64(piece_side[n])
        first_row, last_row = row_range(piece, n, shift, side)
        for row in range(max(first_row, 0), min(last_row, rows - 1) + 1):
            first, last = column_range(piece, n, shift, side, row)
            for column in range(max(first, 0), min(last, columns - 1) + 1):
                key = (np.int64(piece_tile[n]) << 40) | (np.int64(row) << 20) | np.int64(column)
                at = _slot(keys, key)
                if keys[at] == key:
                    _meet(states, at, piece_island[n], level, conflict)
                    continue
                keys[at] = key
                states[at] = piece_island[n]
                used += 1
                if 2 * used > len(keys):
                    keys, states = _grown(keys, states)
    return keys, states


@njit(cache=True, nogil=True)
def merge_blocks(keys, states, level, conflict):
    """Return the table of the next level, where four blocks are one."""
    used = 0
    for k in range(len(keys)):
        used += keys[k] != FREE
    size = 16
    while size < 2 * used:
        size *= 2
    new_keys = np.full(size, FREE, dtype=np.int64)
    new_states = np.empty(size, dtype=np.int32)
    low = np.int64((1 << 20) - 1)
    for k in range(len(keys)):
        if keys[k] == FREE:
            continue
        row, column = (keys[k] >> 20) & low, keys[k] & low
        key = ((keys[k] >> 40) << 40) | ((row >> 1) << 20) | (column >> 1)
        at = _slot(new_keys, key)
        if new_keys[at] == FREE:
            new_keys[at] = key
            new_states[at] = states[k]
        else:
            _meet(new_states, at, states[k], level, conflict)
    return new_keys, new_states


@njit(cache=True, nogil=True)
def draw_outlines(piece, piece_island, piece_side, shift, picture):
    """Add to a picture of blocks (rows, columns) every block that a piece passes through."""
    rows, columns = picture.shape
    for n in range(len(piece)):
        if has_no_inside(piece, n, shift):
            continue
        side = np.int64(piece_side[n])
        first_row, last_row = row_range(piece, n, shift, side)
        for row in range(max(first_row, 0), min(last_row, rows - 1) + 1):
            first, last = column_range(piece, n, shift, side, row)
            for column in range(max(first, 0), min(last, columns - 1) + 1):
                held = picture[row, column]
                if held == FREE:
                    picture[row, column] = piece_island[n]
                elif held != piece_island[n]:
                    picture[row, column] = SEVERAL
