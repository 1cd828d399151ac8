# mypy: allow-untyped-defs
"""Kernels that fill the id buffer of a flat picture; see `sides_kernels` for the exact rule."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit, types

from evenweave.raster.kernel_types import F2, OUT_B2, OUT_I2, OUT_L2, f64, i64, u32
from evenweave.raster.sides_kernels import (
    HALF,
    LONG_PX,
    PART,
    SCREEN,
    SMALL,
    SUB,
    Corners,
    covers,
    inked,
    is_aside,
    lead,
    pixel_box,
    sides,
    wire_of,
)


class FlatBuffers(NamedTuple):
    """What is filled: ids (H, W) int32, -1 empty, and wire (H, W) uint8, its strength."""

    ids: np.ndarray
    wire: np.ndarray


FLAT_BUFFERS = types.NamedTuple((OUT_I2, OUT_B2), FlatBuffers)


@njit(cache=True, nogil=True)
def holds_centre(at, fx, fy):
    """Whether a small triangle holds a centre: no branch to guess in dense meshes."""
    p = (at.bx - fx) * (at.cy - fy) - (at.by - fy) * (at.cx - fx)
    q = (at.cx - fx) * (at.ay - fy) - (at.cy - fy) * (at.ax - fx)
    s = (at.ax - fx) * (at.by - fy) - (at.ay - fy) * (at.bx - fx)
    if p + q + s < 0:
        p = -p
        q = -q
        s = -s
    least = min(p, min(q, s))
    if least == 0 and not covers(
        at.ax - fx, at.ay - fy, at.bx - fx, at.by - fy, at.cx - fx, at.cy - fy
    ):
        least = -1
    return least >= 0


@njit(cache=True, nogil=True)
def fill_small(side, box, mine, ids, wire):
    """Fill a triangle of a few pixels, in whole numbers, stepping from pixel to pixel."""
    if side.area == 0:
        return
    p_row = side.p
    q_row = side.q
    s_row = side.s
    for y in range(box.y0, box.y1 + 1):
        p = p_row
        q = q_row
        s = s_row
        for x in range(box.x0, box.x1 + 1):
            # No sign bit in any of the three: inside.
            if (p | q | s) >= 0 and mine > ids[u32(y), u32(x)]:
                ids[u32(y), u32(x)] = mine
                wire[u32(y), u32(x)] = 0
            p += side.p_right
            q += side.q_right
            s += side.s_right
        p_row += side.p_down
        q_row += side.q_down
        s_row += side.s_down


@njit(cache=True, nogil=True)
def fill_large(side, box, line, mine, ids, wire):
    """Fill a triangle of many pixels, and ink its polygon edges."""
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
                if mine > ids[y, x]:
                    ids[y, x] = mine
                    wire[y, x] = int(inked(line, p, q, s))
            elif entered:
                break
            p += side.p_right
            q += side.q_right
            s += side.s_right
        p_row += side.p_down
        q_row += side.q_down
        s_row += side.s_down


@njit([(F2, f64, i64, i64, OUT_L2, i64, i64)], cache=True, nogil=True)
def project_flat(vertex, scale, left, top, screen, first, end):
    """Write positions in 1/256 pixel, y down: x = u * scale + left, y = top - v * scale.

    `left` and `top` are whole pixels: a view moved by whole pixels moves every position exactly.
    """
    for n in range(first, end):
        screen[n, 0] = int(np.rint(vertex[n, 0] * scale * SUB)) + (left << 8)
        screen[n, 1] = int(np.rint(vertex[n, 1] * scale * -SUB)) + (top << 8)


@njit([(SCREEN, PART, FLAT_BUFFERS)], cache=True, nogil=True)
def rasterise_flat(screen, part, buffers):
    """Fill a rectangle of the buffers with the highest number at each pixel's centre."""
    ids, wire = buffers
    position, triangle, number, edges, chunk_px, size = screen
    for y in range(part.row0, part.row1):
        for x in range(part.column0, part.column1):
            ids[y, x] = -1
            wire[y, x] = 0
    for k in range(chunk_px.shape[0]):
        if is_aside(chunk_px, k, part):
            continue
        for t in range(k * size, min((k + 1) * size, triangle.shape[0])):
            # Unsigned indices spare the test for counting from the end.
            a = u32(triangle[t, 0])
            b = u32(triangle[t, 1])
            c = u32(triangle[t, 2])
            at = Corners(
                position[a, 0], position[a, 1], position[b, 0], position[b, 1],
                position[c, 0], position[c, 1],
            )  # fmt: skip
            box = pixel_box(at, part)
            if (box.x1 < box.x0) | (box.y1 < box.y0):
                continue
            mine = number[t]
            if (box.x0 == box.x1) & (box.y0 == box.y1) & (box.extent < SMALL):
                x, y = u32(box.x0), u32(box.y0)
                old = ids[y, x]
                take = holds_centre(at, (box.x0 << 8) + 128, (box.y0 << 8) + 128) & (mine > old)
                ids[y, x] = mine if take else old
                if wire[y, x] != 0 and take:
                    wire[y, x] = 0
            elif box.extent < SMALL:
                whole = sides(at, (box.x0 << 8) + 128, (box.y0 << 8) + 128)
                fill_small(whole, box, mine, ids, wire)
            else:
                floats = Corners(float(at.ax), float(at.ay), float(at.bx), float(at.by),
                                 float(at.cx), float(at.cy))  # fmt: skip
                side = sides(floats, box.x0 * SUB + HALF, box.y0 * SUB + HALF)
                if side.area != 0.0:
                    line = wire_of(side, edges[t], box.extent)
                    fill_large(side, box, line, mine, ids, wire)
