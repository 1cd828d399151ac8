"""Minimise the energy of a flattening while no part of it may come to lie on another.

The plane round the flattening is filled with triangles up to a fixed frame. Their energy counts
a little, and as none of them may flip, rims cannot cross (Jiang, Schaefer & Panozzo,
"Simplicial complex augmentation framework for bijective maps", 2017, with the reweighting of
Rabinovich et al. 2017). They are laid out anew before each step.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from evenweave.arrays import FloatArray, IntArray
from evenweave.trial.flatten.surface import Surface
from evenweave.trial.work import effort

FRAME = 0.3  # of the extent, between the flattening and the frame
FRAME_POINTS = 12  # a side
SCAFFOLD_SHARE = 0.01  # of the energy of the flattening, that all triangles round it weigh
SAFE_STEP = 0.8  # of the step at which the first triangle collapses
HALVINGS = 12


def contactless(
    surface: Surface,
    uv: FloatArray,
    sweeps: int,
    *,
    settled: float = 6e-5,
    deadline: float = np.inf,
) -> FloatArray:
    """Return a flattening with less energy than a start that does not lie on itself.

    uv : (N, 2), true size, nothing flipped, no overlap; neither appears. Ends after so many
    sweeps, when one gains less than the share `settled` of the excess, or at the deadline.
    """
    inner = _Elements.of_surface(surface)
    before = inner.energy(uv)
    for _ in range(sweeps):
        if effort.now() > deadline:
            break
        effort.spend(len(surface.triangle), effort.SCAFFOLD_US)
        try:
            outer, frame = _round_about(surface, uv)
        except _Tangled:
            break
        outer = outer.weighing(SCAFFOLD_SHARE * before)
        new = _step(inner.with_others(outer), np.vstack([uv, frame]), len(uv))
        if new is None:
            break
        uv = new
        now = inner.energy(uv)
        if abs(before - now) < settled * max(now / inner.least - 1, 1e-9) * inner.least:
            break
        before = now
    return uv


class _Tangled(Exception):
    """No triangles could be found round the flattening."""


@dataclass(frozen=True, eq=False)
class _Elements:
    """Triangles with their own true shapes.

    triangle : (T, 3); gradient : (T, 2, 3) of functions at the corners; weight : (T,)
    """

    triangle: IntArray
    gradient: FloatArray
    weight: FloatArray

    @staticmethod
    def of_surface(surface: Surface) -> _Elements:
        corner = surface.solid_m[surface.triangle]
        e1, e2 = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
        length = np.linalg.norm(e1, axis=1)
        along = (e1 * e2).sum(axis=1) / length
        height = np.linalg.norm(np.cross(e1, e2), axis=1) / length
        zero = np.zeros(len(length))
        flat = np.stack(
            [zero, zero, length, zero, along, height], axis=1
        ).reshape(-1, 3, 2)  # fmt: skip
        return _Elements.flat(surface.triangle, flat)

    @staticmethod
    def flat(triangle: IntArray, corner: FloatArray) -> _Elements:
        """Corner : (T, 3, 2) the true shapes."""
        opposite = np.roll(corner, -2, axis=1) - np.roll(corner, -1, axis=1)
        double = _double(corner)
        turned = np.stack([-opposite[:, :, 1], opposite[:, :, 0]], axis=1)
        return _Elements(triangle, turned / double[:, None, None], double / 2)

    @property
    def least(self) -> float:
        """The energy without any stretch."""
        return 4 * float(self.weight.sum())

    def weighing(self, total: float) -> _Elements:
        """Return the same, each as heavy as any other, all together worth an energy."""
        count = max(len(self.weight), 1)
        return _Elements(self.triangle, self.gradient, np.full(count, total / count))

    def with_others(self, other: _Elements) -> _Elements:
        return _Elements(
            np.vstack([self.triangle, other.triangle]),
            np.vstack([self.gradient, other.gradient]),
            np.append(self.weight, other.weight),
        )

    def jacobian(self, uv: FloatArray) -> Any:
        """Return (T, 2, 2)."""
        return np.einsum("tci,tkc->tik", uv[self.triangle], self.gradient)

    def energy(self, uv: FloatArray) -> float:
        jacobian = self.jacobian(uv)
        det = np.linalg.det(jacobian)
        if not (det > 0).all():
            return np.inf
        square = (jacobian**2).sum(axis=(1, 2))
        return float((self.weight * square * (1 + det**-2.0)).sum())


def _double(corner: FloatArray) -> Any:
    a, b = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
    return a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]


def _step(elements: _Elements, uv: FloatArray, free: int) -> FloatArray | None:
    """Return the first `free` places after one sweep; None where nothing is gained."""
    with np.errstate(all="ignore"):
        way = np.zeros_like(uv)
        way[:free] = _wished(elements, uv, free) - uv[:free]
        if not np.isfinite(way).all():
            return None
        share = min(1.0, SAFE_STEP * _collapse(elements, uv, way))
        before = elements.energy(uv)
        for _ in range(HALVINGS):
            new = uv + share * way
            if elements.energy(new) < before:
                return new[:free]
            share /= 2
    return None


def _wished(elements: _Elements, uv: FloatArray, free: int) -> FloatArray:
    """Return where the first `free` points want to be, all others held."""
    from scipy.sparse import coo_matrix
    from scipy.sparse.linalg import splu

    jacobian = elements.jacobian(uv)
    u, s, v = np.linalg.svd(jacobian)
    off = np.where(np.abs(s - 1) < 1e-8, 1e-8, s - 1)
    stiff = np.where(np.abs(s - 1) < 1e-8, 4.0, (s - s**-3) / off)
    force = np.einsum("tij,tj,tkj->tik", u, stiff, u)
    weight, gradient = elements.weight, elements.gradient
    pull = np.einsum("t,tij,tjk,tkc->tci", weight, force, u @ v, gradient)
    metric = np.einsum("t,tkc,tke->tce", weight, gradient, gradient)
    block = np.einsum("tij,tce->tciej", force, metric).reshape(-1)
    count = len(uv)
    own = (2 * elements.triangle[:, :, None] + np.arange(2)).reshape(-1, 6)
    row, column = np.repeat(own, 6, axis=1).reshape(-1), np.tile(own, (1, 6)).reshape(-1)
    matrix = coo_matrix((block, (row, column)), (2 * count, 2 * count)).tocsr()
    wanted = np.zeros((count, 2))
    np.add.at(wanted, elements.triangle, pull)
    known = uv[free:].reshape(-1)
    right = wanted.reshape(-1)[: 2 * free] - matrix[: 2 * free, 2 * free :] @ known
    # COLAMD orders these matrices ten times faster than MMD, whose time goes with hubs.
    solved = splu(matrix[: 2 * free, : 2 * free].tocsc(), permc_spec="COLAMD").solve(right)
    place: FloatArray = solved.reshape(-1, 2)
    return place


def _collapse(elements: _Elements, uv: FloatArray, way: FloatArray) -> float:
    """Return the share of a way at which the first triangle collapses, inf if none does."""
    p, d = uv[elements.triangle], way[elements.triangle]
    a, b = p[:, 1] - p[:, 0], p[:, 2] - p[:, 0]
    m, n = d[:, 1] - d[:, 0], d[:, 2] - d[:, 0]
    z = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    y = a[:, 0] * n[:, 1] - a[:, 1] * n[:, 0] + m[:, 0] * b[:, 1] - m[:, 1] * b[:, 0]
    x = m[:, 0] * n[:, 1] - m[:, 1] * n[:, 0]
    root = np.sqrt(np.maximum(y * y - 4 * x * z, 0.0))
    # Roots in this form do not cancel; those at infinity drop out.
    q = -(y + np.where(y < 0, -1.0, 1.0) * root) / 2
    with np.errstate(divide="ignore", invalid="ignore"):
        found = np.stack([q / x, z / q], axis=1)
    found[(y * y < 4 * x * z)] = np.inf
    found = found[np.isfinite(found) & (found > 0)]
    return float(found.min(initial=np.inf))


def _round_about(surface: Surface, uv: FloatArray) -> tuple[_Elements, FloatArray]:
    """Return triangles that fill the plane from the rims to a frame, and the frame's points."""
    import shapely

    low, high = uv.min(axis=0), uv.max(axis=0)
    edge = FRAME * float((high - low).max())
    frame = _frame(low - edge, high + edge)
    loops = [uv[rim] for rim in surface.rims]
    areas = [_loop_area(loop) for loop in loops]
    outer = int(np.argmax(areas))
    gaps = [shapely.Polygon(frame, [loops[outer]])]
    gaps += [shapely.Polygon(loop) for i, loop in enumerate(loops) if i != outer]
    if not all(gap.is_valid for gap in gaps):
        raise _Tangled
    found = shapely.get_parts(shapely.constrained_delaunay_triangles(np.array(gaps)))
    corner = shapely.get_coordinates(found).reshape(-1, 4, 2)[:, :3]
    is_turned = _double(corner) < 0
    corner[is_turned] = corner[is_turned][:, ::-1]
    rim = np.concatenate(surface.rims)
    known = np.vstack([uv[rim], frame])
    number = np.append(rim, len(uv) + np.arange(len(frame)))
    # Corners keep their coordinates to the last bit: complex numbers sort as pairs.
    order = np.argsort(known @ [1, 1j], kind="stable")
    key, wanted = (known @ [1, 1j])[order], (corner @ [1, 1j]).reshape(-1)
    place = np.minimum(np.searchsorted(key, wanted), len(key) - 1)
    if (key[place] != wanted).any() or not (_double(corner) > 0).all():
        raise _Tangled
    return _Elements.flat(number[order][place].reshape(-1, 3).astype(np.int32), corner), frame


def _frame(low: FloatArray, high: FloatArray) -> FloatArray:
    """Return points round a box, counter-clockwise."""
    corner = np.array([low, [high[0], low[1]], high, [low[0], high[1]]])
    share = (np.arange(FRAME_POINTS) / FRAME_POINTS)[:, None]
    sides = [a + share * (b - a) for a, b in zip(corner, np.roll(corner, -1, axis=0), strict=True)]
    return np.vstack(sides)


def _loop_area(loop: FloatArray) -> float:
    after = np.roll(loop, -1, axis=0)
    return float((loop[:, 0] * after[:, 1] - loop[:, 1] * after[:, 0]).sum()) / 2
