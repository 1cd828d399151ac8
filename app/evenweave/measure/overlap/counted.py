"""Overlap counted in texels, for piles in which exact pairs would be too many."""

from __future__ import annotations

import numpy as np

from evenweave.arrays import frozen
from evenweave.layout.layout import Tile
from evenweave.measure.overlap import counted_kernels
from evenweave.measure.overlap.arrangement import Segments
from evenweave.measure.results import Overlap

_MOST_TEXELS = 8192
_CROSSINGS = 2_500_000
_MOST_COLUMNS = 2**30


def count_overlap(segments: Segments, tile: Tile) -> Overlap:
    """Return the overlap counted on a grid of N x N texel centres per tile.

    N is the largest power of two up to 8192 at which the outlines cross no more than some
    millions of texel rows (below 1 for outlines of absurd length). One pair is given per
    overlapping island: the island, one of those it lies on, and how much of it is covered by
    any other; or the island itself, where its own faces lie on each other. The total is the
    area covered twice or more, each place once.
    """
    height = float(np.abs(segments.segment[:, 3] - segments.segment[:, 1]).sum())
    extent = float(segments.segment.max())
    texels = float(_MOST_TEXELS)
    while height * texels > _CROSSINGS or extent * texels > _MOST_COLUMNS:
        texels /= 2
    islands = int(segments.island.max()) + 1
    row, column, island, change = counted_kernels.crossings(
        segments.segment, segments.weight, segments.island, texels
    )
    order = counted_kernels.sweep_order(row, column, change)
    shared, partner, shared_run, folded, folded_run, runs = counted_kernels.sweep(
        row[order], column[order], island[order], change[order], islands
    )
    covered = np.flatnonzero(shared > 0)
    pair = np.stack((covered, partner[covered]), axis=1)
    pair.sort(axis=1)
    area, points = shared[covered], shared_run[covered, 1:]
    itself = np.flatnonzero(folded > 0)
    pair = np.concatenate((pair, np.stack((itself, itself), axis=1)))
    area = np.concatenate((area, folded[itself]))
    points = np.concatenate((points, folded_run[itself, 1:]))
    # Two islands that name each other are one pair; the larger count stands.
    best = np.lexsort((-area, pair[:, 1], pair[:, 0]))
    pair, area, points = pair[best], area[best], points[best]
    is_first = np.ones(len(pair), dtype=np.bool_)
    is_first[1:] = (pair[1:] != pair[:-1]).any(axis=1)
    texel_px = tile.width * tile.height / texels**2
    return Overlap(
        pair=frozen(pair[is_first].astype(np.int32)),
        pair_area_px=frozen(area[is_first] * texel_px),
        pair_point=frozen(points[is_first] / texels + segments.origin),
        pair_patch=tuple(frozen(np.zeros((0, 2))) for _ in range(int(is_first.sum()))),
        outline=frozen(
            counted_kernels.run_outline(runs).reshape(-1, 2, 2) / texels + segments.origin
        ),
        area_px=float((runs[:, 2] - runs[:, 1]).sum() * texel_px),
        counted_at=max(1, int(texels)),
    )
