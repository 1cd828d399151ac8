# mypy: allow-untyped-defs
"""Kernels that bring points and boxes in space onto the screen.

Camera space: x right, y up, looking along -z. Depth is kept as 1 / distance along the view,
which is linear on the screen; greater is nearer.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit, types

from evenweave.raster.kernel_types import F1, F2, OUT_F1, OUT_F2, OUT_L2, f64, i64
from evenweave.raster.sides_kernels import SUB


class Lens(NamedTuple):
    """A camera and its picture.

    axes : (3, 3) float64 right, up, back; eye : (3,); focal : length in pixels
    middle_x, middle_y : of the picture, in pixels; near : distance of the near plane
    """

    axes: np.ndarray
    eye: np.ndarray
    focal: float
    middle_x: float
    middle_y: float
    near: float


LENS = types.NamedTuple((F2, F1, f64, f64, f64, f64), Lens)


@njit([(F2, LENS, OUT_L2, OUT_F1, i64, i64)], cache=True, nogil=True)
def project_solid(point, lens, screen, inverse, first, end):
    """Write positions in 1/256 pixel, y down, and 1 / distance; -1 before the near plane."""
    axes, eye, focal, middle_x, middle_y, near = lens
    for n in range(first, end):
        x = point[n, 0] - eye[0]
        y = point[n, 1] - eye[1]
        z = point[n, 2] - eye[2]
        distance = -(axes[2, 0] * x + axes[2, 1] * y + axes[2, 2] * z)
        if distance < near:
            inverse[n] = -1.0
            screen[n, 0] = 0
            screen[n, 1] = 0
            continue
        scale = focal / distance
        right = axes[0, 0] * x + axes[0, 1] * y + axes[0, 2] * z
        up = axes[1, 0] * x + axes[1, 1] * y + axes[1, 2] * z
        screen[n, 0] = int(np.rint((middle_x + right * scale) * SUB))
        screen[n, 1] = int(np.rint((middle_y - up * scale) * SUB))
        inverse[n] = 1.0 / distance


@njit([(F2, LENS, OUT_F2)], cache=True, nogil=True)
def chunk_boxes(bounds, lens, box):
    """Write x0, y0, x1, y1 in pixels of boxes in space, and 1 / distance of what is nearest.

    Empty (x0 > x1) where a box lies before the near plane, everything where it crosses it.
    """
    axes, eye, focal, middle_x, middle_y, near = lens
    for k in range(bounds.shape[0]):
        x0 = 1e30
        y0 = 1e30
        x1 = -1e30
        y1 = -1e30
        nearest = 0.0
        behind = 0
        for corner in range(8):
            x = bounds[k, 3 if corner & 1 else 0] - eye[0]
            y = bounds[k, 4 if corner & 2 else 1] - eye[1]
            z = bounds[k, 5 if corner & 4 else 2] - eye[2]
            distance = -(axes[2, 0] * x + axes[2, 1] * y + axes[2, 2] * z)
            if distance < near:
                behind += 1
                continue
            scale = focal / distance
            px = middle_x + (axes[0, 0] * x + axes[0, 1] * y + axes[0, 2] * z) * scale
            py = middle_y - (axes[1, 0] * x + axes[1, 1] * y + axes[1, 2] * z) * scale
            nearest = max(nearest, 1.0 / distance)
            x0 = min(x0, px)
            x1 = max(x1, px)
            y0 = min(y0, py)
            y1 = max(y1, py)
        if 0 < behind < 8:
            x0 = -1e30
            y0 = -1e30
            x1 = 1e30
            y1 = 1e30
            nearest = 1e30
        box[k, 0] = x0
        box[k, 1] = y0
        box[k, 2] = x1
        box[k, 3] = y1
        box[k, 4] = nearest
