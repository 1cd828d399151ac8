# mypy: allow-untyped-defs
"""Kernels that collect the lines bounding what each island covers."""

from __future__ import annotations

import numpy as np
from numba import njit


@njit(cache=True, nogil=True)
def orientations(uv, corner_uv, triangle_corner, triangle_face, face_island, counts):
    """Return which way round triangles, faces and islands lie in the texture.

    counts : (number of faces, number of islands).
    Returns (T,), (F,) and (I,) int8: 1 counter-clockwise, -1 clockwise, 0 without area. Islands
    go with the larger area.
    """
    faces, islands = counts
    triangle_sign = np.zeros(len(triangle_face), dtype=np.int8)
    face_area = np.zeros(faces)
    for t in range(len(triangle_face)):
        a = corner_uv[triangle_corner[t, 0]]
        b = corner_uv[triangle_corner[t, 1]]
        c = corner_uv[triangle_corner[t, 2]]
        area = (uv[b, 0] - uv[a, 0]) * (uv[c, 1] - uv[a, 1]) - (uv[b, 1] - uv[a, 1]) * (
            uv[c, 0] - uv[a, 0]
        )
        triangle_sign[t] = 1 if area > 0.0 else (-1 if area < 0.0 else 0)
        face_area[triangle_face[t]] += area
    positive, negative = np.zeros(islands), np.zeros(islands)
    for f in range(faces):
        if face_area[f] > 0.0:
            positive[face_island[f]] += face_area[f]
        else:
            negative[face_island[f]] -= face_area[f]
    face_sign = np.zeros(faces, dtype=np.int8)
    for f in range(faces):
        face_sign[f] = 1 if face_area[f] > 0.0 else (-1 if face_area[f] < 0.0 else 0)
    island_sign = np.zeros(islands, dtype=np.int8)
    for i in range(islands):
        if negative[i] > positive[i]:
            island_sign[i] = -1
        elif positive[i] > 0.0:
            island_sign[i] = 1
    return triangle_sign, face_sign, island_sign


@njit(cache=True, nogil=True)
def faces_of_corners(face_start, corners):
    """Return the (N,) int32 face and the (N,) int32 following corner of each corner given."""
    face = np.empty(len(corners), dtype=np.int32)
    following = np.empty(len(corners), dtype=np.int32)
    for n in range(len(corners)):
        low, high = 0, len(face_start) - 1
        while high - low > 1:
            middle = (low + high) // 2
            if face_start[middle] <= corners[n]:
                low = middle
            else:
                high = middle
        face[n] = low
        end = corners[n] + 1
        following[n] = end if end < face_start[low + 1] else face_start[low]
    return face, following


@njit(cache=True, nogil=True)
def count_lines(edge_island, edge_is_outline, triangle_island, triangle_sign, island_sign):
    """Return (I + 1,) int32 starts of each island's lines and (I,) int32 of its folded ones."""
    islands = len(island_sign)
    plain = np.zeros(islands, dtype=np.int32)
    folded = np.zeros(islands, dtype=np.int32)
    for n in range(len(edge_island)):
        if edge_is_outline[n]:
            plain[edge_island[n]] += 1
        else:
            folded[edge_island[n]] += 1
    for t in range(len(triangle_island)):
        i = triangle_island[t]
        if triangle_sign[t] == 0 or triangle_sign[t] != island_sign[i]:
            folded[i] += 3
    start = np.zeros(islands + 1, dtype=np.int32)
    for i in range(islands):
        start[i + 1] = start[i] + plain[i] + folded[i]
    return start, start[:-1] + plain


@njit(cache=True, nogil=True)
def fill_lines(
    edge_uv, edge_island, edge_side, edge_is_outline, triangle_uv, triangle_island,
    triangle_sign, island_sign, start, folded_start,
):  # fmt: skip
    """Return (S, 2) int32 uv rows of the lines and the (S,) int8 side their island lies on."""
    line = np.empty((start[-1], 2), dtype=np.int32)
    side = np.empty(start[-1], dtype=np.int8)
    plain, folded = start[:-1].copy(), folded_start.copy()
    for n in range(len(edge_island)):
        i = edge_island[n]
        if edge_is_outline[n]:
            s = plain[i]
            plain[i] += 1
        else:
            s = folded[i]
            folded[i] += 1
        line[s, 0], line[s, 1] = edge_uv[n, 0], edge_uv[n, 1]
        side[s] = edge_side[n] if edge_side[n] != 0 else island_sign[i]
    for t in range(len(triangle_island)):
        i = triangle_island[t]
        if triangle_sign[t] != 0 and triangle_sign[t] == island_sign[i]:
            continue
        for k in range(3):
            s = folded[i]
            folded[i] += 1
            line[s, 0], line[s, 1] = triangle_uv[t, k], triangle_uv[t, (k + 1) % 3]
            side[s] = triangle_sign[t] if triangle_sign[t] != 0 else island_sign[i]
    return line, side
