"""Points of two surfaces that are the same: those on one point of a fine lattice."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from evenweave.arrays import FloatArray
from evenweave.compare.matching.surface import Surface

STEPS = 2.0**20
"""Steps of the lattice over the size of the larger surface."""


def steps_per_m(surface: Surface, other: Surface) -> float:
    """Return how many steps of the lattice that two surfaces share make a metre."""
    return STEPS / max(surface.size_m, other.size_m)


def cells(point_m: FloatArray, steps: float, origin_m: FloatArray) -> NDArray[np.int64]:
    """Return (N,) int64 that is the same for points on the same point of the lattice.

    point_m : (N, 3), not further from the origin than the lattice is large
    """
    step = np.rint((point_m - origin_m) * steps).astype(np.int64) & 0x1FFFFF
    return np.asarray(step[:, 0] | (step[:, 1] << 21) | (step[:, 2] << 42))
