# mypy: allow-untyped-defs
"""The test that spares drawing what is hidden as a whole."""

from __future__ import annotations

import numpy as np
from numba import njit

from evenweave.raster.kernel_types import f32, u32

HIDDEN_SPAN_PX = 96.0


@njit(cache=True, nogil=True)
def is_hidden(left, top, right, bottom, nearest, row0, row1, depth):
    """Whether every pixel of a box already shows something nearer than anything in it.

    Worth asking of small boxes only: a chunk of triangles costs as much as thousands of pixels.
    """
    if not (right - left <= HIDDEN_SPAN_PX and bottom - top <= HIDDEN_SPAN_PX):
        return False
    limit = f32(nearest)
    for y in range(max(int(np.floor(top)), row0), min(int(np.ceil(bottom)) + 1, row1)):
        for x in range(max(int(np.floor(left)), 0), min(int(np.ceil(right)) + 1, depth.shape[1])):
            if depth[u32(y), u32(x)] <= limit:
                return False
    return True
