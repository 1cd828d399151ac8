"""Congruent islands: stacked, nearly stacked, or apart."""

from __future__ import annotations

import numpy as np

from evenweave.arrays import FloatArray, IntArray, frozen
from evenweave.layout.layout import Layout, Tile
from evenweave.measure.outline import outline_kernels
from evenweave.measure.outline.residual import residual_edges
from evenweave.measure.results import Stacks
from evenweave.measure.stacks import congruence_kernels

TOLERANCE_PX = 0.25
# Smaller outlines (greatest distance from the centre) are too small to be worth sharing.
_LEAST_REACH_PX = 2.0
# A near miss is off by at most this, or this share of its size, but half its width.
_NEAR_PX, _NEAR_SHARE, _NEAR_WIDTH = 8.0, 0.1, 0.5
_COMPARISONS = 30_000_000


def find_stacks(layout: Layout, tile: Tile, tolerance_px: float = TOLERANCE_PX) -> Stacks:
    """Return which islands have congruent outlines, within a tolerance in texels.

    Outlines count, not the faces inside; fold lines belong to them. Candidates have the same
    area, reach and radii of gyration; then each corner and middle of an edge of one outline
    must lie within the tolerance of the other, for some turn about the centres of area that
    takes the farthest corner to a corner. Islands that are in each other's place are a stack.
    A member of a stack is mirrored where its faces wind the other way.
    """
    edges = residual_edges(layout)
    order = outline_kernels.loop_order(edges.start, edges.end, edges.island_start, len(edges.uv))
    segments, distance, centre, size, farthest = outline_kernels.outline_measures(
        edges.uv, edges.start[order], edges.end[order], edges.weight[order], edges.island_start,
        float(tile.width), float(tile.height),
    )  # fmt: skip
    tolerances = np.minimum(tolerance_px, congruence_kernels.LARGEST_SHARE * size[:, 0])
    first = congruence_kernels.stacked(
        segments, edges.island_start, centre, size, tolerances, farthest, _COMPARISONS
    )
    islands = np.arange(layout.island_count, dtype=np.int32)
    wanted = ((first == islands) & (size[:, 0] >= _LEAST_REACH_PX)).astype(np.uint8)
    congruent, is_mirrored = congruence_kernels.congruence(
        segments, distance, edges.island_start, size, tolerances, tolerance_px, farthest,
        edges.winding, wanted, _COMPARISONS,
    )  # fmt: skip
    near, offset = congruence_kernels.near_misses(
        segments, distance, edges.island_start, centre, tolerances, farthest, congruent, wanted,
        _reach(size),
    )  # fmt: skip
    turned = edges.winding * edges.winding[first] < 0
    site = near[first]
    return Stacks(
        group=tuple(_groups(first)),
        misaligned=tuple(_misaligned(site, first, offset[first])),
        shareable=tuple(_shareable(congruent, near, wanted)),
        is_mirrored=frozen(is_mirrored[first].astype(np.bool_) ^ turned),
        congruent=frozen(_numbered(congruent[first])),
    )


def _reach(size: FloatArray) -> FloatArray:
    """Return (I,) how far off in texels an island may be to count as a near miss."""
    width = 2 * np.sqrt(3) * size[:, 3]
    near = np.maximum(_NEAR_PX, 2 * _NEAR_SHARE * size[:, 0])
    return np.asarray(np.clip(np.minimum(near, _NEAR_WIDTH * width), 1e-9, None))


def _groups(first: IntArray) -> list[tuple[int, ...]]:
    """Return the members of each group of two or more, ascending, by first member."""
    order = np.argsort(first, kind="stable")
    start = np.flatnonzero(np.diff(first[order], prepend=-1))
    size = np.diff(start, append=len(order))
    start, size = start[size > 1], size[size > 1]
    return [tuple(order[a : a + n].tolist()) for a, n in zip(start, size, strict=True)]


def _misaligned(
    site: IntArray, first: IntArray, offset: FloatArray
) -> list[tuple[tuple[int, ...], float]]:
    """Return groups in one place that are not exact stacks, with the largest offset."""
    return [
        (group, float(offset[list(group)].max()))
        for group in _groups(site)
        if len(set(first[list(group)].tolist())) > 1
    ]


def _shareable(congruent: IntArray, near: IntArray, wanted: IntArray) -> list[tuple[int, ...]]:
    """Return the first islands of the places that each congruence class takes up."""
    is_place = (wanted == 1) & (near == np.arange(len(near)))
    key = np.where(is_place, congruent, len(near) + np.arange(len(near)))
    return _groups(key)


def _numbered(first: IntArray) -> IntArray:
    """Return class numbers 0, 1, ... in the order of the classes' first islands."""
    return np.unique(first, return_inverse=True)[1].astype(np.int32)
