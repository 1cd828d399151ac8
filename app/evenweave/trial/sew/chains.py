"""Runs of seam that might be sewn: where two islands, or one with itself, lie side by side."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

import numpy as np

from evenweave.arrays import FloatArray, IntArray
from evenweave.layout.layout import Layout
from evenweave.measure.seams.chains import SeamChains, seam_chains
from evenweave.measure.seams.corners import corner_faces, edge_length_m

BENT = 0.1  # radians of angle defect at which a run may have to end
CORNER = 0.3  # at which it must: such a point may not end up inside an island


@dataclass(frozen=True, eq=False)
class Run:
    """seam : (E,) int32 rows of `layout.edges.seam`, in the order of walking; length_m."""

    seam: IntArray
    length_m: float


def sewable_runs(layout: Layout) -> dict[tuple[int, int], list[Run]]:
    """Return the runs of each pair of islands (ascending; equal for one with itself).

    Chains of seams are broken where the surface cannot lie flat, at sharp corners for good; the
    shorter runs between gentler bends follow, each list longest first.
    """
    chains = seam_chains(layout)
    following = _following_points(layout, chains)
    defect = np.abs(point_defects(layout))
    length = edge_length_m(layout, layout.edges.seam[:, 0], corner_faces(layout))
    found: dict[tuple[int, int], list[Run]] = defaultdict(list)
    starts = chains.chain_start
    for chain, pair in enumerate(chains.island.tolist()):
        place = np.arange(starts[chain], starts[chain + 1])
        bend = defect[following[place[:-1]]]
        for least in (CORNER, BENT) if (bend > BENT).any() else (CORNER,):
            for run in np.split(place, 1 + np.flatnonzero(bend > least)):
                seam = chains.seam[run]
                found[pair[0], pair[1]].append(Run(seam, float(length[seam].sum())))
    for runs in found.values():
        runs.sort(key=lambda run: -run.length_m)
        _drop_repeated(runs)
    return found


def _drop_repeated(runs: list[Run]) -> None:
    seen: set[bytes] = set()
    kept = []
    for run in runs:
        key = np.sort(run.seam).tobytes()
        if key not in seen:
            kept.append(run)
        seen.add(key)
    runs[:] = kept


def _following_points(layout: Layout, chains: SeamChains) -> IntArray:
    """Return (S,) the point at which each place of the chains is left in the order of walking."""
    corner = layout.edges.seam[chains.seam, 0]
    after = next_corners(layout)[corner]
    found: IntArray = layout.corner_point[np.where(chains.is_backward, corner, after)]
    return found


def next_corners(layout: Layout) -> IntArray:
    """Return (C,) the corner that follows each round its face."""
    after = np.arange(1, len(layout.corner_point) + 1, dtype=np.int32)
    after[layout.face_start[1:] - 1] = layout.face_start[:-1]
    return after


def point_defects(layout: Layout) -> FloatArray:
    """Return (P,) 2 pi less the angles of all faces round a point; 0 at the mesh's own border."""
    point = layout.corner_point[layout.triangle_corner]
    p = layout.point_m[point]
    ahead, behind = np.roll(p, -1, axis=1) - p, np.roll(p, 1, axis=1) - p
    cross = np.linalg.norm(np.cross(ahead, behind), axis=2)
    angle = np.arctan2(cross, (ahead * behind).sum(axis=2)).reshape(-1)
    count = len(layout.point_m)
    defect = 2 * np.pi - np.bincount(point.reshape(-1), weights=angle, minlength=count)
    open_corner = np.append(layout.edges.border, layout.edges.nonmanifold)
    defect[layout.corner_point[open_corner]] = 0.0
    defect[layout.corner_point[next_corners(layout)[open_corner]]] = 0.0
    return defect.astype(np.float64)
