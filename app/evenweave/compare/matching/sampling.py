"""Sample points of one surface, and where they lie on another."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from evenweave.arrays import FloatArray, IntArray, frozen
from evenweave.compare.matching import sample_kernels
from evenweave.compare.matching.surface import Surface

PER_ISLAND = 24
MOST_SAMPLES = 1_000_000
REACH_SHARE = 0.02
"""How far apart, as a share of an island's size, two surfaces may lie and be the same place."""
FAR_SHARE = 0.15
"""The same for islands that are found nowhere else: edited, or replaced by others."""


@dataclass(frozen=True, eq=False)
class Landing:
    """Samples of a surface and the triangles of another on which they lie.

    triangle : (N,) int32 of the sampled surface; point_m : (N, 3); weight_m2 : (N,) area that
    each stands for
    found : (N, 4) int32 triangles of the other surface, nearest first, at most one an island,
    -1 for none; distance_m : (N,) to the nearest, inf for none
    """

    triangle: IntArray
    point_m: FloatArray
    weight_m2: FloatArray
    found: IntArray
    distance_m: FloatArray


def land(own: Surface, other: Surface, own_twin: IntArray) -> Landing:
    """Spread samples over a surface and find where each lies on another.

    own_twin : (T,) int32 from `identical_triangles`
    """
    per_island = float(np.clip(MOST_SAMPLES / max(own.island_count, 1), 3, PER_ISLAND))
    triangle, point, weight = sample_kernels.spread(
        own.corner_m, own.area_m2, own.island, own.island_area_m2, per_island
    )
    found = np.full((len(triangle), 4), -1, dtype=np.int32)
    distance = np.full(len(triangle), np.inf)
    twin = own_twin[triangle]
    known = twin >= 0
    found[known, 0] = twin[known]
    distance[known] = 0.0
    sought = np.flatnonzero(~known)
    reach = REACH_SHARE * np.append(own.island_size_m, own.size_m)[own.island[triangle[sought]]]
    found[sought], distance[sought] = other.nearest(
        frozen(point[sought]), frozen(own.normal[triangle[sought]]), frozen(reach)
    )
    return Landing(
        triangle=frozen(triangle),
        point_m=frozen(point),
        weight_m2=frozen(weight),
        found=frozen(found),
        distance_m=frozen(distance),
    )


def land_again(own: Surface, other: Surface, landing: Landing, sought: IntArray) -> Landing:
    """Look again, further away, for the islands not found the first time.

    sought : (N,) int32 samples to look for; other : `Surface.only` of what is not found either,
    whose triangles are counted in the result
    """
    triangle = landing.triangle[sought]
    island = own.island[triangle]
    found, distance = other.nearest(
        frozen(landing.point_m[sought]),
        frozen(own.normal[triangle]),
        frozen(FAR_SHARE * own.island_size_m[island]),
    )
    return Landing(
        triangle=frozen(triangle),
        point_m=frozen(landing.point_m[sought]),
        weight_m2=frozen(landing.weight_m2[sought]),
        found=frozen(found),
        distance_m=frozen(distance),
    )


def votes(own: Surface, other: Surface, landing: Landing) -> tuple[IntArray, IntArray, FloatArray]:
    """Return pairs of islands (own, other) and the area of own that lies on other, (K,) each."""
    key, total = sample_kernels.votes(
        landing.triangle, landing.weight_m2, landing.found, own.island, other.island
    )
    return (key >> 32).astype(np.int32), (key & 0xFFFFFFFF).astype(np.int32), total
