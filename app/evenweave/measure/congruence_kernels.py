"""Kernels that find congruent outlines, in place or moved, turned and mirrored.

Two outlines agree where every corner and every middle of an edge of each lies within a
tolerance of the other. Outlines are (E, 4) segments about their own centres, in loop order.
"""

from __future__ import annotations

import numpy as np
from numba import njit

# An outline may not differ by more than this share of its reach, however small it is.
LARGEST_SHARE = 1 / 200


@njit(cache=True, nogil=True)
def _is_near(segments, e, x, y, tolerance):
    ax, ay = segments[e, 0], segments[e, 1]
    dx, dy = segments[e, 2] - ax, segments[e, 3] - ay
    square = dx * dx + dy * dy
    share = 0.0
    if square > 0.0:
        share = min(1.0, max(0.0, ((x - ax) * dx + (y - ay) * dy) / square))
    dx, dy = x - ax - share * dx, y - ay - share * dy
    return dx * dx + dy * dy <= tolerance * tolerance


@njit(cache=True, nogil=True)
def _find_near(segments, first, last, x, y, tolerance, hint):
    """Return an edge of the outline near the point, looked for around a hint, or -1."""
    count = last - first
    for k in range(count):
        step = (k + 1) // 2
        e = hint + (step if k % 2 == 1 else -step)
        if e < first:
            e += count
        elif e >= last:
            e -= count
        if _is_near(segments, e, x, y, tolerance):
            return e
    return -1


@njit(cache=True, nogil=True)
def _lies_on(segments, a0, a1, b0, b1, place, tolerance, hint):
    """Tell whether the outline a0:a1, placed, lies on the outline b0:b1.

    place : cosine, sine, 1 or -1 for mirrored (v first changes its sign), then the shift.
    """
    turn, sine, mirror, dx, dy = place[0], place[1], place[2], place[3], place[4]
    at = hint
    for e in range(a0, a1):
        for k in range(2):
            x, y = segments[e, 0], segments[e, 1]
            if k == 1:
                x, y = (x + segments[e, 2]) / 2, (y + segments[e, 3]) / 2
            y *= mirror
            at = _find_near(
                segments, b0, b1, turn * x - sine * y + dx, sine * x + turn * y + dy,
                tolerance, at,
            )  # fmt: skip
            if at < 0:
                return False
    return True


@njit(cache=True, nogil=True)
def _agree(segments, a0, a1, b0, b1, place, tolerance, hint):
    """Tell whether the outline a0:a1, placed, and the outline b0:b1 lie on each other."""
    if not _lies_on(segments, a0, a1, b0, b1, place, tolerance, hint):
        return False
    turn, sine, mirror, dx, dy = place[0], place[1], place[2], place[3], place[4]
    back = np.empty(5)
    back[0], back[1], back[2] = turn, -sine * mirror, mirror
    back[3] = -(turn * dx + sine * dy)
    back[4] = -mirror * (turn * dy - sine * dx)
    return _lies_on(segments, b0, b1, a0, a1, back, tolerance, a0)


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
    first = np.arange(islands).astype(np.int32)
    table_size = _table_size(islands)
    head = np.full(table_size, -1, dtype=np.int32)
    following = np.full(islands, -1, dtype=np.int32)
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
                    and _agree(
                        segments, island_start[i], island_start[i + 1], island_start[j],
                        island_start[j + 1], place, tolerance, island_start[j],
                    )
                ):  # fmt: skip
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
def _turn_onto(segments, a, b, mirror, place):
    """Set the turn that points corner a (mirrored first where mirror is -1) at corner b."""
    ax, ay = segments[a, 0], segments[a, 1] * mirror
    bx, by = segments[b, 0], segments[b, 1]
    scale = np.sqrt((ax * ax + ay * ay) * (bx * bx + by * by))
    place[0], place[1] = (ax * bx + ay * by) / scale, (ax * by - ay * bx) / scale
    place[2], place[3], place[4] = mirror, 0.0, 0.0


@njit(cache=True, nogil=True)
def _fits(segments, island_start, size, a, b, farthest, place, mirror, tolerance):
    """Look for a turn that puts outline a on b; `place` is set to it."""
    corner = farthest[a]
    for e in range(island_start[b], island_start[b + 1]):
        distance = np.hypot(segments[e, 0], segments[e, 1])
        if abs(distance - size[a, 0]) > 2 * tolerance or distance == 0.0:
            continue
        _turn_onto(segments, corner, e, mirror, place)
        if _agree(
            segments, island_start[a], island_start[a + 1], island_start[b],
            island_start[b + 1], place, tolerance, e,
        ):  # fmt: skip
            return True
    return False


@njit(cache=True, nogil=True)
def congruence(
    segments, island_start, size, tolerances, largest, farthest, winding, wanted, budget
):  # fmt: skip
    """Return (I,) int32 the first congruent island (or itself) and (I,) uint8 mirrored.

    tolerances : (I,) texels, the lesser of `largest` and LARGEST_SHARE of the reach.
    Only islands with `wanted` 1 are compared. Where an outline fits both ways (a square), it
    counts as mirrored if its faces wind the other way. After `budget` comparisons no more
    are made.
    """
    islands = len(size)
    first = np.arange(islands).astype(np.int32)
    is_mirrored = np.zeros(islands, dtype=np.uint8)
    table_size = _table_size(islands)
    head = np.full(table_size, -1, dtype=np.int32)
    following = np.full(islands, -1, dtype=np.int32)
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
                        if found < 0 and _fits(
                            segments, island_start, size, i, j, farthest, place, way, tolerance
                        ):
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
    segments, island_start, centre, size, tolerances, farthest, congruent, wanted, reach
):  # fmt: skip
    """Return (I,) int32 the first congruent island nearly below each (or itself), (I,) offset.

    congruent : (I,) first island of the class; reach : (I,) largest offset in texels.
    """
    islands = len(size)
    first = np.arange(islands).astype(np.int32)
    offset = np.zeros(islands)
    table_size = _table_size(islands)
    head = np.full(table_size, -1, dtype=np.int32)
    following = np.full(islands, -1, dtype=np.int32)
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
                    moved = _least_move(
                        segments, island_start, centre, size, farthest, i, j,
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


@njit(cache=True, nogil=True)
def _least_move(segments, island_start, centre, size, farthest, a, b, tolerance, reach):
    """Return the least move of any corner that puts outline a on b; `reach` if none is less."""
    dx, dy = centre[b, 0] - centre[a, 0], centre[b, 1] - centre[a, 1]
    if dx * dx + dy * dy >= reach * reach:
        return reach
    place = np.empty(5)
    corner, best = farthest[a], reach
    for mirror in (1.0, -1.0):
        for e in range(island_start[b], island_start[b + 1]):
            distance = np.hypot(segments[e, 0], segments[e, 1])
            if abs(distance - size[a, 0]) > 2 * tolerance or distance == 0.0:
                continue
            if (
                np.hypot(
                    segments[e, 0] + dx - segments[corner, 0],
                    segments[e, 1] + dy - segments[corner, 1],
                )
                >= best
            ):
                continue
            _turn_onto(segments, corner, e, mirror, place)
            moved = _largest_move(segments, island_start[a], island_start[a + 1], place, dx, dy)
            if moved < best and _agree(
                segments, island_start[a], island_start[a + 1], island_start[b],
                island_start[b + 1], place, tolerance, e,
            ):  # fmt: skip
                best = moved
    return best


@njit(cache=True, nogil=True)
def _largest_move(segments, first, last, place, dx, dy):
    most = 0.0
    for e in range(first, last):
        x, y = segments[e, 0], segments[e, 1] * place[2]
        mx = place[0] * x - place[1] * y + dx - segments[e, 0]
        my = place[1] * x + place[0] * y + dy - segments[e, 1]
        most = max(most, mx * mx + my * my)
    return np.sqrt(most)
