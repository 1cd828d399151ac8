# mypy: allow-untyped-defs, allow-untyped-calls
"""Kernels that look across the edges of a layout."""

from __future__ import annotations

import numpy as np
from numba import njit

# Normals within 2.56 degrees of each other count as one.
_SAME_NORMAL = 0.999


@njit(cache=True, nogil=True)
def corner_faces(face_start):
    """Return (C,) int32, the face of each corner."""
    corner_face = np.empty(face_start[-1], dtype=np.int32)
    for f in range(len(face_start) - 1):
        corner_face[face_start[f] : face_start[f + 1]] = f
    return corner_face


@njit(cache=True, nogil=True)
def seam_steps(
    seam, corner_face, face_start, corner_point, corner_uv, triangle_corner, point_m, uv,
    s1, s2, width, height,
):  # fmt: skip
    """Return (S,) float64 each: length_m, density_step_octaves, turn_degrees, fold_degrees."""
    count = len(seam)
    length, step = np.empty(count), np.empty(count)
    turn, fold = np.empty(count), np.empty(count)
    one, other = np.empty(6), np.empty(6)
    for i in range(count):
        c, d = seam[i, 0], seam[i, 1]
        t = _side(
            c, corner_face, face_start, corner_point, corner_uv, triangle_corner, point_m, uv,
            width, height, one,
        )  # fmt: skip
        u = _side(
            d, corner_face, face_start, corner_point, corner_uv, triangle_corner, point_m, uv,
            width, height, other,
        )  # fmt: skip
        length[i] = one[0]
        step[i] = abs(np.log2(s1[t] * abs(s2[t]) / (s1[u] * abs(s2[u])))) / 2
        # The second side's frame is the first one's turned by half, or mirrored at the edge
        # where the two faces are wound against each other.
        is_opposite = corner_point[c] == corner_point[_after(d, face_start, corner_face)]
        x, y = -other[1] if is_opposite else other[1], -other[2]
        if np.isnan(s1[t]) or np.isnan(s1[u]):
            turn[i] = np.nan
        else:
            across, along = one[1] * y - one[2] * x, one[1] * x + one[2] * y
            turn[i] = np.degrees(np.arctan2(abs(across), along))
        fold[i] = _fold(one, other, is_opposite)
    return length, step, turn, fold


@njit(cache=True, nogil=True)
def _after(c, face_start, corner_face):
    f = corner_face[c]
    return c + 1 if c + 1 < face_start[f + 1] else face_start[f]


@njit(cache=True, nogil=True)
def _triangle_at(c, corner_face, face_start, triangle_corner):
    """Return the triangle with the face's edge at corner c, and which of its corners c is."""
    f = corner_face[c]
    after = _after(c, face_start, corner_face)
    first = face_start[f] - 2 * f
    for t in range(first, first + face_start[f + 1] - face_start[f] - 2):
        for k in range(3):
            if triangle_corner[t, k] == c and triangle_corner[t, (k + 1) % 3] == after:
                return t, k
    return first, 0


@njit(cache=True, nogil=True)
def _side(
    c, corner_face, face_start, corner_point, corner_uv, triangle_corner, point_m, uv, width,
    height, side,
):  # fmt: skip
    """Describe one side of an edge; return its triangle.

    side[0] length; side[1:3] the direction of the texture's +v on the surface, along the edge
    and into the face; side[3:6] normal; neither of unit length.
    """
    t, k = _triangle_at(c, corner_face, face_start, triangle_corner)
    i, j, m = (
        triangle_corner[t, k],
        triangle_corner[t, (k + 1) % 3],
        triangle_corner[t, (k + 2) % 3],
    )
    p, q, r = corner_point[i], corner_point[j], corner_point[m]
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
    nx, ny, nz = ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx
    side[3], side[4], side[5] = nx, ny, nz
    aa, ab = ax * ax + ay * ay + az * az, ax * bx + ay * by + az * bz
    side[0] = np.sqrt(aa)
    p, q, r = corner_uv[i], corner_uv[j], corner_uv[m]
    au, av = uv[q, 0] - uv[p, 0], uv[q, 1] - uv[p, 1]
    bu, bv = uv[r, 0] - uv[p, 0], uv[r, 1] - uv[p, 1]
    # Times positive factors, J's columns along the edge and square to it are (au, av) and
    # (bu, bv) * aa - (au, av) * ab over the doubled area. J turns (x, y) into +v where
    # (x, y) = (-J[0, 1], J[0, 0]) / det J.
    doubled = np.sqrt(nx * nx + ny * ny + nz * nz)
    x, y = -(bu * aa - au * ab), au * doubled
    sign = 1.0 if au * bv - av * bu > 0 else -1.0
    side[1], side[2] = sign * x, sign * y
    return t


@njit(cache=True, nogil=True)
def _fold(one, other, is_opposite):
    """Return the angle in degrees between two sides' normals, NaN where one has none."""
    ax, ay, az, bx, by, bz = one[3], one[4], one[5], other[3], other[4], other[5]
    if not is_opposite:
        bx, by, bz = -bx, -by, -bz
    cx, cy, cz = ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx
    across, along = np.sqrt(cx * cx + cy * cy + cz * cz), ax * bx + ay * by + az * bz
    if across == 0 and along == 0:
        return np.nan
    return np.degrees(np.arctan2(across, along))


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
        after = _after(c, face_start, corner_face)
        if not (has_groups or is_mixed[corner_point[c]] or is_mixed[corner_point[after]]):
            continue
        behind = _after(d, face_start, corner_face)
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
    after, behind = _after(c, face_start, corner_face), _after(d, face_start, corner_face)
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
def _groups_differ(one, other):
    """Whether smoothing groups shade two faces apart: 0 is off, -1 not stated."""
    return one >= 0 and other >= 0 and (one != other or one == 0)


@njit(cache=True, nogil=True)
def _is_bent(c, d, is_opposite, corner_face, face_start, corner_point, triangle_corner, point_m):
    """Return 1 where the triangles at two sides of an edge lie at an angle, else 0."""
    one, _ = _triangle_at(c, corner_face, face_start, triangle_corner)
    other, _ = _triangle_at(d, corner_face, face_start, triangle_corner)
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


@njit(cache=True, nogil=True)
def chief_neighbours(island, length_m, border_m):
    """Return (I,) each island's length of seam, its neighbour along the longest, its share.

    island : (S, 2) int32; length_m : (S,) float64; border_m : (I,) float64.
    """
    count = len(border_m)
    first = np.zeros(count + 2, dtype=np.int32)
    seam_m, outline_m = np.zeros(count), border_m.copy()
    for i in range(len(island)):
        a, b = island[i, 0], island[i, 1]
        seam_m[a] += length_m[i]
        outline_m[a] += length_m[i]
        outline_m[b] += length_m[i]
        if a != b:
            seam_m[b] += length_m[i]
            first[a + 2] += 1
            first[b + 2] += 1
    for a in range(count):
        first[a + 2] += first[a + 1]
    seams = np.empty(first[count + 1], dtype=np.int32)
    for i in range(len(island)):
        if island[i, 0] != island[i, 1]:
            for side in range(2):
                a = island[i, side]
                seams[first[a + 1]] = i
                first[a + 1] += 1
    neighbour, share = np.full(count, -1, dtype=np.int32), np.zeros(count)
    shared_m = np.zeros(count)
    for a in range(count):
        for k in range(first[a], first[a + 1]):
            b = island[seams[k], 0] + island[seams[k], 1] - a
            shared_m[b] += length_m[seams[k]]
        longest = 0.0
        for k in range(first[a], first[a + 1]):
            b = island[seams[k], 0] + island[seams[k], 1] - a
            if shared_m[b] > longest or (
                shared_m[b] == longest and longest > 0 and b < neighbour[a]
            ):
                longest, neighbour[a] = shared_m[b], b
        for k in range(first[a], first[a + 1]):
            shared_m[island[seams[k], 0] + island[seams[k], 1] - a] = 0.0
        if longest > 0:
            share[a] = longest / outline_m[a]
    return seam_m, neighbour, share


@njit(cache=True, nogil=True)
def edge_lengths(corner, corner_face, face_start, corner_point, point_m):
    """Return the (N,) float64 length in metres of the edges beginning at some corners."""
    length = np.empty(len(corner), dtype=np.float64)
    for i in range(len(corner)):
        p = corner_point[corner[i]]
        q = corner_point[_after(corner[i], face_start, corner_face)]
        x, y, z = (
            point_m[q, 0] - point_m[p, 0],
            point_m[q, 1] - point_m[p, 1],
            point_m[q, 2] - point_m[p, 2],
        )
        length[i] = np.sqrt(x * x + y * y + z * z)
    return length
