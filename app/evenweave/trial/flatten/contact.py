"""Move the parts of a flattening off each other where a sliver of it lies on itself."""

from __future__ import annotations

import numpy as np

from evenweave.arrays import FloatArray, IntArray
from evenweave.trial.flatten.overlap import self_overlap
from evenweave.trial.flatten.solvers import slim
from evenweave.trial.flatten.surface import Surface
from evenweave.trial.work import effort

ROUNDS = 6
SWEEPS = 2
HOLD = 300.0  # weight of a wished place, against areas times squared gradients
BEYOND = 1.3  # of the way out; twice as far each round, for the rest resists
GAP = 0.01  # of the rim edge crossed, between what was on each other


def cleared(surface: Surface, uv: FloatArray, *, deadline: float = np.inf) -> FloatArray | None:
    """Return a flattening near one that lies on itself by slivers, or None where that fails.

    uv : (N, 2), nothing flipped, true size. Rim vertices inside other parts are drawn to the
    nearest rim, and that rim towards them, by soft wishes to the solver, round by round, for as
    long as each takes a quarter of the overlap away.
    """
    before = np.inf
    for done in range(ROUNDS):
        held, place = _targets(surface, uv, BEYOND * 2**done)
        if len(held) == 0 or effort.now() > deadline:
            return None
        uv = slim(
            surface.solid_m, surface.triangle, uv, SWEEPS,
            settled=-np.inf, held=(held, place, HOLD), deadline=deadline,
        )  # fmt: skip
        if not np.isfinite(uv).all():
            return None
        now = self_overlap(uv, surface.rims)
        if now == 0:
            return uv
        if now > 0.75 * before:
            return None
        before = now
    return None


def _targets(surface: Surface, uv: FloatArray, beyond: float) -> tuple[IntArray, FloatArray]:
    """Return rim vertices that are to move, ascending, and where to."""
    inner, start, end = _intruders(surface, uv)
    a, b, p = uv[start], uv[end], uv[inner]
    along = b - a
    share = ((p - a) * along).sum(axis=1) / np.maximum((along**2).sum(axis=1), 1e-300)
    share = np.clip(share, 0.0, 1.0)[:, None]
    way = a + share * along - p
    length = np.linalg.norm(way, axis=1, keepdims=True)
    gap = GAP * np.linalg.norm(along, axis=1, keepdims=True)
    way = way * (beyond + gap / np.maximum(length, 1e-300))
    vertex = np.concatenate([inner, start, end])
    move = np.concatenate([way / 2, -way * (1 - share), -way * share])
    held, place = np.unique(vertex, return_inverse=True)
    total, count = np.zeros((len(held), 2)), np.bincount(place.reshape(-1), minlength=len(held))
    np.add.at(total, place.reshape(-1), move)
    return held.astype(np.int32), uv[held] + total / np.maximum(count, 1)[:, None]


def _intruders(surface: Surface, uv: FloatArray) -> tuple[IntArray, IntArray, IntArray]:
    """Return rim vertices that lie inside foreign triangles, and the ends of the rim nearest."""
    import shapely

    rim = np.concatenate(surface.rims)
    start, end = rim, np.concatenate([np.roll(loop, -1) for loop in surface.rims])
    tree = shapely.STRtree(np.asarray(shapely.polygons(uv[surface.triangle])))
    row, triangle = tree.query(shapely.points(uv[rim]), predicate="within")
    foreign = (surface.triangle[triangle] != rim[row][:, None]).all(axis=1)
    inner = np.unique(rim[row[foreign]])
    lines = np.asarray(shapely.linestrings(np.stack([uv[start], uv[end]], axis=1)))
    found = [np.zeros((0, 3), np.int32)]
    for vertex in inner:
        others = np.flatnonzero((start != vertex) & (end != vertex))
        far = shapely.distance(lines[others], shapely.Point(uv[vertex]))
        nearest = others[int(np.argmin(far))]
        found.append(np.array([[vertex, start[nearest], end[nearest]]], np.int32))
    triple = np.vstack(found)
    return triple[:, 0], triple[:, 1], triple[:, 2]
