"""Where a surface might be cut: rim to rim, through its peaks, round its handles, into depth."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from evenweave.arrays import FloatArray, IntArray
from evenweave.trial.cut.graph import CutGraph, Ways
from evenweave.trial.flatten.energy import singular_values
from evenweave.trial.flatten.flatten import Flattening
from evenweave.trial.flatten.surface import Surface
from evenweave.trial.flatten.topology import next_side

PEAK_DEFECTS = (0.1, 0.5)  # radians of missing or surplus angle
MOST_PEAKS = 0.25  # of the vertices
ROOTS = 12


class CutKind(StrEnum):
    """What a cut does; keys of the texts."""

    BRIDGE = "bridge"
    PEAKS = "peaks"
    HANDLES = "handles"
    FAR = "far"
    SHRUNK = "shrunk"
    DEEP = "deep"
    LAYERS = "layers"
    WAIST = "waist"
    FACING = "facing"


@dataclass(frozen=True, eq=False)
class Candidate:
    """side : (E,) int32, one side of each edge to cut."""

    kind: CutKind
    side: IntArray


def candidates(graph: CutGraph, now: Flattening | None) -> Iterator[Candidate]:
    """Yield the cuts worth trying. now : the surface's flattening, if it has one."""
    surface = graph.surface
    yield from _through_peaks(graph)
    if surface.genus:
        yield from _round_handles(graph)
        return
    if not surface.rims:
        yield from _far_pair(graph)
        return
    if len(surface.rims) > 1:
        label = np.full(len(surface.point_m), -1)
        for number, rim in enumerate(surface.rims):
            label[rim] = number
        yield Candidate(CutKind.BRIDGE, tree(graph, label))
    yield from _inwards(graph, now)


def tree(graph: CutGraph, label: IntArray) -> IntArray:
    """Return the sides of a cheap tree that joins all labels (Mehlhorn 1988).

    label : (N,) int, vertices of one label >= 0 count as joined already; -1 elsewhere. A
    minimum spanning tree over the regions nearest to each label, at most twice the cheapest.
    """
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import minimum_spanning_tree

    source = np.flatnonzero(label >= 0).astype(np.int32)
    ways = graph.ways(source)
    region = np.where(ways.origin >= 0, label[ways.origin], -1)
    ra, rb = region[graph.a], region[graph.b]
    link = np.flatnonzero((ra != rb) & (ra >= 0) & (rb >= 0))
    cost = ways.cost[graph.a[link]] + graph.price[link] + ways.cost[graph.b[link]]
    low, high = np.minimum(ra[link], rb[link]), np.maximum(ra[link], rb[link])
    count = int(label.max()) + 1
    # Of several links between two regions only the cheapest may stay: sparse entries add up.
    order = np.lexsort((cost, low.astype(np.int64) * count + high))
    code = _pairs((low, high), count)[order]
    first = np.flatnonzero(np.diff(code, prepend=-1))
    best, code = order[first], code[first]
    graph_of_labels = coo_matrix((cost[best], np.divmod(code, count)), (count, count))
    kept = minimum_spanning_tree(graph_of_labels.tocsr()).tocoo()
    chosen = link[best[np.searchsorted(code, _pairs((kept.row, kept.col), count))]]
    sides = [graph.side[chosen], ways.back(np.append(graph.a[chosen], graph.b[chosen]))]
    return np.unique(np.concatenate(sides))


def _pairs(ends: tuple[IntArray, IntArray], count: int) -> IntArray:
    code: IntArray = ends[0].astype(np.int64) * count + ends[1]
    return code


def _through_peaks(graph: CutGraph) -> Iterator[Candidate]:
    """A tree through all places that cannot lie flat, and to the boundary if there is one."""
    defect = np.abs(angle_defects(graph.surface))
    inside = graph.is_inside
    rim = graph.rim
    last = -1
    for least in PEAK_DEFECTS:
        peak = np.flatnonzero(inside & (defect > least))
        if len(peak) in (0, last) or len(peak) > MOST_PEAKS * len(defect):
            continue
        last = len(peak)
        label = np.full(len(defect), -1)
        label[peak] = np.arange(1, len(peak) + 1)
        label[rim] = 0
        if len(rim) or len(peak) > 1:
            yield Candidate(CutKind.PEAKS, tree(graph, label if len(rim) else label - 1))


def angle_defects(surface: Surface) -> FloatArray:
    """Return (N,) 2 pi less the angles round each vertex: 0 where it could lie flat."""
    p = surface.point_m[surface.triangle]
    ahead, behind = np.roll(p, -1, axis=1) - p, np.roll(p, 1, axis=1) - p
    cross = np.linalg.norm(np.cross(ahead, behind), axis=2)
    angle = np.arctan2(cross, (ahead * behind).sum(axis=2))
    vertex, count = surface.triangle.reshape(-1), len(surface.point_m)
    round_it = np.bincount(vertex, weights=angle.reshape(-1), minlength=count)
    return (2 * np.pi - round_it).astype(np.float64)


def _round_handles(graph: CutGraph) -> Iterator[Candidate]:
    """The shortest loops through each of some roots that open all handles."""
    rim = graph.rim
    if len(rim):
        yield Candidate(CutKind.HANDLES, _loops(graph, rim))
        return
    reached = np.flatnonzero(graph.is_inside).astype(np.int32)
    roots = reached[np.linspace(0, len(reached) - 1, min(ROOTS, len(reached))).astype(int)]
    found = [_loops(graph, root) for root in roots[:, None]]
    cost = np.zeros(len(graph.surface.twin))
    cost[graph.side] = graph.price
    found.sort(key=lambda side: float(cost[side].sum()))
    for side in found[:2]:
        yield Candidate(CutKind.HANDLES, side)


def _loops(graph: CutGraph, root: IntArray) -> IntArray:
    """Return the shortest system of loops through some vertices that count as one.

    A tree of cheapest ways, then a dual tree of the dearest loops; what is left over opens every
    handle (Erickson & Whittlesey, "Greedy optimal homotopy and homology generators", 2005).
    """
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import minimum_spanning_tree

    surface = graph.surface
    ways = graph.ways(root)
    twin = surface.twin
    side = np.flatnonzero(twin > np.arange(len(twin))).astype(np.int32)
    flat = surface.triangle.reshape(-1)
    a, b = flat[side], flat[next_side(side)]
    in_tree = (ways.before[a] == b) | (ways.before[b] == a)
    is_edge = surface.is_edge[side]
    in_tree &= is_edge
    price = np.zeros(len(twin))
    price[graph.side] = graph.price
    loop = ways.cost[a] + price[side] + ways.cost[b]
    far = 2 * float(loop[np.isfinite(loop)].max(initial=0.0)) + 1.0
    # Diagonals and edges out of reach are never cut: they come first into the dual tree.
    loop = np.where(is_edge & np.isfinite(loop), loop, far)
    dual = np.flatnonzero(~in_tree)
    count = len(surface.triangle)
    ends = (side[dual] // 3, twin[side[dual]] // 3)
    weight = 2 * far - loop[dual]
    spanning = minimum_spanning_tree(coo_matrix((weight, ends), (count, count)).tocsr()).tocoo()
    code = _pairs((np.minimum(*ends), np.maximum(*ends)), count)
    kept = _pairs(
        (np.minimum(spanning.row, spanning.col), np.maximum(spanning.row, spanning.col)), count
    )
    left = dual[~np.isin(code, kept)]
    left = left[is_edge[left]]
    cut = np.append(side[left], ways.back(np.append(a[left], b[left])))
    return _pruned(surface, np.unique(cut), graph.rim)


def _pruned(surface: Surface, side: IntArray, rim: IntArray) -> IntArray:
    """Drop dead ends, which open nothing."""
    flat = surface.triangle.reshape(-1)
    while len(side):
        ends = flat[side], flat[next_side(side)]
        degree = np.bincount(np.concatenate(ends), minlength=len(surface.point_m))
        degree[rim] += 2
        keep = (degree[ends[0]] > 1) & (degree[ends[1]] > 1)
        if keep.all():
            break
        side = side[keep]
    return side


def _far_pair(graph: CutGraph) -> Iterator[Candidate]:
    """On a closed surface, the way between two places far from each other."""
    start = np.flatnonzero(graph.is_inside)[:1].astype(np.int32)
    if len(start) == 0:
        return
    for _ in range(2):
        ways = graph.ways(start)
        far = _furthest(ways.cost)
        start = np.array([far], np.int32)
    yield Candidate(CutKind.FAR, ways.back(np.array([far])))


def _furthest(cost: FloatArray) -> int:
    return int(np.argmax(np.where(np.isfinite(cost), cost, -1.0)))


def _inwards(graph: CutGraph, now: Flattening | None) -> Iterator[Candidate]:
    """From the boundary to where the texture shrinks most, and to where it is deepest."""
    ways = graph.ways(graph.rim)
    inside = graph.is_inside & np.isfinite(ways.cost)
    if not inside.any():
        return
    deep = int(np.argmax(np.where(inside, ways.cost, -1.0)))
    if now is not None:
        shrunk = int(np.argmin(np.where(inside, _growth(graph.surface, now), np.inf)))
        yield _to(CutKind.SHRUNK, ways, shrunk)
        if shrunk == deep:
            return
    yield _to(CutKind.DEEP, ways, deep)


def _to(kind: CutKind, ways: Ways, vertex: int) -> Candidate:
    return Candidate(kind, ways.back(np.array([vertex])))


def _growth(surface: Surface, now: Flattening) -> FloatArray:
    """Return (N,) the surface-weighted mean log of the area factor round each vertex."""
    s1, s2, area = singular_values(surface.point_m, now.uv, surface.triangle)
    with np.errstate(all="ignore"):
        growth = np.log(s1 * s2)
    usable = np.isfinite(growth)
    weight = np.repeat(np.where(usable, area, 0.0), 3)
    value = weight * np.repeat(np.where(usable, growth, 0.0), 3)
    vertex = surface.triangle.reshape(-1)
    total = np.bincount(vertex, weights=weight, minlength=len(surface.point_m))
    summed = np.bincount(vertex, weights=value, minlength=len(surface.point_m))
    mean: FloatArray = summed / np.maximum(total, 1e-300)
    return mean
