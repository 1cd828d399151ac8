"""Flatten a disc-like triangle mesh as well as its boundary allows. Runs in the worker process.

Solvers are libigl's: least-squares conformal (Levy et al. 2002), as-rigid-as-possible (Liu et
al. 2008) and scalable locally injective mappings (Rabinovich et al. 2017) of the symmetric
Dirichlet energy. They hold the interpreter lock and may crash on odd input: call them through
`evenweave.trial.worker` only.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from evenweave.arrays import FloatArray, IntArray
from evenweave.trial.energy import Energy, energy
from evenweave.trial.topology import Topology, topology

EASY = 1.03  # energy below which as-rigid-as-possible is within 0.001 of the best


@dataclass(frozen=True, eq=False)
class Flattening:
    """uv : (N, 2) float64, scaled so that its energy is least at one uv unit per metre."""

    uv: FloatArray
    energy: Energy


def best_flattening(
    point_m: FloatArray, triangle: IntArray, uv: FloatArray, *, sweeps: int | None = None
) -> Flattening:
    """Return the best of the present flattening and what the solvers find from it.

    sweeps : iterations of the last solver; chosen by size if None.
    Raises ValueError with a phrase where the mesh cannot be flattened.
    """
    shape = topology(triangle, len(point_m))
    if shape.problem:
        raise ValueError(shape.problem)
    if not shape.rims:
        raise ValueError("it is closed and has no seam to open it")
    if shape.genus:
        raise ValueError("it has a handle that no seam opens")
    solid = _nudged(point_m, triangle)
    best = _scored(point_m, triangle, uv)
    for candidate in _candidates(solid, triangle, uv, shape):
        if np.isfinite(candidate).all():
            found = _scored(point_m, triangle, candidate)
            if found.energy.rank < best.energy.rank:
                best = found
    if best.energy.flips or best.energy.value > EASY or sweeps:
        refined = slim(solid, triangle, best.uv, sweeps or _sweeps(len(triangle)))
        if np.isfinite(refined).all():
            found = _scored(point_m, triangle, refined)
            if found.energy.rank < best.energy.rank:
                best = found
    return best


def _sweeps(triangles: int) -> int:
    return 20 if triangles <= 10_000 else 10 if triangles <= 50_000 else 5


def _scored(point_m: FloatArray, triangle: IntArray, uv: FloatArray) -> Flattening:
    """Bring a flattening to true size, upright, and measure it on the true geometry."""
    found = energy(point_m, uv, triangle)
    if found.is_mirrored:
        uv = uv * np.array([-1.0, 1.0])
        found = energy(point_m, uv, triangle)
    if np.isfinite(found.scale):
        uv = uv / found.scale
    return Flattening(np.ascontiguousarray(uv), found)


def _candidates(
    point_m: FloatArray, triangle: IntArray, uv: FloatArray, shape: Topology
) -> Iterator[FloatArray]:
    """Yield flattenings from different starts: the present one, conformal, and convex."""
    now = energy(point_m, uv, triangle)
    starts = []
    if now.flips == 0 and np.isfinite(now.scale):
        upright = uv * np.array([-1.0, 1.0]) if now.is_mirrored else uv
        starts.append(upright / now.scale)
    conformal = lscm(point_m, triangle, shape.rims[0])
    if conformal is not None:
        yield conformal
        flat = energy(point_m, conformal, triangle)
        if np.isfinite(flat.scale) and not flat.is_mirrored:
            starts.append(conformal / flat.scale)
    if not starts or all(energy(point_m, s, triangle).flips for s in starts):
        convex = tutte(point_m, triangle, shape)
        flat = energy(point_m, convex, triangle)
        if np.isfinite(flat.scale):
            convex = convex * (np.array([-1.0, 1.0]) if flat.is_mirrored else 1.0) / flat.scale
            starts.append(convex)
            yield convex
            yield slim(point_m, triangle, convex, _sweeps(len(triangle)))
    for start in starts:
        yield arap(point_m, triangle, start, 20)


def lscm(point_m: FloatArray, triangle: IntArray, rim: IntArray) -> FloatArray | None:
    """Least-squares conformal map with two pins far apart on the rim, or None if it fails."""
    import igl

    far = int(np.argmax(np.linalg.norm(point_m[rim] - point_m[rim[0]], axis=1)))
    if far == 0:
        return None
    span = float(np.linalg.norm(point_m[rim[far]] - point_m[rim[0]]))
    pins = np.array([rim[0], rim[far]], np.int32)
    try:
        uv, _ = igl.lscm(point_m, triangle, pins, np.array([[0.0, 0.0], [span, 0.0]]))
    except RuntimeError:
        return None
    return np.ascontiguousarray(uv) if np.isfinite(uv).all() else None


def arap(point_m: FloatArray, triangle: IntArray, uv: FloatArray, sweeps: int) -> FloatArray:
    """As-rigid-as-possible from a start at true size; one vertex stays where it is."""
    import igl

    data = igl.ARAPData()
    data.max_iter = sweeps
    data.with_dynamics = False
    igl.arap_precomputation(point_m, triangle, 2, np.array([0], np.int32), data)
    return np.ascontiguousarray(igl.arap_solve(np.ascontiguousarray(uv[:1]), data, uv))


def slim(point_m: FloatArray, triangle: IntArray, uv: FloatArray, sweeps: int) -> FloatArray:
    """Locally injective minimisation of the symmetric Dirichlet energy."""
    import igl

    data = igl.slim_precompute(
        np.asfortranarray(point_m),
        np.asfortranarray(triangle, np.int32),
        np.asfortranarray(uv),
        igl.SYMMETRIC_DIRICHLET,
        np.zeros(0, np.int32),
        np.zeros((0, 2), order="F"),
        0.0,
    )
    return np.ascontiguousarray(igl.slim_solve(data, sweeps))


def tutte(point_m: FloatArray, triangle: IntArray, shape: Topology) -> FloatArray:
    """Tutte's embedding: longest rim on a circle, others filled, uniform weights; never flips."""
    from scipy.sparse import coo_matrix, diags
    from scipy.sparse.linalg import splu

    count = len(point_m)
    filled = [triangle]
    for extra, rim in enumerate(shape.rims[1:]):
        hub = np.full(len(rim), count + extra, np.int32)
        filled.append(np.stack([np.roll(rim, -1), rim, hub], axis=1))
    faces = np.vstack(filled)
    total = count + len(shape.rims) - 1
    edge = np.vstack([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    edge = np.vstack([edge, edge[:, ::-1]])
    joined = coo_matrix((np.ones(len(edge)), (edge[:, 0], edge[:, 1])), (total, total)).tocsr()
    joined.data[:] = 1.0
    laplacian = (diags(np.asarray(joined.sum(axis=1)).ravel()) - joined).tocsr()
    rim = shape.rims[0]
    step = np.linalg.norm(point_m[np.roll(rim, -1)] - point_m[rim], axis=1)
    angle = 2 * np.pi * np.concatenate([[0.0], np.cumsum(step)[:-1]]) / max(step.sum(), 1e-300)
    uv = np.zeros((total, 2))
    uv[rim] = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    used = np.zeros(total, bool)
    used[faces] = True
    used[rim] = False
    free = np.flatnonzero(used)
    if len(free):
        inside = laplacian[free][:, free].tocsc()
        right = np.asarray(-(laplacian[free][:, rim] @ uv[rim]))
        options = {"SymmetricMode": True}
        uv[free] = splu(inside, permc_spec="MMD_AT_PLUS_A", options=options).solve(right)
    return uv[:count]


def _nudged(point_m: FloatArray, triangle: IntArray) -> FloatArray:
    """Move vertices of needle triangles a little, or the solvers return no numbers at all."""
    p = point_m[triangle]
    side = np.stack([np.linalg.norm(p[:, i] - p[:, i - 1], axis=1) for i in range(3)], axis=1)
    double = np.linalg.norm(np.cross(p[:, 1] - p[:, 0], p[:, 2] - p[:, 0]), axis=1)
    typical = float(np.median(side))
    height = double / np.maximum(side.max(axis=1), 1e-300)
    needle = height < 3e-4 * typical
    if not needle.any():
        return point_m
    moved = point_m.copy()
    vertex = np.unique(triangle[needle])
    moved[vertex] += np.random.default_rng(1).normal(0.0, 1e-3 * typical, (len(vertex), 3))
    return moved
