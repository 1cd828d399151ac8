"""Mip levels: where do texel blocks begin to hold two islands."""

from __future__ import annotations

import numpy as np

from evenweave.arrays import IntArray, frozen
from evenweave.layout.layout import Layout, Tile
from evenweave.measure.outline.outline import Outlines, outlines
from evenweave.measure.results import Mips, Overlap, Stacks
from evenweave.measure.space.coverage_kernels import draw_islands
from evenweave.measure.space.mips_kernels import (
    FREE,
    SUBTEXEL_BITS,
    count_steps,
    draw_outlines,
    mark_blocks,
    merge_blocks,
    to_subtexels,
)
from evenweave.measure.space.tiles import Pieces, island_group, pieces
from evenweave.measure.space.tiles_kernels import FAR_TILES, tile_number

MOST_STEPS = 1 << 22
"""Blocks that outlines may pass through at the finest level looked at, to bound the work."""

ATTEMPTS = 3
"""Times that islands which met are looked at again, without the others."""


def top_level(tile: Tile) -> int:
    """Return the number of the mip level at which a single texel is left."""
    return (max(tile.width, tile.height) - 1).bit_length()


def measure_mips(layout: Layout, tile: Tile, *, stacks: Stacks, overlap: Overlap) -> Mips:
    """Return the highest safe mip level of every island, see `safe_levels`."""
    return safe_levels(outlines(layout), tile, stacks=stacks, overlap=overlap)


def safe_levels(outlines: Outlines, tile: Tile, *, stacks: Stacks, overlap: Overlap) -> Mips:
    """Return the highest mip level at which an island shares no texel block with another.

    A block of level k is 2**k by 2**k texels, counted from the tile's lower left corner; the
    last ones are cut off where the size is not a power of two, and the top level is one block.
    A block holds an island when its inside meets it anywhere, not only at texel centres.
    Outlines are first rounded to 1/256 texel, as rasterisers do (common practice, no source),
    so that islands laid on block edges keep to their side of them. Blocks reached by two
    outlines are found from the outlines; a block inside one island that holds another is an
    overlap, and overlapping islands share a texel at level 0: -1. An island alone in its tile
    is safe up to the top level. The first island of a stack stands for all of it.

    Layouts with very long outlines are looked at from a coarser level on, then, up to twice,
    again without the islands that are safe there; one that remains is called -1.
    """
    top = top_level(tile)
    group = island_group(outlines.island_count, stacks.group)
    pair = group[overlap.pair]
    conflict = np.full(outlines.island_count, top + 1, dtype=np.int32)
    cut = pieces(outlines, tile)
    if cut is None:
        conflict[:] = 0
    else:
        cut = cut.only(group[cut.island] == cut.island)
        _find_conflicts(cut, tile, conflict)
    conflict[pair[pair[:, 0] != pair[:, 1]]] = 0
    return Mips(safe_mip=frozen(conflict[group] - 1))


def _find_conflicts(cut: Pieces, tile: Tile, conflict: IntArray) -> None:
    """Lower `conflict` to the first level at which each island meets another.

    Where all outlines are too long for the finest level, the search begins at a coarser one;
    the islands that meet there are then looked at again, without the others, at finer ones.
    """
    coarsest = top_level(tile) + 1
    for _ in range(ATTEMPTS):
        first, met = _conflicts_from(cut, tile, len(conflict))
        np.minimum(conflict, met, out=conflict)
        is_open = met == first
        cut = cut.only(is_open[cut.island])
        if first in (0, coarsest) or len(cut.island) == 0:
            break
        coarsest = first
    conflict[is_open] = 0


def _conflicts_from(cut: Pieces, tile: Tile, islands: int) -> tuple[int, IntArray]:
    """Return the finest level that can be looked at, and (I,) the first conflicts from there."""
    top = top_level(tile)
    piece = to_subtexels(cut.xy)
    level = 0
    while level < top and count_steps(piece, SUBTEXEL_BITS + level) > MOST_STEPS:
        level += 1
    met = np.full(islands, top + 1, dtype=np.int32)
    grid = (SUBTEXEL_BITS + level, -(-tile.width >> level), -(-tile.height >> level), level)
    keys, states = mark_blocks(piece, cut.island, cut.side, cut.tile, grid, met)
    for coarser in range(level + 1, top + 1):
        keys, states = merge_blocks(keys, states, coarser, met)
    return level, met


def mip_picture(
    layout: Layout,
    tile: Tile,
    level: int,
    *,
    stacks: Stacks | None = None,
    at: tuple[int, int] = (0, 0),
) -> IntArray:
    """Return what every texel block of a mip level holds, (rows, columns) int32.

    The island, -1 for none, -2 for several; row 0 is the lowest, at v = 0. `at` is the column
    and row of the tile shown, at most 100 tiles away. Given stacks, their members count as
    their first one.
    """
    level = min(max(level, 0), top_level(tile))
    columns, rows = -(-tile.width >> level), -(-tile.height >> level)
    picture = np.full((rows, columns), FREE, dtype=np.int32)
    if max(abs(at[0]), abs(at[1])) > FAR_TILES:
        return frozen(picture)
    group = island_group(layout.island_count, stacks.group if stacks else ())
    block = 1 << level
    draw_islands(
        group[layout.face_island[layout.triangle_face]],
        layout.triangle_corner,
        layout.corner_uv,
        layout.uv,
        (float(at[0]), float(at[1]), tile.width / block, tile.height / block),
        picture,
    )
    cut = pieces(outlines(layout), tile)
    if cut is not None:
        here = cut.only(cut.tile == tile_number(*at))
        draw_outlines(
            to_subtexels(here.xy), group[here.island], here.side, SUBTEXEL_BITS + level, picture
        )
    return frozen(picture)
