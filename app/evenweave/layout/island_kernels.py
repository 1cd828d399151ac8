# mypy: allow-untyped-defs, allow-untyped-calls
"""Kernels that join faces into islands, and part what is folded exactly onto itself."""

from __future__ import annotations

import numpy as np
from numba import njit

# Columns of a use of an edge: its corner, the edge's greater point, the uv at its lesser and at
# its greater point, and the face, as -1 - face where the face runs from greater to lesser.
CORNER, FAR, UV_NEAR, UV_FAR, FACE = 0, 1, 2, 3, 4
# Coordinates of mirrored halves may differ by the rounding of single precision, in tiles.
_SAME = 2.0**-16


@njit(cache=True, nogil=True)
def face_and_side(use, i, face_side):
    """Return the face of a use, and on which side of the edge (near to far) it lies: 1 or -1.

    face_side : (F,) int8 sense of the face in the texture, 1 counter-clockwise, 0 without area
    """
    f = use[i, FACE]
    return (f, face_side[f]) if f >= 0 else (-1 - f, -face_side[-1 - f])


@njit(cache=True, nogil=True)
def find(parent, f):
    """Return the root of a face, the least face that it is joined to."""
    while parent[f] != f:
        parent[f] = parent[parent[f]]
        f = parent[f]
    return f


@njit(cache=True, nogil=True)
def union(parent, f, g):
    """Join two faces."""
    f, g = find(parent, f), find(parent, g)
    if f < g:
        parent[g] = f
    elif g < f:
        parent[f] = g


@njit(cache=True, nogil=True)
def number_islands(parent):
    """Return (F,) int32, the island of each face, numbered by its least face."""
    face_island = np.empty(len(parent), dtype=np.int32)
    count = 0
    for f in range(len(parent)):
        root = find(parent, f)
        if root == f:
            face_island[f] = count
            count += 1
        else:
            face_island[f] = face_island[root]
    return face_island


@njit(cache=True, nogil=True)
def join_folds(use, face_side, face_start, corner_uv, uv, parent, fold):
    """Join faces at folds, but not pieces that cover the same texture: those are a stack.

    fold : (N, 2) int32 pairs of uses. A piece is what is joined so far; two pieces cover the
    same texture where their bounds, areas, centres and second moments agree within _SAME.

    Returns (M,) int32, the rows of `fold` between what are different islands in the end.
    """
    if len(fold) == 0:
        return np.empty(0, dtype=np.int32)
    piece = np.empty(len(parent), dtype=np.int32)
    for f in range(len(parent)):
        piece[f] = find(parent, f)
    extent = _piece_extents(piece, face_side, face_start, corner_uv, uv)
    for k in range(len(fold)):
        f, _ = face_and_side(use, fold[k, 0], face_side)
        g, _ = face_and_side(use, fold[k, 1], face_side)
        if piece[f] == piece[g] or not _is_stack(extent[piece[f]], extent[piece[g]]):
            union(parent, f, g)
    apart = np.empty(len(fold), dtype=np.int32)
    count = 0
    for k in range(len(fold)):
        f, _ = face_and_side(use, fold[k, 0], face_side)
        g, _ = face_and_side(use, fold[k, 1], face_side)
        if find(parent, f) != find(parent, g):
            apart[count] = k
            count += 1
    return apart[:count].copy()


@njit(cache=True, nogil=True)
def _piece_extents(piece, face_side, face_start, corner_uv, uv):
    """Return (F, 10) float64, at each piece's root what it covers; flipped faces count alike.

    Columns: area, the integrals of u, v, u u, v v, u v over it, and bounds u0, v0, u1, v1.
    """
    extent = np.zeros((len(piece), 10), dtype=np.float64)
    extent[:, 6:8] = np.inf
    extent[:, 8:] = -np.inf
    for f in range(len(piece)):
        row = extent[piece[f]]
        for c in range(face_start[f], face_start[f + 1]):
            u, v = uv[corner_uv[c], 0], uv[corner_uv[c], 1]
            row[6], row[7] = min(row[6], u), min(row[7], v)
            row[8], row[9] = max(row[8], u), max(row[9], v)
        a = corner_uv[face_start[f]]
        for c in range(face_start[f] + 1, face_start[f + 1] - 1):
            b, d = corner_uv[c], corner_uv[c + 1]
            area = (uv[b, 0] - uv[a, 0]) * (uv[d, 1] - uv[a, 1])
            area -= (uv[b, 1] - uv[a, 1]) * (uv[d, 0] - uv[a, 0])
            area *= face_side[f] / 2
            u, v = uv[a, 0] + uv[b, 0] + uv[d, 0], uv[a, 1] + uv[b, 1] + uv[d, 1]
            uu = uv[a, 0] ** 2 + uv[b, 0] ** 2 + uv[d, 0] ** 2
            vv = uv[a, 1] ** 2 + uv[b, 1] ** 2 + uv[d, 1] ** 2
            both = uv[a, 0] * uv[a, 1] + uv[b, 0] * uv[b, 1] + uv[d, 0] * uv[d, 1]
            row[0] += area
            row[1] += area * u / 3
            row[2] += area * v / 3
            row[3] += area * (u * u + uu) / 12
            row[4] += area * (v * v + vv) / 12
            row[5] += area * (u * v + both) / 12
    return extent


@njit(cache=True, nogil=True)
def _is_stack(first, other):
    """Whether two pieces lie on each other."""
    for k in range(6, 10):
        if abs(first[k] - other[k]) > _SAME:
            return False
    size = first[8] - first[6] + first[9] - first[7]
    if abs(first[0] - other[0]) > _SAME * size or first[0] <= 0 or other[0] <= 0:
        return False
    u, v = first[1] / first[0], first[2] / first[0]
    x, y = other[1] / other[0], other[2] / other[0]
    if abs(u - x) > _SAME or abs(v - y) > _SAME:
        return False
    return (
        abs(first[3] / first[0] - u * u - other[3] / other[0] + x * x) <= _SAME * size
        and abs(first[4] / first[0] - v * v - other[4] / other[0] + y * y) <= _SAME * size
        and abs(first[5] / first[0] - u * v - other[5] / other[0] + x * y) <= _SAME * size
    )
