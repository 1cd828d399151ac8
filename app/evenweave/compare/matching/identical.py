"""Triangles that two surfaces have in common, found by their corners: most of them, usually."""

from __future__ import annotations

from evenweave.arrays import IntArray
from evenweave.compare.matching import identical_kernels as kernels
from evenweave.compare.matching.lattice import steps_per_m
from evenweave.compare.matching.surface import Surface


def identical_triangles(own: Surface, other: Surface) -> tuple[IntArray, IntArray]:
    """Return for each triangle of both surfaces the one of the other that is the same, or -1.

    The same are triangles of one winding whose corners fall on the same points of a lattice,
    2**-20 of the size of the whole. Triangles of which a surface has two in a place have no
    twin: which is meant must be told by something else.
    """
    steps = steps_per_m(own, other)
    own_twin, other_twin = kernels.twins(
        kernels.hashes(own.corner_m, steps), kernels.hashes(other.corner_m, steps)
    )
    return own_twin, other_twin
