# mypy: allow-untyped-defs
"""The kernel that colours the id picture of an object."""

from __future__ import annotations

import numpy as np
from numba import njit

from evenweave.raster.kernel_types import (
    B1,
    B2,
    F1,
    F2,
    I1,
    I2,
    OUT_B2,
    OUT_U2,
    U1,
    f64,
    i64,
    u32,
)

AMBIENT = 0.64  # brightness of a face seen edge-on
BACK = 0.75  # brightness of the back of a face


@njit(
    [
        (
            I2, B2, OUT_B2, F2, I2, F2, I2,  # buffers; points, triangles, uv, triangles' uv
            F1, F2, F1,  # eye; ray at the corner and its steps right and down; light
            U1, I1, B1,  # colour and island of triangles, state of islands
            F1, u32,  # checker: squares per tile along u, v, swing, chevron's least and full size
            B1, f64, f64,  # hatch, strength of wire and of ink
            i64, i64, OUT_U2,
        )
    ],
    cache=True,
    nogil=True,
)  # fmt: skip
def shade_solid(
    ids, wire, ink, point, triangle, uv, triangle_uv,
    eye, ray, light,
    triangle_colour, triangle_island, island_state,
    check, ground,
    hatch, wire_strength, ink_strength,
    row0, row1, rgba,
):  # fmt: skip
    """Write rows row0 to row1 of `rgba` (H, W) packed colours; empties `ink`.

    The weights of a triangle's corners under a ray d from the eye are d . (b x c),
    d . (c x a), d . (a x b): right in perspective and for what crosses the near plane.
    check : squares per tile along u and v, swing, size in pixels at which squares are gone and
    full, and chevrons gone and full; a swing of 0 means no checker
    """
    width = ids.shape[1]
    period = hatch.shape[0]
    last = -1
    ax = ay = az = bx = by = bz = cx = cy = cz = 0.0
    ua = ub = uc = va = vb = vc = 0.0
    tone = 1.0
    checked = False
    for y in range(row0, row1):
        for x in range(width):
            number = ids[y, x]
            share = ink[y, x] * ink_strength
            if number < 0:
                red = float(ground & 255)
                green = float((ground >> 8) & 255)
                blue = float((ground >> 16) & 255)
            else:
                dx = ray[0, 0] + (x + 0.5) * ray[1, 0] + (y + 0.5) * ray[2, 0]
                dy = ray[0, 1] + (x + 0.5) * ray[1, 1] + (y + 0.5) * ray[2, 1]
                dz = ray[0, 2] + (x + 0.5) * ray[1, 2] + (y + 0.5) * ray[2, 2]
                if number != last:
                    last = number
                    pa = u32(triangle[u32(number), 0])
                    pb = u32(triangle[u32(number), 1])
                    pc = u32(triangle[u32(number), 2])
                    x1 = point[pa, 0] - eye[0]
                    y1 = point[pa, 1] - eye[1]
                    z1 = point[pa, 2] - eye[2]
                    x2 = point[pb, 0] - eye[0]
                    y2 = point[pb, 1] - eye[1]
                    z2 = point[pb, 2] - eye[2]
                    x3 = point[pc, 0] - eye[0]
                    y3 = point[pc, 1] - eye[1]
                    z3 = point[pc, 2] - eye[2]
                    ax = y2 * z3 - z2 * y3
                    ay = z2 * x3 - x2 * z3
                    az = x2 * y3 - y2 * x3
                    bx = y3 * z1 - z3 * y1
                    by = z3 * x1 - x3 * z1
                    bz = x3 * y1 - y3 * x1
                    cx = y1 * z2 - z1 * y2
                    cy = z1 * x2 - x1 * z2
                    cz = x1 * y2 - y1 * x2
                    # Their sum is the face's normal.
                    nx = ax + bx + cx
                    ny = ay + by + cy
                    nz = az + bz + cz
                    length = np.sqrt(nx * nx + ny * ny + nz * nz)
                    facing = -(nx * dx + ny * dy + nz * dz)
                    lit = 0.0
                    if length > 0.0:
                        lit = (nx * light[0] + ny * light[1] + nz * light[2]) / length
                    if facing < 0.0:
                        lit = -lit
                    tone = AMBIENT + (1.0 - AMBIENT) * max(lit, 0.0)
                    if facing < 0.0:
                        tone *= BACK
                    checked = check[2] > 0.0 and triangle_uv[u32(number), 0] >= 0
                    if checked:
                        qa = u32(triangle_uv[u32(number), 0])
                        qb = u32(triangle_uv[u32(number), 1])
                        qc = u32(triangle_uv[u32(number), 2])
                        ua = uv[qa, 0] * check[0]
                        va = uv[qa, 1] * check[1]
                        ub = uv[qb, 0] * check[0]
                        vb = uv[qb, 1] * check[1]
                        uc = uv[qc, 0] * check[0]
                        vc = uv[qc, 1] * check[1]
                        # Whole squares say nothing; taking them off keeps the digits.
                        base = np.floor(ua * 0.5) * 2.0
                        ua -= base
                        ub -= base
                        uc -= base
                        base = np.floor(va * 0.5) * 2.0
                        va -= base
                        vb -= base
                        vc -= base
                brightness = tone
                if checked:
                    wa = dx * ax + dy * ay + dz * az
                    wb = dx * bx + dy * by + dz * bz
                    wc = dx * cx + dy * cy + dz * cz
                    total = wa + wb + wc
                    if total != 0.0:
                        inverse = 1.0 / total
                        u = (wa * ua + wb * ub + wc * uc) * inverse
                        v = (wa * va + wb * vb + wc * vc) * inverse
                        # Squares per pixel to the right and down.
                        wa = ray[1, 0] * ax + ray[1, 1] * ay + ray[1, 2] * az
                        wb = ray[1, 0] * bx + ray[1, 1] * by + ray[1, 2] * bz
                        wc = ray[1, 0] * cx + ray[1, 1] * cy + ray[1, 2] * cz
                        u_right = (wa * (ua - u) + wb * (ub - u) + wc * (uc - u)) * inverse
                        v_right = (wa * (va - v) + wb * (vb - v) + wc * (vc - v)) * inverse
                        wa = ray[2, 0] * ax + ray[2, 1] * ay + ray[2, 2] * az
                        wb = ray[2, 0] * bx + ray[2, 1] * by + ray[2, 2] * bz
                        wc = ray[2, 0] * cx + ray[2, 1] * cy + ray[2, 2] * cz
                        u_down = (wa * (ua - u) + wb * (ub - u) + wc * (uc - u)) * inverse
                        v_down = (wa * (va - v) + wb * (vb - v) + wc * (vc - v)) * inverse
                        u_width = np.sqrt(u_right * u_right + u_down * u_down) + 1e-9
                        v_width = np.sqrt(v_right * v_right + v_down * v_down) + 1e-9
                        square_px = 1.0 / max(u_width, v_width)
                        fade = (square_px - check[3]) / (check[4] - check[3])
                        fade = min(max(fade, 0.0), 1.0)
                        wave = 0.0
                        if fade > 0.0:
                            whole_u = np.floor(u)
                            whole_v = np.floor(v)
                            u -= whole_u
                            v -= whole_v
                            border_u = 2.0 * min(u, 1.0 - u) / u_width
                            border_v = 2.0 * min(v, 1.0 - v) / v_width
                            wave = min(border_u, 1.0) * min(border_v, 1.0) * fade
                            if (int(whole_u) + int(whole_v)) & 1:
                                wave = -wave
                            chevron = (square_px - check[5]) / (check[6] - check[5])
                            aside = abs(u - 0.5)
                            if chevron > 0.0 and aside < 0.24:
                                off = abs(v - (0.68 - 1.1 * aside)) * 0.6727
                                cover = 0.5 + (0.05 - off) * square_px
                                edge = 0.5 + (0.21 - aside) * square_px
                                cover = min(max(min(cover, edge), 0.0), 1.0)
                                wave -= 2.0 * wave * cover * min(chevron, 1.0)
                        brightness *= 1.0 - check[2] + check[2] * wave
                colour = triangle_colour[u32(number)]
                red = float(colour & 255) * brightness
                green = float((colour >> 8) & 255) * brightness
                blue = float((colour >> 16) & 255) * brightness
                dark = wire[y, x] * wire_strength
                if colour >> 24:
                    dark = max(dark, hatch[(x + y) % period] * (0.6 / 255.0))
                share = max(share, dark)
                if island_state[u32(triangle_island[u32(number)])] & 1:
                    red += (255.0 - red) * 0.3
                    green += (255.0 - green) * 0.3
                    blue += (255.0 - blue) * 0.3
            ink[y, x] = 0
            red -= (red - 22.0) * share
            green -= (green - 23.0) * share
            blue -= (blue - 26.0) * share
            rgba[y, x] = (
                u32(red + 0.5)
                | (u32(green + 0.5) << u32(8))
                | (u32(blue + 0.5) << u32(16))
                | u32(0xFF000000)
            )
