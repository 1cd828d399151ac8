"""One island as a small triangle mesh that can be flattened again."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from evenweave.arrays import FloatArray, IntArray, frozen, ints
from evenweave.layout.layout import Layout


@dataclass(frozen=True, eq=False)
class IslandMesh:
    """An island cut out of its layout. A vertex is a (point, uv) pair, as seams leave them.

    point_m : (N, 3) float64 metres; uv : (N, 2) float64 tile units
    triangle : (T, 3) int32 vertices; vertex_point : (N,) int32 rows of `layout.point_m`
    corner : (K,) int32 corners of the layout; corner_vertex : (K,) int32 their vertices
    """

    point_m: FloatArray
    uv: FloatArray
    triangle: IntArray
    vertex_point: IntArray
    corner: IntArray
    corner_vertex: IntArray


def island_corners(layout: Layout, island: int) -> IntArray:
    """Return the island's corners, (K,) int32 ascending."""
    size = np.diff(layout.face_start)
    corner_island = np.repeat(layout.face_island, size)
    return np.flatnonzero(corner_island == island).astype(np.int32)


def island_mesh(layout: Layout, island: int) -> IslandMesh:
    """Cut one island out of the layout."""
    corner = island_corners(layout, island)
    key = np.stack([layout.corner_point[corner], layout.corner_uv[corner]], axis=1)
    pair, corner_vertex = np.unique(key, axis=0, return_inverse=True)
    corner_vertex = corner_vertex.reshape(-1).astype(np.int32)
    vertex_of = np.full(len(layout.corner_point), -1, np.int32)
    vertex_of[corner] = corner_vertex
    is_mine = layout.face_island[layout.triangle_face] == island
    return IslandMesh(
        point_m=frozen(layout.point_m[pair[:, 0]]),
        uv=frozen(layout.uv[pair[:, 1]]),
        triangle=frozen(vertex_of[layout.triangle_corner[is_mine]]),
        vertex_point=ints(pair[:, 0]),
        corner=ints(corner),
        corner_vertex=ints(corner_vertex),
    )
