# mypy: allow-untyped-defs
"""The kernel of a layout's squeeze: the scale along u over that along v of each triangle."""

from __future__ import annotations

import numpy as np
from numba import njit

from evenweave.measure.islands.quantile_kernels import weighted_quantiles


@njit(cache=True, nogil=True)
def median_ratio(
    triangle_corner, corner_point, corner_uv, point_m, uv, area_m2, is_degenerate, width, height
):
    """Return the median, weighted by surface, of the root of J J^T's quotient; NaN if none is."""
    ratio, weight = np.empty(len(area_m2)), np.empty(len(area_m2))
    count = 0
    for t in range(len(area_m2)):
        if is_degenerate[t]:
            continue
        i, j, k = triangle_corner[t, 0], triangle_corner[t, 1], triangle_corner[t, 2]
        aa = ab = bb = 0.0
        for axis in range(3):
            start = point_m[corner_point[i], axis]
            a = point_m[corner_point[j], axis] - start
            b = point_m[corner_point[k], axis] - start
            aa += a * a
            ab += a * b
            bb += b * b
        au = (uv[corner_uv[j], 0] - uv[corner_uv[i], 0]) * width
        av = (uv[corner_uv[j], 1] - uv[corner_uv[i], 1]) * height
        bu = (uv[corner_uv[k], 0] - uv[corner_uv[i], 0]) * width
        bv = (uv[corner_uv[k], 1] - uv[corner_uv[i], 1]) * height
        along_u = bb * au * au - 2.0 * ab * au * bu + aa * bu * bu
        along_v = bb * av * av - 2.0 * ab * av * bv + aa * bv * bv
        if along_u > 0.0 and along_v > 0.0:
            ratio[count] = np.sqrt(along_u / along_v)
            weight[count] = area_m2[t]
            count += 1
    found = np.full(1, np.nan)
    rest_key, rest_weight = np.empty((1, count), np.int64), np.empty((1, count))
    if count > 0:
        weighted_quantiles(
            ratio[:count].view(np.int64), weight[:count], np.array([0.5]), found.view(np.int64),
            rest_key, rest_weight,
        )  # fmt: skip
    return found[0]
