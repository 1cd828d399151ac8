"""The polygons of a surface as a graph: how far they are apart, and where they part cheapest."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from evenweave.arrays import BoolArray, FloatArray, IntArray
from evenweave.trial.flatten.surface import Surface, triangle_areas
from evenweave.trial.flatten.topology import components

WHOLE = 1_000_000_000  # capacity that stands for the dearest sum; the solver counts in int32


@dataclass(frozen=True, eq=False)
class DualGraph:
    """Polygons (Q of them) and the edges between them.

    polygon : (T,) int32 of each triangle; area_m2 : (Q,); centre_m, normal : (Q, 3)
    side : (M,) int32 one side of each inner edge; a, b : (M,) the polygons on both sides
    price : (M,) of a seam along it; reach_m : (M,) from centre to centre across it
    """

    surface: Surface
    polygon: IntArray
    area_m2: FloatArray
    centre_m: FloatArray
    normal: FloatArray
    side: IntArray
    a: IntArray
    b: IntArray
    price: FloatArray
    reach_m: FloatArray

    @staticmethod
    def of(surface: Surface, price: FloatArray) -> DualGraph:
        """Return the graph. price : (3 T,) per side."""
        twin, triangle = surface.twin, surface.triangle
        number = np.arange(len(twin), dtype=np.int32)
        once = twin > number
        diagonal = np.flatnonzero(once & ~surface.is_edge).astype(np.int32)
        polygon = components(len(triangle), diagonal // 3, twin[diagonal] // 3)
        side = np.flatnonzero(once & surface.is_edge).astype(np.int32)
        a, b = polygon[side // 3], polygon[twin[side] // 3]
        side, a, b = side[a != b], a[a != b], b[a != b]
        corner = surface.point_m[triangle]
        area = triangle_areas(surface.point_m, triangle)
        cross = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
        count = int(polygon.max()) + 1
        total = np.bincount(polygon, weights=area, minlength=count).astype(np.float64)
        weight = np.maximum(area, 1e-12 * max(float(area.max()), 1e-300))
        centre = _summed(polygon, weight[:, None] * corner.mean(axis=1), count)
        centre /= np.bincount(polygon, weights=weight, minlength=count)[:, None]
        normal = _summed(polygon, cross, count)
        normal /= np.maximum(np.linalg.norm(normal, axis=1), 1e-300)[:, None]
        middle = (corner[side // 3, side % 3] + corner[side // 3, (side % 3 + 1) % 3]) / 2
        reach = np.linalg.norm(centre[a] - middle, axis=1)
        reach = reach + np.linalg.norm(centre[b] - middle, axis=1)
        return DualGraph(
            surface, polygon, total, centre, normal, side, a, b, price[side], reach + 1e-12
        )

    def distances(self, start: IntArray) -> FloatArray:
        """Return (Q,) metres from the nearest of some polygons, across edges."""
        from scipy.sparse import coo_matrix
        from scipy.sparse.csgraph import dijkstra

        low, high = np.minimum(self.a, self.b), np.maximum(self.a, self.b)
        # Entries of one pair add up in a sparse matrix: the shortest alone may stay.
        order = np.lexsort((self.reach_m, high, low))
        code = low[order].astype(np.int64) * len(self.area_m2) + high[order]
        kept = order[np.flatnonzero(np.diff(code, prepend=-1))]
        ends = (low[kept], high[kept])
        count = len(self.area_m2)
        graph = coo_matrix((self.reach_m[kept], ends), (count, count)).tocsr()
        far: FloatArray = dijkstra(graph, directed=False, indices=start, min_only=True)
        return far

    def parting(self, near: FloatArray, away: FloatArray) -> BoolArray:
        """Return (Q,) bool, the side on which each polygon is when parted as cheaply as can be.

        near, away : (Q,) what it costs to put a polygon on the other side than the true or the
        false one; inf where it must not be. A minimum cut, within 1e-9 of the sum of prices.
        """
        from scipy.sparse import coo_array
        from scipy.sparse.csgraph import breadth_first_order, maximum_flow

        count = len(self.area_m2)
        source, sink = count, count + 1
        own = np.arange(count)
        start = np.concatenate([self.a, self.b, np.full(count, source), own])
        end = np.concatenate([self.b, self.a, own, np.full(count, sink)])
        cost = np.concatenate([self.price, self.price, near, away])
        wall = float(self.price.sum()) + float(near[np.isfinite(near)].sum()) + 1e-300
        room = WHOLE * np.minimum(cost / wall, 1.0)
        shape = (count + 2, count + 2)
        capacity = coo_array((np.ceil(room).astype(np.int32), (start, end)), shape).tocsr()
        flow = maximum_flow(capacity, source, sink).flow
        left = (capacity - flow).tocsr()
        left.data = np.maximum(left.data, 0)
        left.eliminate_zeros()
        reached = breadth_first_order(left, source, directed=True, return_predecessors=False)
        is_near = np.zeros(count + 2, bool)
        is_near[reached] = True
        mine: BoolArray = is_near[:count]
        return mine

    def between(self, is_near: BoolArray) -> IntArray:
        """Return the sides of the edges where the two sides of a parting meet."""
        found: IntArray = self.side[is_near[self.a] != is_near[self.b]]
        return found


def _summed(group: IntArray, value: FloatArray, count: int) -> Any:
    """Return (count, 3) the sum of the rows of each group."""
    parts = [np.bincount(group, weights=value[:, k], minlength=count) for k in range(3)]
    return np.stack(parts, axis=1)
