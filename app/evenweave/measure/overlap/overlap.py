"""Texture that is claimed twice: exactly, per pair of islands, with its place."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from evenweave.arrays import BoolArray, IntArray, frozen
from evenweave.layout.layout import Layout, Tile
from evenweave.measure.outline.residual import residual_edges
from evenweave.measure.overlap import cover_kernels
from evenweave.measure.overlap.arrangement import (
    Arrangement,
    Grid,
    Segments,
    arrange,
    as_segments,
    is_sound,
    make_grid,
)
from evenweave.measure.overlap.counted import count_overlap
from evenweave.measure.overlap.regions import measure_regions
from evenweave.measure.results import Overlap, Stacks

LEAST_AREA_PX = 1e-3
_COVER_ENTRIES = 4_000_000


def measure_overlap(layout: Layout, tile: Tile, stacks: Stacks) -> Overlap:
    """Return every overlap of more than 1e-3 texels squared.

    Members of a stack count as its first. The faces of one island that lie on each other are
    an overlap of the island with itself; a wholly mirrored island is none. Islands overlap
    where they are: nothing wraps at the tile's edge.

    Method: the winding number of the residual edges is the number of triangles over a point;
    where it is 2 or more, the islands are told apart. The edges are cut where they meet and
    each piece gets the islands on both sides, so an area is a sum of cross products (Green).
    Where that would take too long the overlap is counted, see `count_overlap`.
    """
    edges = residual_edges(layout)
    if not len(edges.start):
        return _nothing()
    segments = as_segments(edges, kept_islands(layout.island_count, stacks))
    grid = make_grid(segments)
    arrangement = arrange(segments, grid)
    if arrangement is None:
        return count_overlap(segments, tile)
    if not is_sound(arrangement, segments):
        return count_overlap(segments, tile)
    deep = np.flatnonzero(arrangement.depth.max(axis=1) >= 2).astype(np.int32)
    if not len(deep):
        return _nothing()
    borders = _pair_borders(segments, grid, arrangement, deep, layout.island_count)
    if borders is None:
        return count_overlap(segments, tile)
    whole = measure_regions(
        *_deep_borders(arrangement, deep), arrangement.position, segments.origin
    )
    pairs = measure_regions(*borders, arrangement.position, segments.origin)
    px, count = tile.width * tile.height, layout.island_count
    chosen = np.flatnonzero(pairs.area * px > LEAST_AREA_PX).astype(np.int32)
    if not len(chosen):
        return _nothing()
    pair = np.stack((pairs.key[chosen] // count, pairs.key[chosen] % count), axis=1)
    return Overlap(
        pair=frozen(pair.astype(np.int32)),
        pair_area_px=frozen(pairs.area[chosen] * px),
        pair_point=frozen(pairs.inner[chosen]),
        pair_patch=pairs.patches(chosen),
        outline=frozen(whole.outline()),
        area_px=float(whole.area.sum() * px),
        counted_at=0,
    )


def counted_overlap(layout: Layout, tile: Tile, stacks: Stacks) -> Overlap:
    """Return the overlap as `measure_overlap` does for piles: counted, see `count_overlap`."""
    edges = residual_edges(layout)
    if not len(edges.start):
        return _nothing()
    return count_overlap(as_segments(edges, kept_islands(layout.island_count, stacks)), tile)


def kept_islands(island_count: int, stacks: Stacks) -> BoolArray:
    """Return (I,) bool: the island is in no stack or the first of one."""
    is_kept = np.ones(island_count, dtype=np.bool_)
    for group in stacks.group:
        is_kept[list(group[1:])] = False
    return is_kept


def _nothing() -> Overlap:
    return Overlap(
        pair=frozen(np.zeros((0, 2), dtype=np.int32)),
        pair_area_px=frozen(np.zeros(0)),
        pair_point=frozen(np.zeros((0, 2))),
        pair_patch=(),
        outline=frozen(np.zeros((0, 2, 2))),
        area_px=0.0,
        counted_at=0,
    )


def _deep_borders(arrangement: Arrangement, deep: IntArray) -> tuple[NDArray[np.int64], IntArray]:
    """Return the borders of everything covered twice, as one region with key 0."""
    is_deep = arrangement.depth[deep] >= 2
    is_border = is_deep[:, 0] != is_deep[:, 1]
    chain, is_left = deep[is_border], is_deep[is_border, 0]
    size = np.diff(arrangement.chain_start)[chain]
    first = np.repeat(arrangement.chain_start[chain] - (np.cumsum(size) - size), size)
    points = arrangement.points[first + np.arange(size.sum())]
    directed = np.where(np.repeat(is_left, size)[:, None], points, points[:, ::-1])
    return np.zeros(len(directed), dtype=np.int64), np.ascontiguousarray(directed)


def _pair_borders(
    segments: Segments, grid: Grid, arrangement: Arrangement, deep: IntArray, island_count: int
) -> tuple[NDArray[np.int64], IntArray] | None:
    """Return keys a * islands + b and directed borders per pair; None where they are too many."""
    pieces = np.diff(arrangement.chain_start)[deep].astype(np.int64)
    if int(np.dot(pieces, arrangement.depth[deep].max(axis=1))) > _COVER_ENTRIES:
        return None
    is_wanted = np.zeros(len(grid.depth), dtype=np.bool_)
    is_wanted[arrangement.cell[deep]] = True
    wanted_cell = np.flatnonzero(is_wanted)
    columns = len(grid.reference_x)
    is_row_wanted = np.zeros(len(grid.reference_y), dtype=np.uint8)
    is_row_wanted[wanted_cell // columns] = 1
    row, x, segment, direction = cover_kernels.row_crossings(
        segments.segment, grid.span, is_row_wanted, grid.reference_y
    )
    order = np.lexsort((x, row))
    cover_start, cover_island, cover_times = cover_kernels.reference_covers(
        row[order], x[order], segment[order], direction[order], segments.weight,
        segments.island, wanted_cell, grid.reference_x, island_count, _COVER_ENTRIES,
    )  # fmt: skip
    if not len(cover_start):
        return None
    cell_cover = np.full(len(grid.depth), -1, dtype=np.int32)
    cell_cover[wanted_cell] = np.arange(len(wanted_cell), dtype=np.int32)
    key, border = cover_kernels.pair_borders(
        deep, arrangement.chain_start, arrangement.points, arrangement.longest,
        arrangement.position, arrangement.own_start, arrangement.own_segment,
        arrangement.own_sign, segments.segment, segments.weight, segments.island,
        arrangement.cell, grid.cell_start, grid.cell_segment, grid.reference_x,
        grid.reference_y, cell_cover, cover_start, cover_island, cover_times, island_count,
        _COVER_ENTRIES,
    )  # fmt: skip
    if len(border) and border[0, 0] < 0:
        return None
    return key, border
