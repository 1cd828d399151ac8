# mypy: allow-untyped-defs
"""Kernels that fill one triangle of an object in a z-buffered id picture.

What is nearer wins; at the same depth, the higher number. Depth is 1 / distance; 0 is empty. A
corner's weight times its inverse distance, summed, is the depth. See `sides_kernels` for the rule
on the edges.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit, types

from evenweave.raster.kernel_types import OUT_B2, OUT_I2, OUT_X2, f32, u8, u32
from evenweave.raster.sides_kernels import (
    HALF,
    LONG_PX,
    SUB,
    Box,
    covers,
    inked,
    lead,
    sides,
    wire_of,
)


class SolidBuffers(NamedTuple):
    """What is filled: ids (H, W) int32, -1 empty, depth (H, W) float32, wire (H, W) uint8."""

    ids: np.ndarray
    depth: np.ndarray
    wire: np.ndarray


class Inverses(NamedTuple):
    """The inverse distances of a triangle's corners."""

    a: float
    b: float
    c: float


SOLID_BUFFERS = types.NamedTuple((OUT_I2, OUT_X2, OUT_B2), SolidBuffers)


@njit(cache=True, nogil=True)
def fill_nearest_centre(at, inverse, x, y, mine, ids, depth, wire):
    """Fill a triangle that can hold one centre only, in whole numbers."""
    old = depth[u32(y), u32(x)]
    if f32(max(inverse.a, max(inverse.b, inverse.c))) < old:
        return
    fx = (x << 8) + 128
    fy = (y << 8) + 128
    p = (at.bx - fx) * (at.cy - fy) - (at.by - fy) * (at.cx - fx)
    q = (at.cx - fx) * (at.ay - fy) - (at.cy - fy) * (at.ax - fx)
    s = (at.ax - fx) * (at.by - fy) - (at.ay - fy) * (at.bx - fx)
    area = p + q + s
    if area < 0:
        p = -p
        q = -q
        s = -s
        area = -area
    least = min(p, min(q, s))
    if least < 0:
        return
    if least > 0 or covers(at.ax - fx, at.ay - fy, at.bx - fx, at.by - fy, at.cx - fx, at.cy - fy):
        here = f32((p * inverse.a + q * inverse.b + s * inverse.c) / area)
        if here > old or (here == old and mine > ids[u32(y), u32(x)]):
            depth[u32(y), u32(x)] = here
            ids[u32(y), u32(x)] = mine
            if wire[u32(y), u32(x)] != 0:
                wire[u32(y), u32(x)] = 0


@njit(cache=True, nogil=True)
def fill_nearest_small(side, inverse, box, mine, ids, depth, wire):
    """Fill a triangle of a few pixels, in whole numbers, stepping from pixel to pixel."""
    if side.area == 0:
        return
    p_row = side.p
    q_row = side.q
    s_row = side.s
    per_area = 1.0 / side.area
    for y in range(box.y0, box.y1 + 1):
        p = p_row
        q = q_row
        s = s_row
        for x in range(box.x0, box.x1 + 1):
            if (p | q | s) >= 0:
                here = f32((p * inverse.a + q * inverse.b + s * inverse.c) * per_area)
                old = depth[u32(y), u32(x)]
                if here > old or (here == old and mine > ids[u32(y), u32(x)]):
                    depth[u32(y), u32(x)] = here
                    ids[u32(y), u32(x)] = mine
                    if wire[u32(y), u32(x)] != 0:
                        wire[u32(y), u32(x)] = 0
            p += side.p_right
            q += side.q_right
            s += side.s_right
        p_row += side.p_down
        q_row += side.q_down
        s_row += side.s_down


@njit(cache=True, nogil=True)
def float_box(at, width, row0, row1):
    """Return the `Box` of `Corners` that may lie far outside of what whole numbers hold."""
    left = min(at.ax, min(at.bx, at.cx))
    right = max(at.ax, max(at.bx, at.cx))
    top = min(at.ay, min(at.by, at.cy))
    bottom = max(at.ay, max(at.by, at.cy))
    return Box(
        int(max(np.ceil((left - HALF) / SUB), 0.0)),
        int(min(np.floor((right - HALF) / SUB), width - 1.0)),
        int(max(np.ceil((top - HALF) / SUB), float(row0))),
        int(min(np.floor((bottom - HALF) / SUB), row1 - 1.0)),
        max(right - left, bottom - top),
    )


@njit(cache=True, nogil=True)
def fill_nearest(at, inverse, mine, edges, row0, row1, ids, depth, wire):
    """Fill a triangle of many pixels in rows row0 to row1, and ink its polygon edges."""
    box = float_box(at, ids.shape[1], row0, row1)
    if box.x1 < box.x0 or box.y1 < box.y0:
        return
    side = sides(at, box.x0 * SUB + HALF, box.y0 * SUB + HALF)
    if side.area == 0.0:
        return
    line = wire_of(side, edges, box.extent)
    ia = inverse.a / side.area
    ib = inverse.b / side.area
    ic = inverse.c / side.area
    p_row = side.p
    q_row = side.q
    s_row = side.s
    for y in range(box.y0, box.y1 + 1):
        p = p_row
        q = q_row
        s = s_row
        start = box.x0
        if box.x1 - box.x0 > LONG_PX:
            jump = lead(side, p, q, s, box.x1 - box.x0 + 1.0)
            start = box.x0 + int(jump)
            p += side.p_right * jump
            q += side.q_right * jump
            s += side.s_right * jump
        entered = False
        for x in range(start, box.x1 + 1):
            if p >= 0.0 and q >= 0.0 and s >= 0.0:
                entered = True
                here = f32(p * ia + q * ib + s * ic)
                old = depth[u32(y), u32(x)]
                if here > old or (here == old and mine > ids[u32(y), u32(x)]):
                    depth[u32(y), u32(x)] = here
                    ids[u32(y), u32(x)] = mine
                    wire[u32(y), u32(x)] = u8(inked(line, p, q, s))
            elif entered:
                break
            p += side.p_right
            q += side.q_right
            s += side.s_right
        p_row += side.p_down
        q_row += side.q_down
        s_row += side.s_down
