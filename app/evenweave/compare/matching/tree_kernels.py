# mypy: allow-untyped-defs, allow-untyped-calls
"""Kernels of a tree of boxes over triangles, to find the triangles nearest to points.

Triangles are sorted along a Morton curve; every four make a leaf. The tree is complete: the
children of node i are 2 i and 2 i + 1, the root is 1, the leaves are the last half.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from evenweave.compare.matching.triangle_kernels import nearest_on

LEAF = 4
NEAREST = 4
_BITS = 21


@njit(cache=True, nogil=True)
def morton_codes(corner, low, size):
    """Return (T,) uint64, the place of each triangle's centre along a Morton curve."""
    code = np.empty(len(corner), dtype=np.uint64)
    steps = np.float64((1 << _BITS) - 1)
    for t in range(len(corner)):
        bits = np.uint64(0)
        for d in range(3):
            middle = (corner[t, 0, d] + corner[t, 1, d] + corner[t, 2, d]) / 3.0
            share = (middle - low[d]) / size
            bits |= _spread(np.uint64(min(max(share, 0.0), 1.0) * steps)) << np.uint64(d)
        code[t] = bits
    return code


@njit(cache=True, nogil=True)
def _spread(x):
    """Put two empty bits behind each of 21 bits."""
    x = (x | (x << np.uint64(32))) & np.uint64(0x1F00000000FFFF)
    x = (x | (x << np.uint64(16))) & np.uint64(0x1F0000FF0000FF)
    x = (x | (x << np.uint64(8))) & np.uint64(0x100F00F00F00F00F)
    x = (x | (x << np.uint64(4))) & np.uint64(0x10C30C30C30C30C3)
    return (x | (x << np.uint64(2))) & np.uint64(0x1249249249249249)


@njit(cache=True, nogil=True)
def boxes(corner, order):
    """Return (2 L, 6) the box of every node, least corner first; L leaves, a power of two."""
    leaves = 1
    while leaves * LEAF < len(order):
        leaves *= 2
    box = np.empty((2 * leaves, 6), dtype=np.float64)
    box[:, :3] = np.inf
    box[:, 3:] = -np.inf
    for i in range(len(order)):
        node = leaves + i // LEAF
        for k in range(3):
            for d in range(3):
                value = corner[order[i], k, d]
                box[node, d] = min(box[node, d], value)
                box[node, 3 + d] = max(box[node, 3 + d], value)
    for node in range(leaves - 1, 0, -1):
        for d in range(3):
            box[node, d] = min(box[2 * node, d], box[2 * node + 1, d])
            box[node, 3 + d] = max(box[2 * node, 3 + d], box[2 * node + 1, 3 + d])
    return box


@njit(cache=True, nogil=True)
def _box_distance(box, node, x, y, z):
    dx = max(max(box[node, 0] - x, x - box[node, 3]), 0.0)
    dy = max(max(box[node, 1] - y, y - box[node, 4]), 0.0)
    dz = max(max(box[node, 2] - z, z - box[node, 5]), 0.0)
    return dx * dx + dy * dy + dz * dz


@njit(cache=True, nogil=True)
def nearest(corner, normal, group, order, box, point, facing, reach, slack, least_cosine,
            triangle, distance, first, end):  # fmt: skip
    """Find for points first to end the nearest triangle, and those of other groups as near.

    point, facing : (N, 3), the normals the triangles' are to agree with (0: any); reach : (N,)
    how far to look; slack : what counts as equally near; group : (T,) int32
    found : (N, NEAREST) int32 is written, nearest first, at most one triangle a group, -1 for
    none; distance : (N,) to the nearest
    """
    leaves = len(box) // 2
    stack = np.empty(64, dtype=np.int64)
    bounds = np.empty(64, dtype=np.float64)
    near = np.empty(NEAREST, dtype=np.float64)
    for i in range(first, end):
        x, y, z = point[i, 0], point[i, 1], point[i, 2]
        count = 0
        limit = reach[i] * reach[i]
        depth = 1
        stack[0] = 1
        bounds[0] = _box_distance(box, 1, x, y, z)
        while depth > 0:
            depth -= 1
            if bounds[depth] > limit:
                continue
            node = stack[depth]
            if node < leaves:
                left, right = 2 * node, 2 * node + 1
                a, b = _box_distance(box, left, x, y, z), _box_distance(box, right, x, y, z)
                if a < b:
                    left, right, a, b = right, left, b, a
                # The nearer child lies on top and is looked into first.
                if a <= limit:
                    stack[depth], bounds[depth] = left, a
                    depth += 1
                if b <= limit:
                    stack[depth], bounds[depth] = right, b
                    depth += 1
                continue
            for k in range((node - leaves) * LEAF, min((node - leaves + 1) * LEAF, len(order))):
                t = order[k]
                if not _agrees(normal, t, facing, i, least_cosine):
                    continue
                d, _, _ = nearest_on(corner, t, x, y, z)
                if d <= limit:
                    count = _keep(triangle[i], near, count, t, d, group)
                    limit = min(limit, (np.sqrt(near[0]) + slack) ** 2)
        while count > 0 and near[count - 1] > limit:
            count -= 1
        for k in range(count, NEAREST):
            triangle[i, k] = -1
        distance[i] = np.sqrt(near[0]) if count > 0 else np.inf


@njit(cache=True, nogil=True)
def _agrees(normal, t, facing, i, least_cosine):
    cosine = normal[t, 0] * facing[i, 0] + normal[t, 1] * facing[i, 1] + normal[t, 2] * facing[i, 2]
    if cosine >= least_cosine:
        return True
    is_flat = normal[t, 0] == 0.0 and normal[t, 1] == 0.0 and normal[t, 2] == 0.0
    return is_flat or (facing[i, 0] == 0.0 and facing[i, 1] == 0.0 and facing[i, 2] == 0.0)


@njit(cache=True, nogil=True)
def _keep(row, near, count, t, d, group):
    """Put a triangle among those found, sorted by distance, one a group; return their count."""
    for k in range(count):
        if group[row[k]] == group[t]:
            if d >= near[k]:
                return count
            for j in range(k, count - 1):
                row[j], near[j] = row[j + 1], near[j + 1]
            count -= 1
            break
    k = count
    if count == NEAREST:
        if d >= near[count - 1]:
            return count
        k = count - 1
    else:
        count += 1
    while k > 0 and near[k - 1] > d:
        row[k], near[k] = row[k - 1], near[k - 1]
        k -= 1
    row[k], near[k] = t, d
    return count
