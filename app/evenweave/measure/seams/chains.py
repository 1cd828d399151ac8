"""Chains: runs of seam edges that could be sewn, drawn or followed as one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from evenweave.arrays import BoolArray, FloatArray, IntArray, frozen
from evenweave.layout.layout import Layout
from evenweave.measure.seams.chains_kernels import link_seams, walk_chains
from evenweave.measure.seams.corners import corner_faces, edge_length_m


@dataclass(frozen=True, eq=False)
class SeamChains:
    """K runs of consecutive seams between the same two islands (or within one).

    chain_start : (K + 1,) int32 first place of each chain in `seam`
    seam : (S,) int32 rows of `layout.edges.seam` in the order of walking
    is_backward : (S,) bool, the row's first side is walked from its edge's far end
    is_closed : (K,) bool, the chain is a ring
    island : (K, 2) int32, ascending; length_m : (K,) float64
    """

    chain_start: IntArray
    seam: IntArray
    is_backward: BoolArray
    is_closed: BoolArray
    island: IntArray
    length_m: FloatArray


def seam_chains(layout: Layout) -> SeamChains:
    """Return the chains of a layout's seams.

    Seams follow one another at a point where both of their sides go on with the same uv, of
    the same islands, and where there is no third that does so too. Open chains come first,
    each group in the order of the first seam met.
    """
    seam = layout.edges.seam
    corner_face = corner_faces(layout)
    island = frozen(layout.face_island[corner_face[seam]].reshape(-1, 2))
    link = link_seams(
        seam, island, corner_face, layout.face_start, layout.corner_point, layout.corner_uv,
        len(layout.point_m),
    )  # fmt: skip
    start, order, is_backward, is_closed = walk_chains(link)
    length = edge_length_m(layout, frozen(seam[:, 0]), corner_face)[order]
    return SeamChains(
        chain_start=frozen(start),
        seam=frozen(order),
        is_backward=frozen(is_backward),
        is_closed=frozen(is_closed),
        island=frozen(np.sort(island[order[start[:-1]]], axis=1)),
        length_m=frozen(np.add.reduceat(length, start[:-1]) if len(length) else length),
    )
