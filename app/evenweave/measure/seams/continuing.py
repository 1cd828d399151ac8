"""Islands whose border at one edge of the tile goes on at the opposite edge."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenweave.arrays import BoolArray, FloatArray, frozen
from evenweave.layout.layout import Layout
from evenweave.measure.results import IslandMeasures
from evenweave.measure.seams.corners import corner_faces

_ON_EDGE = 1e-6
_UNMATCHED = 1e-3


@dataclass(frozen=True, eq=False)
class Continuing:
    """Per island and direction (u, v), (I, 2).

    goes_on : its border covers the same stretch of both edges of its tile, so that what lies
    beyond one edge is its own other side
    is_sewn : the two borders are the same edges of the surface: the island runs round
    """

    goes_on: BoolArray
    is_sewn: BoolArray


def continuing(layout: Layout, island: IslandMeasures) -> Continuing:
    """Return where islands go on at the opposite edge; corners that only touch it do not count."""
    low, high = island.bounds[:, :2], island.bounds[:, 2:]
    touches = (np.abs(low - island.tile) < _ON_EDGE) & (np.abs(high - island.tile - 1) < _ON_EDGE)
    goes_on, is_sewn = np.zeros_like(touches), np.zeros_like(touches)
    if touches.any():
        border = _Border(layout, island)
        for number, axis in np.argwhere(touches).tolist():
            goes_on[number, axis], is_sewn[number, axis] = border.of(number, axis)
    return Continuing(frozen(goes_on), frozen(is_sewn))


class _Border:
    """The outline edges of a layout, of which islands are asked one by one."""

    def __init__(self, layout: Layout, island: IslandMeasures) -> None:
        every = corner_faces(layout)
        corner = layout.edges.outline
        corner = corner[np.argsort(layout.face_island[every[corner]], kind="stable")]
        face = every[corner]
        following = corner + 1
        is_last = following == layout.face_start[face + 1]
        following[is_last] = layout.face_start[face[is_last]]
        self._ends = layout.uv[layout.corner_uv[np.stack([corner, following], axis=1)]]
        self._island = layout.face_island[face]
        self._corner = corner
        self._tile = island.tile
        self._partner = np.full(len(layout.corner_uv), -1, dtype=np.int64)
        one, other = layout.edges.seam.T
        self._partner[one], self._partner[other] = other, one

    def of(self, island: int, axis: int) -> tuple[bool, bool]:
        """Return whether an island's border goes on across an axis, and whether it is sewn so."""
        mine = np.arange(*np.searchsorted(self._island, (island, island + 1)))
        across, along = self._ends[mine][:, :, axis], self._ends[mine][:, :, 1 - axis]
        low = (np.abs(across - self._tile[island, axis]) < _ON_EDGE).all(axis=1)
        high = (np.abs(across - self._tile[island, axis] - 1) < _ON_EDGE).all(axis=1)
        if not low.any() or not high.any():
            return False, False
        one, other = _stretches(along[low]), _stretches(along[high])
        whole = max(_length(one), _length(other))
        both = _length(_stretches(np.vstack([one, other])))
        if not whole > 0 or both - min(_length(one), _length(other)) > _UNMATCHED * whole:
            return False, False
        partners = self._partner[self._corner[mine[low]]]
        is_sewn = np.isin(partners, self._corner[mine[high]]).all()
        return True, bool(is_sewn)


def _stretches(ends: FloatArray) -> FloatArray:
    """Return (K, 2) the union of stretches along an edge, apart and ascending."""
    ordered = np.sort(ends, axis=1)
    ordered = ordered[np.argsort(ordered[:, 0], kind="stable")]
    reach = np.maximum.accumulate(ordered[:, 1])
    begins: NDArray[np.int64] = np.flatnonzero(
        np.concatenate([[True], ordered[1:, 0] > reach[:-1] + _ON_EDGE])
    )
    last = np.append(begins[1:] - 1, len(ordered) - 1)
    return np.column_stack([ordered[begins, 0], reach[last]])


def _length(stretches: FloatArray) -> float:
    return float((stretches[:, 1] - stretches[:, 0]).sum())
