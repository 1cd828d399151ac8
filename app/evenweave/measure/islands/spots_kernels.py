# mypy: allow-untyped-defs
"""Kernel that joins triangles into patches."""

from __future__ import annotations

import numpy as np
from numba import njit


@njit(cache=True, nogil=True)
def join_patches(triangle_uv, triangle_island, uv_count):
    """Return (K,) int32 patch of each triangle; patches share uv corners within one island.

    triangle_uv : (K, 3) int32; triangle_island : (K,) int32, ascending. Patches are numbered by
    their first triangle.
    """
    parent = np.arange(len(triangle_uv)).astype(np.int32)
    owner = np.full(uv_count, -1, dtype=np.int32)
    for t in range(len(triangle_uv)):
        for k in range(3):
            corner = triangle_uv[t, k]
            other = owner[corner]
            owner[corner] = t
            if other >= 0 and triangle_island[other] == triangle_island[t]:
                a, b = _root(parent, other), _root(parent, t)
                parent[max(a, b)] = min(a, b)
    patch = np.empty(len(triangle_uv), dtype=np.int32)
    count = 0
    for t in range(len(triangle_uv)):
        root = _root(parent, t)
        if root == t:
            patch[t] = count
            count += 1
        else:
            patch[t] = patch[root]
    return patch


@njit(cache=True, nogil=True)
def _root(parent, t):
    while parent[t] != t:
        parent[t] = parent[parent[t]]
        t = parent[t]
    return t
