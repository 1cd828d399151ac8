"""Which triangles hang together along which sides, and what loops bound them.

A *side* s of a triangle mesh is side s % 3 of triangle s // 3, from its vertex s % 3 to the
next. Everything follows from the sides' twins, so that opening a mesh is to forget twins.
Sides are counted here: library predicates do not test winding, and crash on what they mistake.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from evenweave.arrays import BoolArray, IntArray


@dataclass(frozen=True, eq=False)
class Topology:
    """The shape of a triangle mesh.

    rims : closed loops of boundary vertices, longest (by count) first; genus : handles;
    problem : "" or why no flattening can be sought, as a phrase.
    """

    rims: tuple[IntArray, ...]
    genus: int
    problem: str


def topology(triangle: IntArray, vertex_count: int) -> Topology:
    """Inspect a triangle mesh exactly as its vertices are numbered."""
    if len(triangle) == 0:
        return Topology((), 0, "it has no triangles")
    if (triangle == np.roll(triangle, -1, axis=1)).any():
        return Topology((), 0, "a face uses one vertex twice")
    twin, is_crowded = twins(triangle, vertex_count)
    if is_crowded.any():
        return Topology((), 0, "an edge joins more than two faces")
    if disagrees(triangle, twin).any():
        return Topology((), 0, "its faces do not agree on which side is outside")
    if triangle_pieces(twin).max() > 0:
        return Topology((), 0, "it consists of several pieces")
    corner_vertex = fans(triangle, twin, vertex_count)
    if corner_vertex.max() >= vertex_count:
        return Topology((), 0, "parts of it hang together by one point")
    found = rims(triangle, twin)
    return Topology(found, genus(triangle, twin, len(found)), "")


def next_side(side: IntArray) -> IntArray:
    """Return the side that follows round the same triangle."""
    following: IntArray = side + 1 - 3 * (side % 3 == 2)
    return following


def twins(triangle: IntArray, vertex_count: int) -> tuple[IntArray, BoolArray]:
    """Return two arrays (3 T,).

    int32 the other side of each edge that has two sides, else -1; bool, whether it has more.
    """
    start = triangle.reshape(-1).astype(np.int64)
    end = np.roll(triangle, -1, axis=1).reshape(-1).astype(np.int64)
    code = np.minimum(start, end) * vertex_count + np.maximum(start, end)
    order = np.argsort(code, kind="stable")
    first = np.flatnonzero(np.diff(code[order], prepend=-1))
    size = np.diff(np.append(first, len(code)))
    twin = np.full(len(code), -1, np.int32)
    pair = first[size == 2]
    twin[order[pair]], twin[order[pair + 1]] = order[pair + 1], order[pair]
    is_crowded = np.zeros(len(code), bool)
    is_crowded[order] = np.repeat(size > 2, size)
    return twin, is_crowded


def disagrees(triangle: IntArray, twin: IntArray) -> BoolArray:
    """Return (3 T,) bool: the side has a twin that runs the same way, so one face is inside out."""
    start = triangle.reshape(-1)
    same: BoolArray = (twin >= 0) & (start == start[twin])
    return same


def triangle_pieces(twin: IntArray) -> IntArray:
    """Return (T,) int32 the edge-connected piece of each triangle, numbered from 0."""
    side = np.flatnonzero(twin >= 0).astype(np.int32)
    return components(len(twin) // 3, side // 3, twin[side] // 3)


def fans(triangle: IntArray, twin: IntArray, vertex_count: int) -> IntArray:
    """Return (T, 3) int32 vertices such that triangles share one only if they meet in a fan.

    The first fan of a vertex keeps its number; the others get numbers from `vertex_count` on.
    """
    flat = triangle.reshape(-1)
    side = np.flatnonzero(twin >= 0).astype(np.int32)
    other = twin[side]
    a, b = np.append(side, next_side(side)), np.append(next_side(other), other)
    fan = components(len(flat), a, b)
    # Corners in the order of their fan's number, so the fan with the first corner comes first.
    _, first = np.unique(fan, return_index=True)
    fan_vertex = flat[first]
    order = np.lexsort((first, fan_vertex))
    is_more = np.diff(fan_vertex[order], prepend=-1) == 0
    number = fan_vertex.copy()
    number[order[is_more]] = vertex_count + np.arange(is_more.sum())
    return number[fan].reshape(-1, 3).astype(np.int32)


def rims(triangle: IntArray, twin: IntArray) -> tuple[IntArray, ...]:
    """Return the boundary loops as vertices in the order of the faces' sides, longest first.

    Vertices must be fans: then each has at most one boundary side to go on with.
    """
    side = np.flatnonzero(twin < 0)
    start = triangle.reshape(-1)[side].tolist()
    end = np.roll(triangle, -1, axis=1).reshape(-1)[side].tolist()
    after = dict(zip(start, end, strict=True))
    loops = []
    while after:
        first, at = after.popitem()
        loop = [first]
        while at != first:
            loop.append(at)
            at = after.pop(at)
        loops.append(np.array(loop, np.int32))
    return tuple(sorted(loops, key=lambda loop: (-len(loop), int(loop.min()))))


def genus(triangle: IntArray, twin: IntArray, rim_count: int) -> int:
    """Return the number of handles of one connected piece whose vertices are fans."""
    edges = (len(twin) + int((twin < 0).sum())) // 2
    euler = len(np.unique(triangle)) - edges + len(triangle)
    return int(2 - rim_count - euler) // 2


def components(count: int, a: IntArray, b: IntArray) -> IntArray:
    """Return (count,) int32 component of each node of the graph with edges a[i]-b[i]."""
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components

    graph = coo_matrix((np.ones(len(a), np.int8), (a, b)), (count, count))
    _, label = connected_components(graph, directed=False)
    return np.asarray(label, np.int32)
