"""What an island is recognised by in another pass: where its surface lies, and its shape."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from evenweave.arrays import FloatArray, IntArray
from evenweave.layout.layout import Layout

Vector = tuple[float, float, float]

SAMPLES = 6
"""Points of an island's surface that are kept, spread evenly over its area."""


@dataclass(frozen=True)
class Fingerprint:
    """An island of one pass. Lengths are metres.

    centre_m : of its surface; radius_m : root mean square distance of the surface from there
    sample_m, sample_normal : points on the surface and the unit normals there
    extra : fields of the file that this version does not know
    """

    name: str
    area_m2: float
    centre_m: Vector
    radius_m: float
    sample_m: tuple[Vector, ...]
    sample_normal: tuple[Vector, ...]
    extra: Mapping[str, Any] = field(default_factory=dict, hash=False)


def fingerprints(layout: Layout, islands: Sequence[int]) -> tuple[Fingerprint, ...]:
    """Return what some islands of a layout are recognised by."""
    wanted = np.zeros(layout.island_count, dtype=bool)
    wanted[list(islands)] = True
    triangle_island = layout.face_island[layout.triangle_face]
    triangle = np.flatnonzero(wanted[triangle_island])
    triangle = triangle[np.argsort(triangle_island[triangle], kind="stable")]
    corner = layout.point_m[layout.corner_point[layout.triangle_corner[triangle]]]
    island = triangle_island[triangle]
    first = np.searchsorted(island, islands)
    end = np.searchsorted(island, islands, side="right")
    return tuple(
        _fingerprint(layout.island_name[number], corner[a:b])
        for number, a, b in zip(islands, first.tolist(), end.tolist(), strict=True)
    )


def _fingerprint(name: str, corner: FloatArray) -> Fingerprint:
    """Return the fingerprint of triangles (T, 3, 3)."""
    cross = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    length = np.linalg.norm(cross, axis=1)
    area = float(length.sum()) / 2
    # Without any surface all triangles count alike.
    weight = length if area > 0 else np.ones(len(corner))
    weight = weight / weight.sum()
    middle = corner.mean(axis=1)
    centre = weight @ middle
    # The mean square over a triangle is that over its corners and thrice its middle, by 12ths.
    square = ((corner - centre) ** 2).sum(axis=(1, 2)) + 9 * ((middle - centre) ** 2).sum(axis=1)
    chosen = _spread(weight)
    normal = cross[chosen] / np.maximum(length[chosen], 1e-300)[:, None]
    return Fingerprint(
        name=name,
        area_m2=_short(area),
        centre_m=vector(centre),
        radius_m=_short(float(np.sqrt(weight @ square / 12))),
        sample_m=tuple(vector(point) for point in middle[chosen]),
        sample_normal=tuple(vector(way, 3) for way in normal),
    )


def _spread(weight: FloatArray) -> IntArray:
    """Return rows that stand evenly in the sum of the weights, each once."""
    steps = (np.arange(SAMPLES) + 0.5) / SAMPLES
    rows = np.searchsorted(np.cumsum(weight), steps * weight.sum())
    return np.unique(np.minimum(rows, len(weight) - 1)).astype(np.int32)


def vector(values: FloatArray, digits: int = 9) -> Vector:
    """Return three numbers, rounded to so many digits as files keep."""
    x, y, z = (_short(float(value), digits) for value in values)
    return x, y, z


def _short(value: float, digits: int = 9) -> float:
    return float(f"{value:.{digits}g}")
