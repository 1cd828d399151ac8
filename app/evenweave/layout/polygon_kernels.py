# mypy: allow-untyped-defs, allow-untyped-calls
"""Kernels that cut one polygon, given as corners in two planes: its own and the texture.

plane : (N, 2, 2) float64, corner i at plane[i, 0] on the surface and plane[i, 1] in the
texture, each scaled to a doubled area of 1. A cut is (N - 2, 3) int32 corners.
"""

from __future__ import annotations

import numpy as np
from numba import njit

# Cuts this close in worth count as equal; then the corner of least u, v decides, so that the
# outcome does not hang on which corner the file names first.
TIE = 1e-3
# Largest polygon that is cut in the best of all ways, which is cubic.
BEST_MOST = 16
# How often to look at all ears anew when none is sound.
_LOOKS = 8
_NO_WORTH = -1e300


@njit(cache=True, nogil=True)
def _turn(plane, kind, a, b, c):
    return (plane[b, kind, 0] - plane[a, kind, 0]) * (plane[c, kind, 1] - plane[a, kind, 1]) - (
        plane[b, kind, 1] - plane[a, kind, 1]
    ) * (plane[c, kind, 0] - plane[a, kind, 0])


@njit(cache=True, nogil=True)
def _worth(plane, has_surface, has_texture, a, b, c):
    """Return the lesser of a triangle's shares of the polygon's two areas."""
    worth = 1e300
    if has_surface:
        worth = _turn(plane, 0, a, b, c)
    if has_texture:
        worth = min(worth, _turn(plane, 1, a, b, c))
    return worth


@njit(cache=True, nogil=True)
def cut_best(plane, size, has_surface, has_texture, cut):
    """Cut so that the worst triangle is best of all ways; return its worth.

    Dynamic programming over sub-polygons (Klincsek, "Minimal Triangulations of Polygonal
    Domains", 1980).
    """
    best = np.full((BEST_MOST, BEST_MOST), 1e300)
    apex = np.zeros((BEST_MOST, BEST_MOST), dtype=np.int64)
    for span in range(2, size):
        for i in range(size - span):
            j = i + span
            best[i, j] = _NO_WORTH
            for m in range(i + 1, j):
                worth = _worth(plane, has_surface, has_texture, i, m, j)
                worth = min(worth, min(best[i, m], best[m, j]))
                if m == i + 1 or worth > best[i, j] + TIE / size:
                    best[i, j], apex[i, j] = worth, m
    todo = np.empty((BEST_MOST, 2), dtype=np.int64)
    todo[0, 0], todo[0, 1] = 0, size - 1
    waiting, k = 1, 0
    while waiting:
        waiting -= 1
        i, j = todo[waiting, 0], todo[waiting, 1]
        m = apex[i, j]
        cut[k, 0], cut[k, 1], cut[k, 2] = i, m, j
        k += 1
        if m > i + 1:
            todo[waiting, 0], todo[waiting, 1] = i, m
            waiting += 1
        if j > m + 1:
            todo[waiting, 0], todo[waiting, 1] = m, j
            waiting += 1
    return best[0, size - 1]


@njit(cache=True, nogil=True)
def cut_ears(plane, size, has_surface, has_texture, cut):
    """Cut off the ear of greatest worth until three corners are left."""
    before, after = np.empty(size, dtype=np.int64), np.empty(size, dtype=np.int64)
    worth = np.empty(size, dtype=np.float64)
    for i in range(size):
        before[i], after[i] = (i - 1) % size, (i + 1) % size
    for i in range(size):
        worth[i] = _ear_worth(plane, has_surface, has_texture, before, after, i)
    start, looks_left = 0, _LOOKS
    for k in range(size - 3):
        tip = _best_tip(worth, after, start)
        if worth[tip] <= 0 and looks_left > 0:
            # No sound ear is known: look again everywhere, then take the least bad one. A
            # polygon that crosses itself would ask for this at every step.
            looks_left -= 1
            i = start
            for _ in range(size - k):
                worth[i] = _ear_worth(plane, has_surface, has_texture, before, after, i)
                i = after[i]
            tip = _best_tip(worth, after, start)
        a, c = before[tip], after[tip]
        cut[k, 0], cut[k, 1], cut[k, 2] = a, tip, c
        after[a], before[c] = c, a
        start = a
        worth[a] = _ear_worth(plane, has_surface, has_texture, before, after, a)
        worth[c] = _ear_worth(plane, has_surface, has_texture, before, after, c)
    cut[size - 3, 0], cut[size - 3, 1], cut[size - 3, 2] = before[start], start, after[start]


@njit(cache=True, nogil=True)
def _best_tip(worth, after, start):
    tip, i = start, after[start]
    while i != start:
        if worth[i] > worth[tip]:
            tip = i
        i = after[i]
    return tip


@njit(cache=True, nogil=True)
def _ear_worth(plane, has_surface, has_texture, before, after, tip):
    """Worth of an ear; far below zero where another corner lies in it."""
    a, c = before[tip], after[tip]
    worth = _worth(plane, has_surface, has_texture, a, tip, c)
    if worth <= 0:
        return worth
    i = after[c]
    while i != a:
        if has_texture and _holds(plane, 1, a, tip, c, i):
            return worth - 2e3
        if has_surface and _holds(plane, 0, a, tip, c, i):
            return worth - 1e3
        i = after[i]
    return worth


@njit(cache=True, nogil=True)
def _holds(plane, kind, a, b, c, i):
    """Whether corner i lies in triangle a b c or on its edges, but on none of its corners."""
    if _is_same(plane, kind, a, i) or _is_same(plane, kind, b, i) or _is_same(plane, kind, c, i):
        return False
    return (
        _turn(plane, kind, a, b, i) >= 0
        and _turn(plane, kind, b, c, i) >= 0
        and _turn(plane, kind, c, a, i) >= 0
    )


@njit(cache=True, nogil=True)
def _is_same(plane, kind, a, b):
    return plane[a, kind, 0] == plane[b, kind, 0] and plane[a, kind, 1] == plane[b, kind, 1]
