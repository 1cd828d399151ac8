"""A layout as changes of its texture coordinates make it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from evenweave.arrays import frozen, ints
from evenweave.layout.layout import Layout
from evenweave.layout.weld import UV_BOUND_TILES, UV_STEPS_PER_TILE
from evenweave.layout.weld_kernels import weld_uv
from evenweave.trial.uvs.corner_uvs import CornerUvs


def joined(changes: Iterable[CornerUvs]) -> CornerUvs:
    """Return several changes as one, corners ascending; of the same corner the last counts."""
    parts = [CornerUvs(ints([]), frozen(np.zeros((0, 2)))), *changes]
    corner = np.concatenate([part.corner for part in parts])[::-1]
    uv = np.concatenate([part.uv for part in parts])[::-1]
    kept, last = np.unique(corner, return_index=True)
    return CornerUvs(ints(kept), frozen(uv[last]))


def retextured(layout: Layout, change: CornerUvs) -> Layout:
    """Return the layout with the change made; its islands and seams stay as they are.

    Coordinates are snapped and welded as on reading. Raises ValueError where one is not finite
    or absurdly far away.
    """
    corner_value = layout.uv[layout.corner_uv]
    corner_value[change.corner] = change.uv
    corner_uv, uv = weld_uv(frozen(corner_value), UV_STEPS_PER_TILE, UV_BOUND_TILES)
    if len(corner_uv) and corner_uv.min() < 0:
        raise ValueError("the new texture coordinates are not finite")
    return replace(layout, corner_uv=frozen(corner_uv), uv=frozen(uv))
