# mypy: allow-untyped-defs
"""The kernel that counts covering triangles, with the edge rule of `flat_kernels`."""

from __future__ import annotations

import numpy as np
from numba import njit

from evenweave.raster.flat.flat_kernels import HALF, SUB
from evenweave.raster.kernel_types import F2, I2, L2, OUT_I2, i64


@njit([(L2, I2, F2, i64, i64, i64, OUT_I2)], cache=True, nogil=True)
def count_triangles(screen, triangle, chunk_px, size, row0, row1, count):
    """Add 1 to rows row0 to row1 of `count` (H, W) for every triangle over a pixel centre."""
    width = count.shape[1]
    for k in range(chunk_px.shape[0]):
        if (
            chunk_px[k, 3] < row0
            or chunk_px[k, 1] > row1
            or chunk_px[k, 2] < 0.0
            or chunk_px[k, 0] > width
        ):
            continue
        for t in range(k * size, min((k + 1) * size, triangle.shape[0])):
            ax = float(screen[triangle[t, 0], 0])
            ay = float(screen[triangle[t, 0], 1])
            bx = float(screen[triangle[t, 1], 0])
            by = float(screen[triangle[t, 1], 1])
            cx = float(screen[triangle[t, 2], 0])
            cy = float(screen[triangle[t, 2], 1])
            x0 = int(max(np.ceil((min(ax, min(bx, cx)) - HALF) / SUB), 0.0))
            x1 = int(min(np.floor((max(ax, max(bx, cx)) - HALF) / SUB), width - 1.0))
            y0 = int(max(np.ceil((min(ay, min(by, cy)) - HALF) / SUB), float(row0)))
            y1 = int(min(np.floor((max(ay, max(by, cy)) - HALF) / SUB), row1 - 1.0))
            area = (bx - ax) * (cy - ay) - (cx - ax) * (by - ay)
            if x1 < x0 or y1 < y0 or area == 0.0:
                continue
            turn = 1.0 if area > 0.0 else -1.0
            px = (by - cy) * turn
            py = (cx - bx) * turn
            qx = (cy - ay) * turn
            qy = (ax - cx) * turn
            sx = (ay - by) * turn
            sy = (bx - ax) * turn
            p_bias = 0.0 if px > 0.0 or (px == 0.0 and py > 0.0) else -1.0
            q_bias = 0.0 if qx > 0.0 or (qx == 0.0 and qy > 0.0) else -1.0
            s_bias = 0.0 if sx > 0.0 or (sx == 0.0 and sy > 0.0) else -1.0
            for y in range(y0, y1 + 1):
                fy = y * SUB + HALF
                for x in range(x0, x1 + 1):
                    fx = x * SUB + HALF
                    if (
                        px * (fx - bx) + py * (fy - by) + p_bias >= 0.0
                        and qx * (fx - cx) + qy * (fy - cy) + q_bias >= 0.0
                        and sx * (fx - ax) + sy * (fy - ay) + s_bias >= 0.0
                    ):
                        count[y, x] += 1
