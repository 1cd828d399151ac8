# mypy: allow-untyped-defs, allow-untyped-calls
"""Kernels that look across the seams of a layout."""

from __future__ import annotations

import numpy as np
from numba import njit

from evenweave.measure.seams.corner_kernels import corner_after, triangle_at


@njit(cache=True, nogil=True)
def seam_steps(
    seam, corner_face, face_start, corner_point, corner_uv, triangle_corner, point_m, uv,
    s1, s2,
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
            one,
        )  # fmt: skip
        u = _side(
            d, corner_face, face_start, corner_point, corner_uv, triangle_corner, point_m, uv,
            other,
        )  # fmt: skip
        length[i] = one[0]
        step[i] = abs(np.log2(s1[t] * abs(s2[t]) / (s1[u] * abs(s2[u])))) / 2
        # The second side's frame is the first one's turned by half, or mirrored at the edge
        # where the two faces are wound against each other.
        is_opposite = corner_point[c] == corner_point[corner_after(d, face_start, corner_face)]
        x, y = -other[1] if is_opposite else other[1], -other[2]
        if np.isnan(s1[t]) or np.isnan(s1[u]):
            turn[i] = np.nan
        else:
            across, along = one[1] * y - one[2] * x, one[1] * x + one[2] * y
            turn[i] = np.degrees(np.arctan2(abs(across), along))
        fold[i] = _fold(one, other, is_opposite)
    return length, step, turn, fold


@njit(cache=True, nogil=True)
def _side(
    c, corner_face, face_start, corner_point, corner_uv, triangle_corner, point_m, uv, side,
):  # fmt: skip
    """Describe one side of an edge; return its triangle.

    side[0] length; side[1:3] the direction of the texture's +v on the surface, along the edge
    and into the face; side[3:6] normal; neither of unit length.
    """
    t, k = triangle_at(c, corner_face, face_start, triangle_corner)
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
def _fold(first, other, is_opposite):
    """Return the angle in degrees between two sides' normals, NaN where one has none."""
    ax, ay, az, bx, by, bz = first[3], first[4], first[5], other[3], other[4], other[5]
    if not is_opposite:
        bx, by, bz = -bx, -by, -bz
    cx, cy, cz = ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx
    across, along = np.sqrt(cx * cx + cy * cy + cz * cz), ax * bx + ay * by + az * bz
    if across == 0 and along == 0:
        return np.nan
    return np.degrees(np.arctan2(across, along))


@njit(cache=True, nogil=True)
def split_seams(seam, corner_face, face_start, corner_point, corner_uv):
    """Return (S,) bool: the two sides have different uvs, so that they could be sewn."""
    is_split = np.empty(len(seam), dtype=np.bool_)
    for i in range(len(seam)):
        c, d = seam[i, 0], seam[i, 1]
        after, behind = (
            corner_after(c, face_start, corner_face),
            corner_after(d, face_start, corner_face),
        )
        near, far = (behind, d) if corner_point[c] == corner_point[behind] else (d, behind)
        is_split[i] = corner_uv[c] != corner_uv[near] or corner_uv[after] != corner_uv[far]
    return is_split


@njit(cache=True, nogil=True)
def chief_neighbours(island, length_m, can_sew, border_m):
    """Return (I,) each island's length of seam, its neighbour along the longest, its share.

    island : (S, 2) int32; length_m : (S,) float64; can_sew : (S,) bool, seams that count for
    neighbours; border_m : (I,) float64.
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
        if a != b and can_sew[i]:
            first[a + 2] += 1
            first[b + 2] += 1
    for a in range(count):
        first[a + 2] += first[a + 1]
    seams = np.empty(first[count + 1], dtype=np.int32)
    for i in range(len(island)):
        if island[i, 0] != island[i, 1] and can_sew[i]:
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
