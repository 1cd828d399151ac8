"""Drop the short dead ends of a cut: a tree through many peaks looks like a comb."""

from __future__ import annotations

import numpy as np

from evenweave.arrays import FloatArray, IntArray
from evenweave.trial.flatten.surface import Surface
from evenweave.trial.flatten.topology import next_side


def trimmed(surface: Surface, side: IntArray, length_m: FloatArray, least_m: float) -> IntArray:
    """Return a cut without its dead ends shorter than `least_m`.

    side : (E,) one side of each edge of the uncut surface; length_m : (3 T,) per side
    A dead end runs from a vertex inside to the next where the cut branches or meets a rim.
    """
    flat = surface.triangle.reshape(-1)
    ends = np.stack([flat[side], flat[next_side(side)]], axis=1)
    degree = np.bincount(ends.reshape(-1), minlength=len(surface.point_m)).astype(np.int32)
    for rim in surface.rims:
        degree[rim] += 2
    at: dict[int, list[int]] = {}
    for edge, pair in enumerate(ends.tolist()):
        for vertex in pair:
            at.setdefault(vertex, []).append(edge)
    kept = np.ones(len(side), bool)
    for leaf in [vertex for vertex in at if degree[vertex] == 1]:
        way = _dead_end(leaf, at, ends, degree)
        if float(length_m[side[way]].sum()) < least_m:
            kept[way] = False
    rest: IntArray = side[kept]
    return rest


def _dead_end(leaf: int, at: dict[int, list[int]], ends: IntArray, degree: IntArray) -> list[int]:
    """Return the edges from a leaf to the next vertex that is no plain joint of two."""
    vertex, way = leaf, [at[leaf][0]]
    while True:
        a, b = ends[way[-1]].tolist()
        vertex = b if vertex == a else a
        if degree[vertex] != 2 or vertex == leaf:
            return way
        following = [edge for edge in at[vertex] if edge != way[-1]]
        if not following:
            return way
        way.append(following[0])
