# mypy: allow-untyped-defs
"""Kernels for a tree of boxes round short runs of outline.

Runs hold up to `RUN` pieces of one island in one tile. The tree is complete and binary, node n
has the children 2n and 2n + 1; a node knows its box, and its island and tile where all below
agree (-1 where they differ, -2 where it is empty).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit

RUN = 8
MIXED, EMPTY = -1, -2


class Runs(NamedTuple):
    """Pieces of outline, (N, 4) float64 x0, y0, x1, y1, in runs.

    start : (R + 1,) first piece; box : (R, 4) float64; group, tile : (R,) int32
    """

    piece_xy: np.ndarray
    start: np.ndarray
    box: np.ndarray
    group: np.ndarray
    tile: np.ndarray


class Tree(NamedTuple):
    """A tree over L leaves, of which leaf k holds the run order[k].

    box : (2L, 4) float64; group, tile : (2L,) int32 of the nodes
    """

    order: np.ndarray
    box: np.ndarray
    group: np.ndarray
    tile: np.ndarray


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
def build_tree(runs, order):
    """Return the `Tree` of runs in an order."""
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
            box[leaves + k, side] = runs.box[order[k], side]
        group[leaves + k] = runs.group[order[k]]
        tile[leaves + k] = runs.tile[order[k]]
    for n in range(leaves - 1, 0, -1):
        a, b = 2 * n, 2 * n + 1
        for k in range(2):
            box[n, k] = min(box[a, k], box[b, k])
            box[n, k + 2] = max(box[a, k + 2], box[b, k + 2])
        group[n] = group[a] if group[b] == EMPTY or group[a] == group[b] else MIXED
        tile[n] = tile[a] if tile[b] == EMPTY or tile[a] == tile[b] else MIXED
    return Tree(order, box, group, tile)
