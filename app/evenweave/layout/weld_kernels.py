# mypy: allow-untyped-defs, allow-untyped-calls
"""Kernels that give equal rows one number, by hashing their values."""

from __future__ import annotations

import numpy as np
from numba import njit

_MIX_A = np.uint64(0x9E3779B97F4A7C15)
_MIX_B = np.uint64(0xC2B2AE3D27D4EB4F)
_MIX_C = np.uint64(0x165667B19E3779F9)
_SHIFT = np.uint64(32)


@njit(cache=True, nogil=True)
def weld_rows(row_bits):
    """Number the distinct rows of (N, 3) int64 in order of first appearance.

    Returns (N,) int32, the number of each row, and (K,) int32, the first row of each number.
    """
    count = len(row_bits)
    mask = np.uint64(_table_size(count) - 1)
    table = np.full(_table_size(count), -1, dtype=np.int32)
    row_number = np.empty(count, dtype=np.int32)
    number_row = np.empty(count, dtype=np.int32)
    found = 0
    for i in range(count):
        x, y, z = row_bits[i, 0], row_bits[i, 1], row_bits[i, 2]
        mixed = np.uint64(x) * _MIX_A ^ np.uint64(y) * _MIX_B ^ np.uint64(z) * _MIX_C
        mixed = (mixed ^ (mixed >> _SHIFT)) * _MIX_A
        slot = np.int64((mixed ^ (mixed >> _SHIFT)) & mask)
        while True:
            number = table[slot]
            if number < 0:
                table[slot] = found
                number_row[found] = i
                row_number[i] = found
                found += 1
                break
            j = number_row[number]
            if row_bits[j, 0] == x and row_bits[j, 1] == y and row_bits[j, 2] == z:
                row_number[i] = number
                break
            slot = (slot + 1) & np.int64(mask)
    return row_number, number_row[:found].copy()


@njit(cache=True, nogil=True)
def weld_uv(row_uv, steps, bound):
    """Number the distinct rows of (N, 2) float64 after snapping them to 1 / steps.

    Rows that are not finite or beyond `bound` get the number -1. Returns (N,) int32 and the
    (K, 2) float64 snapped rows in order of first appearance.
    """
    count = len(row_uv)
    mask = np.uint64(_table_size(count) - 1)
    table = np.full(_table_size(count), -1, dtype=np.int32)
    row_number = np.empty(count, dtype=np.int32)
    number_uv = np.empty((count, 2), dtype=np.float64)
    found = 0
    for i in range(count):
        u, v = row_uv[i, 0], row_uv[i, 1]
        if not (abs(u) <= bound and abs(v) <= bound):
            row_number[i] = -1
            continue
        a, b = np.int64(np.rint(u * steps)), np.int64(np.rint(v * steps))
        u, v = a / steps, b / steps
        mixed = np.uint64(a) * _MIX_A ^ np.uint64(b) * _MIX_B
        mixed = (mixed ^ (mixed >> _SHIFT)) * _MIX_A
        slot = np.int64((mixed ^ (mixed >> _SHIFT)) & mask)
        while True:
            number = table[slot]
            if number < 0:
                table[slot] = found
                number_uv[found, 0], number_uv[found, 1] = u, v
                row_number[i] = found
                found += 1
                break
            if number_uv[number, 0] == u and number_uv[number, 1] == v:
                row_number[i] = number
                break
            slot = (slot + 1) & np.int64(mask)
    return row_number, number_uv[:found].copy()


@njit(cache=True, nogil=True)
def _table_size(count):
    size = 16
    while size < 2 * count:
        size *= 2
    return size


@njit(cache=True, nogil=True)
def number_by_use(corner_row, row_id, layout_corner, id_count):
    """Number the ids used by each layout in order of first use, layout after layout.

    corner_row : (C,) int32 index into row_id; row_id : (N,) int32 in 0 to id_count;
    layout_corner : (L + 1,) int32 first corner of each layout.
    Returns the (C,) int32 slot of each corner, the (S,) int32 id in each slot and the
    (L + 1,) int32 first slot of each layout. An id used by two layouts has a slot in each.
    """
    corner_slot = np.empty(len(corner_row), dtype=np.int32)
    slot_id = np.empty(len(corner_row), dtype=np.int32)
    layout_slot = np.zeros(len(layout_corner), dtype=np.int32)
    id_slot = np.full(id_count, -1, dtype=np.int32)
    used = 0
    for layout in range(len(layout_corner) - 1):
        base = used
        for c in range(layout_corner[layout], layout_corner[layout + 1]):
            number = row_id[corner_row[c]]
            slot = id_slot[number]
            if slot < base:
                slot = used
                id_slot[number] = slot
                slot_id[slot] = number
                used += 1
            corner_slot[c] = slot
        layout_slot[layout + 1] = used
    return corner_slot, slot_id[:used].copy(), layout_slot


@njit(cache=True, nogil=True)
def gather_faces(face, face_start, corner_position, corner_row):
    """Collect the corners of some faces: (F,) sizes and the corners' positions and UV rows."""
    size = np.empty(len(face), dtype=np.int32)
    total = 0
    for i in range(len(face)):
        size[i] = face_start[face[i] + 1] - face_start[face[i]]
        total += size[i]
    position = np.empty(total, dtype=np.int32)
    row = np.empty(total, dtype=np.int32)
    k = 0
    for i in range(len(face)):
        for c in range(face_start[face[i]], face_start[face[i] + 1]):
            position[k] = corner_position[c]
            row[k] = corner_row[c]
            k += 1
    return size, position, row
