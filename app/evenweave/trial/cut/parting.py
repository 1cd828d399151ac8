"""Where a surface might be parted in two: between what lies on itself, at a waist, by facing."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from evenweave.arrays import BoolArray, FloatArray, IntArray
from evenweave.trial.cut.candidates import Candidate, CutKind
from evenweave.trial.cut.conflicts import conflicts
from evenweave.trial.cut.dual import DualGraph
from evenweave.trial.flatten.flatten import Flattening
from evenweave.trial.flatten.topology import components

SURE = 0.8  # of the way to where a part grown from one end lies on itself
WAISTS = (0.25, 0.4)  # of the way between two ends, round each, that stays with it
FACINGS = (12.0, 30.0)  # price of a misplaced square metre against a metre of seam, per root m²
LEAST_SHARE = 0.01  # of the surface, on the smaller side of a parting


def partings(graph: DualGraph, now: Flattening | None) -> Iterator[Candidate]:
    """Yield the partings worth trying. now : the surface's flattening, if it has one."""
    if now is not None and now.overlap > 0:
        pair = conflicts(now.uv, graph.surface.triangle)
        pair = graph.polygon[pair]
        pair = pair[pair[:, 0] != pair[:, 1]]
        if len(pair):
            yield from _between_layers(graph, pair)
            yield from _from_the_ends(graph, pair)
    yield from _at_the_waist(graph)
    yield from _by_facing(graph)


def _candidate(graph: DualGraph, kind: CutKind, is_near: BoolArray) -> Iterator[Candidate]:
    """Yield a parting, unless one of its sides is next to nothing."""
    share = float(graph.area_m2[is_near].sum() / max(float(graph.area_m2.sum()), 1e-300))
    if LEAST_SHARE <= share <= 1 - LEAST_SHARE:
        yield Candidate(kind, graph.between(is_near))


def _between_layers(graph: DualGraph, pair: IntArray) -> Iterator[Candidate]:
    """Part regions that lie on each other, where they can be told apart in two sorts."""
    count = len(graph.area_m2)
    is_double = np.zeros(count, bool)
    is_double[pair] = True
    inner = is_double[graph.a] & is_double[graph.b]
    region = components(count, graph.a[inner], graph.b[inner])
    # Each region is two nodes, one a sort; regions on each other join the nodes that differ.
    a, b = region[pair[:, 0]], region[pair[:, 1]]
    regions = int(region.max()) + 1
    sort = components(2 * regions, np.append(2 * a, 2 * a + 1), np.append(2 * b + 1, 2 * b))
    if (sort[0::2] == sort[1::2])[region[is_double]].any():
        return
    first = (sort[0::2] < sort[1::2])[region]
    near = np.where(is_double & first, np.inf, 0.0)
    away = np.where(is_double & ~first, np.inf, 0.0)
    yield from _candidate(graph, CutKind.LAYERS, graph.parting(near, away))


def _from_the_ends(graph: DualGraph, pair: IntArray) -> Iterator[Candidate]:
    """Part what can be grown from one end before it lies on itself, from both ends."""
    for far in _ends(graph):
        reach = float(far[pair].max(axis=1).min())
        near = np.where(far < SURE * reach, np.inf, 0.0)
        away = np.where(far >= reach, np.inf, 0.0)
        if near.any():
            yield from _candidate(graph, CutKind.LAYERS, graph.parting(near, away))


def _ends(graph: DualGraph) -> tuple[FloatArray, FloatArray]:
    """Return the (Q,) distances from two places far from each other."""
    first = graph.distances(np.array([_furthest(graph.distances(np.array([0])))]))
    return first, graph.distances(np.array([_furthest(first)]))


def _furthest(far: FloatArray) -> int:
    return int(np.argmax(np.where(np.isfinite(far), far, -1.0)))


def _at_the_waist(graph: DualGraph) -> Iterator[Candidate]:
    """Part two ends from each other where that is cheapest between them."""
    one, other = _ends(graph)
    length = float(one[np.isfinite(one)].max())
    for share in WAISTS:
        near = np.where(one < share * length, np.inf, 0.0)
        away = np.where(other < share * length, np.inf, 0.0)
        if near.any() and away.any():
            yield from _candidate(graph, CutKind.WAIST, graph.parting(near, away))


def _by_facing(graph: DualGraph) -> Iterator[Candidate]:
    """Part what faces one way from what faces the other, along the axes of all normals."""
    area, normal = graph.area_m2, graph.normal
    total = max(float(area.sum()), 1e-300)
    _, axes = np.linalg.eigh((area[:, None, None] * normal[:, :, None] * normal[:, None]).sum(0))
    for axis in axes.T[::-1]:
        facing = normal @ axis
        for factor in FACINGS:
            worth = factor / total**0.5 * area * facing
            near, away = np.maximum(worth, 0.0), np.maximum(-worth, 0.0)
            yield from _candidate(graph, CutKind.FACING, graph.parting(near, away))
