# mypy: allow-untyped-defs, allow-untyped-calls
"""Kernels for triangles in space: normals, areas, and the point nearest to another."""

from __future__ import annotations

import numpy as np
from numba import njit


@njit(cache=True, nogil=True)
def gather(triangle_corner, corner_row, row_value, out):
    """Write the (T, 3, D) values at the corners of triangles."""
    for t in range(len(triangle_corner)):
        for k in range(3):
            row = corner_row[triangle_corner[t, k]]
            for d in range(out.shape[2]):
                out[t, k, d] = row_value[row, d]


@njit(cache=True, nogil=True)
def frames(corner, normal, area):
    """Write the (T, 3) unit normals (0 where there is no surface) and (T,) areas."""
    for t in range(len(corner)):
        ax, ay, az = (
            corner[t, 1, 0] - corner[t, 0, 0],
            corner[t, 1, 1] - corner[t, 0, 1],
            corner[t, 1, 2] - corner[t, 0, 2],
        )
        bx, by, bz = (
            corner[t, 2, 0] - corner[t, 0, 0],
            corner[t, 2, 1] - corner[t, 0, 1],
            corner[t, 2, 2] - corner[t, 0, 2],
        )
        x, y, z = ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx
        length = np.sqrt(x * x + y * y + z * z)
        area[t] = 0.5 * length
        if length > 0.0 and np.isfinite(length):
            normal[t, 0], normal[t, 1], normal[t, 2] = x / length, y / length, z / length
        else:
            normal[t, 0], normal[t, 1], normal[t, 2] = 0.0, 0.0, 0.0
            area[t] = 0.0


@njit(cache=True, nogil=True)
def bounds(corner):
    """Return (6,) the box round all corners, least corner first; zeros if there are none."""
    box = np.zeros(6, dtype=np.float64)
    for d in range(3):
        low, high = np.inf, -np.inf
        for t in range(len(corner)):
            for k in range(3):
                low, high = min(low, corner[t, k, d]), max(high, corner[t, k, d])
        if low <= high:
            box[d], box[3 + d] = low, high
    return box


@njit(cache=True, nogil=True)
def nearest_on(corner, t, x, y, z):
    """Return the squared distance to triangle t, and corners 1's and 2's weights where it is least.

    Ericson, "Real-Time Collision Detection", 2005, section 5.1.5.
    """
    ax, ay, az = corner[t, 0, 0], corner[t, 0, 1], corner[t, 0, 2]
    abx, aby, abz = corner[t, 1, 0] - ax, corner[t, 1, 1] - ay, corner[t, 1, 2] - az
    acx, acy, acz = corner[t, 2, 0] - ax, corner[t, 2, 1] - ay, corner[t, 2, 2] - az
    apx, apy, apz = x - ax, y - ay, z - az
    ab, ac = _dot(abx, aby, abz, abx, aby, abz), _dot(acx, acy, acz, acx, acy, acz)
    abac = _dot(abx, aby, abz, acx, acy, acz)
    d1, d2 = _dot(abx, aby, abz, apx, apy, apz), _dot(acx, acy, acz, apx, apy, apz)
    v, w = _weights(ab, ac, abac, d1, d2)
    px, py, pz = apx - v * abx - w * acx, apy - v * aby - w * acy, apz - v * abz - w * acz
    return _dot(px, py, pz, px, py, pz), v, w


@njit(cache=True, nogil=True)
def _dot(ax, ay, az, bx, by, bz):
    return ax * bx + ay * by + az * bz


@njit(cache=True, nogil=True)
def _weights(ab, ac, abac, d1, d2):
    """Return the weights from the scalar products of the edges with each other and the point."""
    if d1 <= 0.0 and d2 <= 0.0:
        return 0.0, 0.0
    d3, d4 = d1 - ab, d2 - abac
    if d3 >= 0.0 and d4 <= d3:
        return 1.0, 0.0
    vc = d1 * d4 - d3 * d2
    if vc <= 0.0 and d1 >= 0.0 and d3 <= 0.0:
        return (d1 / (d1 - d3) if d1 > d3 else 0.0), 0.0
    d5, d6 = d1 - abac, d2 - ac
    if d6 >= 0.0 and d5 <= d6:
        return 0.0, 1.0
    vb = d5 * d2 - d1 * d6
    if vb <= 0.0 and d2 >= 0.0 and d6 <= 0.0:
        return 0.0, (d2 / (d2 - d6) if d2 > d6 else 0.0)
    va = d3 * d6 - d5 * d4
    if va <= 0.0 and d4 - d3 >= 0.0 and d5 - d6 >= 0.0:
        total = (d4 - d3) + (d5 - d6)
        w = (d4 - d3) / total if total > 0.0 else 0.0
        return 1.0 - w, w
    total = va + vb + vc
    if not total > 0.0:
        return 1.0 / 3.0, 1.0 / 3.0
    return vb / total, vc / total


@njit(cache=True, nogil=True)
def values_at(corner, value, triangle, point, out):
    """Write what a value given at the corners (T, 3, D) is where triangles are nearest to points.

    triangle : (N,) int32, -1 leaves the row of `out`, (N, D), as it is
    """
    for i in range(len(triangle)):
        t = triangle[i]
        if t >= 0:
            _, v, w = nearest_on(corner, t, point[i, 0], point[i, 1], point[i, 2])
            for d in range(out.shape[1]):
                out[i, d] = (1.0 - v - w) * value[t, 0, d] + v * value[t, 1, d] + w * value[t, 2, d]
