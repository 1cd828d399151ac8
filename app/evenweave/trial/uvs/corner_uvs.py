"""New texture coordinates for some corners of a layout: what every trial comes down to."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from evenweave.arrays import FloatArray, IntArray, floats, ints


@dataclass(frozen=True, eq=False)
class CornerUvs:
    """corner : (K,) int32 corners of the layout; uv : (K, 2) float64 tile units."""

    corner: IntArray
    uv: FloatArray

    @staticmethod
    def of(corner: IntArray, uv: FloatArray) -> CornerUvs:
        """Return a read-only copy. Raises ValueError where a coordinate is no number."""
        if not np.isfinite(uv).all():
            raise ValueError("a texture coordinate is not a number")
        return CornerUvs(ints(corner), floats(uv))
