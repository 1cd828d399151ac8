"""One island as a small triangle mesh that can be flattened again."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from hashlib import blake2b

import numpy as np

from evenweave.arrays import BoolArray, FloatArray, IntArray, frozen, ints
from evenweave.layout.layout import Layout, Tile


@dataclass(frozen=True, eq=False)
class IslandMesh:
    """An island cut out of its layout. A vertex is a (point, uv) pair, as seams leave them.

    point_m : (N, 3) float64 metres; uv : (N, 2) float64 tile units
    triangle : (T, 3) int32 vertices; vertex_point : (N,) int32 rows of `layout.point_m`
    corner : (K,) int32 corners of the layout, ascending; corner_vertex : (K,) int32 their
    vertices; triangle_corner : (T, 3) int32 rows of `corner`
    side_is_edge : (T, 3) bool, side j of a triangle (from its corner j to the next) is an edge
    of the polygon; the others are diagonals of the triangulation
    aspect : width over height of the tile in texels
    """

    point_m: FloatArray
    uv: FloatArray
    triangle: IntArray
    vertex_point: IntArray
    corner: IntArray
    corner_vertex: IntArray
    triangle_corner: IntArray
    side_is_edge: BoolArray
    aspect: float = 1.0

    @property
    def square_uv(self) -> FloatArray:
        """Return (N, 2) uv in heights of the tile, in which texels are square."""
        square: FloatArray = self.uv * np.array([self.aspect, 1.0])
        return square

    @property
    def digest(self) -> str:
        """Return a key of the island's shape and texture, by which advice can be kept."""
        key = blake2b(str(self.aspect).encode(), digest_size=16)
        for part in (self.point_m, self.uv, self.triangle, self.side_is_edge):
            key.update(np.ascontiguousarray(part).tobytes())
        return key.hexdigest()


def island_corners(layout: Layout, island: int) -> IntArray:
    """Return the island's corners, (K,) int32 ascending."""
    return _runs(layout.face_start, np.flatnonzero(layout.face_island == island))


def island_mesh(layout: Layout, island: int, *, aspect: float = 1.0) -> IslandMesh:
    """Cut one island out of the layout. aspect : width over height of the tile in texels."""
    return _cut_out(layout, np.flatnonzero(layout.face_island == island), aspect)


def island_meshes(
    layout: Layout, islands: Iterable[int], *, aspect: float = 1.0
) -> Iterator[IslandMesh]:
    """Cut islands out one after another, each as it is asked for."""
    cutter = IslandCutter(layout, aspect)
    for island in islands:
        yield cutter.cut(island)


class IslandCutter:
    """Cuts out many islands of one layout, looking through its faces only once."""

    def __init__(self, layout: Layout, aspect: float = 1.0) -> None:
        self._layout, self._aspect = layout, aspect
        self._face = np.argsort(layout.face_island, kind="stable")
        island = layout.face_island[self._face]
        self._start = np.searchsorted(island, np.arange(layout.island_count + 1))

    def cut(self, island: int) -> IslandMesh:
        """Cut one island out."""
        face = self._face[self._start[island] : self._start[island + 1]]
        return _cut_out(self._layout, face, self._aspect)


def aspect_of(tile: Tile) -> float:
    """Return the width over the height of a tile."""
    return tile.width / tile.height


def _runs(start: IntArray, row: np.ndarray) -> IntArray:
    """Return start[r] ... start[r + 1] - 1 for every row, one after another."""
    size = (start[row + 1] - start[row]).astype(np.int64)
    shift = np.repeat(start[row] - (np.cumsum(size) - size), size)
    run: IntArray = (np.arange(size.sum()) + shift).astype(np.int32)
    return run


def _cut_out(layout: Layout, face: np.ndarray, aspect: float) -> IslandMesh:
    """Cut out the faces (ascending)."""
    corner = _runs(layout.face_start, face)
    key = layout.corner_point[corner].astype(np.int64) * len(layout.uv) + layout.corner_uv[corner]
    pair, corner_vertex = np.unique(key, return_inverse=True)
    corner_vertex = corner_vertex.reshape(-1).astype(np.int32)
    # A polygon of n corners has n - 2 triangles, and triangles are grouped by face.
    first_triangle = (layout.face_start - 2 * np.arange(len(layout.face_start))).astype(np.int32)
    triangle_corner = np.searchsorted(
        corner, layout.triangle_corner[_runs(first_triangle, face)]
    ).astype(np.int32)
    size = layout.face_start[face + 1] - layout.face_start[face]
    after = np.arange(1, len(corner) + 1)
    last = np.cumsum(size) - 1
    after[last] = last - size + 1
    vertex_point = (pair // max(len(layout.uv), 1)).astype(np.int32)
    return IslandMesh(
        point_m=frozen(layout.point_m[vertex_point]),
        uv=frozen(layout.uv[pair % max(len(layout.uv), 1)]),
        triangle=frozen(corner_vertex[triangle_corner]),
        vertex_point=ints(vertex_point),
        corner=ints(corner),
        corner_vertex=ints(corner_vertex),
        triangle_corner=frozen(triangle_corner),
        side_is_edge=frozen(after[triangle_corner] == np.roll(triangle_corner, -1, axis=1)),
        aspect=aspect,
    )
