# mypy: allow-untyped-defs
"""Kernels that draw antialiased segments as ink: coverage 0 to 255, the greatest wins."""

from __future__ import annotations

import numpy as np
from numba import njit

from evenweave.raster.ink.hidden_kernels import is_hidden
from evenweave.raster.kernel_types import (
    F1,
    F2,
    I1,
    I2,
    L2,
    OUT_B2,
    OUT_B3,
    X2,
    f64,
    i64,
    u8,
    u32,
)

NONE_PX = 16.0  # greater side of an island's box at which its outline is gone
FULL_PX = 40.0  # and at which it is fully there


@njit(cache=True, nogil=True)
def is_near(ax, ay, bx, by, reach, row0, row1, width):
    """Tell whether a segment touches rows row0 to row1; never if an end is no number."""
    return (
        min(ay, by) - reach <= row1
        and max(ay, by) + reach >= row0
        and min(ax, bx) - reach <= width
        and max(ax, bx) + reach >= 0.0
    )


@njit(cache=True, nogil=True)
def columns(ax, dx, dy, py, reach, width):
    """Return the first and last column of a row, py below the segment's start, that it reaches."""
    near = 0.0
    far = 1.0
    if abs(dy) > 1e-9:
        near = (py - reach) / dy
        far = (py + reach) / dy
        if near > far:
            near, far = far, near
        near = min(max(near, 0.0), 1.0)
        far = min(max(far, 0.0), 1.0)
    x0 = int(max(np.floor(min(ax + near * dx, ax + far * dx) - reach), 0.0))
    x1 = int(min(np.ceil(max(ax + near * dx, ax + far * dx) + reach), width - 1.0))
    return x0, x1


@njit(cache=True, nogil=True)
def nearest(px, py, dx, dy, per_length2):
    """Return how far along the segment a place is nearest, 0 to 1, and the squared distance."""
    along = min(max((px * dx + py * dy) * per_length2, 0.0), 1.0)
    ox = px - along * dx
    oy = py - along * dy
    return along, ox * ox + oy * oy


@njit(cache=True, nogil=True)
def is_between_dashes(place, period, per_period, on):
    """Tell whether a length along a dashed line falls into a gap; period 0 has none."""
    return period > 0.0 and place - np.floor(place * per_period) * period >= on


@njit(cache=True, nogil=True)
def ink_line(ax, ay, bx, by, reach, strength, row0, row1, ink, start=0.0, period=0.0, on=0.0):
    """Draw one segment, in pixels; strength : ink at full coverage, 0 to 255.

    start, period, on : length before the segment, of a dash with its gap, of a dash; period 0
    draws it whole
    """
    dx = bx - ax
    dy = by - ay
    length2 = dx * dx + dy * dy
    per_length2 = 1.0 / length2 if length2 > 0.0 else 0.0
    length = np.sqrt(length2)
    per_period = 1.0 / period if period > 0.0 else 0.0
    y0 = int(max(np.floor(min(ay, by) - reach), float(row0)))
    y1 = int(min(np.ceil(max(ay, by) + reach), row1 - 1.0))
    for y in range(y0, y1 + 1):
        py = y + 0.5 - ay
        x0, x1 = columns(ax, dx, dy, py, reach, ink.shape[1])
        for x in range(x0, x1 + 1):
            along, distance2 = nearest(x + 0.5 - ax, py, dx, dy, per_length2)
            if distance2 < reach * reach:
                if is_between_dashes(start + along * length, period, per_period, on):
                    continue
                value = u8(min(reach - np.sqrt(distance2), 1.0) * strength)
                if value > ink[u32(y), u32(x)]:
                    ink[u32(y), u32(x)] = value


@njit(cache=True, nogil=True)
def ink_visible_line(
    ax, ay, bx, by, inverse_a, inverse_b, depth, bias, reach, strength, row0, row1, ink,
    start=0.0, period=0.0, on=0.0,
):  # fmt: skip
    """Draw one segment where it is not hidden; see `ink_visible_segments` and `ink_line`."""
    dx = bx - ax
    dy = by - ay
    length2 = dx * dx + dy * dy
    per_length2 = 1.0 / length2 if length2 > 0.0 else 0.0
    length = np.sqrt(length2)
    per_period = 1.0 / period if period > 0.0 else 0.0
    y0 = int(max(np.floor(min(ay, by) - reach), float(row0)))
    y1 = int(min(np.ceil(max(ay, by) + reach), row1 - 1.0))
    for y in range(y0, y1 + 1):
        py = y + 0.5 - ay
        x0, x1 = columns(ax, dx, dy, py, reach, ink.shape[1])
        for x in range(x0, x1 + 1):
            along, distance2 = nearest(x + 0.5 - ax, py, dx, dy, per_length2)
            if distance2 < reach * reach:
                if is_between_dashes(start + along * length, period, per_period, on):
                    continue
                here = inverse_a + (inverse_b - inverse_a) * along
                if here * (1.0 + bias) >= depth[u32(y), u32(x)]:
                    value = u8(min(reach - np.sqrt(distance2), 1.0) * strength)
                    if value > ink[u32(y), u32(x)]:
                        ink[u32(y), u32(x)] = value


@njit(
    [(F2, I2, f64, i64, i64, OUT_B2)],
    cache=True,
    nogil=True,
)
def ink_segments(point, segment, half_width, row0, row1, ink):
    """Draw segments (S, 2) of points (N, 2) in pixels into rows row0 to row1."""
    width = ink.shape[1]
    reach = half_width + 0.5
    for n in range(segment.shape[0]):
        ax = point[segment[n, 0], 0]
        ay = point[segment[n, 0], 1]
        bx = point[segment[n, 1], 0]
        by = point[segment[n, 1], 1]
        if is_near(ax, ay, bx, by, reach, row0, row1, width):
            ink_line(ax, ay, bx, by, reach, 255.0, row0, row1, ink)


@njit([(F2, F1, I2, X2, f64, f64, i64, i64, OUT_B2)], cache=True, nogil=True)
def ink_visible_segments(point, inverse, segment, depth, bias, half_width, row0, row1, ink):
    """Draw segments (S, 2) of points (N, 2) in pixels where they are not hidden.

    inverse : (N,) 1 / distance of the points, below 0 where before the near plane
    bias : share by which a line may lie behind the surface and still be seen
    """
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
                ax, ay, bx, by, inverse[a], inverse[b], depth, bias, reach, 255.0, row0, row1, ink
            )


@njit(cache=True, nogil=True)
def outline_fade(x0, y0, x1, y1, ratio):
    """Return how strongly the outline of an island of this size is drawn, 0 to 1."""
    size = max(x1 - x0, y1 - y0) / ratio
    return min(max((size - NONE_PX) / (FULL_PX - NONE_PX), 0.0), 1.0)


@njit([(L2, I2, I1, F2, f64, f64, f64, i64, i64, OUT_B2)], cache=True, nogil=True)
def ink_outlines(screen, segment, start, box, unit, ratio, half_width, row0, row1, ink):
    """Draw the outlines of islands; those of tiny islands fade away, and cost nothing.

    screen : (N, 2) in units of `unit` pixels; segment : rows start[i] to start[i + 1] are island
    i's, whose box in pixels is box[i], x0, y0, x1, y1
    """
    width = ink.shape[1]
    reach = half_width + 0.5
    for i in range(box.shape[0]):
        if (
            box[i, 3] + reach < row0
            or box[i, 1] - reach > row1
            or box[i, 2] + reach < 0.0
            or box[i, 0] - reach > width
        ):
            continue
        strength = 255.0 * outline_fade(box[i, 0], box[i, 1], box[i, 2], box[i, 3], ratio)
        if not strength >= 1.0:
            continue
        for n in range(start[i], start[i + 1]):
            a = u32(segment[n, 0])
            b = u32(segment[n, 1])
            ax = screen[a, 0] * unit
            ay = screen[a, 1] * unit
            bx = screen[b, 0] * unit
            by = screen[b, 1] * unit
            if is_near(ax, ay, bx, by, reach, row0, row1, width):
                ink_line(ax, ay, bx, by, reach, strength, row0, row1, ink)


@njit([(L2, F1, I2, I1, F2, X2, f64, f64, f64, f64, i64, i64, OUT_B2)], cache=True, nogil=True)
def ink_visible_outlines(
    screen, inverse, segment, start, box, depth, bias, unit, ratio, half_width, row0, row1, ink
):
    """Draw the outlines of islands where they are not hidden; see `ink_outlines`."""
    width = ink.shape[1]
    reach = half_width + 0.5
    for i in range(box.shape[0]):
        if (
            box[i, 3] + reach < row0
            or box[i, 1] - reach > row1
            or box[i, 2] + reach < 0.0
            or box[i, 0] - reach > width
        ):
            continue
        strength = 255.0 * outline_fade(box[i, 0], box[i, 1], box[i, 2], box[i, 3], ratio)
        if not strength >= 1.0:
            continue
        if is_hidden(
            box[i, 0], box[i, 1], box[i, 2], box[i, 3], box[i, 4] * (1.0 + bias), row0, row1, depth
        ):
            continue
        for n in range(start[i], start[i + 1]):
            a = u32(segment[n, 0])
            b = u32(segment[n, 1])
            if inverse[a] < 0.0 or inverse[b] < 0.0:
                continue
            ax = screen[a, 0] * unit
            ay = screen[a, 1] * unit
            bx = screen[b, 0] * unit
            by = screen[b, 1] * unit
            if is_near(ax, ay, bx, by, reach, row0, row1, width):
                ink_visible_line(
                    ax, ay, bx, by, inverse[a], inverse[b], depth, bias, reach, strength,
                    row0, row1, ink,
                )  # fmt: skip


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
