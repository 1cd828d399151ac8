"""Shapes as convex pieces, of which two are apart exactly when a line lies between them."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from evenweave.arrays import FloatArray, frozen

Point = tuple[float, float]

FLAT = 1e-9  # of the squared size: how far inwards a corner may turn and still count as straight


def convex_pieces(shape: Any) -> tuple[FloatArray, ...]:
    """Return (N, 2) float64 corners, counter-clockwise, of convex pieces that cover a polygon.

    At most four times as many as needed: triangles, joined over every diagonal that leaves no
    corner turning inwards (Hertel & Mehlhorn 1983, from memory). A polygon without area is its
    convex hull.
    """
    import shapely

    ring = shapely.get_coordinates(shapely.constrained_delaunay_triangles(shape)).reshape(-1, 4, 2)
    corner, index = np.unique(ring[:, :3].reshape(-1, 2), axis=0, return_inverse=True)
    if not len(ring):
        hull: FloatArray = shapely.get_coordinates(shape.convex_hull)
        return (frozen(hull[:-1] if len(hull) > 1 else hull),)
    slack = FLAT * float(np.ptp(corner, axis=0).max()) ** 2
    point: list[Point] = [tuple(one) for one in corner.tolist()]
    triangles = [
        one if _turn(*(point[k] for k in one)) > 0 else one[::-1]
        for one in index.reshape(-1, 3).tolist()
    ]
    pieces = _joined(point, triangles, slack)
    return tuple(frozen(corner[piece]) for piece in pieces)


def _joined(point: list[Point], triangles: list[list[int]], slack: float) -> list[list[int]]:
    piece: dict[int, list[int]] = dict(enumerate(triangles))
    home = {edge: number for number, one in piece.items() for edge in _edges(one)}
    inner = [(a, b) for a, b in home if a < b and (b, a) in home]
    inner.sort(key=lambda edge: -math.dist(point[edge[0]], point[edge[1]]))
    for a, b in inner:
        first, second = home[a, b], home[b, a]
        if first == second:
            continue
        # Each begins behind the diagonal and ends with its start.
        one, other = _from(piece[first], b), _from(piece[second], a)
        if (
            _turn(point[one[-2]], point[a], point[other[1]]) < -slack
            or _turn(point[other[-2]], point[b], point[one[1]]) < -slack
        ):
            continue
        joined = one + other[1:-1]
        del piece[second]
        piece[first] = joined
        home.update(dict.fromkeys(_edges(joined), first))
    return list(piece.values())


def _edges(piece: list[int]) -> list[tuple[int, int]]:
    return list(zip(piece, piece[1:] + piece[:1], strict=True))


def _from(piece: list[int], corner: int) -> list[int]:
    at = piece.index(corner)
    return piece[at:] + piece[:at]


def _turn(a: Point, b: Point, c: Point) -> float:
    """Return twice the signed area of a triangle: above 0 where the way turns left."""
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
