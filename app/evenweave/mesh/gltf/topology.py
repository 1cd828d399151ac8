"""Triangles out of a glTF primitive's indices: lists, strips and fans.

Source: Khronos, glTF 2.0 specification, "Meshes", "Overview" (the primitive modes).
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from evenweave.arrays import IntArray
from evenweave.mesh.place import Place

POINTS_AND_LINES = frozenset({0, 1, 2, 3})
TRIANGLES, STRIP, FAN = 4, 5, 6
_RESTART = {1: 0xFF, 2: 0xFFFF, 4: 0xFFFFFFFF}


def triangle_corners(vertices: NDArray[Any], mode: int, place: Place) -> IntArray:
    """Return (3 T,) int32 vertices of the triangles of a list (4), strip (5) or fan (6).

    vertices : (N,) in drawing order, all below 2^31. The triangles of a strip that name a
    vertex twice only lead from one run of it to the next and are no faces.
    """
    if mode == TRIANGLES:
        if len(vertices) % 3:
            raise place.problem(f"{len(vertices)} indices make no whole number of triangles")
        return vertices.astype(np.int32)
    first = np.arange(max(len(vertices) - 2, 0))
    if mode == STRIP:
        odd = first % 2
        corners = np.stack([first, first + 1 + odd, first + 2 - odd], axis=1)
    elif mode == FAN:
        corners = np.stack([first + 1, first + 2, np.zeros_like(first)], axis=1)
    else:
        raise place.problem(f"its 'mode' {mode} is none of glTF's")
    triangles = vertices.astype(np.int32)[corners]
    a, b, c = triangles.T
    return np.ascontiguousarray(triangles[(a != b) & (b != c) & (c != a)]).ravel()


def check_indices(indices: NDArray[Any], vertex_count: int, place: Place) -> None:
    """Refuse indices beyond the vertices, telling the restart value from a mere slip."""
    largest = int(indices.max()) if len(indices) else -1
    if largest < vertex_count:
        return
    if largest == _RESTART[indices.dtype.itemsize]:
        raise place.problem(f"index {largest} is the restart value, which glTF forbids")
    raise place.problem(f"index {largest} is beyond its {vertex_count} vertices")


def turned_over(corners: IntArray) -> IntArray:
    """Return the (3 T,) corners of triangles with the winding reversed."""
    return np.ascontiguousarray(corners.reshape(-1, 3)[:, [0, 2, 1]]).ravel()
