# mypy: allow-untyped-defs
"""The kernel that turns a flat id buffer into colours, one lookup per pixel."""

from __future__ import annotations

from numba import njit

from evenweave.raster.kernel_types import (
    B1,
    B2,
    I1,
    I2,
    OUT_B2,
    OUT_U2,
    U1,
    X1,
    X2,
    f32,
    i64,
    u32,
)


@njit(
    [
        (
            I2, B2, OUT_B2,  # buffers
            I2, U1,  # times each pixel is claimed, and the colours for it (none: empty)
            U1, I1, B1,  # colour and island of triangles, state of islands
            X2, X2, X1,  # checker along x and y, (tone swing, chevron swing, pixels per square)
            B1, B1, f32,  # texel grid along x and y, and its strength
            I1, I1, B2, U1,  # tiles along x and y, tiles in use, grounds
            B1, f32, f32,  # hatch, strength of wire and of ink
            i64, i64, OUT_U2,
        )
    ],
    cache=True,
    nogil=True,
)  # fmt: skip
def shade_flat(
    ids, wire, ink, claims, claim_colour,
    triangle_colour, triangle_island, island_state,
    check_x, check_y, check,
    grid_x, grid_y, grid_strength,
    tile_x, tile_y, tile_used, ground,
    hatch, wire_strength, ink_strength,
    row0, row1, rgba,
):  # fmt: skip
    """Write rows row0 to row1 of `rgba` (H, W) packed colours; empties `ink`.

    triangle_colour : colour in three bytes, above it 1 where the triangle is hatched
    claim_colour : by number of claims, in place of the triangles' colours unless it is empty
    island_state : 1 hovered
    check_x, check_y : row 0 the filtered square wave, row 1 the place inside the square
    ground : inside the tiles in use, outside
    """
    width = ids.shape[1]
    period = hatch.shape[0]
    most_claims = claim_colour.shape[0] - 1
    tone_swing = check[0]
    chevron_swing = check[1]
    square_px = check[2]
    tile_rows, tile_columns = tile_used.shape
    for y in range(row0, row1):
        wave_y = check_y[0, y]
        inside_y = check_y[1, y]
        tile_row = tile_y[y]
        row_known = 0 <= tile_row < tile_rows
        for x in range(width):
            number = ids[y, x]
            tile_column = tile_x[x]
            inside = (
                row_known
                and 0 <= tile_column < tile_columns
                and tile_used[tile_row, tile_column] != 0
            )
            ground_here = ground[0] if inside else ground[1]
            colour = ground_here
            share = f32(0.0)
            if number >= 0:
                colour = triangle_colour[u32(number)]
                if most_claims >= 0:
                    claimed = u32(min(claims[y, x], most_claims))
                    colour = (colour & u32(0xFF000000)) | claim_colour[claimed]
            red = f32(colour & 255)
            green = f32((colour >> 8) & 255)
            blue = f32((colour >> 16) & 255)
            if number >= 0:
                if tone_swing > 0.0:
                    wave = check_x[0, x] * wave_y
                    if chevron_swing > 0.0:
                        aside = abs(check_x[1, x] - f32(0.5))
                        if aside < f32(0.24):
                            off = abs(inside_y - (f32(0.68) - f32(1.1) * aside)) * f32(0.6727)
                            cover = f32(0.5) + (f32(0.05) - off) * square_px
                            edge = f32(0.5) + (f32(0.21) - aside) * square_px
                            cover = min(max(min(cover, edge), f32(0.0)), f32(1.0))
                            wave -= f32(2.0) * wave * cover * chevron_swing
                    tone = f32(1.0) - tone_swing + tone_swing * wave
                    red *= tone
                    green *= tone
                    blue *= tone
                if not inside:
                    red += (f32(ground_here & 255) - red) * f32(0.5)
                    green += (f32((ground_here >> 8) & 255) - green) * f32(0.5)
                    blue += (f32((ground_here >> 16) & 255) - blue) * f32(0.5)
                dark = f32(wire[y, x]) * wire_strength
                if colour >> 24:
                    dark = max(dark, f32(hatch[(x + y) % period]) * f32(0.6 / 255.0))
                red -= (red - f32(22.0)) * dark
                green -= (green - f32(23.0)) * dark
                blue -= (blue - f32(26.0)) * dark
                if island_state[triangle_island[number]] & 1:
                    red += (f32(255.0) - red) * f32(0.3)
                    green += (f32(255.0) - green) * f32(0.3)
                    blue += (f32(255.0) - blue) * f32(0.3)
            share = f32(ink[y, x]) * ink_strength
            if grid_strength > 0.0:
                share = max(share, f32(max(grid_x[x], grid_y[y])) * grid_strength)
            if share > 0.0:
                ink[y, x] = 0
                red -= (red - f32(22.0)) * share
                green -= (green - f32(23.0)) * share
                blue -= (blue - f32(26.0)) * share
            rgba[y, x] = (
                u32(red + f32(0.5))
                | (u32(green + f32(0.5)) << u32(8))
                | (u32(blue + f32(0.5)) << u32(16))
                | u32(0xFF000000)
            )
