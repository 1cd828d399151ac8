# mypy: allow-untyped-defs, allow-untyped-calls
"""Kernels that gather the measures of triangles per island."""

from __future__ import annotations

import numpy as np
from numba import njit

from evenweave.measure.islands.quantile_kernels import weighted_quantiles

# Columns of the sums per island.
SURFACE, AREA_UV, FLIPPED_SURFACE, MEASURED = 0, 1, 2, 3
SQUARES, INVERSE_SQUARES, MIRRORED_SQUARES, MIRRORED_INVERSE_SQUARES = 4, 5, 6, 7
MEASURED_AREA_PX, LINF = 8, 9
SUMS = 10
# Columns of the counts per island.
FACES, TRIANGLES, FLIPPED, DEGENERATE = 0, 1, 2, 3
COUNTS = 4


@njit(cache=True, nogil=True)
def sum_islands(
    triangle_face, face_island, s1, s2, area_m2, area_px, is_degenerate, island_count
):  # fmt: skip
    """Return (I, SUMS) float64 and (I, COUNTS) int32, columns as named above.

    AREA_UV is in texels squared here. Squares and inverse squares of s1 and s2 are weighted by
    surface, apart for triangles that are mirrored and that are not.
    """
    sums = np.zeros((island_count, SUMS), dtype=np.float64)
    counts = np.zeros((island_count, COUNTS), dtype=np.int32)
    for f in range(len(face_island)):
        counts[face_island[f], FACES] += 1
    for t in range(len(triangle_face)):
        i = face_island[triangle_face[t]]
        counts[i, TRIANGLES] += 1
        area = area_m2[t]
        sums[i, SURFACE] += area
        sums[i, AREA_UV] += abs(area_px[t])
        if is_degenerate[t]:
            counts[i, DEGENERATE] += 1
            continue
        a, b = s1[t] * s1[t], s2[t] * s2[t]
        squares, inverse = area * (a + b), area * (1 / a + 1 / b)
        sums[i, MEASURED] += area
        sums[i, MEASURED_AREA_PX] += abs(area_px[t])
        sums[i, LINF] = max(sums[i, LINF], 1 / abs(s2[t]))
        sums[i, SQUARES] += squares
        sums[i, INVERSE_SQUARES] += inverse
        if s2[t] < 0:
            counts[i, FLIPPED] += 1
            sums[i, FLIPPED_SURFACE] += area
            sums[i, MIRRORED_SQUARES] += squares
            sums[i, MIRRORED_INVERSE_SQUARES] += inverse
    return sums, counts


@njit(cache=True, nogil=True)
def island_bounds(face_start, corner_uv, face_island, uv, island_count):
    """Return (I, 4) float64 u0, v0, u1, v1 of each island's corners."""
    bounds = np.empty((island_count, 4), dtype=np.float64)
    bounds[:, :2] = np.inf
    bounds[:, 2:] = -np.inf
    for f in range(len(face_island)):
        i = face_island[f]
        for c in range(face_start[f], face_start[f + 1]):
            u, v = uv[corner_uv[c], 0], uv[corner_uv[c], 1]
            bounds[i, 0], bounds[i, 1] = min(bounds[i, 0], u), min(bounds[i, 1], v)
            bounds[i, 2], bounds[i, 3] = max(bounds[i, 2], u), max(bounds[i, 3], v)
    return bounds


@njit(cache=True, nogil=True)
def island_quantiles(triangle_face, face_island, s1, s2, area_m2, is_degenerate, island_count):
    """Return surface-weighted quantiles of density and stretch.

    (I + 1, 5) float64 each: least, 5 %, 50 %, 95 %, greatest; the last row is of all islands.
    NaN where no triangle can be measured.
    """
    island_first = np.zeros(island_count + 2, dtype=np.int64)
    for t in range(len(triangle_face)):
        if not is_degenerate[t]:
            island_first[face_island[triangle_face[t]] + 2] += 1
    for i in range(island_count):
        island_first[i + 2] += island_first[i + 1]
    count = island_first[island_count + 1]
    density, stretch = np.empty(count, np.float64), np.empty(count, np.float64)
    weight = np.empty(count, np.float64)
    for t in range(len(triangle_face)):
        if not is_degenerate[t]:
            i = face_island[triangle_face[t]]
            k = island_first[i + 1]
            island_first[i + 1] = k + 1
            least = abs(s2[t])
            density[k], stretch[k] = s1[t] * least, s1[t] / least
            weight[k] = area_m2[t]
    density_quantile = np.full((island_count + 1, 5), np.nan)
    stretch_quantile = np.full((island_count + 1, 5), np.nan)
    rest_key, rest_weight = np.empty((3, count), np.int64), np.empty((3, count), np.float64)
    for i in range(island_count + 1):
        first = island_first[i] if i < island_count else 0
        last = island_first[i + 1] if i < island_count else count
        if first < last:
            _summarise(
                density[first:last], weight[first:last], density_quantile[i], rest_key, rest_weight
            )
            _summarise(
                stretch[first:last], weight[first:last], stretch_quantile[i], rest_key, rest_weight
            )
    return np.sqrt(density_quantile), stretch_quantile


@njit(cache=True, nogil=True)
def _summarise(value, weight, quantile, rest_key, rest_weight):
    share = np.array([0.05, 0.5, 0.95])
    weighted_quantiles(
        value.view(np.int64), weight, share, quantile[1:4].view(np.int64), rest_key, rest_weight
    )
    quantile[0], quantile[4] = value.min(), value.max()
