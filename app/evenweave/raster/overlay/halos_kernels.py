# mypy: allow-untyped-defs
"""Kernels of halos: distances to the nearest islands, and the picture of them."""

from __future__ import annotations

import numpy as np
from numba import njit, types

from evenweave.raster.kernel_types import (
    F1,
    F2,
    I1,
    I2,
    I3,
    OUT_I3,
    OUT_U2,
    OUT_X3,
    X3,
    f32,
    f64,
    i64,
)
from evenweave.raster.overlay.blocks_kernels import blend

SIZE = types.UniTuple(i64, 2)


@njit([(F2, I1, I1, f64, f64, OUT_X3, OUT_X3, OUT_I3)], cache=True, nogil=True)
def near_distances(piece, island, tile, step, reach, nearest, second, owner):
    """Lower the distances at samples within `reach` texels of pieces of outline.

    piece : (N, 4) x0, y0, x1, y1 in texels; island : (N,); tile : (N,) index, -1 to leave out
    sample (row, column) lies at ((column + 0.5) * step, (row + 0.5) * step)
    nearest, second : to the island in `owner` and to any other
    """
    rows = nearest.shape[1]
    columns = nearest.shape[2]
    for n in range(piece.shape[0]):
        k = tile[n]
        if k < 0:
            continue
        ax = piece[n, 0]
        ay = piece[n, 1]
        dx = piece[n, 2] - ax
        dy = piece[n, 3] - ay
        length2 = dx * dx + dy * dy
        per_length2 = 1.0 / length2 if length2 > 0.0 else 0.0
        x0 = max(int(np.floor((min(ax, ax + dx) - reach) / step - 0.5)), 0)
        x1 = min(int(np.ceil((max(ax, ax + dx) + reach) / step - 0.5)), columns - 1)
        y0 = max(int(np.floor((min(ay, ay + dy) - reach) / step - 0.5)), 0)
        y1 = min(int(np.ceil((max(ay, ay + dy) + reach) / step - 0.5)), rows - 1)
        for y in range(y0, y1 + 1):
            py = (y + 0.5) * step - ay
            for x in range(x0, x1 + 1):
                px = (x + 0.5) * step - ax
                along = min(max((px * dx + py * dy) * per_length2, 0.0), 1.0)
                ox = px - along * dx
                oy = py - along * dy
                square = ox * ox + oy * oy
                if square > reach * reach or square >= f64(second[k, y, x]) ** 2:
                    continue
                away = f32(np.sqrt(square))
                if owner[k, y, x] == island[n]:
                    nearest[k, y, x] = min(nearest[k, y, x], away)
                elif away < nearest[k, y, x]:
                    second[k, y, x] = nearest[k, y, x]
                    nearest[k, y, x] = away
                    owner[k, y, x] = island[n]
                else:
                    second[k, y, x] = min(second[k, y, x], away)


@njit(cache=True, nogil=True)
def two_distances(nearest, second, owner, k, x, y):
    """Return the distances to the nearest island and the next between samples.

    Each island's distance is followed by itself, for the lesser of two has an edge where they
    are alike; the outermost samples go on beyond.
    """
    rows = nearest.shape[1]
    columns = nearest.shape[2]
    x = min(max(x, 0.0), columns - 1.0)
    y = min(max(y, 0.0), rows - 1.0)
    x0 = int(x)
    y0 = int(y)
    first = owner[k, y0, x0]
    one = 0.0
    other = 0.0
    for step in range(4):
        row = min(y0 + step // 2, rows - 1)
        column = min(x0 + step % 2, columns - 1)
        weight = (y - y0 if step // 2 else 1.0 - (y - y0)) * (
            x - x0 if step % 2 else 1.0 - (x - x0)
        )
        if owner[k, row, column] == first:
            one += weight * nearest[k, row, column]
            other += weight * second[k, row, column]
        else:
            one += weight * second[k, row, column]
            other += weight * nearest[k, row, column]
    return min(one, other), max(one, other)


@njit(
    [
        (
            I2, I1, I1, I2, F1, F1, X3, X3, I3, f64, SIZE,
            f64, f64, f64, f64, i64, i64, i64, OUT_U2,
        )
    ],
    cache=True,
    nogil=True,
)  # fmt: skip
def shade_halos(
    ids, tile_x, tile_y, number, texel_x, texel_y, nearest, second, owner, step, size,
    half, margin, px_per_texel, ratio, period, row0, row1, rgba,
):  # fmt: skip
    """Draw rows row0 to row1: pale halos with a rim, dark where two meet, stripes in the margin."""
    for y in range(row0, row1):
        if tile_y[y] < 0:
            continue
        edge_y = min(texel_y[y], size[1] - texel_y[y])
        for x in range(ids.shape[1]):
            if tile_x[x] < 0:
                continue
            k = number[tile_y[y], tile_x[x]]
            if k < 0:
                continue
            colour = rgba[y, x]
            edge = min(min(texel_x[x], size[0] - texel_x[x]), edge_y)
            inside = min(max((margin - edge) * px_per_texel + 0.5, 0.0), 1.0)
            if inside > 0.0 and ids[y, x] >= 0:
                striped = (x - y) % period < (period + 1) // 2
                if striped:
                    colour = blend(colour, f32(16.0), f32(16.0), f32(18.0), f32(0.75 * inside))
            elif inside > 0.0:
                colour = blend(colour, f32(250.0), f32(250.0), f32(250.0), f32(0.13 * inside))
                rim = min(max(0.6 * ratio + 0.5 - abs(margin - edge) * px_per_texel, 0.0), 1.0)
                colour = blend(colour, f32(250.0), f32(250.0), f32(250.0), f32(0.45 * rim))
            if ids[y, x] < 0 and half > 0.0:
                away, other = two_distances(
                    nearest, second, owner, k, texel_x[x] / step - 0.5, texel_y[y] / step - 0.5
                )
                halo = min(max((half - away) * px_per_texel + 0.5, 0.0), 1.0)
                if halo > 0.0:
                    meets = min(max((half - other) * px_per_texel + 0.5, 0.0), 1.0)
                    rim = min(max(0.6 * ratio + 0.5 - abs(half - away) * px_per_texel, 0.0), 1.0)
                    pale = 0.34 * halo + 0.4 * rim
                    colour = blend(
                        colour, f32(250.0), f32(250.0), f32(250.0), f32(pale * (1.0 - meets))
                    )
                    colour = blend(colour, f32(16.0), f32(16.0), f32(18.0), f32(0.85 * meets))
            rgba[y, x] = colour
