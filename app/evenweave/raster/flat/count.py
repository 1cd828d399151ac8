"""How many triangles cover each pixel centre."""

from __future__ import annotations

import numpy as np

from evenweave.arrays import IntArray
from evenweave.raster.bands import over_bands
from evenweave.raster.camera import FlatView
from evenweave.raster.chunks import triangles_on
from evenweave.raster.flat.count_kernels import count_triangles
from evenweave.raster.flat.flat import FlatMesh, box_pixels, to_screen
from evenweave.raster.sides_kernels import Part


def count_cover(mesh: FlatMesh, view: FlatView) -> IntArray:
    """Return (H, W) int32: how many triangles cover each pixel centre of a view."""
    count = np.zeros((view.height, view.width), dtype=np.int32)
    screen = np.zeros((len(mesh.vertex), 2), dtype=np.int64)
    to_screen(mesh, screen, view)
    shown = triangles_on(screen, mesh.chunks, box_pixels(mesh.chunks.bounds, view))
    over_bands(
        view.height,
        lambda row0, row1: count_triangles(shown, Part(row0, row1, 0, view.width), count),
    )
    return count
