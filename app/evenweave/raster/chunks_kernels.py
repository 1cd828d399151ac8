# mypy: allow-untyped-defs
"""Kernels that put triangles in an order of neighbourhood and bound them in chunks."""

from __future__ import annotations

from numba import njit

from evenweave.raster.kernel_types import F1, F2, I1, I2, OUT_F2, OUT_U1, i64


@njit([(F2, I2, F1, F1, OUT_U1)], cache=True, nogil=True)
def neighbourhood_keys(point, triangle, low, high, key):
    """Write Morton keys of triangle centres: 16 bits per axis in 2D, 10 in 3D."""
    axes = point.shape[1]
    bits = 16 if axes == 2 else 10
    cells = (1 << bits) - 1
    for t in range(triangle.shape[0]):
        code = 0
        for axis in range(axes):
            middle = (
                point[triangle[t, 0], axis]
                + point[triangle[t, 1], axis]
                + point[triangle[t, 2], axis]
            ) / 3.0
            share = (middle - low[axis]) / (high[axis] - low[axis])
            share = min(max(share, 0.0), 1.0)
            cell = int(share * cells)
            for bit in range(bits):
                code |= ((cell >> bit) & 1) << (bit * axes + axis)
        key[t] = code


@njit([(F2, I2, I1, i64, OUT_F2)], cache=True, nogil=True)
def chunk_bounds(point, triangle, order, size, bounds):
    """Write per chunk of `size` triangles the least and greatest coordinates (K, 2 * axes)."""
    axes = point.shape[1]
    for k in range(bounds.shape[0]):
        for axis in range(axes):
            least = 1e300
            most = -1e300
            for n in range(k * size, min((k + 1) * size, order.shape[0])):
                t = order[n]
                for corner in range(3):
                    value = point[triangle[t, corner], axis]
                    least = min(least, value)
                    most = max(most, value)
            bounds[k, axis] = least
            bounds[k, axes + axis] = most


@njit([(F2, I1, I1, OUT_F2)], cache=True, nogil=True)
def group_bounds(point, index, group, bounds):
    """Widen bounds (G, 2 * axes) so that group[n] holds point[index[n]], for every n."""
    axes = point.shape[1]
    for n in range(index.shape[0]):
        g = group[n]
        for axis in range(axes):
            value = point[index[n], axis]
            bounds[g, axis] = min(bounds[g, axis], value)
            bounds[g, axes + axis] = max(bounds[g, axes + axis], value)
