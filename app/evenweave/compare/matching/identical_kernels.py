# mypy: allow-untyped-defs, allow-untyped-calls
"""Kernels that find the triangles two surfaces have in common, by hashing their corners."""

from __future__ import annotations

import numpy as np
from numba import njit

_MIX_A = np.uint64(0x9E3779B97F4A7C15)
_MIX_B = np.uint64(0xC2B2AE3D27D4EB4F)
_MIX_C = np.uint64(0x165667B19E3779F9)
_SHIFT = np.uint64(31)


@njit(cache=True, nogil=True)
def _mixed(x):
    x = (x ^ (x >> _SHIFT)) * _MIX_A
    return x ^ (x >> _SHIFT)


@njit(cache=True, nogil=True)
def hashes(corner, steps_per_m):
    """Return (T,) uint64 that is the same for triangles with the same corners and winding.

    Corners are the same where they are nearest to one point of a lattice; the sum over the
    directed edges does not depend on the corner a triangle begins with.
    """
    out = np.empty(len(corner), dtype=np.uint64)
    point = np.empty(3, dtype=np.uint64)
    for t in range(len(corner)):
        for k in range(3):
            x = np.uint64(np.int64(np.rint(corner[t, k, 0] * steps_per_m)))
            y = np.uint64(np.int64(np.rint(corner[t, k, 1] * steps_per_m)))
            z = np.uint64(np.int64(np.rint(corner[t, k, 2] * steps_per_m)))
            point[k] = _mixed(x * _MIX_A + y * _MIX_B + z * _MIX_C)
        total = np.uint64(0)
        for k in range(3):
            total += _mixed(point[k] * _MIX_B + point[(k + 1) % 3])
        out[t] = total
    return out


@njit(cache=True, nogil=True)
def twins(own, other):
    """Return for each of (T,) and (S,) uint64 the one equal in the other, or -1.

    Values that stand twice in either have no twin.
    """
    size = 16
    while size < 2 * len(own):
        size *= 2
    mask = np.uint64(size - 1)
    slots = np.full(size, -1, dtype=np.int32)
    is_double = np.zeros(len(own), dtype=np.uint8)
    for t in range(len(own)):
        slot = np.int64(own[t] & mask)
        while slots[slot] >= 0 and own[slots[slot]] != own[t]:
            slot = (slot + 1) & np.int64(mask)
        if slots[slot] >= 0:
            is_double[slots[slot]] = 1
        else:
            slots[slot] = t
    own_twin = np.full(len(own), -1, dtype=np.int32)
    other_twin = np.full(len(other), -1, dtype=np.int32)
    for s in range(len(other)):
        slot = np.int64(other[s] & mask)
        while slots[slot] >= 0 and own[slots[slot]] != other[s]:
            slot = (slot + 1) & np.int64(mask)
        t = slots[slot]
        if t < 0 or is_double[t]:
            continue
        if own_twin[t] >= 0:
            is_double[t] = 1
            other_twin[own_twin[t]] = -1
            own_twin[t] = -1
        else:
            own_twin[t] = s
            other_twin[s] = t
    return own_twin, other_twin
