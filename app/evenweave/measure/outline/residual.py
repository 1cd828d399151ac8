"""Residual edges: what is left of an island's triangles once shared edges have cancelled.

Turn every triangle counter-clockwise in the texture and add up its directed edges: edges of
neighbours cancel, and the outline is left, together with the lines along which the island folds
back on itself. The winding number of these edges is the number of triangles that cover a point,
whatever the holes, mirrored parts and non-manifold fans.
"""

from __future__ import annotations

from dataclasses import dataclass
from weakref import WeakKeyDictionary

import numpy as np

from evenweave.arrays import FloatArray, IntArray, frozen
from evenweave.layout.layout import Layout
from evenweave.measure.outline import residual_kernels as kernels


@dataclass(frozen=True, eq=False)
class ResidualEdges:
    """Directed edges with the covered side on their left, grouped by island.

    uv : (U, 2) float64, the layout's own
    start, end : (E,) int32 index into `uv`
    weight : (E,) int32, at least 1: how many triangles the edge bounds
    island : (E,) int32; island_start : (I + 1,) int32 first edge of each island
    winding : (I,) int32: 1 counter-clockwise, -1 clockwise, 0 both or neither
    area : (I,) float64 tile units squared, the sum of its triangles' areas
    """

    uv: FloatArray
    start: IntArray
    end: IntArray
    weight: IntArray
    island: IntArray
    island_start: IntArray
    winding: IntArray
    area: FloatArray


_known: WeakKeyDictionary[Layout, ResidualEdges] = WeakKeyDictionary()


def residual_edges(layout: Layout) -> ResidualEdges:
    """Return the residual edges of a layout; they are worked out once per layout."""
    found = _known.get(layout)
    if found is None:
        found = _known[layout] = _find(layout)
    return found


def _find(layout: Layout) -> ResidualEdges:
    """Take an island's outline where its faces wind one way and cancel, else its triangles.

    That the inner edges of an island cancel is shown by a 64-bit sum of a hash that changes its
    sign with the edge's direction: over all edges it equals that over the outline.
    """
    islands = layout.island_count
    winding, area = kernels.island_winding(
        layout.uv, layout.corner_uv, layout.triangle_corner, layout.triangle_face,
        layout.face_island, islands,
    )  # fmt: skip
    is_simple, is_outline = kernels.cancelling_islands(
        layout.face_start, layout.corner_uv, layout.face_island, layout.edges.outline, winding
    )
    outline = kernels.outline_edges(
        layout.face_start, layout.corner_uv, layout.face_island, is_simple, is_outline, winding
    )
    folded = kernels.cancelled_edges(
        layout.uv, layout.corner_uv, layout.triangle_corner, layout.triangle_face,
        layout.face_island, is_simple,
    )  # fmt: skip
    start, end, island = (
        np.concatenate(pair) for pair in zip(outline[:3], folded[:3], strict=True)
    )
    weight = np.concatenate((outline[3], folded[3]))
    order, island_start = kernels.grouped(island, islands)
    return ResidualEdges(
        uv=layout.uv,
        start=frozen(start[order]),
        end=frozen(end[order]),
        weight=frozen(weight[order]),
        island=frozen(island[order]),
        island_start=frozen(island_start),
        winding=frozen(winding),
        area=frozen(area),
    )
