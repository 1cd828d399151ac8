"""Blocks that stay where they are while others are packed round them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from evenweave.arrays import ByteArray, frozen
from evenweave.layout.layout import Tile
from evenweave.trial.nest.blocks import Block
from evenweave.trial.nest.cells import Grid
from evenweave.trial.nest.kernels import stamp
from evenweave.trial.nest.search import GROWTH


def pinned_cells(
    still: Sequence[Block], grid: Grid, tile: Tile, *, spot: tuple[int, int], origin_px: float
) -> ByteArray:
    """Return (rows, columns) uint8, 1 where a cell of one tile is taken from the start."""
    corner = np.array([spot[0] * tile.width, spot[1] * tile.height], dtype=np.float64) + origin_px
    columns, rows = (int(np.ceil(side)) for side in grid.room)
    mask: ByteArray = stamp(
        (np.vstack([one.line_px for one in still]) - np.tile(corner, 2)) / grid.cell_px,
        (np.vstack([one.fill_px for one in still]) - np.tile(corner, 2)) / grid.cell_px,
        frozen(np.concatenate([one.fill_weight for one in still])),
        grid.padding,
        (0.0, 0.0),
        (int(rows * GROWTH) + 1, columns),
    )
    return mask


def is_within(block: Block, tile: Tile, tiles: Sequence[tuple[int, int]]) -> bool:
    """Tell whether some of a block may lie in one of the tiles."""
    corner = block.line_px.reshape(-1, 2) / np.array([tile.width, tile.height], np.float64)
    low, high = corner.min(axis=0), corner.max(axis=0)
    return any((high > spot).all() and (low < np.add(spot, 1)).all() for spot in tiles)
