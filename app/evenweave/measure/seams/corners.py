"""What belongs to the corners of a layout: their faces, and the edges that begin at them."""

from __future__ import annotations

from evenweave.arrays import FloatArray, IntArray, frozen
from evenweave.layout.layout import Layout
from evenweave.measure.seams import corner_kernels as kernels


def edge_length_m(layout: Layout, corner: IntArray, corner_face: IntArray) -> FloatArray:
    """Return the (N,) length in metres of the edges that begin at some corners.

    corner_face : (C,) int32 from `corner_faces`
    """
    length: FloatArray = kernels.edge_lengths(
        corner, corner_face, layout.face_start, layout.corner_point, layout.point_m
    )
    return length


def corner_faces(layout: Layout) -> IntArray:
    """Return (C,) int32, the face of every corner."""
    return frozen(kernels.corner_faces(layout.face_start))
