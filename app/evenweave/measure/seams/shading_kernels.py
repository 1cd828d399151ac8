# mypy: allow-untyped-defs, allow-untyped-calls
"""Kernels that find edges at which the two faces are shaded apart."""

from __future__ import annotations

import numpy as np
from numba import njit

from evenweave.measure.seams.corner_kernels import corner_after, triangle_at

# Normals within 2.56 degrees of each other count as one.
_SAME_NORMAL = 0.999


@njit(cache=True, nogil=True)
def hard_seams(
    seam, corner_face, face_start, corner_point, asset_shift, corner_normal, normal,
    face_smoothing, fold_degrees,
):  # fmt: skip
    """Return (S,) bool: the two sides of a seam are shaded apart."""
    is_hard = np.zeros(len(seam), dtype=np.bool_)
    for i in range(len(seam)):
        c, d = seam[i, 0], seam[i, 1]
        verdict = _normals_differ(
            c, d, corner_face, face_start, corner_point, asset_shift, corner_normal, normal
        )
        if verdict < 0:
            one, other = face_smoothing[corner_face[c]], face_smoothing[corner_face[d]]
            is_hard[i] = (
                _groups_differ(one, other) and np.cos(np.radians(fold_degrees[i])) < _SAME_NORMAL
            )
        else:
            is_hard[i] = verdict == 1
    return is_hard


@njit(cache=True, nogil=True)
def hard_inner_edges(
    twin, corner_face, face_start, corner_point, corner_uv, triangle_corner, point_m,
    asset_shift, corner_normal, normal, face_smoothing,
):  # fmt: skip
    """Return (H,) int32 corners of edges inside an island that are shaded apart.

    Without smoothing groups, only edges at points with several normals are looked at.
    """
    has_groups = len(face_smoothing) > 0 and face_smoothing.max() >= 0
    is_mixed = _mixed_points(face_start, corner_point, asset_shift, corner_normal, len(point_m))
    found = np.empty(len(twin), dtype=np.int32)
    count = 0
    for c in range(len(twin)):
        d = twin[c]
        if d < c:
            continue
        after = corner_after(c, face_start, corner_face)
        if not (has_groups or is_mixed[corner_point[c]] or is_mixed[corner_point[after]]):
            continue
        behind = corner_after(d, face_start, corner_face)
        is_opposite = corner_point[c] == corner_point[behind]
        near, far = (behind, d) if is_opposite else (d, behind)
        if corner_uv[c] != corner_uv[near] or corner_uv[after] != corner_uv[far]:
            continue
        verdict = _normals_differ(
            c, d, corner_face, face_start, corner_point, asset_shift, corner_normal, normal
        )
        if verdict < 0:
            one, other = face_smoothing[corner_face[c]], face_smoothing[corner_face[d]]
            if not _groups_differ(one, other):
                continue
            verdict = _is_bent(
                c, d, is_opposite, corner_face, face_start, corner_point, triangle_corner, point_m
            )
        if verdict == 1:
            found[count] = c
            count += 1
    return found[:count].copy()


@njit(cache=True, nogil=True)
def _mixed_points(face_start, corner_point, asset_shift, corner_normal, point_count):
    """Return (P,) bool: corners at the point name different normals."""
    point_normal = np.full(point_count, -2, dtype=np.int32)
    is_mixed = np.zeros(point_count, dtype=np.bool_)
    for f in range(len(asset_shift)):
        for c in range(face_start[f], face_start[f + 1]):
            p, n = corner_point[c], corner_normal[c + asset_shift[f]]
            if point_normal[p] == -2:
                point_normal[p] = n
            elif point_normal[p] != n:
                is_mixed[p] = True
    return is_mixed


@njit(cache=True, nogil=True)
def _normals_differ(
    c, d, corner_face, face_start, corner_point, asset_shift, corner_normal, normal
):  # fmt: skip
    """Whether the normals of the two sides differ at either end: 1 or 0; -1 if not stated."""
    after, behind = (
        corner_after(c, face_start, corner_face),
        corner_after(d, face_start, corner_face),
    )
    near, far = (behind, d) if corner_point[c] == corner_point[behind] else (d, behind)
    one, other = asset_shift[corner_face[c]], asset_shift[corner_face[d]]
    return max(
        _pair_differs(corner_normal[c + one], corner_normal[near + other], normal),
        _pair_differs(corner_normal[after + one], corner_normal[far + other], normal),
    )


@njit(cache=True, nogil=True)
def _pair_differs(m, n, normal):
    if m < 0 or n < 0:
        return -1
    if m == n:
        return 0
    dot = normal[m, 0] * normal[n, 0] + normal[m, 1] * normal[n, 1] + normal[m, 2] * normal[n, 2]
    mm = normal[m, 0] ** 2 + normal[m, 1] ** 2 + normal[m, 2] ** 2
    nn = normal[n, 0] ** 2 + normal[n, 1] ** 2 + normal[n, 2] ** 2
    return 1 if dot < _SAME_NORMAL * np.sqrt(mm * nn) else 0


@njit(cache=True, nogil=True)
def _groups_differ(first, other):
    """Whether smoothing groups shade two faces apart: 0 is off, -1 not stated."""
    return first >= 0 and other >= 0 and (first != other or first == 0)


@njit(cache=True, nogil=True)
def _is_bent(c, d, is_opposite, corner_face, face_start, corner_point, triangle_corner, point_m):
    """Return 1 where the triangles at two sides of an edge lie at an angle, else 0."""
    one, _ = triangle_at(c, corner_face, face_start, triangle_corner)
    other, _ = triangle_at(d, corner_face, face_start, triangle_corner)
    ax, ay, az = _normal(one, corner_point, triangle_corner, point_m)
    bx, by, bz = _normal(other, corner_point, triangle_corner, point_m)
    dot = ax * bx + ay * by + az * bz
    if not is_opposite:
        dot = -dot
    size = np.sqrt((ax * ax + ay * ay + az * az) * (bx * bx + by * by + bz * bz))
    return 1 if dot < _SAME_NORMAL * size else 0


@njit(cache=True, nogil=True)
def _normal(t, corner_point, triangle_corner, point_m):
    p = corner_point[triangle_corner[t, 0]]
    q = corner_point[triangle_corner[t, 1]]
    r = corner_point[triangle_corner[t, 2]]
    ax, ay, az = (
        point_m[q, 0] - point_m[p, 0],
        point_m[q, 1] - point_m[p, 1],
        point_m[q, 2] - point_m[p, 2],
    )
    bx, by, bz = (
        point_m[r, 0] - point_m[p, 0],
        point_m[r, 1] - point_m[p, 1],
        point_m[r, 2] - point_m[p, 2],
    )
    return ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx
