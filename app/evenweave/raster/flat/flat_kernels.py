# mypy: allow-untyped-defs
"""Kernels that fill the id buffer of a flat picture.

Positions are snapped to 1/256 pixel and edge functions hold whole numbers in float64: exact up to
2**53, so that neighbours meet without gap or double cover (half-open rule on the edges).
"""

from __future__ import annotations

import numpy as np
from numba import njit

from evenweave.raster.kernel_types import (
    B1,
    F2,
    I1,
    I2,
    L2,
    OUT_B2,
    OUT_I2,
    OUT_L2,
    f64,
    i64,
    u32,
)

SUB = 256.0
HALF = 128.0
SMALL = 3 * 256  # extent up to which whole numbers are used, and no wire is drawn
WIRED = 4 * 256  # extent below which there can be no wire
WIRE_NONE_PX = 5.0  # height of a triangle at which its wire is gone
WIRE_FULL_PX = 14.0  # and at which it is fully there


@njit(cache=True, nogil=True)
def owns(dx, dy):
    """Whether a side in this direction, the inside at its right hand, owns its points."""
    return dy < 0 or (dy == 0 and dx > 0)


@njit(cache=True, nogil=True)
def covers(ax, ay, bx, by, cx, cy):
    """Whether the triangle holds the origin; on a side, whether the side is ours."""
    p = bx * cy - by * cx
    q = cx * ay - cy * ax
    s = ax * by - ay * bx
    area = p + q + s
    if area < 0:
        p = -p
        q = -q
        s = -s
    least = min(p, min(q, s))
    if least < 0:
        return False
    if least > 0:
        return True
    if area == 0:
        return False
    turn = 1 if area > 0 else -1
    if p == 0 and not owns((cx - bx) * turn, (cy - by) * turn):
        return False
    if q == 0 and not owns((ax - cx) * turn, (ay - cy) * turn):
        return False
    return not (s == 0 and not owns((bx - ax) * turn, (by - ay) * turn))


@njit(cache=True, nogil=True)
def fill_small(ax, ay, bx, by, cx, cy, x0, x1, y0, y1, mine, ids, wire):
    """Fill a triangle of a few pixels, in whole numbers, stepping from pixel to pixel."""
    area = (bx - ax) * (cy - ay) - (cx - ax) * (by - ay)
    if area == 0:
        return
    turn = 1 if area > 0 else -1
    px = (by - cy) * turn
    py = (cx - bx) * turn
    qx = (cy - ay) * turn
    qy = (ax - cx) * turn
    sx = (ay - by) * turn
    sy = (bx - ax) * turn
    fx = (x0 << 8) + 128
    fy = (y0 << 8) + 128
    p_row = px * (fx - bx) + py * (fy - by) - (0 if owns(py, -px) else 1)
    q_row = qx * (fx - cx) + qy * (fy - cy) - (0 if owns(qy, -qx) else 1)
    s_row = sx * (fx - ax) + sy * (fy - ay) - (0 if owns(sy, -sx) else 1)
    for y in range(y0, y1 + 1):
        p0 = p_row
        q0 = q_row
        s0 = s_row
        for x in range(x0, x1 + 1):
            # No sign bit in any of the three: inside.
            if (p0 | q0 | s0) >= 0 and mine > ids[u32(y), u32(x)]:
                ids[u32(y), u32(x)] = mine
                wire[u32(y), u32(x)] = 0
            p0 += px << 8
            q0 += qx << 8
            s0 += sx << 8
        p_row += py << 8
        q_row += qy << 8
        s_row += sy << 8


@njit([(F2, f64, i64, i64, OUT_L2, i64, i64)], cache=True, nogil=True)
def project_flat(vertex, scale, left, top, screen, first, end):
    """Write positions in 1/256 pixel, y down: x = u * scale + left, y = top - v * scale.

    `left` and `top` are whole pixels: a view moved by whole pixels moves every position exactly.
    """
    for n in range(first, end):
        screen[n, 0] = int(np.rint(vertex[n, 0] * scale * SUB)) + (left << 8)
        screen[n, 1] = int(np.rint(vertex[n, 1] * scale * -SUB)) + (top << 8)


@njit([(L2, I2, I1, B1, F2, i64, i64, i64, i64, i64, OUT_I2, OUT_B2)], cache=True, nogil=True)
def rasterise_flat(
    screen, triangle, number, edges, chunk_px, size, row0, row1, column0, column1, ids, wire
):
    """Fill a rectangle of `ids` (H, W; -1 empty) and `wire` (H, W; 0 to 255).

    chunk_px : (K, 4) x0, y0, x1, y1 of every `size` triangles, in pixels
    """
    for y in range(row0, row1):
        for x in range(column0, column1):
            ids[y, x] = -1
            wire[y, x] = 0
    for k in range(chunk_px.shape[0]):
        if (
            chunk_px[k, 3] < row0
            or chunk_px[k, 1] > row1
            or chunk_px[k, 2] < column0
            or chunk_px[k, 0] > column1
        ):
            continue
        for t in range(k * size, min((k + 1) * size, triangle.shape[0])):
            # Unsigned indices spare the test for counting from the end.
            a = u32(triangle[t, 0])
            b = u32(triangle[t, 1])
            c = u32(triangle[t, 2])
            iax = screen[a, 0]
            iay = screen[a, 1]
            ibx = screen[b, 0]
            iby = screen[b, 1]
            icx = screen[c, 0]
            icy = screen[c, 1]
            # First and last pixel whose centre lies in the box.
            left = min(iax, min(ibx, icx))
            right = max(iax, max(ibx, icx))
            top = min(iay, min(iby, icy))
            bottom = max(iay, max(iby, icy))
            x0 = max((left + 127) >> 8, column0)
            x1 = min((right - 128) >> 8, column1 - 1)
            y0 = max((top + 127) >> 8, row0)
            y1 = min((bottom - 128) >> 8, row1 - 1)
            if (x1 < x0) | (y1 < y0):
                continue
            mine = number[t]
            if (right - left < SMALL) & (bottom - top < SMALL):
                if (x0 == x1) & (y0 == y1):
                    # The usual case in dense meshes: one centre, and no branch to guess.
                    fx = (x0 << 8) + 128
                    fy = (y0 << 8) + 128
                    p0 = (ibx - fx) * (icy - fy) - (iby - fy) * (icx - fx)
                    q0 = (icx - fx) * (iay - fy) - (icy - fy) * (iax - fx)
                    s0 = (iax - fx) * (iby - fy) - (iay - fy) * (ibx - fx)
                    if p0 + q0 + s0 < 0:
                        p0 = -p0
                        q0 = -q0
                        s0 = -s0
                    least = min(p0, min(q0, s0))
                    if least == 0 and not covers(
                        iax - fx, iay - fy, ibx - fx, iby - fy, icx - fx, icy - fy
                    ):
                        least = -1
                    old = ids[u32(y0), u32(x0)]
                    take = (least >= 0) & (mine > old)
                    ids[u32(y0), u32(x0)] = mine if take else old
                    if wire[u32(y0), u32(x0)] != 0 and take:
                        wire[u32(y0), u32(x0)] = 0
                    continue
                fill_small(iax, iay, ibx, iby, icx, icy, x0, x1, y0, y1, mine, ids, wire)
                continue
            ax = float(iax)
            ay = float(iay)
            bx = float(ibx)
            by = float(iby)
            cx = float(icx)
            cy = float(icy)
            area = (bx - ax) * (cy - ay) - (cx - ax) * (by - ay)
            if area == 0.0:
                continue
            turn = 1.0 if area > 0.0 else -1.0
            # Edge opposite each corner: value = rx * x + ry * y + r0, positive inside.
            px = (by - cy) * turn
            py = (cx - bx) * turn
            qx = (cy - ay) * turn
            qy = (ax - cx) * turn
            sx = (ay - by) * turn
            sy = (bx - ax) * turn
            # -rx is dy along the edge, ry is dx: an edge is ours if dy < 0 or dy = 0 and dx > 0.
            p_bias = 0.0 if px > 0.0 or (px == 0.0 and py > 0.0) else -1.0
            q_bias = 0.0 if qx > 0.0 or (qx == 0.0 and qy > 0.0) else -1.0
            s_bias = 0.0 if sx > 0.0 or (sx == 0.0 and sy > 0.0) else -1.0
            fx = x0 * SUB + HALF
            fy = y0 * SUB + HALF
            p_row = px * (fx - bx) + py * (fy - by) + p_bias
            q_row = qx * (fx - cx) + qy * (fy - cy) + q_bias
            s_row = sx * (fx - ax) + sy * (fy - ay) + s_bias
            px *= SUB
            py *= SUB
            qx *= SUB
            qy *= SUB
            sx *= SUB
            sy *= SUB

            fade = 0.0
            p_ink = 1e9
            q_ink = 1e9
            s_ink = 1e9
            p_per = 0.0
            q_per = 0.0
            s_per = 0.0
            if max(right - left, bottom - top) > WIRED:
                p_len = np.sqrt(px * px + py * py)
                q_len = np.sqrt(qx * qx + qy * qy)
                s_len = np.sqrt(sx * sx + sy * sy)
                height = abs(area) / max(p_len, q_len, s_len)
                fade = (height - WIRE_NONE_PX) / (WIRE_FULL_PX - WIRE_NONE_PX)
                fade = min(max(fade, 0.0), 1.0)
                p_per = 1.0 / p_len
                q_per = 1.0 / q_len
                s_per = 1.0 / s_len
                # Sides that are no polygon edge stay infinitely far away.
                p_ink = 0.0 if edges[t] & 2 else 1e9
                q_ink = 0.0 if edges[t] & 4 else 1e9
                s_ink = 0.0 if edges[t] & 1 else 1e9

            for y in range(y0, y1 + 1):
                p = p_row
                q = q_row
                s = s_row
                start = x0
                if x1 - x0 > 24:
                    # Jump to where the row enters the triangle, one pixel early.
                    skip = 0.0
                    if p < 0.0 and px > 0.0:
                        skip = max(skip, -p / px - 1.0)
                    if q < 0.0 and qx > 0.0:
                        skip = max(skip, -q / qx - 1.0)
                    if s < 0.0 and sx > 0.0:
                        skip = max(skip, -s / sx - 1.0)
                    jump = np.floor(min(skip, x1 - x0 + 1.0))
                    start = x0 + int(jump)
                    p += px * jump
                    q += qx * jump
                    s += sx * jump
                entered = False
                for x in range(start, x1 + 1):
                    if p >= 0.0 and q >= 0.0 and s >= 0.0:
                        entered = True
                        if mine > ids[y, x]:
                            ids[y, x] = mine
                            if fade > 0.0:
                                near = min(p * p_per + p_ink, q * q_per + q_ink, s * s_per + s_ink)
                                wire[y, x] = int(max(1.0 - near, 0.0) * fade * 255.0)
                            else:
                                wire[y, x] = 0
                    elif entered:
                        break
                    p += px
                    q += qx
                    s += sx
                p_row += py
                q_row += qy
                s_row += sy
