"""Where a warning points to, as lines and spots in the texture and on the object."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from evenweave.arrays import FloatArray, IntArray
from evenweave.check.finding import Finding
from evenweave.layout.layout import Layout
from evenweave.picture.scene.scene import Bounds, FlatScene
from evenweave.picture.scene.solid_scene import next_corner

MOST_FACES = 4000  # beyond that outlines of single faces are only noise
MOST_SPOTS = 200
MOST_LIFTED = 400  # segments found again on the object

IndexArray = np.ndarray[tuple[int], np.dtype[np.intp]]


@dataclass(frozen=True, eq=False)
class Places:
    """Lines and spots. point : (N, A); segment : (S, 2) int32 rows of it; spot : (K, A)."""

    point: FloatArray
    segment: IntArray
    spot: FloatArray


@lru_cache(maxsize=2)
def flat_places(scene: FlatScene, finding: Finding) -> Places:
    """Return a warning's places in the texture, A = 2."""
    layout = scene.layout
    corner = face_corners(layout, finding.faces[:MOST_FACES])
    after = next_corner(layout)[corner]
    ends = np.stack((layout.uv[layout.corner_uv[corner]], layout.uv[layout.corner_uv[after]]), 1)
    point = np.concatenate((ends.reshape(-1, 2), finding.segments.reshape(-1, 2)))
    return Places(point, _pairs(len(point)), finding.points[:MOST_SPOTS].reshape(-1, 2))


def place_bounds(scene: FlatScene, finding: Finding) -> Bounds | None:
    """Return u0, v0, u1, v1 of a warning's places, with some texels around.

    Its islands where it names no place; None where it names neither.
    """
    places = flat_places(scene, finding)
    point = np.concatenate((places.point, places.spot))
    if len(point) == 0:
        return scene.bounds(finding.islands)
    low, high = point.min(axis=0), point.max(axis=0)
    tile = scene.review.measures.tile
    room = max(24.0 / min(tile.width, tile.height), 0.15 * float((high - low).max()))
    low, high = low - room, high + room
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])


@lru_cache(maxsize=2)
def solid_places(scene: FlatScene, finding: Finding) -> Places:
    """Return a warning's places on the object, A = 3: lifted from the texture to the surface."""
    layout = scene.layout
    corner = face_corners(layout, finding.faces[:MOST_FACES])
    after = next_corner(layout)[corner]
    ends = np.stack(
        (layout.point_m[layout.corner_point[corner]], layout.point_m[layout.corner_point[after]]), 1
    ).reshape(-1, 3)
    spot, found = lift(layout, finding.points[:MOST_SPOTS].reshape(-1, 2), finding.islands)
    segments = finding.segments[:MOST_LIFTED].reshape(-1, 2)
    lifted, is_found = lift(layout, segments, finding.islands)
    whole = is_found.reshape(-1, 2).all(axis=1)
    point = np.concatenate((ends, lifted.reshape(-1, 2, 3)[whole].reshape(-1, 3)))
    return Places(point, _pairs(len(point)), spot[found])


def face_corners(layout: Layout, face: IntArray) -> IntArray:
    """Return all corners of some faces, one face after the other."""
    spans = [
        np.arange(layout.face_start[f], layout.face_start[f + 1], dtype=np.int32) for f in face
    ]
    return np.concatenate([np.zeros(0, dtype=np.int32), *spans])


def lift(
    layout: Layout, uv: FloatArray, islands: tuple[int, ...]
) -> tuple[FloatArray, np.ndarray[tuple[int], np.dtype[np.bool_]]]:
    """Return the surface points (K, 3) behind texture points (K, 2), and whether one was found.

    islands : where to look; a point counts as found within 1e-6 of a triangle's own size
    """
    found = np.zeros(len(uv), dtype=np.bool_)
    place = np.zeros((len(uv), 3))
    if len(uv) == 0:
        return place, found
    triangle = layout.triangle_corner
    if islands:
        is_wanted = np.zeros(layout.island_count, dtype=np.bool_)
        is_wanted[list(islands)] = True
        triangle = triangle[is_wanted[layout.face_island[layout.triangle_face]]]
    pair_triangle, pair_point = _near(layout.uv[layout.corner_uv[triangle]], uv)
    weight = _weights(layout.uv[layout.corner_uv[triangle[pair_triangle]]], uv[pair_point])
    least = weight.min(axis=1)
    # The best triangle of each point comes last of its pairs.
    order = np.lexsort((-pair_triangle, least, pair_point))
    last = order[np.flatnonzero(np.diff(pair_point[order], append=-1))]
    last = last[least[last] > -1e-4]
    point = layout.point_m[layout.corner_point[triangle[pair_triangle[last]]]]
    place[pair_point[last]] = np.einsum("ni,nia->na", weight[last], point)
    found[pair_point[last]] = True
    return place, found


def _near(corner: FloatArray, uv: FloatArray) -> tuple[IndexArray, IndexArray]:
    """Return the pairs (triangle, point) where the point lies in the triangle's box."""
    order = np.argsort(uv[:, 0], kind="stable")
    along = uv[order, 0]
    low, high = corner.min(axis=1) - 1e-7, corner.max(axis=1) + 1e-7
    first = np.searchsorted(along, low[:, 0], side="left")
    count = np.searchsorted(along, high[:, 0], side="right") - first
    reach = np.flatnonzero(
        (count > 0) & (high[:, 1] >= uv[:, 1].min()) & (low[:, 1] <= uv[:, 1].max())
    )
    count = count[reach]
    triangle = np.repeat(reach, count)
    step = np.arange(len(triangle)) - np.repeat(np.cumsum(count) - count, count)
    point = order[first[triangle] + step]
    v = uv[point, 1]
    inside = (low[triangle, 1] <= v) & (v <= high[triangle, 1])
    return triangle[inside], point[inside]


def _weights(corner: FloatArray, point: FloatArray) -> FloatArray:
    """Return (N, 3) barycentric weights of N points in N triangles; -inf in degenerate ones."""
    a, b, c = corner[:, 0], corner[:, 1], corner[:, 2]
    area = _cross(b - a, c - a)
    with np.errstate(divide="ignore", invalid="ignore"):
        second = _cross(point - a, c - a) / area
        third = _cross(b - a, point - a) / area
    weight = np.stack((1.0 - second - third, second, third), axis=1)
    return np.where(np.isfinite(weight), weight, -np.inf)


def _cross(first: FloatArray, second: FloatArray) -> FloatArray:
    return np.asarray(first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0], dtype=np.float64)


def _pairs(count: int) -> IntArray:
    return np.arange(count, dtype=np.int32).reshape(-1, 2)
