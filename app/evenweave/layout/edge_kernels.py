# mypy: allow-untyped-defs, allow-untyped-calls
"""Kernels that match the edges of polygons and join faces into islands."""

from __future__ import annotations

import numpy as np
from numba import njit

INSIDE, SEAM, BORDER, NONMANIFOLD = 0, 1, 2, 3
# Columns of a use of an edge: its corner, the edge's greater point, the uv at its lesser and at
# its greater point, and the face, as -1 - face where the face runs from greater to lesser.
CORNER, FAR, UV_NEAR, UV_FAR, FACE = 0, 1, 2, 3, 4
_SMALL = 24


@njit(cache=True, nogil=True)
def match_edges(face_start, corner_point, corner_uv, uv, point_count):
    """Match every edge with its twins and join the faces that share it in the texture.

    All arrays as in `Layout`, with points and UVs numbered apart for each layout. The uses of
    edges are put into a bucket per lesser point, each bucket sorted by the greater one.

    Returns (C,) uint8 kind of the edge beginning at each corner, (C,) int32 the other side of
    an edge with two faces (-1 elsewhere), (C,) bool outline and (F,) int32 island, numbered by
    first face.
    """
    bucket, use, face_side = _edge_uses(face_start, corner_point, corner_uv, uv, point_count)
    corner_kind = np.zeros(len(corner_point), dtype=np.uint8)
    corner_twin = np.full(len(corner_point), -1, dtype=np.int32)
    corner_outline = np.zeros(len(corner_point), dtype=np.bool_)
    parent = np.arange(len(face_side)).astype(np.int32)
    most = 0
    for p in range(point_count):
        most = max(most, bucket[p + 1] - bucket[p])
    key, item = np.empty(most, dtype=np.int64), np.empty(most, dtype=np.int64)
    for p in range(point_count):
        count = bucket[p + 1] - bucket[p]
        for i in range(count):
            key[i], item[i] = use[bucket[p] + i, FAR], bucket[p] + i
        _sort(key, item, 0, count)
        first = 0
        while first < count:
            far = key[first]
            end = first + 1
            while end < count and key[end] == far:
                end += 1
            if far == p or end - first > 2:
                _join_many(
                    use, key[first:end], item[first:end], far == p, face_side, corner_kind,
                    corner_outline, parent, len(uv),
                )  # fmt: skip
            elif end - first == 2:
                _join_two(
                    use, item[first], item[first + 1], face_side, corner_kind, corner_twin,
                    corner_outline, parent,
                )  # fmt: skip
            else:
                i = item[first]
                corner_kind[use[i, CORNER]] = BORDER
                corner_outline[use[i, CORNER]] = use[i, UV_NEAR] != use[i, UV_FAR]
            first = end
    return corner_kind, corner_twin, corner_outline, _number_islands(parent)


@njit(cache=True, nogil=True)
def _edge_uses(face_start, corner_point, corner_uv, uv, point_count):
    """Return (P + 1,) first use of each point's bucket, (C, 5) uses, (F,) sense in the texture.

    The bucket array has one entry more, which serves while filling.
    """
    bucket = np.zeros(point_count + 2, dtype=np.int32)
    face_side = np.empty(len(face_start) - 1, dtype=np.int8)
    for f in range(len(face_side)):
        last = face_start[f + 1] - 1
        p = corner_point[last]
        u0, v0 = uv[corner_uv[last], 0], uv[corner_uv[last], 1]
        u, v, doubled_area = 0.0, 0.0, 0.0
        for d in range(face_start[f], last + 1):
            q = corner_point[d]
            bucket[min(p, q) + 2] += 1
            next_u, next_v = uv[corner_uv[d], 0] - u0, uv[corner_uv[d], 1] - v0
            doubled_area += u * next_v - next_u * v
            u, v, p = next_u, next_v, q
        face_side[f] = 1 if doubled_area > 0 else (-1 if doubled_area < 0 else 0)
    for p in range(point_count):
        bucket[p + 2] += bucket[p + 1]
    use = np.empty((len(corner_point), 5), dtype=np.int32)
    for f in range(len(face_side)):
        c = face_start[f + 1] - 1
        p, a = corner_point[c], corner_uv[c]
        for d in range(face_start[f], face_start[f + 1]):
            q, b = corner_point[d], corner_uv[d]
            near = min(p, q)
            at = bucket[near + 1]
            bucket[near + 1] = at + 1
            use[at, CORNER], use[at, FAR] = c, max(p, q)
            if p <= q:
                use[at, UV_NEAR], use[at, UV_FAR], use[at, FACE] = a, b, f
            else:
                use[at, UV_NEAR], use[at, UV_FAR], use[at, FACE] = b, a, -1 - f
            c, p, a = d, q, b
    return bucket, use, face_side


@njit(cache=True, nogil=True)
def _face_and_side(use, i, face_side):
    """Return the face of a use, and on which side of the edge (near to far) it lies: 1 or -1."""
    f = use[i, FACE]
    return (f, face_side[f]) if f >= 0 else (-1 - f, -face_side[-1 - f])


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
def _join_two(use, i, j, face_side, corner_kind, corner_twin, corner_outline, parent):
    """Judge an edge of two faces: inside an island, or a seam."""
    c, d = use[i, CORNER], use[j, CORNER]
    corner_twin[c], corner_twin[d] = d, c
    near, far = use[i, UV_NEAR], use[i, UV_FAR]
    if near == use[j, UV_NEAR] and far == use[j, UV_FAR]:
        f, side = _face_and_side(use, i, face_side)
        g, other = _face_and_side(use, j, face_side)
        _union(parent, f, g)
        # A fold: both faces lie on one side, so that the island ends here.
        corner_outline[c] = side == other and side != 0 and near != far
        return
    corner_kind[c] = corner_kind[d] = SEAM
    corner_outline[c] = near != far
    corner_outline[d] = use[j, UV_NEAR] != use[j, UV_FAR]


@njit(cache=True, nogil=True)
def _join_many(
    use, key, item, is_point, face_side, corner_kind, corner_outline, parent, uv_count
):  # fmt: skip
    """Judge an edge of three or more faces, or edges that are no more than a point in 3D.

    The uses are sorted by their two uvs (of a point, the lesser first); equal ones are joined.
    """
    for k in range(len(item)):
        near, far = use[item[k], UV_NEAR], use[item[k], UV_FAR]
        if is_point and far < near:
            near, far = far, near
        key[k] = np.int64(near) * uv_count + far
        if not is_point:
            corner_kind[use[item[k], CORNER]] = NONMANIFOLD
    _sort(key, item, 0, len(item))
    first = 0
    while first < len(item):
        i = item[first]
        c, near, far = use[i, CORNER], use[i, UV_NEAR], use[i, UV_FAR]
        f, _ = _face_and_side(use, i, face_side)
        end = first
        left = right = 0
        while end < len(item) and key[end] == key[first]:
            g, side = _face_and_side(use, item[end], face_side)
            if use[item[end], UV_NEAR] != near:
                side = -side
            left += side >= 0
            right += side <= 0
            # Where a point in 3D is one in the texture too, there is no edge to join at.
            if not is_point or near != far:
                _union(parent, f, g)
            end += 1
        if near != far:
            corner_outline[c] = end - first == 1 or left == 0 or right == 0
            if is_point and end - first == 1:
                corner_kind[c] = BORDER
        first = end


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
