# mypy: allow-untyped-defs
"""The kernel that counts covering triangles, with the edge rule of `sides_kernels`."""

from __future__ import annotations

from numba import njit

from evenweave.raster.kernel_types import OUT_I2
from evenweave.raster.sides_kernels import (
    HALF,
    PART,
    SCREEN,
    SUB,
    Corners,
    is_aside,
    pixel_box,
    sides,
)


@njit([(SCREEN, PART, OUT_I2)], cache=True, nogil=True)
def count_triangles(screen, part, count):
    """Add 1 to a rectangle of `count` (H, W) for every triangle over a pixel centre."""
    position, triangle, _, _, chunk_px, size = screen
    for k in range(chunk_px.shape[0]):
        if is_aside(chunk_px, k, part):
            continue
        for t in range(k * size, min((k + 1) * size, triangle.shape[0])):
            a, b, c = triangle[t, 0], triangle[t, 1], triangle[t, 2]
            at = Corners(
                position[a, 0], position[a, 1], position[b, 0],
                position[b, 1], position[c, 0], position[c, 1],
            )  # fmt: skip
            box = pixel_box(at, part)
            if box.x1 < box.x0 or box.y1 < box.y0:
                continue
            floats = Corners(float(at.ax), float(at.ay), float(at.bx), float(at.by),
                             float(at.cx), float(at.cy))  # fmt: skip
            side = sides(floats, box.x0 * SUB + HALF, box.y0 * SUB + HALF)
            if side.area == 0.0:
                continue
            for y in range(box.y0, box.y1 + 1):
                for x in range(box.x0, box.x1 + 1):
                    right, down = float(x - box.x0), float(y - box.y0)
                    if (
                        side.p + side.p_right * right + side.p_down * down >= 0.0
                        and side.q + side.q_right * right + side.q_down * down >= 0.0
                        and side.s + side.s_right * right + side.s_down * down >= 0.0
                    ):
                        count[y, x] += 1
