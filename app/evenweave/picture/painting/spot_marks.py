"""A worst spot: the rim of its patch and a ring at its middle, in texture and on object."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from evenweave.arrays import FloatArray, IntArray
from evenweave.measure.results import WorstSpot
from evenweave.picture.scene.places import Places, lift
from evenweave.picture.scene.scene import Bounds, FlatScene
from evenweave.picture.scene.worst import spot_segments

_LEAST_ROOM_TEXELS = 24.0
_ROOM = 0.6  # of the patch, left free round it


@lru_cache(maxsize=2)
def flat_spot(scene: FlatScene, spot: WorstSpot) -> Places:
    """Return a spot's places in the texture."""
    layout = scene.layout
    point = layout.uv[rim(layout.corner_uv[layout.triangle_corner[spot.triangles]])]
    point = np.concatenate((point, spot_segments(scene.review.measures, spot)))
    return Places(point.reshape(-1, 2), _pairs(2 * len(point)), spot.point.reshape(1, 2))


@lru_cache(maxsize=2)
def solid_spot(scene: FlatScene, spot: WorstSpot) -> Places:
    """Return a spot's places on the object."""
    layout = scene.layout
    edge = rim(layout.corner_point[layout.triangle_corner[spot.triangles]])
    segments = spot_segments(scene.review.measures, spot)
    asked = np.concatenate((spot.point.reshape(1, 2), segments.reshape(-1, 2)))
    place, found = lift(layout, asked, (spot.island,))
    whole = found[1:].reshape(-1, 2).all(axis=1)
    lifted = place[1:].reshape(-1, 2, 3)[whole]
    place, found = place[:1], found[:1]
    point = np.concatenate((layout.point_m[edge], lifted))
    return Places(point.reshape(-1, 3), _pairs(2 * len(point)), place[found])


def rim(triangle: IntArray) -> IntArray:
    """Return (N, 2) the sides of triangles (T, 3) of points that only one of them has."""
    side = np.stack((triangle, np.roll(triangle, -1, axis=1)), axis=-1).reshape(-1, 2)
    sorted_side, count = np.unique(np.sort(side, axis=1), axis=0, return_counts=True)
    return np.asarray(sorted_side[count == 1], dtype=np.int32)


def spot_bounds(scene: FlatScene, spot: WorstSpot) -> Bounds:
    """Return u0, v0, u1, v1 of a spot with room round it."""
    places = flat_spot(scene, spot)
    point = np.concatenate((places.point, places.spot))
    low, high = point.min(axis=0), point.max(axis=0)
    tile = scene.review.measures.tile
    least = _LEAST_ROOM_TEXELS / min(tile.width, tile.height)
    room = max(least, _ROOM * float((high - low).max()))
    low, high = low - room, high + room
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])


def spot_box(scene: FlatScene, spot: WorstSpot) -> tuple[FloatArray, FloatArray] | None:
    """Return low and high corner (3,) of a spot on the object with room; None where it has none."""
    places = solid_spot(scene, spot)
    point = np.concatenate((places.point, places.spot))
    if len(point) == 0:
        return None
    low, high = point.min(axis=0), point.max(axis=0)
    least = 0.02 * float(np.linalg.norm(np.ptp(scene.layout.point_m, axis=0)))
    room = max(least, _ROOM * float((high - low).max()))
    return low - room, high + room


def spot_normal(scene: FlatScene, spot: WorstSpot) -> FloatArray | None:
    """Return (3,) where the surface of a spot looks to, weighted by area; None where nowhere."""
    layout = scene.layout
    triangle = spot.triangles if len(spot.triangles) else _triangles_of(scene, spot.island)
    point = layout.point_m[layout.corner_point[layout.triangle_corner[triangle]]]
    normal = np.cross(point[:, 1] - point[:, 0], point[:, 2] - point[:, 0]).sum(axis=0)
    length = float(np.linalg.norm(normal))
    return np.asarray(normal / length) if np.isfinite(length) and length > 0 else None


def _triangles_of(scene: FlatScene, island: int) -> IntArray:
    return np.flatnonzero(scene.triangle_island == island).astype(np.int32)


def _pairs(count: int) -> IntArray:
    return np.arange(count, dtype=np.int32).reshape(-1, 2)
