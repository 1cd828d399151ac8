"""Regions given by the pieces of their border: rings, areas, inner points."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenweave.arrays import BoolArray, FloatArray, IntArray, frozen
from evenweave.measure.overlap import ring_kernels

# Texture coordinates come as float32 or as text with six digits. Regions thinner than this
# many tiles on average are the rounding of a shared boundary, not an overlap.
LEAST_WIDTH = 2.0**-21
_ROUNDING_GROWS_BEYOND = 8.0


@dataclass(frozen=True, eq=False)
class Regions:
    """Regions, (K,) each, without those that are thinner than rounding.

    key : int64 as given, ascending; area : tile units squared
    inner : (K, 2) uv well inside the largest ring of each; worst : (K,) that ring
    ring_start : (R + 1,) rings in `ring_point`, the rows of `position` at their corners
    is_kept : (R,) the ring belongs to a region; origin : (2,) uv of the positions' origin
    """

    key: NDArray[np.int64]
    area: FloatArray
    inner: FloatArray
    worst: IntArray
    ring_start: IntArray
    ring_point: IntArray
    is_kept: BoolArray
    position: FloatArray
    origin: FloatArray

    def patches(self, chosen: IntArray) -> tuple[FloatArray, ...]:
        """Return (N, 2) uv of the largest ring of each chosen region."""
        first = self.ring_start[self.worst[chosen]]
        size = self.ring_start[self.worst[chosen] + 1] - first
        end = np.cumsum(size)
        at = np.repeat(first - (end - size), size) + np.arange(size.sum())
        point = frozen(self.position[self.ring_point[at]] + self.origin)
        ends = end.tolist()
        return tuple(point[a:b] for a, b in zip([0, *ends[:-1]], ends, strict=True))

    def outline(self) -> FloatArray:
        """Return (S, 2, 2) uv segments of all rings that were kept."""
        after = np.arange(1, len(self.ring_point) + 1)
        after[self.ring_start[1:] - 1] = self.ring_start[:-1]
        at = np.flatnonzero(np.repeat(self.is_kept, np.diff(self.ring_start)))
        ends = self.ring_point[np.stack((at, after[at]), axis=1)]
        return self.position[ends] + self.origin


def measure_regions(
    key: NDArray[np.int64], border: IntArray, position: FloatArray, origin: FloatArray
) -> Regions:
    """Link the directed borders with one key, region on the left, into rings and measure them.

    key : (B,) int64; border : (B, 2) int32 rows of `position`, which is relative to `origin`.
    """
    keys, order, first = ring_kernels.grouped_keys(key)
    border = border[order]
    start, at, region, area, length = ring_kernels.rings(border, first, position)
    scale = np.abs(position[border[at[start[:-1]], 0]] + origin).max(axis=1, initial=0.0)
    least = LEAST_WIDTH * np.maximum(1.0, scale / _ROUNDING_GROWS_BEYOND)
    is_thick = 2 * np.abs(area) >= least * length
    total = np.bincount(region, area * is_thick, len(keys)).astype(np.float64)
    around = np.bincount(region, least * length * is_thick, len(keys))
    is_region = (total > 0) & (2 * total >= around)
    is_kept = is_thick & is_region[region]
    kept = np.flatnonzero(is_region)
    kept = kept[np.argsort(keys[kept])]
    place = np.zeros(len(keys), dtype=np.int32)
    place[kept] = np.arange(len(kept))
    rings = np.flatnonzero(is_kept)
    rings = rings[np.lexsort((-area[rings], place[region[rings]]))].astype(np.int32)
    ring_first = np.searchsorted(place[region[rings]], np.arange(len(kept) + 1)).astype(np.int32)
    worst = np.asarray(rings[ring_first[:-1]], dtype=np.int32)
    inner = ring_kernels.inner_points(border, at, start, ring_first, rings, worst, position)
    return Regions(
        key=keys[kept],
        area=total[kept],
        inner=inner + origin,
        worst=worst,
        ring_start=start,
        ring_point=border[at, 0],
        is_kept=is_kept,
        position=position,
        origin=origin,
    )
