"""How many triangles cover each pixel centre."""

from __future__ import annotations

import numpy as np

from evenweave.arrays import IntArray
from evenweave.raster.bands import over_bands
from evenweave.raster.chunks import CHUNK
from evenweave.raster.count_kernels import count_triangles
from evenweave.raster.flat import FlatMesh, chunk_pixels, to_screen


def count_cover(
    mesh: FlatMesh, corner: tuple[float, float], *, scale: float, size: tuple[int, int]
) -> IntArray:
    """Return (H, W) int32: how many triangles cover each pixel centre.

    corner : u, v of the picture's upper left corner; scale : pixels per tile; size : W, H
    """
    count = np.zeros((size[1], size[0]), dtype=np.int32)
    left, top = -corner[0] * scale, corner[1] * scale
    screen = np.zeros((len(mesh.vertex), 2), dtype=np.int64)
    to_screen(mesh, screen, scale=scale, left=left, top=top)
    chunk_px = chunk_pixels(mesh, scale=scale, left=left, top=top)
    over_bands(
        size[1],
        lambda row0, row1: count_triangles(
            screen, mesh.chunks.triangle, chunk_px, CHUNK, row0, row1, count
        ),
    )
    return count
