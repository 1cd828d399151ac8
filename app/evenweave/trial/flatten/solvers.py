"""The flattening solvers, as plain functions of plain arrays. For the worker process.

libigl's least-squares conformal map (Levy et al. 2002), as-rigid-as-possible (Liu et al. 2008)
and scalable locally injective mappings (Rabinovich et al. 2017) hold the interpreter lock and
may crash on odd input: call them through `evenweave.trial.work.worker` only, on a `Surface`.
"""

from __future__ import annotations

import numpy as np

from evenweave.arrays import FloatArray, IntArray
from evenweave.trial.flatten.energy import energy
from evenweave.trial.work import effort

BURST = 5

Held = tuple[IntArray, FloatArray, float]
"""Vertices ascending, the place of each, and how much it weighs."""


def lscm(point_m: FloatArray, triangle: IntArray, rim: IntArray) -> FloatArray | None:
    """Least-squares conformal map with two pins far apart on the rim, or None if it fails."""
    import igl

    far = int(np.argmax(np.linalg.norm(point_m[rim] - point_m[rim[0]], axis=1)))
    if far == 0:
        return None
    effort.spend(len(triangle), effort.LSCM_US)
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

    effort.spend(len(triangle), effort.ARAP_US * sweeps)
    data = igl.ARAPData()
    data.max_iter = sweeps
    data.with_dynamics = False
    igl.arap_precomputation(point_m, triangle, 2, np.array([0], np.int32), data)
    return np.ascontiguousarray(igl.arap_solve(np.ascontiguousarray(uv[:1]), data, uv))


def slim(
    point_m: FloatArray,
    triangle: IntArray,
    uv: FloatArray,
    sweeps: int,
    *,
    settled: float = 3e-4,
    held: Held | None = None,
    deadline: float = np.inf,
) -> FloatArray:
    """Minimise the symmetric Dirichlet energy from a start without flips; none appear.

    held : vertices that are to be near some places, if any. Stops after so many sweeps, when a
    few gain less than the share `settled` of the excess, or at the deadline (of `effort`).
    """
    import igl

    data = igl.slim_precompute(
        np.asfortranarray(point_m),
        np.asfortranarray(triangle, np.int32),
        np.asfortranarray(uv),
        igl.SYMMETRIC_DIRICHLET,
        *_asked(held),
    )
    effort.spend(len(triangle), effort.SLIM_US)
    before = energy(point_m, uv, triangle).value
    for sweep in range(1, sweeps + 1):
        uv = igl.slim_solve(data, 1)
        effort.spend(len(triangle), effort.SLIM_US)
        if effort.now() > deadline:
            break
        if sweep % BURST == 0:
            now = energy(point_m, uv, triangle).value
            if not before - now > settled * (now - 1):
                break
            before = now
    return np.ascontiguousarray(uv)


def _asked(held: Held | None) -> Held:
    if held is None:
        return np.zeros(0, np.int32), np.zeros((0, 2), order="F"), 0.0
    return held[0], np.asfortranarray(held[1]), held[2]


def tutte(point_m: FloatArray, triangle: IntArray, rims: tuple[IntArray, ...]) -> FloatArray:
    """Tutte's embedding: longest rim on a circle, others filled, uniform weights; never flips."""
    from scipy.sparse import coo_matrix, diags
    from scipy.sparse.linalg import splu

    effort.spend(len(triangle), effort.TUTTE_US)
    count = len(point_m)
    filled = [triangle]
    for extra, hole in enumerate(rims[1:]):
        hub = np.full(len(hole), count + extra, np.int32)
        filled.append(np.stack([np.roll(hole, -1), hole, hub], axis=1))
    faces = np.vstack(filled)
    total = count + len(rims) - 1
    edge = np.vstack([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    edge = np.vstack([edge, edge[:, ::-1]])
    joined = coo_matrix((np.ones(len(edge)), (edge[:, 0], edge[:, 1])), (total, total)).tocsr()
    joined.data[:] = 1.0
    laplacian = (diags(np.asarray(joined.sum(axis=1)).ravel()) - joined).tocsr()
    uv = np.zeros((total, 2))
    rim = rims[0]
    uv[rim] = _circle(point_m[rim])
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


def _circle(point: FloatArray) -> FloatArray:
    """Lay a loop on the unit circle, steps in proportion to their lengths."""
    step = np.linalg.norm(np.roll(point, -1, axis=0) - point, axis=1)
    angle = 2 * np.pi * np.concatenate([[0.0], np.cumsum(step)[:-1]]) / max(step.sum(), 1e-300)
    return np.stack([np.cos(angle), np.sin(angle)], axis=1)
