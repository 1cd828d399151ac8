"""`Chunks`: triangles ordered so that neighbours lie together, bounded in small groups.

Only chunks in view are drawn, and memory is read in nearly straight lines. The order has no
influence on the picture: where triangles overlap, the highest number wins.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenweave.arrays import ByteArray, FloatArray, IntArray, frozen, read_only
from evenweave.raster.chunks_kernels import chunk_bounds, group_bounds, neighbourhood_keys
from evenweave.raster.sides_kernels import Screen

CHUNK = 128
ALL_EDGES = 7


@dataclass(frozen=True, eq=False)
class Chunks:
    """Triangles in drawing order.

    triangle : (T, 3) int32 points; number : (T,) int32 the caller's triangle; edges : (T,) uint8,
    bit i is set where the side from corner i to corner i + 1 is an edge of the polygon
    bounds : (K, 2 A) float64 low and high corner of each run of `CHUNK` triangles
    """

    triangle: IntArray
    number: IntArray
    edges: ByteArray
    bounds: FloatArray


def chunks(point: FloatArray, triangle: IntArray, edges: ByteArray | None = None) -> Chunks:
    """Order triangles (T, 3) over points (N, A), A = 2 or 3, by a Morton curve."""
    count = len(triangle)
    if edges is None:
        edges = np.full(count, ALL_EDGES, dtype=np.uint8)
    low, high = _common_bounds(point, triangle)
    key = np.zeros(count, dtype=np.uint32)
    neighbourhood_keys(point, triangle, low, high, key)
    order = np.argsort(key, kind="stable").astype(np.int32)
    bounds = np.zeros(((count + CHUNK - 1) // CHUNK, 2 * point.shape[1]))
    chunk_bounds(point, triangle, order, CHUNK, bounds)
    # Unlike indexing with an array, `take` lets other threads run meanwhile.
    return Chunks(
        frozen(np.take(triangle, order, axis=0)),
        frozen(order),
        frozen(np.take(edges, order)),
        frozen(bounds),
    )


def _common_bounds(point: FloatArray, triangle: IntArray) -> tuple[FloatArray, FloatArray]:
    """Bounds of nearly all triangles: a stray one must not make the keys coarse."""
    axes = point.shape[1]
    if len(triangle) == 0:
        return np.zeros(axes), np.ones(axes)
    sample = point[triangle[:: max(1, len(triangle) // 4096), 0]]
    low, high = np.percentile(sample, [1.0, 99.0], axis=0)
    room = np.maximum((high - low) * 0.05, 1e-9)
    return np.ascontiguousarray(low - room), np.ascontiguousarray(high + room)


def bounds_of_groups(
    point: FloatArray, index: IntArray, group: IntArray, *, count: int
) -> FloatArray:
    """Return (count, 2 A): low and high corner of the points index[n] of each group[n].

    Groups without points have infinite bounds the wrong way round.
    """
    axes = point.shape[1]
    bounds = np.full((count, 2 * axes), np.inf)
    bounds[:, axes:] = -np.inf
    group_bounds(point, index, group, bounds)
    return frozen(bounds)


def triangles_on(screen: NDArray[np.int64], order: Chunks, chunk_px: FloatArray) -> Screen:
    """Put triangles and their places on the screen together for a kernel; nothing is copied."""
    return Screen(
        read_only(screen), read_only(order.triangle), read_only(order.number),
        read_only(order.edges), read_only(chunk_px), CHUNK,
    )  # fmt: skip
