"""How islands moved in the texture: the similarity that takes their old coordinates to the new.

With coordinates as complex numbers z, a similarity is a z + b and a mirrored one a conj(z) + b;
the weighted least-squares a has a closed form (Horn, "Closed-form solution of absolute
orientation using unit quaternions", 1987, in two dimensions).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from evenweave.arrays import BoolArray, FloatArray, IntArray, frozen
from evenweave.compare.matching.lattice import cells, steps_per_m
from evenweave.compare.matching.matching import IslandMatch
from evenweave.compare.matching.surface import Surface
from evenweave.layout.layout import Tile
from evenweave.layout.weld_kernels import weld_rows

TOLERANCE_PX = 0.25
"""Coordinates this close are the same: files write them with four to six decimals."""

_SIZE_SHARE = 0.01
_KEPT_SHARE = 0.999
_LEAST_KEPT = 0.5
_OUTLIER = 1.5
_ROUNDS = 12

Complexes = NDArray[np.complex128]
Pairs = tuple[IntArray, Complexes, Complexes, FloatArray]


@dataclass(frozen=True, eq=False)
class Motion:
    """Per old island, (I,) each; texels of the tile. NaN where the island is not found.

    offset_px : (I, 2) of the middle; scale : factor of lengths; turn_degrees : -180 to 180,
    counter-clockwise; is_mirrored
    residual_px : root mean square distance from the similarity, over what follows it
    kept : share of the island's samples that follow the similarity
    reach_px : root mean square distance of the old island from its middle
    is_similar : nothing but such a motion happened to all of the island but a thousandth
    """

    offset_px: FloatArray
    scale: FloatArray
    turn_degrees: FloatArray
    is_mirrored: BoolArray
    residual_px: FloatArray
    kept: FloatArray
    reach_px: FloatArray
    is_similar: BoolArray


def motion(match: IslandMatch, tile: Tile) -> Motion:
    """Fit the motion of every island that is found again.

    Coordinates are compared at samples. Where not all of these follow one similarity, they are
    compared at the points of the mesh: a polygon that is not flat is another surface, and another
    map, when it is cut into other triangles. What does not follow is left out step by step.
    """
    count = match.old.island_count
    first = _fitted(*_at_samples(match, tile), count=count, rounds=1)
    doubtful = (match.new_of_old >= 0) & ~first.is_similar
    if not doubtful.any():
        return first
    second = _fitted(*_at_points(match, tile, doubtful), count=count, rounds=_ROUNDS)
    is_better = doubtful & (second.kept >= _LEAST_KEPT)
    return Motion(
        *(
            frozen(np.where(_beside(is_better, old), new, old))
            for old, new in zip(vars(first).values(), vars(second).values(), strict=True)
        )
    )


def _beside(mask: BoolArray, values: NDArray[Any]) -> BoolArray:
    return mask.reshape(-1, *(1,) * (values.ndim - 1))


def _at_samples(match: IslandMatch, tile: Tile) -> Pairs:
    """Return samples on islands found again: island, coordinates before and after, weight."""
    landing, old, new = match.old_landing, match.old, match.new
    own = old.island[landing.triangle]
    wanted = np.append(match.new_of_old, -1)[own]
    triangle = _triangle_on(landing.found, new.island, wanted)
    rows = np.flatnonzero(triangle >= 0)
    point = frozen(landing.point_m[rows])
    texels = np.array([tile.width, tile.height], dtype=np.float64)
    before = _complex(old.uv_at(frozen(landing.triangle[rows]), point) * texels)
    after = _complex(new.uv_at(frozen(triangle[rows]), point) * texels)
    return own[rows], before, after, landing.weight_m2[rows]


def _at_points(match: IslandMatch, tile: Tile, islands: BoolArray) -> Pairs:
    """Return the same at points of the mesh that are points of the other: of some islands."""
    old, new = match.old, match.new
    old_rows = old.triangles_of(islands)
    wanted = np.zeros(new.island_count, dtype=bool)
    wanted[match.new_of_old[islands]] = True
    new_rows = new.triangles_of(wanted)
    own = np.repeat(old.island[old_rows], 3)
    key = np.concatenate(
        [
            _keys(match, old, old_rows, match.new_of_old[own]),
            _keys(match, new, new_rows, np.repeat(new.island[new_rows], 3)),
        ]
    )
    number, _ = weld_rows(frozen(key))
    mine, theirs = number[: len(own)], number[len(own) :]
    texels = np.array([tile.width, tile.height], dtype=np.float64)
    uv = new.corner_uv[new_rows].reshape(-1, 2) * texels
    place = np.full((int(number.max(initial=-1)) + 1, 2), np.nan)
    place[theirs] = uv
    # Along a cut inside an island a point has several coordinates: which is meant is not told.
    place[theirs[np.abs(place[theirs] - uv).max(axis=1, initial=0.0) > TOLERANCE_PX]] = np.nan
    after = place[mine]
    rows = np.flatnonzero(np.isfinite(after[:, 0]))
    before = old.corner_uv[old_rows].reshape(-1, 2) * texels
    weight = np.repeat(old.area_m2[old_rows], 3)
    return own[rows], _complex(before[rows]), _complex(after[rows]), weight[rows]


def _keys(
    match: IslandMatch, surface: Surface, triangle: IntArray, island: IntArray
) -> NDArray[np.int64]:
    """Return (N, 3) int64 rows that are equal for equal points of one new island."""
    steps = steps_per_m(match.old, match.new)
    cell = cells(surface.corner_m[triangle].reshape(-1, 3), steps, match.old.bounds_m[:3])
    return np.stack((cell, island.astype(np.int64), np.zeros_like(cell)), axis=1)


def _triangle_on(nearest_triangle: IntArray, island: IntArray, wanted: IntArray) -> IntArray:
    """Return for each sample the triangle found on the wanted island, or -1."""
    triangle = np.full(len(nearest_triangle), -1, dtype=np.int32)
    for k in range(nearest_triangle.shape[1] - 1, -1, -1):
        candidate = nearest_triangle[:, k]
        rows = np.flatnonzero((candidate >= 0) & (wanted >= 0))
        rows = rows[island[candidate[rows]] == wanted[rows]]
        triangle[rows] = candidate[rows]
    return triangle


def _complex(uv: FloatArray) -> Complexes:
    return np.ascontiguousarray(uv).view(np.complex128)[:, 0]


def _fitted(
    island: IntArray,
    before: Complexes,
    after: Complexes,
    weight: FloatArray,
    *,
    count: int,
    rounds: int,
) -> Motion:
    """Fit each island's similarity, leaving out what does not follow it, so many times at most."""
    whole = _sum(island, weight, count)
    used = weight
    for _ in range(rounds):
        middle, new_middle, total = _middles(island, before, after, used, count)
        p, q = before - middle[island], after - new_middle[island]
        spread = _sum(island, used * np.abs(p) ** 2, count)
        turned = _complex_sum(island, used * q * np.conj(p), count)
        mirrored = _complex_sum(island, used * q * p, count)
        is_mirrored = np.abs(mirrored) > np.abs(turned) * (1 + 1e-9)
        with np.errstate(all="ignore"):
            factor = np.where(is_mirrored, mirrored, turned) / spread
            reach = np.sqrt(spread / total)
        factor[~(spread > 0)] = 1.0
        expected = factor[island] * np.where(is_mirrored[island], np.conj(p), p)
        apart = np.abs(q - expected)
        tolerance = np.minimum(TOLERANCE_PX, _SIZE_SHARE * reach) + 1e-3
        with np.errstate(all="ignore"):
            residual = np.sqrt(_sum(island, used * apart**2, count) / total)
        limit = np.maximum(tolerance, _OUTLIER * residual)
        before_that, used = used, np.where(apart <= limit[island], weight, 0.0)
        if np.array_equal(used, before_that):
            break
    with np.errstate(all="ignore"):
        kept = _sum(island, np.where(apart <= 2 * tolerance[island], weight, 0.0), count) / whole
    offset = np.stack(((new_middle - middle).real, (new_middle - middle).imag), axis=1)
    is_found = whole > 0
    is_similar = is_found & (residual <= tolerance) & (kept >= _KEPT_SHARE)
    return Motion(
        offset_px=frozen(np.where(is_found[:, None], offset, np.nan)),
        scale=frozen(np.where(is_found, np.abs(factor), np.nan)),
        turn_degrees=frozen(np.where(is_found, np.degrees(np.angle(factor)), np.nan)),
        is_mirrored=frozen(is_mirrored & is_found),
        residual_px=frozen(residual),
        kept=frozen(kept),
        reach_px=frozen(np.where(is_found, reach, np.nan)),
        is_similar=frozen(is_similar),
    )


def _middles(
    island: IntArray, before: Complexes, after: Complexes, weight: FloatArray, count: int
) -> tuple[Complexes, Complexes, FloatArray]:
    total = _sum(island, weight, count)
    safe = np.where(total > 0, total, 1.0)
    middle = _complex_sum(island, weight * before, count) / safe
    return middle, _complex_sum(island, weight * after, count) / safe, total


def _sum(island: IntArray, values: FloatArray, count: int) -> FloatArray:
    """Sum values by island."""
    return np.bincount(island, values, count).astype(np.float64)


def _complex_sum(island: IntArray, values: Complexes, count: int) -> Complexes:
    return _sum(island, values.real, count) + 1j * _sum(island, values.imag, count)
