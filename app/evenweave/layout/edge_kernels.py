# mypy: allow-untyped-defs, allow-untyped-calls
"""Kernels that match the edges of polygons."""

from __future__ import annotations

import numpy as np
from numba import njit

from evenweave.layout.island_kernels import (
    CORNER,
    FACE,
    FAR,
    UV_FAR,
    UV_NEAR,
    face_and_side,
    join_folds,
    number_islands,
    union,
)

INSIDE, SEAM, BORDER, NONMANIFOLD = 0, 1, 2, 3
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
    fold, folds = np.empty((len(corner_point), 2), dtype=np.int32), 0
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
                folds = _join_many(
                    use, key[first:end], item[first:end], far == p, face_side, corner_kind,
                    corner_outline, parent, fold, folds, len(uv),
                )  # fmt: skip
            elif end - first == 2:
                folds = _join_two(
                    use, item[first], item[first + 1], face_side, corner_kind, corner_twin,
                    corner_outline, parent, fold, folds,
                )  # fmt: skip
            else:
                i = item[first]
                corner_kind[use[i, CORNER]] = BORDER
                corner_outline[use[i, CORNER]] = use[i, UV_NEAR] != use[i, UV_FAR]
            first = end
    apart = join_folds(use, face_side, face_start, corner_uv, uv, parent, fold[:folds])
    for k in range(len(apart)):
        _part(use, fold[apart[k], 0], fold[apart[k], 1], corner_kind, corner_outline)
    return corner_kind, corner_twin, corner_outline, number_islands(parent)


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
def _join_two(
    use, i, j, face_side, corner_kind, corner_twin, corner_outline, parent, fold, folds
):  # fmt: skip
    """Judge an edge of two faces: inside an island, a fold, or a seam; return how many folds."""
    c, d = use[i, CORNER], use[j, CORNER]
    corner_twin[c], corner_twin[d] = d, c
    near, far = use[i, UV_NEAR], use[i, UV_FAR]
    if near == use[j, UV_NEAR] and far == use[j, UV_FAR]:
        f, side = face_and_side(use, i, face_side)
        g, other = face_and_side(use, j, face_side)
        if side != other or side == 0:
            union(parent, f, g)
            return folds
        # Both faces lie on one side, so that the island ends here.
        corner_outline[c] = near != far
        fold[folds, 0], fold[folds, 1] = i, j
        return folds + 1
    corner_kind[c] = corner_kind[d] = SEAM
    corner_outline[c] = near != far
    corner_outline[d] = use[j, UV_NEAR] != use[j, UV_FAR]
    return folds


@njit(cache=True, nogil=True)
def _part(use, i, j, corner_kind, corner_outline):
    """Make a fold between two islands a seam, unless it is of many faces."""
    c, d = use[i, CORNER], use[j, CORNER]
    if corner_kind[c] == INSIDE and corner_kind[d] == INSIDE:
        corner_kind[c] = corner_kind[d] = SEAM
    corner_outline[d] = corner_outline[c]


@njit(cache=True, nogil=True)
def _join_many(
    use, key, item, is_point, face_side, corner_kind, corner_outline, parent, fold, folds,
    uv_count,
):  # fmt: skip
    """Judge an edge of three or more faces, or edges that are no more than a point in 3D.

    The uses are sorted by their two uvs (of a point, the lesser first); equal ones are joined,
    first those that face the same way on opposite sides, the others like folds.
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
        end = first + 1
        while end < len(item) and key[end] == key[first]:
            end += 1
        i = item[first]
        is_line = use[i, UV_NEAR] != use[i, UV_FAR]
        # Where a point in 3D is one in the texture too, there is no edge to join at.
        if is_line or not is_point:
            is_bound, folds = _join_equal(
                use, item[first:end], face_side, parent, fold, folds
            )  # fmt: skip
            corner_outline[use[i, CORNER]] = is_line and is_bound
            if is_point and end - first == 1:
                corner_kind[use[i, CORNER]] = BORDER
        first = end
    return folds


@njit(cache=True, nogil=True)
def _join_equal(use, item, face_side, parent, fold, folds):
    """Join the faces of one edge of the texture.

    Returns whether the texture ends there (all faces on one side) and how many folds there are.
    """
    # The first use of each facing (face_side -1, 0, 1) on each side (-1, 0, 1).
    opposite = np.full((3, 3), -1, dtype=np.int64)
    sides = np.empty(len(item), dtype=np.int64)
    near = use[item[0], UV_NEAR]
    left = right = 0
    for k in range(len(item)):
        f, side = face_and_side(use, item[k], face_side)
        if use[item[k], UV_NEAR] != near:
            side = -side
        sides[k] = side
        left += side >= 0
        right += side <= 0
        if opposite[face_side[f] + 1, side + 1] < 0:
            opposite[face_side[f] + 1, side + 1] = f
    root, _ = face_and_side(use, item[0], face_side)
    for k in range(len(item)):
        f, _ = face_and_side(use, item[k], face_side)
        partner = opposite[face_side[f] + 1, 1 - sides[k]]
        if partner >= 0:
            union(parent, f, partner)
        if k > 0 and face_side[f] == 0:
            union(parent, f, root)
        elif k > 0:
            fold[folds, 0], fold[folds, 1] = item[0], item[k]
            folds += 1
    return len(item) == 1 or left == 0 or right == 0, folds
