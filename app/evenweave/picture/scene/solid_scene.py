"""`SolidScene`: the whole asset made ready to be drawn in space."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from evenweave.arrays import BoolArray, ByteArray, FloatArray, IntArray, frozen
from evenweave.layout.layout import Layout
from evenweave.mesh.asset import Asset
from evenweave.picture.scene.island_box_kernels import island_boxes
from evenweave.pipeline import Review
from evenweave.raster.solid.solid import SolidMesh, solid_mesh


@dataclass(frozen=True, eq=False)
class SolidScene:
    """The triangles of all layouts one after the other, then those of faces without UVs.

    Layout k has triangles triangle_start[k] to triangle_start[k + 1]; its islands count from
    island_start[k] on in triangle_island, and its points from point_start[k] on in the mesh.
    The last number in triangle_island stands for "no island".
    island_box : (islands + 1, 2, 3) float64 low and high corner of each; infinite where empty
    """

    mesh: SolidMesh
    triangle_start: tuple[int, ...]
    island_start: tuple[int, ...]
    point_start: tuple[int, ...]
    triangle_island: IntArray
    island_box: FloatArray
    up_axis: str

    def bounds(
        self, layout_index: int = -1, islands: tuple[int, ...] = ()
    ) -> tuple[FloatArray, FloatArray]:
        """Return low and high corner (3,) of some islands of a layout, or of everything."""
        if not islands:
            return self.mesh.bounds
        box = self.island_box[np.array(islands) + self.island_start[layout_index]]
        low, high = box[:, 0].min(axis=0), box[:, 1].max(axis=0)
        return (low, high) if np.isfinite(low).all() else self.mesh.bounds


def solid_scene(review: Review) -> SolidScene:
    """Make the whole asset ready: all layouts in order, then faces that no layout shows."""
    bare, bare_edges = fans(review.asset, _bare_faces(review))
    point, point_start = _points(review, has_bare=len(bare) > 0)
    triangles, triangle_uvs, edges, islands = [], [], [], []
    triangle_start, island_start, uv_start = [0], [0], 0
    for one, first_point in zip(review.layouts, point_start, strict=False):
        layout = one.layout
        triangles.append(
            np.take(layout.corner_point, layout.triangle_corner) + np.int32(first_point)
        )
        triangle_uvs.append(np.take(layout.corner_uv, layout.triangle_corner) + np.int32(uv_start))
        edges.append(polygon_edges(layout, next_corner(layout)))
        islands.append(
            np.take(layout.face_island, layout.triangle_face) + np.int32(island_start[-1])
        )
        triangle_start.append(triangle_start[-1] + len(layout.triangle_corner))
        island_start.append(island_start[-1] + layout.island_count)
        uv_start += len(layout.uv)
    triangles.append(bare + np.int32(point_start[-1]))
    triangle_uvs.append(np.full_like(bare, -1))
    edges.append(bare_edges)
    islands.append(np.full(len(bare), island_start[-1], dtype=np.int32))
    uv = np.concatenate([*(one.layout.uv for one in review.layouts), np.zeros((1, 2))])
    mesh = solid_mesh(
        point,
        frozen(np.concatenate(triangles)),
        uv=frozen(uv),
        triangle_uv=frozen(np.concatenate(triangle_uvs)),
        edges=frozen(np.concatenate(edges)),
    )
    triangle_island = frozen(np.concatenate(islands))
    box = np.empty((island_start[-1] + 1, 2, 3))
    box[:, 0], box[:, 1] = np.inf, -np.inf
    island_boxes(mesh.point, mesh.triangle, triangle_island, box)
    return SolidScene(
        mesh=mesh,
        triangle_start=tuple(triangle_start),
        island_start=tuple(island_start),
        point_start=tuple(point_start),
        triangle_island=triangle_island,
        island_box=frozen(box),
        up_axis=review.asset.up_axis,
    )


def next_corner(layout: Layout) -> IntArray:
    """Return (C,) int32 the corner after each corner in its face."""
    after = np.arange(1, len(layout.corner_uv) + 1, dtype=np.int32)
    after[layout.face_start[1:] - 1] = layout.face_start[:-1]
    return after


def polygon_edges(layout: Layout, after: IntArray) -> ByteArray:
    """Return (T,) uint8, bit i where side i of the triangle is an edge of the polygon."""
    corner = layout.triangle_corner
    edges = np.zeros(len(corner), dtype=np.uint8)
    for side in range(3):
        is_edge = np.take(after, corner[:, side]) == corner[:, (side + 1) % 3]
        edges |= is_edge.astype(np.uint8) << np.uint8(side)
    return edges


def fans(asset: Asset, is_wanted: BoolArray) -> tuple[IntArray, ByteArray]:
    """Return fans (T, 3) of the points of the wanted faces (F,), and which sides are edges."""
    start = asset.face_start[:-1][is_wanted]
    size = np.diff(asset.face_start)[is_wanted]
    parts = [np.zeros((0, 3), dtype=np.int32)]
    edges = [np.zeros(0, dtype=np.uint8)]
    for step in range(1, int(size.max(initial=2)) - 1):
        has = size > step + 1
        corner = start[has][:, None] + np.array([0, step, step + 1])
        parts.append(asset.corner_position[corner])
        is_last = size[has] == step + 2
        edges.append((2 + (step == 1) + 4 * is_last).astype(np.uint8))
    return np.concatenate(parts), np.concatenate(edges)


def _bare_faces(review: Review) -> BoolArray:
    """Return (F,) the asset's faces that no layout shows."""
    is_bare = np.ones(review.asset.face_count, dtype=np.bool_)
    for one in review.layouts:
        is_bare[one.layout.asset_face] = False
    return is_bare


def _points(review: Review, *, has_bare: bool) -> tuple[FloatArray, list[int]]:
    """Return all points in metres, and where those of each layout and of the asset begin.

    has_bare : whether the asset's own points are needed at all
    """
    parts: list[FloatArray] = [np.zeros((0, 3))]
    start: list[int] = []
    placed: dict[int, int] = {}
    count = 0
    for one in review.layouts:
        point = one.layout.point_m
        if id(point) not in placed:
            placed[id(point)] = count
            parts.append(point)
            count += len(point)
        start.append(placed[id(point)])
    start.append(count)
    if has_bare:
        parts.append(review.asset.position * review.asset.unit.metres)
    return frozen(np.concatenate(parts)), start
