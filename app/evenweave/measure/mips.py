"""Mip levels: where do texel blocks begin to hold two islands."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from evenweave.arrays import IntArray, frozen
from evenweave.layout.layout import Layout, Tile
from evenweave.measure.coverage_kernels import draw_islands
from evenweave.measure.mips_kernels import (
    FREE,
    SUBTEXEL_BITS,
    count_steps,
    draw_outlines,
    mark_blocks,
    merge_blocks,
    to_subtexels,
)
from evenweave.measure.outline import Outlines, outlines
from evenweave.measure.results import Mips, Overlap, Stacks
from evenweave.measure.tiles import island_group, pieces
from evenweave.measure.tiles_kernels import FAR_TILES, tile_number

MOST_STEPS = 60_000_000
MOST_BLOCKS = 8_000_000


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

    Layouts with very long outlines are looked at from a coarser level on; an island that meets
    another at that level is called -1.
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
        _find_conflicts(cut.xy, (cut.island, cut.side, cut.tile), tile, conflict)
    conflict[pair[pair[:, 0] != pair[:, 1]]] = 0
    return Mips(safe_mip=frozen(conflict[group] - 1))


def _find_conflicts(
    xy: NDArray[np.float64],
    about: tuple[IntArray, NDArray[np.int8], IntArray],
    tile: Tile,
    conflict: IntArray,
) -> None:
    """Lower `conflict` to the first level at which each island meets another."""
    piece = to_subtexels(xy)
    island, side, number = about
    top = top_level(tile)
    for level in range(top + 1):
        shift = SUBTEXEL_BITS + level
        columns, rows = -(-tile.width >> level), -(-tile.height >> level)
        if count_steps(piece, shift) > MOST_STEPS and level < top:
            continue
        met = np.full_like(conflict, top + 1)
        keys, states = mark_blocks(
            piece, island, side, number, (shift, columns, rows, level), MOST_BLOCKS, met
        )
        if len(keys):
            break
    for coarser in range(level + 1, top + 1):
        keys, states = merge_blocks(keys, states, coarser, met)
    met[met == level] = 0
    np.minimum(conflict, met, out=conflict)


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
