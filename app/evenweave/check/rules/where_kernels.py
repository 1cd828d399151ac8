# mypy: allow-untyped-defs
"""Passes over all triangles that the checks need to point at places."""

from __future__ import annotations

import numpy as np
from numba import njit


@njit(cache=True, nogil=True)
def heaviest_triangles(triangle_island, is_wanted, weight):
    """Return the weightiest triangle of each wanted island, (I,) int32, -1 where there is none.

    triangle_island : (T,) int32; is_wanted : (I,) bool; weight : (T,) float64, NaN weighs least
    """
    heaviest = np.full(len(is_wanted), -1, dtype=np.int32)
    for t in range(len(triangle_island)):
        i = triangle_island[t]
        if is_wanted[i]:
            best = heaviest[i]
            if best < 0 or weight[t] > weight[best] or np.isnan(weight[best]):
                heaviest[i] = t
    return heaviest


@njit(cache=True, nogil=True)
def stretch_beyond(s1, s2, area_m2, triangle_island, is_wanted, limit):
    """Return surface times stretch beyond the limit, (T,) float64, 0 outside wanted islands."""
    beyond = np.zeros(len(s1))
    for t in range(len(s1)):
        if is_wanted[triangle_island[t]] and s1[t] > limit * abs(s2[t]) and s2[t] != 0.0:
            beyond[t] = (s1[t] / abs(s2[t]) - limit) * area_m2[t]
    return beyond
