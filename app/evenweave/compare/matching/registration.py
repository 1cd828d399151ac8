"""Surfaces that lie elsewhere in space: the whole asset turned or scaled, or parts of it moved.

What has moved is carried to where it is now; then islands are matched there as ever.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace

import numpy as np

from evenweave.arrays import BoolArray, FloatArray, IntArray, frozen
from evenweave.compare.matching.sampling import REACH_SHARE
from evenweave.compare.matching.surface import Surface

LEAST_FOUND = 0.5
_PROBES = 2000
_RESIDUAL_SHARE = 1e-3
_MOST_ALIKE = 64

# The same way up; from y up to z up; and back.
_TURNS = np.array(
    [
        [[1, 0, 0], [0, 1, 0], [0, 0, 1]],
        [[1, 0, 0], [0, 0, -1], [0, 1, 0]],
        [[1, 0, 0], [0, 0, 1], [0, -1, 0]],
    ],
    dtype=np.float64,
)


def registered(old: Surface, new: Surface) -> Surface | None:
    """Return the old surface turned, scaled and moved onto the new, or None where none fits.

    Tried are the two ways up, sizes equal and made equal, with the boxes' middles laid together.
    """
    if not (len(old.island) and len(new.island)):
        return None
    best, most = None, LEAST_FOUND
    for turn in _TURNS:
        for scale in dict.fromkeys((1.0, new.size_m / old.size_m)):
            carried = _whole(old, new, scale * turn)
            found = _found(carried, new)
            if found > most:
                best, most = carried, found
    return best


def _whole(old: Surface, new: Surface, matrix: FloatArray) -> Surface:
    corner = old.corner_m @ matrix.T
    points = corner.reshape(-1, 3)
    middle = (points.min(axis=0) + points.max(axis=0)) / 2
    target = (new.bounds_m[:3] + new.bounds_m[3:]) / 2
    return _with_corners(old, corner + (target - middle))


def _with_corners(old: Surface, corner: FloatArray) -> Surface:
    edge = corner[:, 1:] - corner[:, :1]
    cross = np.cross(edge[:, 0], edge[:, 1])
    length = np.linalg.norm(cross, axis=1)
    normal = cross / np.where(length > 0, length, 1.0)[:, None]
    # Built anew, so that no search tree of the old place is kept.
    return replace(old, corner_m=frozen(corner), normal=frozen(normal), area_m2=frozen(length / 2))


def _found(carried: Surface, new: Surface) -> float:
    """Return the share of probes of a surface that lie on another."""
    count = len(carried.island)
    if count == 0:
        return 0.0
    rows = np.linspace(0, count - 1, min(count, _PROBES)).astype(np.int64)
    reach = np.full(len(rows), REACH_SHARE * new.size_m)
    middle = frozen(carried.corner_m[rows].mean(axis=1))
    triangle, _ = new.nearest(middle, frozen(carried.normal[rows]), reach)
    return float((triangle[:, 0] >= 0).mean())


def carried_islands(
    old: Surface,
    new: Surface,
    lost: tuple[BoolArray, BoolArray],
    names: tuple[tuple[str, ...], tuple[str, ...]],
) -> tuple[Surface, IntArray] | None:
    """Carry lost islands that lie elsewhere, as they were, to where they are now.

    lost : (I,) and (J,) the islands of each surface that are found nowhere in the other
    An island is known by its triangles, in their order, being congruent; where several are, by
    its name. Returns the surface and the islands carried, or None where there are none.
    """
    old_rows, new_rows = _rows(old, lost[0]), _rows(new, lost[1])
    by_count: dict[int, list[int]] = defaultdict(list)
    for island, rows in new_rows.items():
        by_count[len(rows)].append(island)
    corner, carried, taken = old.corner_m.copy(), [], set[int]()
    for island, rows in old_rows.items():
        alike = by_count[len(rows)]
        if len(alike) > _MOST_ALIKE:
            alike = [other for other in alike if names[1][other] == names[0][island]]
        placed = {
            other: place
            for other in alike
            if other not in taken
            and (place := _placed(old.corner_m[rows], new.corner_m[new_rows[other]])) is not None
        }
        named = [other for other in placed if names[1][other] == names[0][island]]
        chosen = named if len(named) == 1 else list(placed)
        if len(chosen) == 1:
            taken.add(chosen[0])
            corner[rows] = placed[chosen[0]]
            carried.append(island)
    if not carried:
        return None
    return _with_corners(old, corner), np.array(carried, dtype=np.int32)


def _rows(surface: Surface, is_wanted: BoolArray) -> dict[int, IntArray]:
    """Return the triangles of each wanted island."""
    rows = surface.triangles_of(is_wanted)
    order = np.argsort(surface.island[rows], kind="stable")
    rows = rows[order]
    islands, start = np.unique(surface.island[rows], return_index=True)
    return dict(zip(islands.tolist(), np.split(rows, start[1:]), strict=True)) if len(rows) else {}


def _placed(own: FloatArray, other: FloatArray) -> FloatArray | None:
    """Return own corners, (T, 3, 3), moved rigidly onto the other's, or None where they differ.

    The rotation is Kabsch's ("A solution for the best rotation to relate two sets of vectors",
    1976), by singular values; mirror images do not fit.
    """
    p, q = own.reshape(-1, 3), other.reshape(-1, 3)
    p_middle, q_middle = p.mean(axis=0), q.mean(axis=0)
    p, q = p - p_middle, q - q_middle
    size = float(np.sqrt((p**2).sum(axis=1).mean()))
    spread = abs(float(np.sqrt((q**2).sum(axis=1).mean())) - size)
    if not size > 0 or spread > _RESIDUAL_SHARE * size:
        return None
    u, _, vt = np.linalg.svd(p.T @ q)
    flip = np.diag([1.0, 1.0, np.sign(np.linalg.det(u) * np.linalg.det(vt)) or 1.0])
    moved = p @ (u @ flip @ vt)
    if float(np.abs(moved - q).max()) > _RESIDUAL_SHARE * size * 3:
        return None
    placed: FloatArray = (moved + q_middle).reshape(own.shape)
    return placed
