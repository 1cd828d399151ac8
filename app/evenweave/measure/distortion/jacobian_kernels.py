# mypy: allow-untyped-defs, allow-untyped-calls
"""Kernel for the Jacobian of every triangle, in closed form."""

from __future__ import annotations

import numpy as np
from numba import njit

# A triangle whose height is less than this share of its longest side has no usable surface:
# coordinates rounded to 53 bits leave no more of collinear corners.
_FLAT = 1e-12


@njit(cache=True, nogil=True)
def triangle_jacobians(triangle_corner, corner_point, corner_uv, point_m, uv, width, height):
    """Return s1, s2, area_m2, area_px and is_degenerate as in `TriangleMeasures`."""
    count = len(triangle_corner)
    s1, s2 = np.empty(count), np.empty(count)
    area_m2, area_px = np.empty(count), np.empty(count)
    is_degenerate = np.empty(count, dtype=np.bool_)
    for t in range(count):
        i, j, k = triangle_corner[t, 0], triangle_corner[t, 1], triangle_corner[t, 2]
        p, q, r = corner_point[i], corner_point[j], corner_point[k]
        x, y, z = point_m[p, 0], point_m[p, 1], point_m[p, 2]
        ax, ay, az = point_m[q, 0] - x, point_m[q, 1] - y, point_m[q, 2] - z
        bx, by, bz = point_m[r, 0] - x, point_m[r, 1] - y, point_m[r, 2] - z
        nx, ny, nz = ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx
        doubled = np.sqrt(nx * nx + ny * ny + nz * nz)
        aa, ab = ax * ax + ay * ay + az * az, ax * bx + ay * by + az * bz
        bb = bx * bx + by * by + bz * bz
        p, q, r = corner_uv[i], corner_uv[j], corner_uv[k]
        au, av = uv[q, 0] - uv[p, 0], uv[q, 1] - uv[p, 1]
        bu, bv = uv[r, 0] - uv[p, 0], uv[r, 1] - uv[p, 1]
        # Exact in sign: the coordinates are multiples of 2**-24, so the products have no
        # rounding within a few tiles.
        doubled_px = (au * bv - av * bu) * width * height
        area_m2[t] = doubled / 2 if np.isfinite(doubled) else 0.0
        area_px[t] = doubled_px / 2
        longest = max(aa, bb, aa + bb - 2 * ab)
        is_flat = not (doubled > _FLAT * longest and np.isfinite(longest))
        is_degenerate[t] = is_flat or doubled_px == 0
        if is_degenerate[t]:
            s1[t] = s2[t] = np.nan
            continue
        # J maps the first edge's direction and the direction square to it in the plane.
        length = np.sqrt(aa)
        along, up = ab / length, doubled / length
        ja, jc = au * width / length, av * height / length
        jb, jd = (bu * width - ja * along) / up, (bv * height - jc * along) / up
        kept = np.sqrt((ja + jd) * (ja + jd) + (jc - jb) * (jc - jb))
        larger = (kept + np.sqrt((ja - jd) * (ja - jd) + (jc + jb) * (jc + jb))) / 2
        s1[t] = larger
        lesser = doubled_px / doubled / larger
        s2[t] = min(max(lesser, -larger), larger)
    return s1, s2, area_m2, area_px, is_degenerate
