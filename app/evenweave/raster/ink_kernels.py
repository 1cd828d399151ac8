# mypy: allow-untyped-defs
"""Kernels that draw antialiased segments as ink: coverage 0 to 255, the greatest wins."""

from __future__ import annotations

import numpy as np
from numba import njit

from evenweave.raster.kernel_types import F2, I2, L2, OUT_B2, OUT_B3, f64, i64, u8


@njit(
    [(F2, I2, f64, f64, i64, i64, OUT_B2), (L2, I2, f64, f64, i64, i64, OUT_B2)],
    cache=True,
    nogil=True,
)
def ink_segments(point, segment, unit, half_width, row0, row1, ink):
    """Draw segments (S, 2) of points (N, 2) * unit pixels into rows row0 to row1."""
    width = ink.shape[1]
    reach = half_width + 0.5
    for n in range(segment.shape[0]):
        ax = point[segment[n, 0], 0] * unit
        ay = point[segment[n, 0], 1] * unit
        bx = point[segment[n, 1], 0] * unit
        by = point[segment[n, 1], 1] * unit
        top = min(ay, by) - reach
        bottom = max(ay, by) + reach
        if bottom < row0 or top > row1 or max(ax, bx) + reach < 0 or min(ax, bx) - reach > width:
            continue
        if not (top == top and bottom == bottom and ax == ax and bx == bx):
            continue
        dx = bx - ax
        dy = by - ay
        length2 = dx * dx + dy * dy
        y0 = int(max(np.floor(top), float(row0)))
        y1 = int(min(np.ceil(bottom), row1 - 1.0))
        for y in range(y0, y1 + 1):
            py = y + 0.5 - ay
            # The part of the segment that this row can see bounds the columns.
            near = 0.0
            far = 1.0
            if abs(dy) > 1e-9:
                near = (py - reach) / dy
                far = (py + reach) / dy
                if near > far:
                    near, far = far, near
                near = min(max(near, 0.0), 1.0)
                far = min(max(far, 0.0), 1.0)
            left = min(ax + near * dx, ax + far * dx) - reach
            right = max(ax + near * dx, ax + far * dx) + reach
            x0 = int(max(np.floor(left), 0.0))
            x1 = int(min(np.ceil(right), width - 1.0))
            for x in range(x0, x1 + 1):
                px = x + 0.5 - ax
                along = 0.0
                if length2 > 0.0:
                    along = min(max((px * dx + py * dy) / length2, 0.0), 1.0)
                ox = px - along * dx
                oy = py - along * dy
                distance = np.sqrt(ox * ox + oy * oy)
                cover = reach - distance
                if cover > 0.0:
                    value = u8(min(cover, 1.0) * 255.0)
                    if value > ink[y, x]:
                        ink[y, x] = value


@njit([(OUT_B3, OUT_B2, i64, i64, i64, f64, i64, i64)], cache=True, nogil=True)
def spend_ink(rgba, ink, red, green, blue, strength, row0, row1):
    """Blend the ink into the picture in one colour, and leave the ink buffer empty."""
    for y in range(row0, row1):
        for x in range(ink.shape[1]):
            if ink[y, x] != 0:
                share = ink[y, x] / 255.0 * strength
                rgba[y, x, 0] = u8(rgba[y, x, 0] + (red - rgba[y, x, 0]) * share + 0.5)
                rgba[y, x, 1] = u8(rgba[y, x, 1] + (green - rgba[y, x, 1]) * share + 0.5)
                rgba[y, x, 2] = u8(rgba[y, x, 2] + (blue - rgba[y, x, 2]) * share + 0.5)
                ink[y, x] = 0
