# mypy: allow-untyped-defs, allow-untyped-calls
"""Kernels that cut polygons into triangles, so that the worst triangle is as good as can be.

A triangle's worth is the lesser of its shares of the polygon's area on the surface (seen along
the polygon's normal) and in the texture (in the polygon's own sense): positive only where it
is turned over in neither. A careless fan turns triangles over at collinear corners.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from evenweave.layout.polygon_kernels import BEST_MOST, TIE, cut_best, cut_ears

# Largest polygon cut by ears (quadratic); beyond it a fan must do.
_EARS_MOST = 4096


@njit(cache=True, nogil=True)
def triangulate(face_start, corner_point, corner_uv, point_m, uv):
    """Return (T, 3) int32 corners and (T,) int32 face of each triangle, face by face."""
    faces = len(face_start) - 1
    total = len(corner_point) - 2 * faces
    triangle_corner = np.empty((total, 3), dtype=np.int32)
    triangle_face = np.empty(total, dtype=np.int32)
    most = 4
    for f in range(faces):
        most = max(most, face_start[f + 1] - face_start[f])
    plane = np.empty((most, 2, 2), dtype=np.float64)
    k = np.int64(0)
    for f in range(faces):
        begin, size = np.int64(face_start[f]), np.int64(face_start[f + 1] - face_start[f])
        triangle_face[k : k + size - 2] = f
        if size == 3:
            triangle_corner[k, 0], triangle_corner[k, 1] = begin, begin + 1
            triangle_corner[k, 2] = begin + 2
        elif size == 4:
            turn = _quad_turn(begin, corner_point, corner_uv, point_m, uv)
            second, fourth = begin + turn, begin + turn + 2
            # Diagonal from corner 0 to 2, or from corner 1 to 3.
            triangle_corner[k, 0], triangle_corner[k, 1] = begin, begin + 1
            triangle_corner[k, 2] = fourth
            triangle_corner[k + 1, 0], triangle_corner[k + 1, 1] = second, begin + 2
            triangle_corner[k + 1, 2] = begin + 3
        else:
            _cut(begin, size, corner_point, corner_uv, point_m, uv, plane, triangle_corner, k)
        k += size - 2
    return triangle_corner, triangle_face


@njit(cache=True, nogil=True)
def _quad_turn(begin, corner_point, corner_uv, point_m, uv):
    """Return 0 to cut a quad from its first corner to its third, 1 from second to fourth."""
    a, b = corner_point[begin], corner_point[begin + 1]
    c, d = corner_point[begin + 2], corner_point[begin + 3]
    bx, by, bz = (
        point_m[b, 0] - point_m[a, 0],
        point_m[b, 1] - point_m[a, 1],
        point_m[b, 2] - point_m[a, 2],
    )
    cx, cy, cz = (
        point_m[c, 0] - point_m[a, 0],
        point_m[c, 1] - point_m[a, 1],
        point_m[c, 2] - point_m[a, 2],
    )
    dx, dy, dz = (
        point_m[d, 0] - point_m[a, 0],
        point_m[d, 1] - point_m[a, 1],
        point_m[d, 2] - point_m[a, 2],
    )
    ex, ey, ez = dx - bx, dy - by, dz - bz
    nx, ny, nz = cy * ez - cz * ey, cz * ex - cx * ez, cx * ey - cy * ex
    square = nx * nx + ny * ny + nz * nz
    straight, across = 0.5, 0.5
    if square > 0:
        one = (
            nx * (by * cz - bz * cy) + ny * (bz * cx - bx * cz) + nz * (bx * cy - by * cx)
        ) / square
        two = (
            nx * (by * dz - bz * dy) + ny * (bz * dx - bx * dz) + nz * (bx * dy - by * dx)
        ) / square
        straight, across = min(one, 1 - one), min(two, 1 - two)
    i, j = corner_uv[begin], corner_uv[begin + 1]
    m, n = corner_uv[begin + 2], corner_uv[begin + 3]
    bu, bv = uv[j, 0] - uv[i, 0], uv[j, 1] - uv[i, 1]
    cu, cv = uv[m, 0] - uv[i, 0], uv[m, 1] - uv[i, 1]
    du, dv = uv[n, 0] - uv[i, 0], uv[n, 1] - uv[i, 1]
    area = cu * (dv - bv) - cv * (du - bu)
    if area != 0:
        one, two = (bu * cv - bv * cu) / area, (bu * dv - bv * du) / area
        straight = min(straight, min(one, 1 - one))
        across = min(across, min(two, 1 - two))
    if straight > across + TIE:
        return 0
    if across > straight + TIE:
        return 1
    return _least(begin, 4, corner_uv, uv) % 2


@njit(cache=True, nogil=True)
def _least(begin, size, corner_uv, uv):
    """Return which of a face's corners has the least u, then v (the first of equals)."""
    least = 0
    u, v = uv[corner_uv[begin], 0], uv[corner_uv[begin], 1]
    for i in range(1, size):
        x, y = uv[corner_uv[begin + i], 0], uv[corner_uv[begin + i], 1]
        if x < u or (x == u and y < v):
            least, u, v = i, x, y
    return least


@njit(cache=True, nogil=True)
def _cut(begin, size, corner_point, corner_uv, point_m, uv, plane, triangle_corner, k):
    """Cut a face of five corners or more into triangle_corner[k:]."""
    turn = _least(begin, size, corner_uv, uv)
    has_surface, has_texture = _flatten(
        begin, size, turn, corner_point, corner_uv, point_m, uv, plane
    )
    cut = np.empty((size - 2, 3), dtype=np.int32)
    if size > _EARS_MOST or not (has_surface or has_texture):
        for i in range(size - 2):
            cut[i, 0], cut[i, 1], cut[i, 2] = 0, i + 1, i + 2
    elif size <= BEST_MOST:
        worst = cut_best(plane, size, has_surface, has_texture, cut)
        if worst <= 0 and has_surface and has_texture:
            cut_best(plane, size, False, True, cut)
    else:
        cut_ears(plane, size, has_surface, has_texture, cut)
    for i in range(size - 2):
        a, b, c = (cut[i, 0] + turn) % size, (cut[i, 1] + turn) % size, (cut[i, 2] + turn) % size
        # Written in the face's order: begin with the least of the three.
        if b < a and b < c:
            a, b, c = b, c, a
        elif c < a and c < b:
            a, b, c = c, a, b
        triangle_corner[k + i, 0] = begin + a
        triangle_corner[k + i, 1] = begin + b
        triangle_corner[k + i, 2] = begin + c


@njit(cache=True, nogil=True)
def _flatten(begin, size, turn, corner_point, corner_uv, point_m, uv, plane):
    """Lay the polygon flat, on its own plane into plane[:, 0] and in the texture plane[:, 1].

    Both are scaled to a signed doubled area of 1, beginning at corner `turn`. Returns whether
    each of them has any area.
    """
    o, w = corner_point[begin + turn], corner_uv[begin + turn]
    nx = ny = nz = area = 0.0
    for i in range(1, size - 1):
        p = corner_point[begin + (turn + i) % size]
        q = corner_point[begin + (turn + i + 1) % size]
        ax, ay, az = (
            point_m[p, 0] - point_m[o, 0],
            point_m[p, 1] - point_m[o, 1],
            point_m[p, 2] - point_m[o, 2],
        )
        bx, by, bz = (
            point_m[q, 0] - point_m[o, 0],
            point_m[q, 1] - point_m[o, 1],
            point_m[q, 2] - point_m[o, 2],
        )
        nx += ay * bz - az * by
        ny += az * bx - ax * bz
        nz += ax * by - ay * bx
        s = corner_uv[begin + (turn + i) % size]
        t = corner_uv[begin + (turn + i + 1) % size]
        area += (uv[s, 0] - uv[w, 0]) * (uv[t, 1] - uv[w, 1]) - (uv[s, 1] - uv[w, 1]) * (
            uv[t, 0] - uv[w, 0]
        )
    doubled = np.sqrt(nx * nx + ny * ny + nz * nz)
    has_surface, has_texture = doubled > 0 and np.isfinite(doubled), area != 0
    if has_surface:
        nx, ny, nz = nx / doubled, ny / doubled, nz / doubled
    # Two directions square to the normal (Duff et al., "Building an Orthonormal Basis,
    # Revisited", JCGT 2017).
    sign = 1.0 if nz >= 0 else -1.0
    a = -1.0 / (sign + nz)
    b = nx * ny * a
    for i in range(size):
        p, s = corner_point[begin + (turn + i) % size], corner_uv[begin + (turn + i) % size]
        x, y, z = (
            point_m[p, 0] - point_m[o, 0],
            point_m[p, 1] - point_m[o, 1],
            point_m[p, 2] - point_m[o, 2],
        )
        if has_surface:
            plane[i, 0, 0] = (x * (1 + sign * nx * nx * a) + y * sign * b - z * sign * nx) / doubled
            plane[i, 0, 1] = x * b + y * (sign + ny * ny * a) - z * ny
        if has_texture:
            plane[i, 1, 0] = (uv[s, 0] - uv[w, 0]) / area
            plane[i, 1, 1] = uv[s, 1] - uv[w, 1]
    return has_surface, has_texture
