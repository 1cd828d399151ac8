"""An island in connected pieces that the solvers accept, and how to open one along edges."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from evenweave.arrays import BoolArray, FloatArray, IntArray
from evenweave.trial.flatten import topology
from evenweave.trial.flatten.energy import has_surface
from evenweave.trial.flatten.island_mesh import IslandMesh

MOST_PIECES = 64
SHARED_EDGE = "edges of more than two faces count as seams"


@dataclass(frozen=True, eq=False)
class Surface:
    """One connected, consistently wound piece of a mesh, every vertex one fan of triangles.

    point_m : (N, 3) true positions; solid_m : (N, 3) with needle triangles made solid enough
    for the solvers; uv : (N, 2) the present texture, texels square
    triangle : (T, 3) int32; twin : (3 T,) int32, the side across each side, or -1
    is_edge : (3 T,) bool, the side is a polygon's edge, not a diagonal
    side : (3 T,) int32, the mesh's side behind each (3 * triangle + side)
    vertex : (N,) the mesh's vertex behind each; corner : (T, 3) the mesh's `corner` rows
    """

    point_m: FloatArray
    solid_m: FloatArray
    uv: FloatArray
    triangle: IntArray
    twin: IntArray
    is_edge: BoolArray
    side: IntArray
    vertex: IntArray
    corner: IntArray

    @cached_property
    def rims(self) -> tuple[IntArray, ...]:
        """Boundary loops, longest first."""
        return topology.rims(self.triangle, self.twin)

    @cached_property
    def genus(self) -> int:
        """Number of handles."""
        return topology.genus(self.triangle, self.twin, len(self.rims))

    @cached_property
    def area_m2(self) -> float:
        """Surface in square metres."""
        return float(triangle_areas(self.point_m, self.triangle).sum())

    @property
    def obstacle(self) -> str:
        """Why it cannot be flattened without a further seam, as a phrase, or ""."""
        if not self.rims:
            return "it is closed and has no seam to open it"
        if len(self.rims[0]) < 3:
            return "it is closed but for a single edge, as where faces lie back to back"
        return "it has a handle that no seam opens" if self.genus else ""

    def opened(self, side: IntArray) -> Surface:
        """Return the surface cut along some sides; sides keep their numbers."""
        if len(side) == 0:
            return self
        twin = self.twin.copy()
        twin[self.twin[side]] = -1
        twin[side] = -1
        count = len(self.point_m)
        flat = self.triangle.reshape(-1)
        touched = np.zeros(count, bool)
        touched[flat[side]] = True
        touched[flat[topology.next_side(side)]] = True
        near = np.flatnonzero(touched[self.triangle].any(axis=1))
        # Fans at the cut only need the triangles round it.
        local = np.full(len(self.triangle), -1)
        local[near] = np.arange(len(near))
        part = twin.reshape(-1, 3)[near].reshape(-1)
        is_inside = (part >= 0) & (local[part // 3] >= 0)
        part = np.where(is_inside, 3 * local[part // 3] + part % 3, -1).astype(np.int32)
        fan = topology.fans(self.triangle[near], part, count)
        fan = np.where(touched[self.triangle[near]], fan, self.triangle[near])
        extra, place = np.unique(fan[fan >= count], return_inverse=True)
        fan[fan >= count] = count + place.reshape(-1)
        triangle = self.triangle.copy()
        triangle[near] = fan
        old = np.arange(count + len(extra), dtype=np.int32)
        old[fan.reshape(-1)] = self.triangle[near].reshape(-1)
        return replace(
            self,
            point_m=self.point_m[old],
            solid_m=self.solid_m[old],
            uv=self.uv[old],
            triangle=triangle,
            twin=twin,
            vertex=self.vertex[old],
        )

    def parts(self) -> tuple[Surface, ...]:
        """Return what hangs together by edges, largest (by triangles) first."""
        label = topology.triangle_pieces(self.twin)
        size = np.bincount(label)
        return tuple(
            self._part(np.flatnonzero(label == part)) for part in np.argsort(-size, kind="stable")
        )

    def _part(self, mine: np.ndarray) -> Surface:
        """Return some triangles, which hold both sides of each pair of twins or none."""
        used, own = np.unique(self.triangle[mine], return_inverse=True)
        sides = (3 * mine[:, None] + np.arange(3)).reshape(-1)
        return Surface(
            point_m=self.point_m[used],
            solid_m=self.solid_m[used],
            uv=self.uv[used],
            triangle=own.reshape(-1, 3).astype(np.int32),
            twin=_renumbered(self.twin, mine),
            is_edge=self.is_edge[sides],
            side=self.side[sides],
            vertex=self.vertex[used],
            corner=self.corner[mine],
        )


def pieces(mesh: IslandMesh) -> tuple[Surface, ...]:
    """Return the island's pieces, largest (by triangles) first.

    An island falls into several only at edges with more than two faces. Points by which parts
    hang together are taken apart. Raises ValueError with a phrase where it cannot be done.
    """
    proper = (mesh.triangle != np.roll(mesh.triangle, -1, axis=1)).all(axis=1)
    if not has_surface(mesh.point_m, mesh.triangle[proper]).any():
        raise ValueError("none of its faces has a surface")
    triangle, corner = mesh.triangle[proper], mesh.triangle_corner[proper]
    side = np.arange(3 * len(proper), dtype=np.int32).reshape(-1, 3)[proper]
    twin, _ = topology.twins(triangle, len(mesh.point_m))
    if topology.disagrees(triangle, twin).any():
        turned, twin = _wound(triangle, twin)
        triangle[turned] = triangle[turned][:, [0, 2, 1]]
        corner[turned] = corner[turned][:, [0, 2, 1]]
        side[turned] = side[turned][:, [2, 1, 0]]
    label = topology.triangle_pieces(twin)
    size = np.bincount(label)
    if len(size) > MOST_PIECES:
        raise ValueError(f"it falls into {len(size):,} pieces at edges of more than two faces")
    fan = topology.fans(triangle, twin, len(mesh.point_m))
    old = np.zeros(int(fan.max()) + 1, np.int32)
    old[fan.reshape(-1)] = triangle.reshape(-1)
    whole = Surface(
        point_m=mesh.point_m[old],
        solid_m=nudged(mesh.point_m, triangle)[old],
        uv=mesh.square_uv[old],
        triangle=fan,
        twin=twin,
        is_edge=mesh.side_is_edge.reshape(-1)[side.reshape(-1)],
        side=side.reshape(-1),
        vertex=old,
        corner=corner,
    )
    return whole.parts()


def _renumbered(twin: IntArray, mine: np.ndarray) -> IntArray:
    """Return the twins among some triangles, which hold both sides of each pair or none."""
    local = np.zeros(len(twin) // 3, np.int64)
    local[mine] = np.arange(len(mine))
    part = twin.reshape(-1, 3)[mine].reshape(-1)
    return np.where(part >= 0, 3 * local[part // 3] + part % 3, -1).astype(np.int32)


def _wound(triangle: IntArray, twin: IntArray) -> tuple[BoolArray, IntArray]:
    """Return which triangles to turn over until all agree on which side is outside, and twins."""
    turned = _turned(triangle, twin)
    # Sides 0, 1, 2 of a turned triangle become its sides 2, 1, 0.
    row, column = np.divmod(np.arange(len(twin)), 3)
    moved = (3 * row + np.where(turned[row], 2 - column, column)).astype(np.int32)
    new = np.full(len(twin), -1, np.int32)
    new[moved] = np.where(twin >= 0, moved[twin], -1)
    after = np.where(turned[:, None], triangle[:, [0, 2, 1]], triangle)
    if topology.disagrees(after, new).any():
        raise ValueError("it is one-sided, like a Möbius strip")
    return turned, new


def _turned(triangle: IntArray, twin: IntArray) -> BoolArray:
    """Return (T,) bool, the triangles to turn so that neighbours agree, if that is possible.

    Each triangle is two nodes, as it is and turned over; neighbours join the nodes that agree.
    The component of a piece's first triangle then holds the way to take each of the others.
    """
    count = len(triangle)
    side = np.flatnonzero(twin >= 0)
    odd = topology.disagrees(triangle, twin)[side].astype(np.int64)
    a, b = side // 3, twin[side] // 3
    node = topology.components(
        2 * count,
        np.append(2 * a, 2 * a + 1),
        np.append(2 * b + odd, 2 * b + 1 - odd),
    )
    piece = topology.triangle_pieces(twin)
    _, first = np.unique(piece, return_index=True)
    turned: BoolArray = node[0::2] != node[2 * first[piece]]
    return turned


def triangle_areas(point_m: FloatArray, triangle: IntArray) -> FloatArray:
    """Return (T,) areas."""
    p = point_m[triangle]
    cross = np.cross(p[:, 1] - p[:, 0], p[:, 2] - p[:, 0])
    area: FloatArray = np.linalg.norm(cross, axis=1) / 2
    return area


def nudged(point_m: FloatArray, triangle: IntArray) -> FloatArray:
    """Move vertices of needle triangles a little, or the solvers return no numbers at all."""
    p = point_m[triangle]
    side = np.linalg.norm(p - np.roll(p, 1, axis=1), axis=2)
    longest = np.maximum(side.max(axis=1), 1e-6 * float(np.median(side)))
    needle = 2 * triangle_areas(point_m, triangle) < 3e-4 * longest**2
    if not needle.any():
        return point_m
    reach = np.zeros(len(point_m))
    np.maximum.at(reach, triangle[needle].reshape(-1), np.repeat(longest[needle], 3))
    noise = np.random.default_rng(1).normal(0.0, 1e-3, point_m.shape)
    return point_m + reach[:, None] * noise
