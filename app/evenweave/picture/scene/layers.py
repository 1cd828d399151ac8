"""`Layers`: what is drawn over a layout on demand, worked out away from the event loop."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from evenweave.arrays import frozen
from evenweave.layout.layout import Tile
from evenweave.limits.limits import Limits
from evenweave.measure.outline.outline import outlines
from evenweave.measure.space.mips import mip_picture, top_level
from evenweave.measure.space.tiles import island_group, pieces
from evenweave.measure.space.tiles_kernels import FAR_TILES, tile_number
from evenweave.picture.scene.scene import FlatScene
from evenweave.picture.scene.seam_kinds import NO_KINDS, KindLines, kind_lines
from evenweave.raster.colour.colouring import packed_table
from evenweave.raster.look import Look
from evenweave.raster.overlay.blocks import Blocks
from evenweave.raster.overlay.halos import Halos
from evenweave.raster.overlay.halos_kernels import near_distances

MOST_BLOCKS = 1 << 24
MOST_SAMPLES = 1 << 22
FAR_TEXELS = np.float32(1e6)


@dataclass(frozen=True, eq=False)
class Layers:
    """Blocks of the mip level asked for, halos and kinds of seams if asked for."""

    blocks: Blocks | None = None
    halos: Halos | None = None
    kinds: KindLines = NO_KINDS


NO_LAYERS = Layers()


def layers(
    scene: FlatScene,
    look: Look,
    limits: Limits,
    *,
    previous: tuple[FlatScene, Look, Layers] | None = None,
) -> Layers:
    """Return what a look asks for; `previous` of the same scene is used again where it fits."""
    blocks, halos, kinds = None, None, NO_KINDS
    known = previous[2] if previous and previous[0] is scene else NO_LAYERS
    if look.mip is not None:
        is_known = known.blocks is not None and previous and previous[1].mip == look.mip
        blocks = known.blocks if is_known else mip_blocks(scene, look.mip)
    if look.halos:
        halos = known.halos or room_halos(scene, limits)
    if look.seam_kinds:
        kinds = known.kinds if known.kinds.flat else kind_lines(scene)
    return Layers(blocks, halos, kinds)


def mip_levels(tile: Tile, tiles: int) -> range:
    """Return the levels that can be drawn: from where the blocks are few enough to the last."""
    level, top = 0, top_level(tile)
    while level < top and _block_count(tile, level) * tiles > MOST_BLOCKS:
        level += 1
    return range(level, top + 1)


def _block_count(tile: Tile, level: int) -> int:
    return -(-tile.width >> level) * -(-tile.height >> level)


def mip_blocks(scene: FlatScene, level: int) -> Blocks:
    """Return the texel blocks of a mip level in all tiles in use; islands of a stack are one."""
    tile, measures = scene.review.measures.tile, scene.review.measures
    levels = mip_levels(tile, len(scene.tiles))
    level = min(max(level, levels.start), levels.stop - 1)
    holds = [
        mip_picture(scene.layout, tile, level, stacks=measures.stacks, at=at) for at in scene.tiles
    ]
    per_tile = tile.width / (1 << level), tile.height / (1 << level)
    tone = packed_table(scene.island_tone)
    return Blocks(frozen(np.stack(holds)), scene.tiles, per_tile, frozen(tone))


def room_halos(scene: FlatScene, limits: Limits) -> Halos | None:
    """Return halos of half the required padding, so that two meet where the gap is too small.

    Distances are exact at the samples, one a texel, or sparser where texels are too many.
    Islands of one stack count as one. None where the layout covers too many tiles.
    """
    measures = scene.review.measures
    tile = measures.tile
    half, margin = limits.required_padding_px / 2, limits.required_margin_px
    cut = pieces(outlines(scene.layout), tile)
    if cut is None:
        return None
    step = max(1.0, (tile.width * tile.height * len(scene.tiles) / MOST_SAMPLES) ** 0.5)
    columns, rows = int(np.ceil(tile.width / step)), int(np.ceil(tile.height / step))
    shape = (len(scene.tiles), rows, columns)
    nearest = np.full(shape, FAR_TEXELS, dtype=np.float32)
    second = np.full(shape, FAR_TEXELS, dtype=np.float32)
    owner = np.full(shape, -1, dtype=np.int32)
    index = np.full(len(cut.tile), -1, dtype=np.int32)
    for k, at in enumerate(scene.tiles):
        if max(abs(at[0]), abs(at[1])) <= FAR_TILES:
            index[cut.tile == tile_number(*at)] = k
    group = island_group(scene.layout.island_count, measures.stacks.group)
    reach = half + 2.0 * step
    near_distances(cut.xy, group[cut.island], index, step, reach, nearest, second, owner)
    return Halos(
        frozen(nearest),
        frozen(second),
        frozen(owner),
        scene.tiles,
        (tile.width, tile.height),
        step,
        half,
        margin,
    )
