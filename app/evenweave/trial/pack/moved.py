"""From places of blocks to texture coordinates."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from evenweave.arrays import ints
from evenweave.layout.layout import Layout, Tile
from evenweave.trial.nest.search import Placed, Task
from evenweave.trial.uvs.corner_uvs import CornerUvs


def moved_uvs(
    layout: Layout,
    tile: Tile,
    task: Task,
    placed: Placed,
    *,
    tiles: Sequence[tuple[int, int]],
    origin_px: float,
) -> CornerUvs:
    """Return the coordinates of all corners of the islands that move.

    tiles : column and row of each; origin_px : texels from a tile's corner to its room's
    """
    count = layout.island_count
    size = np.array([tile.width, tile.height], dtype=np.float64)
    turn, shift = np.zeros((count, 2, 2)), np.zeros((count, 2))
    is_moving = np.zeros(count, dtype=bool)
    for block, turned, place in zip(task.blocks, task.turned, placed.places, strict=True):
        one = turned.get(place.degrees) or block.turned(place.degrees)
        own = list(block.islands)
        cells = np.array([place.x, place.y]) * task.grid.cell_px
        turn[own] = one.turn * placed.scale
        shift[own] = np.array(tiles[place.tile]) * size + origin_px + cells - one.low * placed.scale
        is_moving[own] = True
    corner_island = np.repeat(layout.face_island, np.diff(layout.face_start))
    corner = np.flatnonzero(is_moving[corner_island])
    island = corner_island[corner]
    before = layout.uv[layout.corner_uv[corner]] * size
    after = np.einsum("ki,kij->kj", before, turn[island]) + shift[island]
    return CornerUvs.of(ints(corner), after / size)
