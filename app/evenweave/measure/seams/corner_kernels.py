# mypy: allow-untyped-defs, allow-untyped-calls
"""Kernels for what belongs to a corner: its face, the next corner, its edge, its triangle."""

from __future__ import annotations

import numpy as np
from numba import njit


@njit(cache=True, nogil=True)
def corner_faces(face_start):
    """Return (C,) int32, the face of each corner."""
    corner_face = np.empty(face_start[-1], dtype=np.int32)
    for f in range(len(face_start) - 1):
        corner_face[face_start[f] : face_start[f + 1]] = f
    return corner_face


@njit(cache=True, nogil=True)
def corner_after(c, face_start, corner_face):
    """Return the corner that follows a corner round its face."""
    f = corner_face[c]
    return c + 1 if c + 1 < face_start[f + 1] else face_start[f]


@njit(cache=True, nogil=True)
def triangle_at(c, corner_face, face_start, triangle_corner):
    """Return the triangle with the face's edge at corner c, and which of its corners c is."""
    f = corner_face[c]
    after = corner_after(c, face_start, corner_face)
    first = face_start[f] - 2 * f
    for t in range(first, first + face_start[f + 1] - face_start[f] - 2):
        for k in range(3):
            if triangle_corner[t, k] == c and triangle_corner[t, (k + 1) % 3] == after:
                return t, k
    return first, 0


@njit(cache=True, nogil=True)
def edge_lengths(corner, corner_face, face_start, corner_point, point_m):
    """Return the (N,) float64 length in metres of the edges beginning at some corners."""
    length = np.empty(len(corner), dtype=np.float64)
    for i in range(len(corner)):
        p = corner_point[corner[i]]
        q = corner_point[corner_after(corner[i], face_start, corner_face)]
        x, y, z = (
            point_m[q, 0] - point_m[p, 0],
            point_m[q, 1] - point_m[p, 1],
            point_m[q, 2] - point_m[p, 2],
        )
        length[i] = np.sqrt(x * x + y * y + z * z)
    return length
