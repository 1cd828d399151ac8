# mypy: allow-untyped-defs
"""The kernel that draws the texel blocks of a mip level over a flat picture."""

from __future__ import annotations

from numba import njit

from evenweave.raster.kernel_types import F1, I1, I2, I3, OUT_U2, U1, f32, f64, i64, u32

GROWN = 0.62  # how strongly the ground takes the tone of the island that a block holds
MARKED = 0.8  # how dark a block of several islands is


@njit(cache=True, nogil=True)
def blend(colour, red, green, blue, share):
    """Return a packed colour moved towards another."""
    r = f32(colour & 255)
    g = f32((colour >> 8) & 255)
    b = f32((colour >> 16) & 255)
    r += (red - r) * share
    g += (green - g) * share
    b += (blue - b) * share
    return (
        u32(r + f32(0.5))
        | (u32(g + f32(0.5)) << u32(8))
        | (u32(b + f32(0.5)) << u32(16))
        | u32(0xFF000000)
    )


@njit(
    [(I2, I1, I1, I2, I1, I1, F1, F1, I3, U1, f64, f64, f64, f64, i64, i64, OUT_U2)],
    cache=True,
    nogil=True,
)
def shade_blocks(
    ids, tile_x, tile_y, number, column, row, inside_x, inside_y,
    holds, tone, block_px, ratio, border, cross, row0, row1, rgba,
):  # fmt: skip
    """Draw rows row0 to row1: grown islands, dark crossed blocks of several, block borders.

    border, cross : strength of both, 0 to 1; the rest as in `Blocks` and `TilePlaces`
    """
    half = 0.8 * ratio
    for y in range(row0, row1):
        if tile_y[y] < 0:
            continue
        for x in range(ids.shape[1]):
            if tile_x[x] < 0:
                continue
            tile = number[tile_y[y], tile_x[x]]
            if tile < 0:
                continue
            held = holds[tile, row[y], column[x]]
            colour = rgba[y, x]
            if held >= 0 and ids[y, x] < 0:
                own = tone[held]
                colour = blend(
                    colour,
                    f32(own & 255),
                    f32((own >> 8) & 255),
                    f32((own >> 16) & 255),
                    f32(GROWN),
                )
            elif held == -2:
                colour = blend(colour, f32(16.0), f32(16.0), f32(18.0), f32(MARKED))
                if cross > 0.0:
                    fx = inside_x[x]
                    fy = inside_y[y]
                    away = min(abs(fx - fy), abs(fx + fy - 1.0)) * block_px * 0.70710678
                    cover = min(max(half + 0.5 - away, 0.0), 1.0) * cross
                    colour = blend(colour, f32(250.0), f32(250.0), f32(250.0), f32(0.85 * cover))
            if border > 0.0:
                is_edge = x > 0 and (column[x] != column[x - 1] or tile_x[x] != tile_x[x - 1])
                is_edge |= y > 0 and (row[y] != row[y - 1] or tile_y[y] != tile_y[y - 1])
                if is_edge:
                    colour = blend(colour, f32(22.0), f32(23.0), f32(26.0), f32(border))
            rgba[y, x] = colour
