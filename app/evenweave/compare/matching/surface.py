"""`Surface`: the triangles of one or several layouts in space, ready to be searched."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from evenweave.arrays import BoolArray, FloatArray, IntArray, floats, frozen, ints
from evenweave.compare.matching import sample_kernels, tree_kernels, triangle_kernels
from evenweave.layout.layout import Layout
from evenweave.mesh.asset import Asset
from evenweave.raster.bands import over_bands

LEAST_COSINE = 0.5
"""Surfaces whose normals are further apart than 60 degrees are not the same place."""

SLACK_SHARE = 1e-6
"""Surfaces closer than this share of the whole's size lie on each other."""


@dataclass(frozen=True, eq=False)
class Surface:
    """Triangles in space. Islands of several layouts are numbered throughout.

    corner_m : (T, 3, 3) float64 metres; corner_uv : (T, 3, 2) float64 tile units
    normal : (T, 3), 0 where there is no surface; area_m2 : (T,)
    island : (T,) int32; -1 for faces without usable coordinates, which stand last
    face : (T,) int32 face of its layout; of the asset for faces without coordinates
    layout_island : (L + 1,) int32 first island of each layout
    layout_triangle : (L + 1,) int32 first triangle of each layout
    """

    corner_m: FloatArray
    corner_uv: FloatArray
    normal: FloatArray
    area_m2: FloatArray
    island: IntArray
    face: IntArray
    layout_island: IntArray
    layout_triangle: IntArray

    @property
    def island_count(self) -> int:
        """Number of islands of all layouts."""
        return int(self.layout_island[-1])

    @cached_property
    def bounds_m(self) -> FloatArray:
        """(6,) the box round everything, least corner first; the origin if there is nothing."""
        return frozen(triangle_kernels.bounds(self.corner_m))

    @cached_property
    def size_m(self) -> float:
        """Diagonal of the box round everything; tiny, not 0, where there is nothing."""
        return max(float(np.linalg.norm(self.bounds_m[3:] - self.bounds_m[:3])), 1e-12)

    @cached_property
    def island_area_m2(self) -> FloatArray:
        """(I,) float64."""
        has = self.island >= 0
        area = np.bincount(self.island[has], self.area_m2[has], self.island_count)
        return frozen(area.astype(np.float64))

    @cached_property
    def island_size_m(self) -> FloatArray:
        """(I,) diagonal of the box round each island."""
        box = sample_kernels.boxes(self.corner_m, self.island, self.island_count)
        return frozen(np.linalg.norm(box[:, 3:] - box[:, :3], axis=1))

    @cached_property
    def _tree(self) -> tuple[IntArray, FloatArray]:
        codes = tree_kernels.morton_codes(self.corner_m, self.bounds_m[:3], self.size_m)
        order = np.argsort(codes).astype(np.int32)
        return order, tree_kernels.boxes(self.corner_m, order)

    def triangles_of(self, is_wanted: BoolArray) -> IntArray:
        """Return the triangles of the islands for which `is_wanted`, (I,), is true."""
        return np.flatnonzero(np.append(is_wanted, False)[self.island]).astype(np.int32)

    def only(self, triangle: IntArray) -> Surface:
        """Return the surface of some triangles, ascending; islands keep their numbers."""
        return Surface(
            corner_m=frozen(self.corner_m[triangle]),
            corner_uv=frozen(self.corner_uv[triangle]),
            normal=frozen(self.normal[triangle]),
            area_m2=frozen(self.area_m2[triangle]),
            island=frozen(self.island[triangle]),
            face=frozen(self.face[triangle]),
            layout_island=self.layout_island,
            layout_triangle=ints(np.searchsorted(triangle, self.layout_triangle)),
        )

    def nearest(
        self, point_m: FloatArray, facing: FloatArray, reach_m: FloatArray
    ) -> tuple[IntArray, FloatArray]:
        """Find the triangles nearest to points.

        point_m, facing : (N, 3) points and the unit normals there (0 where any will do)
        reach_m : (N,) how far to look
        Returns (N, 4) int32 triangles, nearest first, at most one an island and only those that
        lie on the nearest one (-1 for none), and (N,) the distance, inf where there is none.
        """
        found = np.full((len(point_m), tree_kernels.NEAREST), -1, dtype=np.int32)
        distance = np.full(len(point_m), np.inf)
        if len(self.island) == 0 or len(point_m) == 0:
            return found, distance
        order, box = self._tree
        # Read-only views: kernels are compiled for one kind of array, whoever asks.
        point_m, facing, reach_m = (frozen(one.view()) for one in (point_m, facing, reach_m))

        def work(first: int, end: int) -> None:
            tree_kernels.nearest(
                self.corner_m, self.normal, self.island, order, box, point_m, facing, reach_m,
                self.size_m * SLACK_SHARE, LEAST_COSINE, found, distance, first, end,
            )  # fmt: skip

        over_bands(len(point_m), work)
        return found, distance

    def uv_at(self, triangle: IntArray, point_m: FloatArray) -> FloatArray:
        """Return (N, 2) coordinates where triangles are nearest to points; NaN for triangle -1."""
        uv = np.full((len(triangle), 2), np.nan)
        triangle_kernels.values_at(self.corner_m, self.corner_uv, triangle, point_m, uv)
        return uv

    def point_at(self, triangle: IntArray, point_m: FloatArray) -> FloatArray:
        """Return (N, 3) the points of triangles nearest to points; NaN for triangle -1."""
        place = np.full((len(triangle), 3), np.nan)
        triangle_kernels.values_at(self.corner_m, self.corner_m, triangle, point_m, place)
        return place


def surface_of(layouts: Sequence[Layout], asset: Asset | None = None) -> Surface:
    """Return the surface of layouts; with the asset also of its faces without coordinates."""
    bare = _bare(layouts, asset)
    counts = [len(one.triangle_face) for one in layouts]
    total = sum(counts)
    corner_m = np.empty((total + len(bare[0]), 3, 3))
    corner_uv = np.empty((total + len(bare[0]), 3, 2))
    corner_m[total:] = bare[0]
    corner_uv[total:] = np.nan
    starts = np.concatenate([[0], np.cumsum(counts)]).astype(np.int32)
    islands = np.concatenate([[0], np.cumsum([one.island_count for one in layouts])])
    island, face = [], []
    for number, one in enumerate(layouts):
        rows = slice(starts[number], starts[number + 1])
        triangle_kernels.gather(one.triangle_corner, one.corner_point, one.point_m, corner_m[rows])
        triangle_kernels.gather(one.triangle_corner, one.corner_uv, one.uv, corner_uv[rows])
        island.append(one.face_island[one.triangle_face] + np.int32(islands[number]))
        face.append(one.triangle_face)
    normal, area = np.empty((len(corner_m), 3)), np.empty(len(corner_m))
    triangle_kernels.frames(corner_m, normal, area)
    return Surface(
        corner_m=frozen(corner_m),
        corner_uv=frozen(corner_uv),
        normal=frozen(normal),
        area_m2=frozen(area),
        island=_joined([*island, np.full(len(bare[0]), -1)]),
        face=_joined([*face, bare[1]]),
        layout_island=ints(islands),
        layout_triangle=frozen(starts),
    )


def _joined(pieces: Sequence[NDArray[np.integer]]) -> IntArray:
    return frozen(np.concatenate(pieces).astype(np.int32))


def _bare(layouts: Sequence[Layout], asset: Asset | None) -> tuple[FloatArray, IntArray]:
    """Return (B, 3, 3) triangles of the faces without usable coordinates, and their faces."""
    if asset is None:
        return floats(np.empty((0, 3, 3))), ints([])
    none = np.empty(0, dtype=np.int32)
    faces = np.concatenate(
        [none, *(np.concatenate((one.missing_face, one.unusable_face)) for one in layouts)]
    )
    first = asset.face_start[faces]
    fans = asset.face_start[faces + 1] - first - 2
    face = np.repeat(faces, fans)
    step = np.arange(len(face)) - np.repeat(np.cumsum(fans) - fans, fans)
    apex = np.repeat(first, fans)
    corner = np.stack((apex, apex + step + 1, apex + step + 2), axis=1)
    metres = asset.unit.metres
    return floats(asset.position[asset.corner_position[corner]] * metres), ints(face)
