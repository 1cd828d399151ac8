"""Kernels that match the edges of polygons and join faces into islands."""

from __future__ import annotations

import numpy as np
from numba import njit

INSIDE, SEAM, BORDER, NONMANIFOLD = 0, 1, 2, 3
_SMALL = 24


@njit(cache=True, nogil=True)
def match_edges(face_start, corner_point, corner_uv, uv, point_count):
    """Match every edge with its twins and join the faces that share it in the texture.

    All arrays as in `Layout`, with points and UVs numbered apart for each layout. Edges are
    put into a bucket per lesser point, each bucket sorted by the greater one.

    Returns (C,) uint8 kind of the edge beginning at each corner, (C,) int32 the other side of
    an edge with two faces (-1 elsewhere), (C,) bool outline and (F,) int32 island, numbered by
    first face.
    """
    faces, corners = len(face_start) - 1, len(corner_point)
    bucket, item_corner, item_far, corner_face, face_side = _fill_buckets(
        face_start, corner_point, corner_uv, uv, point_count
    )
    corner_kind = np.zeros(corners, dtype=np.uint8)
    corner_twin = np.full(corners, -1, dtype=np.int32)
    corner_outline = np.zeros(corners, dtype=np.bool_)
    parent = np.arange(faces).astype(np.int32)
    for p in range(point_count):
        first, last = bucket[p], bucket[p + 1]
        _sort(item_far, item_corner, first, last)
        while first < last:
            end = first + 1
            while end < last and item_far[end] == item_far[first]:
                end += 1
            collapsed = item_far[first] == p
            if end - first == 1 and not collapsed:
                c = item_corner[first]
                after = _after(c, face_start, corner_face)
                corner_kind[c] = BORDER
                corner_outline[c] = corner_uv[c] != corner_uv[after]
            elif end - first == 2 and not collapsed:
                _join_two(
                    item_corner[first], item_corner[first + 1], face_start, corner_point,
                    corner_uv, corner_face, face_side, corner_kind, corner_twin,
                    corner_outline, parent,
                )  # fmt: skip
            else:
                _join_many(
                    item_corner[first:end], collapsed, p, face_start, corner_point, corner_uv,
                    corner_face, face_side, corner_kind, corner_outline, parent, len(uv),
                )  # fmt: skip
            first = end
    return corner_kind, corner_twin, corner_outline, _number_islands(parent)


@njit(cache=True, nogil=True)
def _fill_buckets(face_start, corner_point, corner_uv, uv, point_count):
    corners = len(corner_point)
    bucket = np.zeros(point_count + 2, dtype=np.int32)
    corner_face = np.empty(corners, dtype=np.int32)
    face_side = np.empty(len(face_start) - 1, dtype=np.int8)
    for f in range(len(face_start) - 1):
        begin, end = face_start[f], face_start[f + 1]
        c, p = end - 1, corner_point[end - 1]
        u0, v0 = uv[corner_uv[c], 0], uv[corner_uv[c], 1]
        u, v, doubled_area = 0.0, 0.0, 0.0
        for d in range(begin, end):
            q = corner_point[d]
            bucket[min(p, q) + 2] += 1
            next_u, next_v = uv[corner_uv[d], 0] - u0, uv[corner_uv[d], 1] - v0
            doubled_area += u * next_v - next_u * v
            u, v = next_u, next_v
            corner_face[d] = f
            p = q
        face_side[f] = 1 if doubled_area > 0 else (-1 if doubled_area < 0 else 0)
    for p in range(point_count):
        bucket[p + 2] += bucket[p + 1]
    item_corner = np.empty(corners, dtype=np.int32)
    item_far = np.empty(corners, dtype=np.int32)
    for f in range(len(face_start) - 1):
        c = face_start[f + 1] - 1
        p = corner_point[c]
        for d in range(face_start[f], face_start[f + 1]):
            q = corner_point[d]
            at = bucket[min(p, q) + 1]
            item_corner[at] = c
            item_far[at] = max(p, q)
            bucket[min(p, q) + 1] = at + 1
            c, p = d, q
    return bucket, item_corner, item_far, corner_face, face_side


@njit(cache=True, nogil=True)
def _sort(key, item, first, last):
    """Sort key[first:last] and item alike: by insertion, or by heap where that would be slow."""
    count = last - first
    if count <= _SMALL:
        for i in range(first + 1, last):
            k, it, j = key[i], item[i], i - 1
            while j >= first and key[j] > k:
                key[j + 1], item[j + 1] = key[j], item[j]
                j -= 1
            key[j + 1], item[j + 1] = k, it
        return
    for begin in range(count // 2 - 1, -1, -1):
        _sift(key, item, first, begin, count)
    for end in range(count - 1, 0, -1):
        a, b = first, first + end
        key[a], key[b] = key[b], key[a]
        item[a], item[b] = item[b], item[a]
        _sift(key, item, first, 0, end)


@njit(cache=True, nogil=True)
def _sift(key, item, first, node, count):
    k, it = key[first + node], item[first + node]
    while True:
        child = 2 * node + 1
        if child >= count:
            break
        if child + 1 < count and key[first + child + 1] > key[first + child]:
            child += 1
        if key[first + child] <= k:
            break
        key[first + node], item[first + node] = key[first + child], item[first + child]
        node = child
    key[first + node], item[first + node] = k, it


@njit(cache=True, nogil=True)
def _after(c, face_start, corner_face):
    f = corner_face[c]
    return c + 1 if c + 1 < face_start[f + 1] else face_start[f]


@njit(cache=True, nogil=True)
def _join_two(
    c, d, face_start, corner_point, corner_uv, corner_face, face_side, corner_kind, corner_twin,
    corner_outline, parent,
):  # fmt: skip
    """Judge an edge of two faces: inside an island, or a seam."""
    c_after, d_after = _after(c, face_start, corner_face), _after(d, face_start, corner_face)
    opposite = corner_point[c] == corner_point[d_after]
    d_near, d_far = (d_after, d) if opposite else (d, d_after)
    corner_twin[c], corner_twin[d] = d, c
    if corner_uv[c] == corner_uv[d_near] and corner_uv[c_after] == corner_uv[d_far]:
        _union(parent, corner_face[c], corner_face[d])
        side = face_side[corner_face[c]]
        other = -face_side[corner_face[d]] if opposite else face_side[corner_face[d]]
        # A fold: both faces lie on one side, so that the island ends here.
        corner_outline[c] = side == other and side != 0 and corner_uv[c] != corner_uv[c_after]
        return
    corner_kind[c] = corner_kind[d] = SEAM
    corner_outline[c] = corner_uv[c] != corner_uv[c_after]
    corner_outline[d] = corner_uv[d] != corner_uv[d_after]


@njit(cache=True, nogil=True)
def _join_many(
    items, collapsed, p, face_start, corner_point, corner_uv, corner_face, face_side,
    corner_kind, corner_outline, parent, uv_count,
):  # fmt: skip
    """Judge an edge of three or more faces, or edges that are no more than a point in 3D."""
    order = items.copy()
    key = np.empty(len(items), dtype=np.int64)
    for i in range(len(items)):
        c = items[i]
        near, far = _uv_ends(c, collapsed, p, face_start, corner_point, corner_uv, corner_face)
        key[i] = np.int64(near) * uv_count + far
        if not collapsed:
            corner_kind[c] = NONMANIFOLD
    _sort(key, order, 0, len(order))
    first = 0
    while first < len(order):
        end = first
        left = right = 0
        while end < len(order) and key[end] == key[first]:
            c = order[end]
            near, _ = _uv_ends(c, collapsed, p, face_start, corner_point, corner_uv, corner_face)
            side = face_side[corner_face[c]]
            if corner_uv[c] != near:
                side = -side
            left += side >= 0
            right += side <= 0
            end += 1
        c = order[first]
        if corner_uv[c] != corner_uv[_after(c, face_start, corner_face)]:
            for i in range(first + 1, end):
                _union(parent, corner_face[c], corner_face[order[i]])
            corner_outline[c] = end - first == 1 or left == 0 or right == 0
            if collapsed and end - first == 1:
                corner_kind[c] = BORDER
        elif not collapsed:
            for i in range(first + 1, end):
                _union(parent, corner_face[c], corner_face[order[i]])
        first = end


@njit(cache=True, nogil=True)
def _uv_ends(c, collapsed, p, face_start, corner_point, corner_uv, corner_face):
    """The UVs of an edge at its lesser and greater point (or lesser and greater UV)."""
    a, b = corner_uv[c], corner_uv[_after(c, face_start, corner_face)]
    if collapsed:
        return min(a, b), max(a, b)
    return (a, b) if corner_point[c] == p else (b, a)


@njit(cache=True, nogil=True)
def _find(parent, f):
    while parent[f] != f:
        parent[f] = parent[parent[f]]
        f = parent[f]
    return f


@njit(cache=True, nogil=True)
def _union(parent, f, g):
    f, g = _find(parent, f), _find(parent, g)
    if f < g:
        parent[g] = f
    elif g < f:
        parent[f] = g


@njit(cache=True, nogil=True)
def _number_islands(parent):
    """Replace each root, the least face of its island, by the island's number."""
    face_island = np.empty(len(parent), dtype=np.int32)
    count = 0
    for f in range(len(parent)):
        root = _find(parent, f)
        if root == f:
            face_island[f] = count
            count += 1
        else:
            face_island[f] = face_island[root]
    return face_island
