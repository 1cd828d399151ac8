# mypy: allow-untyped-defs
"""Kernels that draw dashed segments; the dashes go on from each segment to the next."""

from __future__ import annotations

from numba import njit

from evenweave.raster.ink.ink_kernels import ink_line, ink_visible_line, is_near
from evenweave.raster.kernel_types import F1, F2, I2, OUT_B2, X2, f64, i64, u32


@njit([(F2, I2, F1, f64, f64, f64, i64, i64, OUT_B2)], cache=True, nogil=True)
def ink_dashes(point, segment, start, half_width, period, on, row0, row1, ink):
    """Draw segments as `ink_segments` does, dashed. start : (S,) length in pixels before each."""
    width = ink.shape[1]
    reach = half_width + 0.5
    for n in range(segment.shape[0]):
        ax = point[segment[n, 0], 0]
        ay = point[segment[n, 0], 1]
        bx = point[segment[n, 1], 0]
        by = point[segment[n, 1], 1]
        if is_near(ax, ay, bx, by, reach, row0, row1, width):
            ink_line(ax, ay, bx, by, reach, 255.0, row0, row1, ink, start[n], period, on)


@njit([(F2, F1, I2, F1, X2, f64, f64, f64, f64, i64, i64, OUT_B2)], cache=True, nogil=True)
def ink_visible_dashes(
    point, inverse, segment, start, depth, bias, half_width, period, on, row0, row1, ink
):
    """Draw segments as `ink_visible_segments` does, dashed."""
    width = ink.shape[1]
    reach = half_width + 0.5
    for n in range(segment.shape[0]):
        a = u32(segment[n, 0])
        b = u32(segment[n, 1])
        if inverse[a] < 0.0 or inverse[b] < 0.0:
            continue
        ax = point[a, 0]
        ay = point[a, 1]
        bx = point[b, 0]
        by = point[b, 1]
        if is_near(ax, ay, bx, by, reach, row0, row1, width):
            ink_visible_line(
                ax, ay, bx, by, inverse[a], inverse[b], depth, bias, reach, 255.0, row0, row1, ink,
                start[n], period, on,
            )  # fmt: skip
