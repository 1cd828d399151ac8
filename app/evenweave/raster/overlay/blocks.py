"""`Blocks`: texel blocks of a mip level over a flat picture; those of several islands marked."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenweave.arrays import ByteArray, FloatArray, IntArray
from evenweave.raster.bands import over_bands
from evenweave.raster.camera import FlatView
from evenweave.raster.overlay.blocks_kernels import shade_blocks
from evenweave.raster.overlay.tile_places import tile_places
from evenweave.raster.patterns import ramp

SEVERAL = -2
_BORDER = 0.28
_BORDER_PX, _CROSS_PX = (6.0, 14.0), (7.0, 12.0)


@dataclass(frozen=True, eq=False)
class Blocks:
    """What the blocks of K tiles hold.

    holds : (K, rows, columns) int32, row 0 lowest: an island, -1 none, -2 several
    tiles : column and row of each tile; per_tile : blocks per tile along u and v, the last cut off
    tone : (I,) uint32 colours of islands
    """

    holds: IntArray
    tiles: tuple[tuple[int, int], ...]
    per_tile: tuple[float, float]
    tone: NDArray[np.uint32]

    @property
    def bleeding(self) -> int:
        """How many blocks hold several islands."""
        return int(np.count_nonzero(self.holds == SEVERAL))


def draw_blocks(
    rgba: ByteArray, ids: IntArray, blocks: Blocks, view: FlatView, ratio: float
) -> None:
    """Draw blocks over a picture (H, W, 4) of `view`: islands grow into their blocks.

    ids : (H, W) triangle at each pixel, -1 where none; those keep their colours
    """
    place = tile_places(view, blocks.tiles)
    block_px = view.scale / max(blocks.per_tile)
    column, inside_x = _blocks_of(place.inside_x, blocks.per_tile[0], blocks.holds.shape[2])
    row, inside_y = _blocks_of(place.inside_y, blocks.per_tile[1], blocks.holds.shape[1])
    border = _BORDER * ramp(block_px / ratio, *_BORDER_PX)
    cross = ramp(block_px / ratio, *_CROSS_PX)
    packed_rgba = rgba.view(np.uint32)[:, :, 0]
    over_bands(
        view.height,
        lambda row0, row1: shade_blocks(
            ids, place.tile_x, place.tile_y, place.number, column, row, inside_x, inside_y,
            blocks.holds, blocks.tone, block_px, ratio, border, cross, row0, row1, packed_rgba,
        ),
    )  # fmt: skip


def _blocks_of(inside: FloatArray, per_tile: float, count: int) -> tuple[IntArray, FloatArray]:
    """Return the block of each pixel along one axis, and where in it, 0 to 1."""
    block = inside * per_tile
    whole = np.minimum(np.floor(block), count - 1)
    return whole.astype(np.int32), block - whole
