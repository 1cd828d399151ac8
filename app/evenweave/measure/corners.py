"""What belongs to some corners of a layout: their faces, the corners behind, their edges."""

from __future__ import annotations

import numpy as np

from evenweave.arrays import FloatArray, IntArray
from evenweave.layout.layout import Layout


def faces_of_corners(layout: Layout, corner: IntArray) -> IntArray:
    """Return the (N,) int32 faces of some corners."""
    face = np.searchsorted(layout.face_start, corner, side="right") - 1
    return face.astype(np.int32)


def corners_after(layout: Layout, corner: IntArray) -> IntArray:
    """Return the (N,) int32 corners that follow some corners round their faces."""
    face = faces_of_corners(layout, corner)
    is_last = corner + 1 == layout.face_start[face + 1]
    after: IntArray = np.where(is_last, layout.face_start[face], corner + 1).astype(np.int32)
    return after


def edge_length_m(layout: Layout, corner: IntArray) -> FloatArray:
    """Return the (N,) length in metres of the edges that begin at some corners."""
    start = layout.point_m[layout.corner_point[corner]]
    end = layout.point_m[layout.corner_point[corners_after(layout, corner)]]
    length: FloatArray = np.linalg.norm(end - start, axis=1)
    return length
