"""Whether an island can be flattened at all, and its edges and rims."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from evenweave.arrays import IntArray


@dataclass(frozen=True, eq=False)
class Topology:
    """The shape of a triangle mesh.

    rims : closed loops of boundary vertices, longest (by count) first; genus : handles;
    problem : "" or why no flattening can be sought, as a phrase.
    """

    rims: tuple[IntArray, ...]
    genus: int
    problem: str


def half_edges(triangle: IntArray) -> IntArray:
    """Return (3 T, 2) directed edges, edge j of triangle t in row 3 t + j."""
    return triangle[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2)


def topology(triangle: IntArray, vertex_count: int) -> Topology:
    """Inspect a triangle mesh. Edges are counted here: library predicates do not test winding."""
    directed = half_edges(triangle)
    if len(directed) == 0:
        return Topology((), 0, "it has no triangles")
    if (triangle[:, [0, 1, 2]] == triangle[:, [1, 2, 0]]).any():
        return Topology((), 0, "a face uses one vertex twice")
    undirected, count = np.unique(np.sort(directed, axis=1), axis=0, return_counts=True)
    if (count > 2).any():
        return Topology((), 0, "an edge joins more than two faces")
    if len(np.unique(directed, axis=0)) < len(directed):
        return Topology((), 0, "its faces do not agree on which side is outside")
    code = directed[:, 0].astype(np.int64) * vertex_count + directed[:, 1]
    back = directed[:, 1].astype(np.int64) * vertex_count + directed[:, 0]
    open_edge = directed[~np.isin(code, back)]
    rims = _rims(open_edge)
    if rims is None:
        return Topology((), 0, "parts of it hang together by one point")
    used = len(np.unique(triangle))
    pieces = _pieces(triangle, vertex_count)
    if pieces > 1:
        return Topology(rims, 0, "it consists of several pieces")
    euler = used - len(undirected) + len(triangle)
    return Topology(rims, (2 - len(rims) - euler) // 2, "")


def _rims(open_edge: IntArray) -> tuple[IntArray, ...] | None:
    """Chain boundary edges into loops; None where a vertex has two ways on."""
    if len(open_edge) == 0:
        return ()
    if len(np.unique(open_edge[:, 0])) < len(open_edge):
        return None
    after = dict(zip(open_edge[:, 0].tolist(), open_edge[:, 1].tolist(), strict=True))
    loops = []
    while after:
        start, at = after.popitem()
        loop = [start]
        while at != start:
            loop.append(at)
            at = after.pop(at)
        loops.append(np.array(loop, np.int32))
    return tuple(sorted(loops, key=lambda r: (-len(r), int(r.min()))))


def _pieces(triangle: IntArray, vertex_count: int) -> int:
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components

    edge = half_edges(triangle)
    graph = coo_matrix((np.ones(len(edge)), (edge[:, 0], edge[:, 1])), (vertex_count, vertex_count))
    _, label = connected_components(graph, directed=False)
    return len(np.unique(label[np.unique(triangle)]))
