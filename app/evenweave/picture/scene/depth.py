"""How many triangles lie on each other at a triangle: a picture, counted on a grid of samples."""

from __future__ import annotations

import numpy as np

from evenweave.arrays import FloatArray, frozen
from evenweave.layout.layout import Layout
from evenweave.raster.camera import FlatView
from evenweave.raster.flat.count import count_cover
from evenweave.raster.flat.flat import FlatMesh, flat_mesh

_SIDE_PX = 2048


def triangle_depth(layout: Layout, mesh: FlatMesh | None = None) -> FloatArray:
    """Return (T,) the most triangles met at a few samples inside each triangle, at least 1."""
    corner = layout.corner_uv[layout.triangle_corner]
    if len(corner) == 0:
        return frozen(np.zeros(0))
    if mesh is None:
        mesh = flat_mesh(layout.uv, np.ascontiguousarray(corner))
    low, high = np.percentile(layout.uv, [0.5, 99.5], axis=0)
    low, high = np.floor(low), np.maximum(np.ceil(high), np.floor(low) + 1)
    scale = _SIDE_PX / float((high - low).max())
    width, height = (max(int(side), 1) for side in np.ceil((high - low) * scale))
    middle_u, middle_v = (low + high) / 2
    view = FlatView(float(middle_u), float(middle_v), scale, width, height)
    count = count_cover(mesh, view)
    uv = layout.uv[corner]
    middle = uv.mean(axis=1)
    depth = np.ones(len(corner))
    for share in (None, 0, 1, 2):
        place = middle if share is None else 0.5 * middle + 0.5 * uv[:, share]
        pixel = np.floor(view.to_pixel(place)).astype(np.int64)
        inside = ((pixel >= 0) & (pixel < (width, height))).all(axis=1)
        found = count[pixel[inside, 1], pixel[inside, 0]]
        depth[inside] = np.maximum(depth[inside], found)
    return frozen(depth)
