# mypy: allow-untyped-defs
"""Kernels that fill the z-buffered id picture of an object.

Camera space and depth as in `projection_kernels`; 0 is empty.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from evenweave.raster.ink.hidden_kernels import is_hidden
from evenweave.raster.kernel_types import F1, F2, L1, i64, u32
from evenweave.raster.sides_kernels import (
    PART,
    SCREEN,
    SMALL,
    SUB,
    Corners,
    is_aside,
    pixel_box,
    sides,
)
from evenweave.raster.solid.projection_kernels import LENS
from evenweave.raster.solid.solid_fill_kernels import (
    SOLID_BUFFERS,
    Inverses,
    fill_nearest,
    fill_nearest_centre,
    fill_nearest_small,
)


@njit(cache=True, nogil=True)
def fill_clipped(point, lens, a, b, c, mine, row0, row1, ids, depth, wire):
    """Fill the part behind the near plane of a triangle that crosses it."""
    axes, eye, focal, middle_x, middle_y, near = lens
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
        at = Corners(flat[0, 0], flat[0, 1], flat[n, 0], flat[n, 1], flat[n + 1, 0], flat[n + 1, 1])
        inverse = Inverses(flat[0, 2], flat[n, 2], flat[n + 1, 2])
        fill_nearest(at, inverse, mine, 0, row0, row1, ids, depth, wire)


@njit([(F2, LENS, SCREEN, F1, L1, PART, SOLID_BUFFERS)], cache=True, nogil=True)
def rasterise_solid(point, lens, screen, inverses, front, part, buffers):
    """Fill rows of the buffers, over their whole width.

    point, lens : for what crosses the near plane; inverses : (N,) 1 / distance, -1 before it
    front : the chunks from near to far; what is drawn first spares work on what it hides
    """
    ids, depth, wire = buffers
    position, triangle, number, edges, box_px, size = screen
    row0 = part.row0
    row1 = part.row1
    ids[row0:row1] = -1
    depth[row0:row1] = 0.0
    wire[row0:row1] = 0
    for place in range(front.shape[0]):
        k = front[place]
        if is_aside(box_px, k, part) or is_hidden(
            box_px[k, 0], box_px[k, 1], box_px[k, 2], box_px[k, 3], box_px[k, 4], row0, row1, depth
        ):
            continue
        for t in range(k * size, min((k + 1) * size, triangle.shape[0])):
            a = u32(triangle[t, 0])
            b = u32(triangle[t, 1])
            c = u32(triangle[t, 2])
            mine = number[t]
            inverse = Inverses(inverses[a], inverses[b], inverses[c])
            if min(inverse.a, min(inverse.b, inverse.c)) < 0.0:
                if max(inverse.a, max(inverse.b, inverse.c)) > 0.0:
                    fill_clipped(
                        point, lens, i64(a), i64(b), i64(c), mine, row0, row1, ids, depth, wire
                    )
                continue
            at = Corners(
                position[a, 0], position[a, 1], position[b, 0], position[b, 1],
                position[c, 0], position[c, 1],
            )  # fmt: skip
            box = pixel_box(at, part)
            if (box.x1 < box.x0) | (box.y1 < box.y0):
                continue
            if box.extent >= SMALL:
                floats = Corners(float(at.ax), float(at.ay), float(at.bx), float(at.by),
                                 float(at.cx), float(at.cy))  # fmt: skip
                fill_nearest(floats, inverse, mine, i64(edges[t]), row0, row1, ids, depth, wire)
            elif (box.x0 == box.x1) & (box.y0 == box.y1):
                fill_nearest_centre(at, inverse, box.x0, box.y0, mine, ids, depth, wire)
            else:
                whole = sides(at, (box.x0 << 8) + 128, (box.y0 << 8) + 128)
                fill_nearest_small(whole, inverse, box, mine, ids, depth, wire)
