"""Places to show: looked up in the layout's tables."""

from __future__ import annotations

import numpy as np

from evenweave.arrays import BoolArray, FloatArray, IntArray, floats
from evenweave.check.rules.where_kernels import heaviest_triangles
from evenweave.check.subject import NO_POINTS, NO_SEGMENTS, Subject


def spots(
    subject: Subject, is_wanted: BoolArray, triangle_weight: FloatArray | None = None
) -> FloatArray:
    """Return one uv place in each wanted island, (K, 2): the middle of its weightiest triangle.

    is_wanted : (I,); triangle_weight : (T,), by default the texel area. Islands ascend; an
    island without any triangle is left out.
    """
    if triangle_weight is None:
        triangle_weight = np.abs(subject.measures.triangle.area_px)
    heaviest = heaviest_triangles(
        subject.triangle_island, np.array(is_wanted), np.array(triangle_weight)
    )
    triangles = heaviest[heaviest >= 0]
    if len(triangles) == 0:
        return NO_POINTS
    corners = subject.layout.triangle_corner[triangles]
    return floats(subject.layout.uv[subject.layout.corner_uv[corners]].mean(axis=1))


def edge_lines(subject: Subject, corners: IntArray) -> FloatArray:
    """Return the uv lines, (N, 2, 2), of the edges that start at these corners."""
    if len(corners) == 0:
        return NO_SEGMENTS
    layout = subject.layout
    face = np.searchsorted(layout.face_start, corners, side="right") - 1
    following = np.where(
        corners + 1 == layout.face_start[face + 1], layout.face_start[face], corners + 1
    )
    ends = np.stack([layout.corner_uv[corners], layout.corner_uv[following]], axis=1)
    return floats(layout.uv[ends])


def islands_of(subject: Subject, corners: IntArray) -> IntArray:
    """Return the island of each corner."""
    face = np.searchsorted(subject.layout.face_start, corners, side="right") - 1
    return subject.layout.face_island[face]
