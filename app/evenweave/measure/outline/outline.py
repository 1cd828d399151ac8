"""The lines that bound what each island covers in the texture: its outline and its folds.

A point on the rim of an island lies on an edge with one face, or on an edge between a triangle
that runs clockwise and one that does not. So the outline, together with all sides of the
triangles that lie against the island's own direction, holds the rim of every island, folded,
torn or non-manifold; and all these lines lie within the island, so distances are exact.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenweave.arrays import FloatArray, IntArray, frozen
from evenweave.layout.layout import Layout
from evenweave.measure.outline.lines_kernels import (
    count_lines,
    faces_of_corners,
    fill_lines,
    orientations,
)

SignArray = NDArray[np.int8]


@dataclass(frozen=True, eq=False)
class Outlines:
    """S lines, grouped by island.

    uv : the layout's (U, 2); line : (S, 2) int32 rows of `uv`
    side : (S,) int8, the island lies to the left (1) or right (-1) of the line; 0 has no area
    start : (I + 1,) int32; island i has lines start[i] to start[i + 1]; first its outline, and
    from folded_start[i] on those added for folds and non-manifold edges
    """

    uv: FloatArray
    line: IntArray
    side: SignArray
    start: IntArray
    folded_start: IntArray

    @property
    def island_count(self) -> int:
        """Number of islands."""
        return len(self.folded_start)


def outlines(layout: Layout) -> Outlines:
    """Return the lines bounding every island. An island always has some."""
    counts = (len(layout.face_start) - 1, layout.island_count)
    triangle_sign, face_sign, island_sign = orientations(
        layout.uv,
        layout.corner_uv,
        layout.triangle_corner,
        layout.triangle_face,
        layout.face_island,
        counts,
    )
    edges = layout.edges
    corners = frozen(np.concatenate([edges.outline, edges.nonmanifold]).astype(np.int32))
    is_outline = np.arange(len(corners)) < len(edges.outline)
    face, following = faces_of_corners(layout.face_start, corners)
    edge_uv = np.stack([layout.corner_uv[corners], layout.corner_uv[following]], axis=1)
    edge_island = layout.face_island[face]
    triangle_island = layout.face_island[layout.triangle_face]
    start, folded_start = count_lines(
        edge_island, is_outline, triangle_island, triangle_sign, island_sign
    )
    line, side = fill_lines(
        edge_uv,
        edge_island,
        face_sign[face],
        is_outline,
        layout.corner_uv[layout.triangle_corner],
        triangle_island,
        triangle_sign,
        island_sign,
        start,
        folded_start,
    )
    return Outlines(layout.uv, frozen(line), frozen(side), frozen(start), frozen(folded_start))
