"""A change of texture coordinates: the one form in which every advice hands over its outcome."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from evenweave.arrays import FloatArray, IntArray, frozen, ints
from evenweave.layout.layout import Layout
from evenweave.layout.weld import UV_BOUND_TILES, UV_STEPS_PER_TILE
from evenweave.layout.weld_kernels import weld_uv


@dataclass(frozen=True, eq=False)
class CornerUvs:
    """New coordinates of some corners; all others keep theirs.

    corner : (K,) int32 corners of the layout, ascending; uv : (K, 2) float64 tile units, v up
    """

    corner: IntArray
    uv: FloatArray


NO_CHANGE = CornerUvs(ints([]), frozen(np.zeros((0, 2))))


def joined(changes: Iterable[CornerUvs]) -> CornerUvs:
    """Return changes of different corners (or islands) as one; of the same corner the last."""
    parts = [NO_CHANGE, *changes]
    corner = np.concatenate([part.corner for part in parts])[::-1]
    uv = np.concatenate([part.uv for part in parts])[::-1]
    kept, first = np.unique(corner, return_index=True)
    return CornerUvs(ints(kept), frozen(uv[first]))


def retextured(layout: Layout, change: CornerUvs) -> Layout:
    """Return the layout with the change made; its islands and seams stay as they are.

    Coordinates are snapped and welded as on reading. Raises ValueError where a coordinate is
    not finite or absurdly far away.
    """
    corner_value = layout.uv[layout.corner_uv]
    corner_value[change.corner] = change.uv
    corner_uv, uv = weld_uv(frozen(corner_value), UV_STEPS_PER_TILE, UV_BOUND_TILES)
    if len(corner_uv) and corner_uv.min() < 0:
        raise ValueError("the new texture coordinates are not finite")
    return replace(layout, corner_uv=frozen(corner_uv), uv=frozen(uv))
