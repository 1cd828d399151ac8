# mypy: allow-untyped-defs
"""Kernels that fill the z-buffered id picture of an object.

Camera space and depth as in `projection_kernels`; 0 is empty. See `flat_kernels` for the exact
edge functions.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from evenweave.raster.flat.flat_kernels import (
    HALF,
    SMALL,
    SUB,
    WIRE_FULL_PX,
    WIRE_NONE_PX,
    WIRED,
    covers,
    owns,
)
from evenweave.raster.ink.hidden_kernels import is_hidden
from evenweave.raster.kernel_types import (
    B1,
    F1,
    F2,
    I1,
    I2,
    L1,
    L2,
    OUT_B2,
    OUT_I2,
    OUT_X2,
    f32,
    f64,
    i64,
    u8,
    u32,
)


@njit(cache=True, nogil=True)
def fill_solid(ax, ay, bx, by, cx, cy, ia, ib, ic, mine, flags, row0, row1, ids, depth, wire):
    """Fill one triangle given in 1/256 pixel with its corners' inverse distances."""
    width = ids.shape[1]
    left = min(ax, min(bx, cx))
    right = max(ax, max(bx, cx))
    top = min(ay, min(by, cy))
    bottom = max(ay, max(by, cy))
    x0 = int(max(np.ceil((left - HALF) / SUB), 0.0))
    x1 = int(min(np.floor((right - HALF) / SUB), width - 1.0))
    y0 = int(max(np.ceil((top - HALF) / SUB), float(row0)))
    y1 = int(min(np.floor((bottom - HALF) / SUB), row1 - 1.0))
    if x1 < x0 or y1 < y0:
        return
    area = (bx - ax) * (cy - ay) - (cx - ax) * (by - ay)
    if area == 0.0:
        return
    turn = 1.0 if area > 0.0 else -1.0
    area = abs(area)
    px = (by - cy) * turn
    py = (cx - bx) * turn
    qx = (cy - ay) * turn
    qy = (ax - cx) * turn
    sx = (ay - by) * turn
    sy = (bx - ax) * turn
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
    ia /= area
    ib /= area
    ic /= area

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
        height = area / max(p_len, max(q_len, s_len))
        fade = min(max((height - WIRE_NONE_PX) / (WIRE_FULL_PX - WIRE_NONE_PX), 0.0), 1.0)
        p_per = 1.0 / p_len
        q_per = 1.0 / q_len
        s_per = 1.0 / s_len
        p_ink = 0.0 if flags & 2 else 1e9
        q_ink = 0.0 if flags & 4 else 1e9
        s_ink = 0.0 if flags & 1 else 1e9

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
                here = f32(p * ia + q * ib + s * ic)
                old = depth[u32(y), u32(x)]
                if here > old or (here == old and mine > ids[u32(y), u32(x)]):
                    depth[u32(y), u32(x)] = here
                    ids[u32(y), u32(x)] = mine
                    ink = 0.0
                    if fade > 0.0:
                        near = min(p * p_per + p_ink, min(q * q_per + q_ink, s * s_per + s_ink))
                        ink = max(1.0 - near, 0.0) * fade * 255.0
                    wire[u32(y), u32(x)] = u8(ink)
            elif entered:
                break
            p += px
            q += qx
            s += sx
        p_row += py
        q_row += qy
        s_row += sy


@njit(cache=True, nogil=True)
def fill_clipped(
    point, axes, eye, focal, middle_x, middle_y, near, a, b, c, mine, row0, row1, ids, depth, wire
):
    """Fill the part behind the near plane of a triangle that crosses it."""
    corner = np.empty((3, 3))
    for n in range(3):
        index = a if n == 0 else (b if n == 1 else c)
        x = point[index, 0] - eye[0]
        y = point[index, 1] - eye[1]
        z = point[index, 2] - eye[2]
        for axis in range(3):
            corner[n, axis] = axes[axis, 0] * x + axes[axis, 1] * y + axes[axis, 2] * z
    kept = np.empty((4, 3))
    count = 0
    for n in range(3):
        m = (n + 1) % 3
        here = -corner[n, 2] - near
        there = -corner[m, 2] - near
        if here >= 0.0:
            kept[count] = corner[n]
            count += 1
        if (here >= 0.0) != (there >= 0.0):
            share = here / (here - there)
            for axis in range(3):
                kept[count, axis] = corner[n, axis] + share * (corner[m, axis] - corner[n, axis])
            count += 1
    flat = np.empty((4, 3))
    for n in range(count):
        distance = max(-kept[n, 2], near)
        flat[n, 0] = np.rint((middle_x + focal * kept[n, 0] / distance) * SUB)
        flat[n, 1] = np.rint((middle_y - focal * kept[n, 1] / distance) * SUB)
        flat[n, 2] = 1.0 / distance
    for n in range(1, count - 1):
        fill_solid(
            flat[0, 0], flat[0, 1], flat[n, 0], flat[n, 1], flat[n + 1, 0], flat[n + 1, 1],
            flat[0, 2], flat[n, 2], flat[n + 1, 2], mine, 0, row0, row1, ids, depth, wire,
        )  # fmt: skip


@njit(
    [
        (
            F2, F2, F1, f64, f64, f64, f64,  # points and camera, for what crosses the near plane
            L2, F1, I2, I1, B1, F2, L1, i64, i64, i64, OUT_I2, OUT_X2, OUT_B2,
        )
    ],
    cache=True,
    nogil=True,
)  # fmt: skip
def rasterise_solid(
    point, axes, eye, focal, middle_x, middle_y, near,
    screen, inverse, triangle, number, edges, chunk_px, front, size, row0, row1, ids, depth, wire,
):  # fmt: skip
    """Fill rows row0 to row1 of ids (H, W; -1), depth (H, W; 0) and wire (H, W; 0 to 255).

    front : the chunks from near to far; what is drawn first spares work on what it hides
    """
    width = ids.shape[1]
    for y in range(row0, row1):
        for x in range(width):
            ids[y, x] = -1
            depth[y, x] = 0.0
            wire[y, x] = 0
    for place in range(front.shape[0]):
        k = front[place]
        if (
            chunk_px[k, 3] < row0
            or chunk_px[k, 1] > row1
            or chunk_px[k, 2] < 0.0
            or chunk_px[k, 0] > width
        ):
            continue
        if is_hidden(
            chunk_px[k, 0], chunk_px[k, 1], chunk_px[k, 2], chunk_px[k, 3], chunk_px[k, 4],
            row0, row1, depth,
        ):  # fmt: skip
            continue
        for t in range(k * size, min((k + 1) * size, triangle.shape[0])):
            a = u32(triangle[t, 0])
            b = u32(triangle[t, 1])
            c = u32(triangle[t, 2])
            ia = inverse[a]
            ib = inverse[b]
            ic = inverse[c]
            if min(ia, min(ib, ic)) < 0.0:
                if max(ia, max(ib, ic)) > 0.0:
                    fill_clipped(
                        point, axes, eye, focal, middle_x, middle_y, near,
                        i64(a), i64(b), i64(c), number[t], row0, row1, ids, depth, wire,
                    )  # fmt: skip
                continue
            iax = screen[a, 0]
            iay = screen[a, 1]
            ibx = screen[b, 0]
            iby = screen[b, 1]
            icx = screen[c, 0]
            icy = screen[c, 1]
            left = min(iax, min(ibx, icx))
            right = max(iax, max(ibx, icx))
            top = min(iay, min(iby, icy))
            bottom = max(iay, max(iby, icy))
            x0 = max((left + 127) >> 8, 0)
            x1 = min((right - 128) >> 8, width - 1)
            y0 = max((top + 127) >> 8, row0)
            y1 = min((bottom - 128) >> 8, row1 - 1)
            if (x1 < x0) | (y1 < y0):
                continue
            mine = number[t]
            if (x0 == x1) & (y0 == y1) & (max(right - left, bottom - top) < SMALL):
                # The usual case in dense meshes: one centre, in whole numbers.
                old = depth[u32(y0), u32(x0)]
                if f32(max(ia, max(ib, ic))) < old:
                    continue
                fx = (x0 << 8) + 128
                fy = (y0 << 8) + 128
                p0 = (ibx - fx) * (icy - fy) - (iby - fy) * (icx - fx)
                q0 = (icx - fx) * (iay - fy) - (icy - fy) * (iax - fx)
                s0 = (iax - fx) * (iby - fy) - (iay - fy) * (ibx - fx)
                area = p0 + q0 + s0
                if area < 0:
                    p0 = -p0
                    q0 = -q0
                    s0 = -s0
                    area = -area
                least = min(p0, min(q0, s0))
                if least < 0:
                    continue
                if least > 0 or covers(iax - fx, iay - fy, ibx - fx, iby - fy, icx - fx, icy - fy):
                    here = f32((p0 * ia + q0 * ib + s0 * ic) / area)
                    if here > old or (here == old and mine > ids[u32(y0), u32(x0)]):
                        depth[u32(y0), u32(x0)] = here
                        ids[u32(y0), u32(x0)] = mine
                        if wire[u32(y0), u32(x0)] != 0:
                            wire[u32(y0), u32(x0)] = 0
                continue
            if max(right - left, bottom - top) < SMALL:
                # A few centres: still in whole numbers, stepping from pixel to pixel.
                area = (ibx - iax) * (icy - iay) - (icx - iax) * (iby - iay)
                if area == 0:
                    continue
                turn = 1 if area > 0 else -1
                area *= turn
                px = (iby - icy) * turn
                py = (icx - ibx) * turn
                qx = (icy - iay) * turn
                qy = (iax - icx) * turn
                sx = (iay - iby) * turn
                sy = (ibx - iax) * turn
                fx = (x0 << 8) + 128
                fy = (y0 << 8) + 128
                p_row = px * (fx - ibx) + py * (fy - iby) - (0 if owns(py, -px) else 1)
                q_row = qx * (fx - icx) + qy * (fy - icy) - (0 if owns(qy, -qx) else 1)
                s_row = sx * (fx - iax) + sy * (fy - iay) - (0 if owns(sy, -sx) else 1)
                per_area = 1.0 / area
                for y in range(y0, y1 + 1):
                    p0 = p_row
                    q0 = q_row
                    s0 = s_row
                    for x in range(x0, x1 + 1):
                        if (p0 | q0 | s0) >= 0:
                            here = f32((p0 * ia + q0 * ib + s0 * ic) * per_area)
                            old = depth[u32(y), u32(x)]
                            if here > old or (here == old and mine > ids[u32(y), u32(x)]):
                                depth[u32(y), u32(x)] = here
                                ids[u32(y), u32(x)] = mine
                                if wire[u32(y), u32(x)] != 0:
                                    wire[u32(y), u32(x)] = 0
                        p0 += px << 8
                        q0 += qx << 8
                        s0 += sx << 8
                    p_row += py << 8
                    q_row += qy << 8
                    s_row += sy << 8
                continue
            fill_solid(
                float(iax), float(iay), float(ibx), float(iby), float(icx), float(icy),
                ia, ib, ic, mine, i64(edges[t]), row0, row1, ids, depth, wire,
            )  # fmt: skip
