"""Outlines cut at the edges of tiles: each tile is a texture of its own."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from evenweave.arrays import BoolArray, FloatArray, IntArray
from evenweave.layout.layout import Tile
from evenweave.measure.outline.outline import Outlines, SignArray
from evenweave.measure.space.tiles_kernels import FAR_TILES, count_pieces, cut

MOST_PIECES = 2_000_000
"""Beyond this the layout covers so many tiles that it can only be a repeating texture."""


@dataclass(frozen=True, eq=False)
class Pieces:
    """N pieces of outline, each within one tile, grouped by island.

    xy : (N, 4) float64 x0, y0, x1, y1 in texels from the lower left corner of the tile
    island, tile : (N,) int32; side : (N,) int8 as in `Outlines`
    """

    xy: FloatArray
    island: IntArray
    side: SignArray
    tile: IntArray

    def only(self, is_wanted: BoolArray) -> Pieces:
        """Return the wanted pieces, (N,) bool."""
        return Pieces(
            self.xy[is_wanted], self.island[is_wanted], self.side[is_wanted], self.tile[is_wanted]
        )


def pieces(outlines: Outlines, tile: Tile) -> Pieces | None:
    """Cut the outlines; None where there would be too many pieces.

    What lies more than 100 tiles away is left out. A piece that runs along the edge of a tile
    belongs to the tile its island lies in.
    """
    most = count_pieces(outlines.uv, outlines.line)
    if most > MOST_PIECES + len(outlines.line):
        return None
    return Pieces(
        *cut(
            outlines.uv,
            outlines.line,
            outlines.side,
            outlines.start,
            (float(tile.width), float(tile.height)),
            most,
        )
    )


def tile_corner(number: IntArray) -> IntArray:
    """Return the (N, 2) column and row of tiles given by number."""
    across = 2 * FAR_TILES + 1
    return np.stack([number % across - FAR_TILES, number // across - FAR_TILES], axis=-1)


def island_group(island_count: int, stacks: tuple[tuple[int, ...], ...]) -> IntArray:
    """Return (I,) int32 the island that stands for each: its own, or the first of its stack."""
    group = np.arange(island_count, dtype=np.int32)
    for members in stacks:
        group[list(members)] = members[0]
    return group
