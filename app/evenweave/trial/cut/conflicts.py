"""Which triangles of a flattening lie on one another."""

from __future__ import annotations

import numpy as np

from evenweave.arrays import FloatArray, IntArray

SHRUNK = 1e-4  # by which triangles are drawn together, so that neighbours do not count


def conflicts(uv: FloatArray, triangle: IntArray) -> IntArray:
    """Return (X, 2) int32 pairs of triangles that share a part of the plane, low number first.

    uv : (N, 2); triangle : (T, 3). Triangles that only touch do not count.
    """
    import shapely

    corner = uv[triangle]
    corner = corner + SHRUNK * (corner.mean(axis=1, keepdims=True) - corner)
    shape = np.asarray(shapely.polygons(corner))
    tree = shapely.STRtree(shape)
    pair = tree.query(shape, predicate="intersects")
    pair = pair[:, pair[0] < pair[1]]
    found: IntArray = pair.T.astype(np.int32)
    return found
