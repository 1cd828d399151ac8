"""`Place`: what a note is pinned to, in the texture and on the object."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from evenweave.arrays import FloatArray, IntArray
from evenweave.layout.layout import Layout
from evenweave.notes.fingerprint import Fingerprint, Vector, fingerprints, vector


@dataclass(frozen=True)
class Place:
    """A point of an island's surface.

    layout : name of the layout; point_m, normal : on the object; uv : in the texture, tile units
    extra : fields of the file that this version does not know
    """

    layout: str
    island: Fingerprint
    point_m: Vector
    normal: Vector
    uv: tuple[float, float]
    extra: Mapping[str, Any] = field(default_factory=dict, hash=False)


def place_in_texture(layout: Layout, triangle: int, uv: tuple[float, float]) -> Place:
    """Return the place at texture coordinates in one of the layout's triangles."""
    weight = _weights(layout.uv[_uvs(layout, triangle)], np.asarray(uv, dtype=np.float64))
    return _place(layout, triangle, weight)


def place_on_surface(layout: Layout, triangle: int, point_m: FloatArray) -> Place:
    """Return the place at a point (3,) of the object in one of the layout's triangles."""
    weight = _weights(layout.point_m[_points(layout, triangle)], np.asarray(point_m))
    return _place(layout, triangle, weight)


def place_on_face(layout: Layout, face: int, point_m: FloatArray) -> Place:
    """Return the place of a face that is nearest to a point (3,) of the object."""
    triangles = np.flatnonzero(layout.triangle_face == face)
    found = [place_on_surface(layout, int(one), point_m) for one in triangles]
    return min(found, key=lambda one: float(np.linalg.norm(one.point_m - point_m)))


def place_of_face(layout: Layout, face: int) -> Place:
    """Return the middle of the largest triangle of a face."""
    triangle = np.flatnonzero(layout.triangle_face == face)
    corner = layout.uv[layout.corner_uv[layout.triangle_corner[triangle]]]
    best = int(triangle[np.argmax(np.abs(_areas(corner)))])
    return _place(layout, best, np.full(3, 1 / 3))


def place_of_island(layout: Layout, island: int) -> Place:
    """Return a place well inside an island."""
    return _place(layout, middle_triangle(layout, island), np.full(3, 1 / 3))


def middle_triangle(layout: Layout, island: int) -> int:
    """Return a large triangle of an island near its middle in the texture."""
    triangle = np.flatnonzero(layout.face_island[layout.triangle_face] == island)
    corner = layout.uv[layout.corner_uv[layout.triangle_corner[triangle]]]
    area = np.abs(_areas(corner))
    middle = corner.mean(axis=1)
    if not area.sum() > 0:
        return int(triangle[0])
    centre = area @ middle / area.sum()
    spread = np.sqrt(area @ ((middle - centre) ** 2).sum(axis=1) / area.sum())
    apart = np.linalg.norm(middle - centre, axis=1) / max(float(spread), 1e-12)
    return int(triangle[np.argmax(np.sqrt(area / area.max()) - apart)])


def _areas(corner: FloatArray) -> FloatArray:
    one, other = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
    return np.asarray(one[:, 0] * other[:, 1] - one[:, 1] * other[:, 0], dtype=np.float64)


def _uvs(layout: Layout, triangle: int) -> IntArray:
    return np.asarray(layout.corner_uv[layout.triangle_corner[triangle]], dtype=np.int32)


def _points(layout: Layout, triangle: int) -> IntArray:
    return np.asarray(layout.corner_point[layout.triangle_corner[triangle]], dtype=np.int32)


def _weights(corner: FloatArray, point: FloatArray) -> FloatArray:
    """Return (3,) barycentric weights of the triangle's point nearest in its plane, inside it.

    corner : (3, A); point : (A,). Equal weights where the triangle has no area.
    """
    edge = (corner[1:] - corner[0]).T
    with np.errstate(all="ignore"):
        along = np.linalg.lstsq(edge, point - corner[0], rcond=1e-12)[0]
    weight = np.array([1 - along.sum(), *along])
    weight = np.clip(np.nan_to_num(weight, nan=1 / 3), 0.0, None)
    return np.asarray(weight / weight.sum(), dtype=np.float64)


def _place(layout: Layout, triangle: int, weight: FloatArray) -> Place:
    point = layout.point_m[_points(layout, triangle)]
    normal = np.cross(point[1] - point[0], point[2] - point[0])
    length = float(np.linalg.norm(normal))
    u, v = (float(f"{value:.9g}") for value in weight @ layout.uv[_uvs(layout, triangle)])
    island = int(layout.face_island[layout.triangle_face[triangle]])
    return Place(
        layout=layout.name,
        island=fingerprints(layout, [island])[0],
        point_m=vector(weight @ point),
        normal=vector(normal / length if length > 0 else normal, 3),
        uv=(u, v),
    )
