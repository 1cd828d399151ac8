# mypy: allow-untyped-defs
"""Kernels that find islands whose outlines agree, by tables of their places and sizes.

Outlines are as in `agreement_kernels`; centre (I, 2), size (I, 4) and farthest (I,) as from
`outline_kernels.outline_measures`.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from evenweave.measure.outline.array_kernels import ascending, unset
from evenweave.measure.stacks.agreement_kernels import agree, fits, least_move

# An outline may not differ by more than this share of its reach, however small it is.
LARGEST_SHARE = 1 / 200


@njit(cache=True, nogil=True)
def _alike(size, a, b, tolerance):
    return (
        abs(size[a, 0] - size[b, 0]) <= 2 * tolerance
        and abs(size[a, 1] - size[b, 1]) <= 2 * tolerance
        and abs(size[a, 2] - size[b, 2]) <= 2 * tolerance
        and abs(size[a, 3] - size[b, 3]) <= 2 * tolerance
    )


@njit(cache=True, nogil=True)
def _slot(a, b, c, d, mask):
    mixed = np.uint64(a) * np.uint64(0x9E3779B97F4A7C15)
    mixed ^= np.uint64(b) * np.uint64(0xC2B2AE3D27D4EB4F)
    mixed ^= np.uint64(c) * np.uint64(0x165667B19E3779F9)
    mixed ^= np.uint64(d) * np.uint64(0xD6E8FEB86659FD93)
    mixed ^= mixed >> np.uint64(29)
    mixed *= np.uint64(0xBF58476D1CE4E5B9)
    mixed ^= mixed >> np.uint64(32)
    return np.int64(mixed & np.uint64(mask))


@njit(cache=True, nogil=True)
def _table_size(count):
    size = 16
    while size < 2 * count:
        size *= 2
    return size


@njit(cache=True, nogil=True)
def _side_cell(value, k):
    """Return the cell of a value (k = 0) or the nearer of its neighbours (k = 1)."""
    cell = np.int64(np.floor(value))
    if k == 0:
        return cell
    return cell - 1 if value - cell < 0.5 else cell + 1


@njit(cache=True, nogil=True)
def _size_slot(size, i, tolerance, largest, corner, mask):
    """Return the table slot of an island's size, or of one of the 15 nearest cells beside it.

    The sizes are taken in units of the tolerance, which grows with the reach up to `largest`;
    the reach itself on the scale on which one tolerance is a unit everywhere.
    """
    knee = max(1.0, LARGEST_SHARE * size[i, 0] / largest)
    reach = (np.log(size[i, 0] / knee) + knee - 1.0) / LARGEST_SHARE
    return _slot(
        _side_cell(reach / 8, corner & 1),
        _side_cell(size[i, 1] / tolerance / 8, corner >> 1 & 1),
        _side_cell(size[i, 2] / tolerance / 8, corner >> 2 & 1),
        _side_cell(size[i, 3] / tolerance / 8, corner >> 3),
        mask,
    )


@njit(cache=True, nogil=True)
def stacked(segments, island_start, centre, size, tolerances, farthest, budget):
    """Return (I,) int32: for each island the first one whose outline it lies on, or itself.

    tolerances : (I,) texels. After `budget` comparisons no more are made.
    """
    islands = len(centre)
    first = ascending(islands)
    table_size = _table_size(islands)
    head = unset(table_size)
    following = unset(islands)
    cell = 4 * tolerances.max() if islands else 1.0
    place = np.array([1.0, 0.0, 1.0, 0.0, 0.0])
    compared = 0
    for i in range(islands):
        if farthest[i] < 0:
            continue
        x, y = centre[i, 0] / cell, centre[i, 1] / cell
        found = -1
        for k in range(4):
            j = head[_slot(_side_cell(x, k & 1), _side_cell(y, k >> 1), 0, 0, table_size - 1)]
            while j >= 0 and found < 0 and compared < budget:
                compared += 1
                tolerance = min(tolerances[i], tolerances[j])
                place[3], place[4] = centre[i, 0] - centre[j, 0], centre[i, 1] - centre[j, 1]
                if (
                    abs(place[3]) <= 2 * tolerance
                    and abs(place[4]) <= 2 * tolerance
                    and _alike(size, i, j, tolerance)
                    and agree(
                        segments, island_start, i, j, place, tolerance, farthest[i], farthest[j]
                    )
                ):
                    found = j
                j = following[j]
        if found >= 0:
            first[i] = found
        else:
            slot = _slot(_side_cell(x, 0), _side_cell(y, 0), 0, 0, table_size - 1)
            following[i] = head[slot]
            head[slot] = i
    return first


@njit(cache=True, nogil=True)
def congruence(
    segments, distance, island_start, size, tolerances, largest, farthest, winding, wanted,
    budget,
):  # fmt: skip
    """Return (I,) int32 the first congruent island (or itself) and (I,) uint8 mirrored.

    tolerances : (I,) texels, the lesser of `largest` and LARGEST_SHARE of the reach.
    Only islands with `wanted` 1 are compared. Where an outline fits both ways (a square), it
    counts as mirrored if its faces wind the other way. After `budget` comparisons no more
    are made.
    """
    islands = len(size)
    first = ascending(islands)
    is_mirrored = np.zeros(islands, dtype=np.uint8)
    table_size = _table_size(islands)
    head = unset(table_size)
    following = unset(islands)
    place = np.empty(5)
    compared = 0
    for i in range(islands):
        if wanted[i] == 0:
            continue
        found = -1
        for k in range(16):
            slot = _size_slot(size, i, tolerances[i], largest, k, table_size - 1)
            j = head[slot]
            while j >= 0 and found < 0 and compared < budget:
                compared += 1
                tolerance = min(tolerances[i], tolerances[j])
                if _alike(size, i, j, tolerance):
                    mirror = -1.0 if winding[i] * winding[j] < 0 else 1.0
                    for way in (mirror, -mirror):
                        if found < 0 and fits(
                            segments, distance, island_start, i, j, farthest[i], place, way,
                            tolerance,
                        ):  # fmt: skip
                            found = j
                            is_mirrored[i] = way < 0
                j = following[j]
        if found >= 0:
            first[i] = found
        else:
            slot = _size_slot(size, i, tolerances[i], largest, 0, table_size - 1)
            following[i] = head[slot]
            head[slot] = i
    return first, is_mirrored


@njit(cache=True, nogil=True)
def near_misses(
    segments, distance, island_start, centre, tolerances, farthest, congruent, wanted, reach
):  # fmt: skip
    """Return (I,) int32 the first congruent island nearly below each (or itself), (I,) offset.

    congruent : (I,) first island of the class; reach : (I,) largest offset in texels.
    """
    islands = len(centre)
    first = ascending(islands)
    offset = np.zeros(islands)
    table_size = _table_size(islands)
    head = unset(table_size)
    following = unset(islands)
    for i in range(islands):
        if wanted[i] == 0:
            continue
        cell = reach[congruent[i]]
        x, y = centre[i, 0] / (2 * cell), centre[i, 1] / (2 * cell)
        best = cell
        for k in range(4):
            slot = _slot(
                _side_cell(x, k & 1), _side_cell(y, k >> 1), congruent[i], 1, table_size - 1
            )
            j = head[slot]
            while j >= 0:
                if congruent[j] == congruent[i]:
                    shift = centre[j, 0] - centre[i, 0], centre[j, 1] - centre[i, 1]
                    moved = least_move(
                        segments, distance, island_start, i, j, farthest[i], shift,
                        min(tolerances[i], tolerances[j]), best,
                    )  # fmt: skip
                    if moved < best:
                        best, first[i], offset[i] = moved, j, moved
                j = following[j]
        if first[i] == i:
            slot = _slot(_side_cell(x, 0), _side_cell(y, 0), congruent[i], 1, table_size - 1)
            following[i] = head[slot]
            head[slot] = i
    return first, offset
