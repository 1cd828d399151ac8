"""The box of every island on the object."""

from __future__ import annotations

from numba import njit

from evenweave.arrays import FloatArray, IntArray


@njit(cache=True, nogil=True)
def island_boxes(point: FloatArray, triangle: IntArray, island: IntArray, box: FloatArray) -> None:
    """Widen box (I, 2, 3) by every triangle (T, 3) over points (P, 3).

    island : (T,) int32 row of `box`; box : low and high corner, written in place; begin with
    plus and minus infinity.
    """
    for t in range(len(triangle)):
        row = island[t]
        for corner in range(3):
            at = triangle[t, corner]
            for axis in range(3):
                value = point[at, axis]
                box[row, 0, axis] = min(box[row, 0, axis], value)
                box[row, 1, axis] = max(box[row, 1, axis], value)
