"""The edges along which a surface may be cut, and what a seam along each would cost."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from evenweave.arrays import BoolArray, FloatArray, IntArray
from evenweave.trial.flatten.surface import Surface
from evenweave.trial.flatten.topology import next_side

SHARP_DEGREES = 30.0
SMOOTH_DEGREES, CREASED_DEGREES = 15.0, 60.0
CREASE_DISCOUNT, CONCAVE_FACTOR = 0.85, 0.7


@dataclass(frozen=True, eq=False)
class Edging:
    """Per side (3 T,), unchanged by cutting: both sides of an edge have the same values.

    length_m; price : length, less along creases (a seam is hidden there), least in concave ones;
    is_hidden : sharper than 30 degrees, or concave and sharper than 15
    """

    length_m: FloatArray
    price: FloatArray
    is_hidden: BoolArray


def edging(surface: Surface) -> Edging:
    """Price the edges of a surface by length and crease."""
    p, flat, twin = surface.point_m, surface.triangle.reshape(-1), surface.twin
    start, end = p[flat], p[flat[next_side(np.arange(len(flat), dtype=np.int32))]]
    length = np.linalg.norm(end - start, axis=1)
    corner = p[surface.triangle]
    normal = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    normal /= np.maximum(np.linalg.norm(normal, axis=1), 1e-300)[:, None]
    mine = normal[np.arange(len(flat)) // 3]
    theirs = np.where((twin >= 0)[:, None], normal[twin // 3], mine)
    fold = np.degrees(np.arccos(np.clip((mine * theirs).sum(axis=1), -1.0, 1.0)))
    opposite = p[flat[next_side(next_side(twin))]]
    is_concave = (twin >= 0) & (((opposite - start) * mine).sum(axis=1) > 0)
    crease = np.clip((fold - SMOOTH_DEGREES) / (CREASED_DEGREES - SMOOTH_DEGREES), 0.0, 1.0)
    price = length * (1 - CREASE_DISCOUNT * crease)
    price[is_concave & (fold > SHARP_DEGREES)] *= CONCAVE_FACTOR
    floor = 1e-9 * max(float(length.mean()), 1e-300)
    return Edging(
        length_m=length,
        price=np.maximum(price, floor),
        is_hidden=(fold > SHARP_DEGREES) | (is_concave & (fold > SMOOTH_DEGREES)),
    )


@dataclass(frozen=True, eq=False)
class CutGraph:
    """Inner polygon edges of a surface as a graph of its vertices.

    side : (M,) int32 one side of each edge; a, b : (M,) its vertices; price : (M,)
    """

    surface: Surface
    side: IntArray
    a: IntArray
    b: IntArray
    price: FloatArray

    @staticmethod
    def of(surface: Surface, price: FloatArray) -> CutGraph:
        """Return the graph. price : (3 T,) per side."""
        number = np.arange(len(surface.twin), dtype=np.int32)
        side = np.flatnonzero((surface.twin > number) & surface.is_edge).astype(np.int32)
        flat = surface.triangle.reshape(-1)
        return CutGraph(surface, side, flat[side], flat[next_side(side)], price[side])

    @property
    def rim(self) -> IntArray:
        """Vertices on the boundary."""
        rims = self.surface.rims
        return np.concatenate(rims) if rims else np.zeros(0, np.int32)

    @property
    def is_inside(self) -> BoolArray:
        """(N,) bool, the vertex can be reached and is not on the boundary."""
        inside = np.zeros(len(self.surface.point_m), bool)
        inside[self.a], inside[self.b] = True, True
        inside[self.rim] = False
        return inside

    def ways(self, source: IntArray) -> Ways:
        """Return the cheapest ways from some vertices to all others."""
        from scipy.sparse import coo_matrix
        from scipy.sparse.csgraph import dijkstra

        count = len(self.surface.point_m)
        row, column = np.append(self.a, self.b), np.append(self.b, self.a)
        graph = coo_matrix((np.append(self.price, self.price), (row, column)), (count, count))
        cost, before, origin = dijkstra(
            graph.tocsr(), indices=source, min_only=True, return_predecessors=True
        )
        return Ways(self, np.asarray(cost), np.asarray(before), np.asarray(origin))

    def sides_between(self, a: IntArray, b: IntArray) -> IntArray:
        """Return the sides of the edges between pairs of joined vertices."""
        count = len(self.surface.point_m)
        code = _code(self.a, self.b, count)
        order = np.argsort(code)
        found: IntArray = self.side[order[np.searchsorted(code[order], _code(a, b, count))]]
        return found


def _code(a: IntArray, b: IntArray, count: int) -> Any:
    return np.minimum(a, b).astype(np.int64) * count + np.maximum(a, b)


@dataclass(frozen=True, eq=False)
class Ways:
    """Cheapest ways to all vertices.

    cost : (N,) inf if there is none; before, origin : (N,) the vertex before and the source that
    it leads from, negative where there is none
    """

    graph: CutGraph
    cost: FloatArray
    before: IntArray
    origin: IntArray

    def back(self, vertices: IntArray) -> IntArray:
        """Return the sides of the ways from some vertices back to their sources, each once."""
        steps: set[tuple[int, int]] = set()
        for at in vertices.tolist():
            while (earlier := int(self.before[at])) >= 0 and (earlier, at) not in steps:
                steps.add((earlier, at))
                at = earlier
        if not steps:
            return np.zeros(0, np.int32)
        pair = np.array(sorted(steps), np.int32)
        return self.graph.sides_between(pair[:, 0], pair[:, 1])
