"""Coverage: the share of texel centres covered, exactly as a rasteriser would."""

from __future__ import annotations

import numpy as np

from evenweave.arrays import FloatArray, IntArray, frozen
from evenweave.layout.layout import Layout, Tile
from evenweave.measure.outline.outline import Outlines, outlines
from evenweave.measure.results import Coverage
from evenweave.measure.space.coverage_kernels import (
    count_in_tiles,
    count_work,
    fill_texels,
    sort_into_tiles,
)
from evenweave.measure.space.gaps_kernels import extremes
from evenweave.measure.space.tiles_kernels import FAR_TILES

STRAY = 0.01
"""A tile holding less than this share of what the fullest holds is not in use."""

MOST_TEXELS = 2**32
"""Beyond this, in tiles or in triangles heaped on them, half the tile size is counted at."""

MOST_MEMBERS = 20_000_000
"""Triangles sorted into tiles at a time."""


def measure_coverage(layout: Layout, tile: Tile) -> Coverage:
    """Return the share of texel centres covered, per tile in use, see `covered_share`."""
    return covered_share(layout, outlines(layout), tile)


def covered_share(layout: Layout, outlines: Outlines, tile: Tile) -> Coverage:
    """Return the share of texel centres inside some triangle, per tile in use.

    In use are the tiles in which the middle of some island's bounds lies, at most 100 tiles
    away, unless they hold less than a hundredth of what the fullest one holds: a stray piece
    does not make a second texture. Centres on an edge: see `coverage_kernels`. Where more than
    2**32 texels would be visited, they are counted at half the tile size, and so on.
    """
    homes = _homes(outlines)
    while _work(layout, len(homes), tile) > MOST_TEXELS:
        tile = Tile(max(1, tile.width // 2), max(1, tile.height // 2))
    covered = _count(layout, homes, tile)
    is_used = covered > STRAY * covered.max(initial=0)
    share = covered[is_used] / (tile.width * tile.height)
    return Coverage(
        tile=frozen(homes[is_used]),
        share=frozen(share),
        total=float(share.mean()) if len(share) else 0.0,
    )


def _homes(outlines: Outlines) -> IntArray:
    """Return the (K, 2) int32 column and row of tiles that hold the middle of an island."""
    farthest = extremes(outlines.uv, outlines.line, outlines.start)
    middle = np.stack(
        [
            farthest[:, 0, 0] + farthest[:, 2, 0],
            farthest[:, 1, 1] + farthest[:, 3, 1],
        ],
        axis=1,
    )
    homes = np.floor(middle / 2.0)
    homes = homes[(np.abs(homes) <= FAR_TILES).all(axis=1)]
    return np.unique(homes, axis=0).astype(np.int32)


def _work(layout: Layout, tiles: int, tile: Tile) -> float:
    """Return about how many texels counting visits."""
    size = (float(tile.width), float(tile.height))
    corners = layout.triangle_corner, layout.corner_uv, layout.uv
    filled: float = count_work(*corners, size, float(tiles))
    return filled + tiles * tile.width * tile.height


def _count(layout: Layout, homes: IntArray, tile: Tile) -> FloatArray:
    """Return (K,) the number of covered texel centres of each tile."""
    corners = layout.triangle_corner, layout.corner_uv, layout.uv
    across = 2 * FAR_TILES + 1
    covered = np.zeros(len(homes))
    first = 0
    while first < len(homes):
        slot = np.full((across, across), -1, dtype=np.int32)
        rest = homes[first:]
        slot[rest[:, 1] + FAR_TILES, rest[:, 0] + FAR_TILES] = np.arange(len(rest))
        start = count_in_tiles(*corners, slot)
        batch = max(1, int(np.searchsorted(start, MOST_MEMBERS, side="right")) - 1)
        slot[slot >= batch] = -1
        members = sort_into_tiles(*corners, slot, start[: batch + 1])
        for k in range(batch):
            within = members[start[k] : start[k + 1]]
            grid = (float(rest[k, 0]), float(rest[k, 1]), float(tile.width), float(tile.height))
            mask = np.zeros((tile.height, tile.width), dtype=np.uint8)
            covered[first + k] = fill_texels(within, *corners, grid, mask)
        first += batch
    return covered
