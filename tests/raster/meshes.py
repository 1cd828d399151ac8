"""Triangles to draw in tests, and plain ways to say what a picture of them must hold."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import Delaunay

from evenweave.arrays import FloatArray, IntArray, frozen
from evenweave.raster.colour.paint import Paint


def web(points: int = 400, seed: int = 3) -> tuple[FloatArray, IntArray]:
    """Return a Delaunay triangulation of the tile: no gap, no overlap; corners are in it."""
    random = np.random.default_rng(seed)
    inside = random.random((points, 2))
    side = np.linspace(0, 1, 9)
    frame = [np.column_stack((side, np.full(9, k))) for k in (0, 1)]
    frame += [np.column_stack((np.full(9, k), side)) for k in (0, 1)]
    # Many points on the grid of pixel centres and corners, where the edge rule has to decide.
    grid = random.integers(0, 65, (points, 2)) / 64
    vertex = np.unique(np.concatenate((inside, grid, *frame)), axis=0)
    triangle = Delaunay(vertex).simplices
    return frozen(vertex), frozen(triangle.astype(np.int32))


def plain_paint(triangles: int, colour: int = 0xC0C0C0, **options: object) -> Paint:
    """Return a paint of one colour, one island, without anything on it."""
    return Paint(
        triangle_colour=np.full(triangles, colour, dtype=np.uint32),
        triangle_island=np.zeros(triangles, dtype=np.int32),
        island_state=np.zeros(1, dtype=np.uint8),
        **options,  # type: ignore[arg-type]
    )


def covering(vertex_px: FloatArray, triangle: IntArray, shape: tuple[int, int]) -> NDArray[np.int_]:
    """Return (H, W): the last triangle strictly holding each pixel centre, -1 none, -2 too close.

    Plain signed areas in numpy; a centre within 0.01 pixel of a side is not judged.
    """
    y, x = np.mgrid[: shape[0], : shape[1]] + 0.5
    found = np.full(shape, -1)
    close = np.zeros(shape, dtype=bool)
    for number, corners in enumerate(vertex_px[triangle]):
        sides = []
        for k in range(3):
            (ax, ay), (bx, by) = corners[k], corners[(k + 1) % 3]
            length = max(np.hypot(bx - ax, by - ay), 1e-12)
            sides.append(((bx - ax) * (y - ay) - (by - ay) * (x - ax)) / length)
        side = np.array(sides)
        if (corners[1, 0] - corners[0, 0]) * (corners[2, 1] - corners[0, 1]) < (
            corners[2, 0] - corners[0, 0]
        ) * (corners[1, 1] - corners[0, 1]):
            side = -side
        found[(side > 0).all(axis=0)] = number
        close |= np.abs(side.min(axis=0)) < 0.01
    found[close] = -2
    return found
