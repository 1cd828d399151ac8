"""Room around islands: padding to the nearest other island, margin to the tile's edge."""

from __future__ import annotations

import numpy as np

from evenweave.arrays import FloatArray, IntArray, frozen
from evenweave.layout.layout import Layout, Tile
from evenweave.measure.outline.outline import Outlines, outlines
from evenweave.measure.results import Gaps, Overlap, Stacks
from evenweave.measure.space.gaps_kernels import Nearest, extremes, nearest_others
from evenweave.measure.space.runs_kernels import (
    Runs,
    build_tree,
    count_parts,
    make_runs,
    piece_keys,
    run_boxes,
    run_keys,
    split_slanted,
)
from evenweave.measure.space.tiles import Pieces, island_group, pieces, tile_corner

UV_STEP = 2.0**-24
"""Layouts are welded to this grid; two of its steps are no gap."""

SEARCHES = ((1.0, 200_000_000), (0.125, 50_000_000), (0.0, 1))
"""Tried in turn: the share of the wanted reach, and the work allowed (10 million take 0.1 s)."""

MOST_SPLIT = 1_000_000
"""Parts that splitting long slanted pieces may add."""


def measure_gaps(
    layout: Layout, tile: Tile, *, stacks: Stacks, overlap: Overlap, reach_px: float = 64.0
) -> Gaps:
    """Return padding and margin of every island, see `gaps_between`."""
    return gaps_between(outlines(layout), tile, stacks=stacks, overlap=overlap, reach_px=reach_px)


def gaps_between(
    outlines: Outlines, tile: Tile, *, stacks: Stacks, overlap: Overlap, reach_px: float = 64.0
) -> Gaps:
    """Return the exact distance of every island to the nearest other and to its tile's edge.

    Every tile is a texture of its own and is filtered apart: islands are neighbours only where
    they lie in the same tile, and an island in several tiles has its least padding of all. An
    island's own tile, whose edges the margin is measured to, holds the middle of its bounds.
    Overlapping islands have no padding, and nor have islands that touch: those less than two
    steps of the welding grid apart. An island in another's hole has the room that is there. The
    first island of a stack stands for all of it.

    A layout that would take too long is searched less far; `Gaps.reach_px` says how far it was.
    """
    group = island_group(outlines.island_count, stacks.group)
    found = _overlapping(group, overlap)
    cut = pieces(outlines, tile)
    reach = 0.0
    if cut is not None:
        reach = _search(cut.only(group[cut.island] == cut.island), tile, found, reach_px)
    margin_px, margin_points = _margin(outlines, tile)
    padding = np.where(found.other >= 0, np.sqrt(found.gap2), np.inf)
    return Gaps(
        padding_px=frozen(padding[group]),
        padding_to=frozen(found.other[group]),
        padding_points=frozen(found.points[group]),
        margin_px=frozen(margin_px),
        margin_points=frozen(margin_points),
        reach_px=reach,
    )


class _Nearest:
    """What is known so far of the nearest other island; one row an island."""

    def __init__(self, island_count: int) -> None:
        self.gap2: FloatArray = np.full(island_count, np.inf)
        self.other: IntArray = np.full(island_count, -1, dtype=np.int32)
        self.points: FloatArray = np.full((island_count, 2, 2), np.nan)


def _overlapping(group: IntArray, overlap: Overlap) -> _Nearest:
    """Return no padding for every island on another; the largest overlap counts."""
    found = _Nearest(len(group))
    for k in np.argsort(overlap.pair_area_px, kind="stable"):
        a, b = group[overlap.pair[k, 0]], group[overlap.pair[k, 1]]
        if a != b:
            for island, other in ((a, b), (b, a)):
                found.gap2[island] = 0.0
                found.other[island] = other
                found.points[island] = overlap.pair_point[k]
    return found


def _search(cut: Pieces, tile: Tile, nearest: _Nearest, reach_px: float) -> float:
    """Search for nearer islands among the pieces; fill `found` and return the reach."""
    size = (float(tile.width), float(tile.height))
    longest = max(size) / 64.0
    while count_parts(cut.xy, longest) > len(cut.xy) + MOST_SPLIT:
        longest *= 2.0
    part_xy, part_piece = split_slanted(cut.xy, longest)
    island, number = cut.island[part_piece], cut.tile[part_piece]
    tiles, part_tile = np.unique(number, return_inverse=True)
    owner = part_tile.astype(np.int64) * len(nearest.other) + island
    order = np.argsort(piece_keys(part_xy, owner, size), kind="stable")
    part_xy, owner = part_xy[order], owner[order]
    run_start = make_runs(owner)
    first = order[run_start[:-1]]
    run_group, run_tile = island[first], part_tile[first].astype(np.int32)
    run_box = run_boxes(part_xy, run_start)
    along = np.argsort(run_keys(run_box, run_tile, size), kind="stable")
    runs = Runs(part_xy, run_start, run_box, run_group, run_tile)
    tree = build_tree(runs, along)
    touching = (2.0 * UV_STEP * max(size)) ** 2
    for share, budget in SEARCHES:
        reach = reach_px * share
        gap2 = np.minimum(nearest.gap2, reach * reach)
        other, points_tile = nearest.other.copy(), np.zeros(len(gap2), dtype=np.int32)
        points = np.zeros((len(gap2), 4))
        found = Nearest(gap2, other, points, points_tile)
        if nearest_others(runs, tree, found, touching, budget):
            break
    is_new = (other >= 0) & (nearest.other < 0)
    corner = tile_corner(tiles[points_tile[is_new]])
    nearest.gap2, nearest.other = gap2, other
    nearest.points[is_new] = points[is_new].reshape(-1, 2, 2) / size + corner[:, None, :]
    return reach


def _margin(outlines: Outlines, tile: Tile) -> tuple[FloatArray, FloatArray]:
    """Return (I,) texels to the nearest edge of each island's tile and (I, 2, 2) uv points."""
    farthest = extremes(outlines.uv, outlines.line, outlines.start)
    low = np.stack([farthest[:, 0, 0], farthest[:, 1, 1]], axis=1)
    high = np.stack([farthest[:, 2, 0], farthest[:, 3, 1]], axis=1)
    corner = np.floor((low + high) / 2.0)
    size = np.array([tile.width, tile.height], dtype=np.float64)
    room = np.concatenate([(low - corner) * size, (corner + 1.0 - high) * size], axis=1)
    every = np.arange(len(room))
    side = room.argmin(axis=1) if len(room) else np.zeros(0, dtype=np.int64)
    on_island = farthest[every, side]
    on_edge = on_island.copy()
    on_edge[every, side % 2] = corner[every, side % 2] + side // 2
    return room[every, side], np.stack([on_island, on_edge], axis=1)
