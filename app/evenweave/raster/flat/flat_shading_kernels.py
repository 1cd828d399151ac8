# mypy: allow-untyped-defs
"""The kernel that turns a flat id buffer into colours, one lookup per pixel."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit, types

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
from evenweave.raster.tint_kernels import Tint, packed_tint, scaled, towards


class FlatSeen(NamedTuple):
    """What is seen: ids, wire, and how many triangles claim each pixel; all (H, W).

    claim_colour : by number of claims, in place of the triangles' colours unless it is empty
    """

    ids: np.ndarray
    wire: np.ndarray
    claims: np.ndarray
    claim_colour: np.ndarray


class Coat(NamedTuple):
    """The paint of triangles: colour in three bytes, above it 1 where hatched; and its island.

    island_state : (I,) 1 hovered; hatch : one period of it; wire, ink : strength of a full one
    """

    triangle_colour: np.ndarray
    triangle_island: np.ndarray
    island_state: np.ndarray
    hatch: np.ndarray
    wire: np.float32
    ink: np.float32


class FlatChecker(NamedTuple):
    """The checker, (2, W) and (2, H): the filtered square wave and the place inside the square.

    size : tone swing (0: no checker), chevron swing, pixels per square
    """

    x: np.ndarray
    y: np.ndarray
    size: np.ndarray


class Plane(NamedTuple):
    """The ground: texel grid along x and y and its strength; tiles along x and y; those in use.

    colour : inside the tiles in use, outside
    """

    grid_x: np.ndarray
    grid_y: np.ndarray
    grid_strength: np.float32
    tile_x: np.ndarray
    tile_y: np.ndarray
    tile_used: np.ndarray
    colour: np.ndarray


SEEN = types.NamedTuple((I2, B2, I2, U1), FlatSeen)
COAT = types.NamedTuple((U1, I1, B1, B1, f32, f32), Coat)
CHECKER = types.NamedTuple((X2, X2, X1), FlatChecker)
PLANE = types.NamedTuple((B1, B1, f32, I1, I1, B2, U1), Plane)


@njit(cache=True, nogil=True)
def tint_of(colour):
    """Return a packed colour's channels, in float32."""
    return Tint(f32(colour & 255), f32((colour >> 8) & 255), f32((colour >> 16) & 255))


@njit(cache=True, nogil=True)
def checker_tone(wave, aside, inside_y, tone_swing, chevron_swing, square_px):
    """Return the brightness in a checker. wave : -1 to 1; aside : from the square's middle."""
    if chevron_swing > 0.0 and aside < f32(0.24):
        off = abs(inside_y - (f32(0.68) - f32(1.1) * aside)) * f32(0.6727)
        cover = f32(0.5) + (f32(0.05) - off) * square_px
        edge = f32(0.5) + (f32(0.21) - aside) * square_px
        cover = min(max(min(cover, edge), f32(0.0)), f32(1.0))
        wave -= f32(2.0) * wave * cover * chevron_swing
    return f32(1.0) - tone_swing + tone_swing * wave


@njit([(SEEN, COAT, CHECKER, PLANE, i64, i64, OUT_B2, OUT_U2)], cache=True, nogil=True)
def shade_flat(seen, coat, checker, plane, row0, row1, ink, rgba):
    """Write rows row0 to row1 of `rgba` (H, W) packed colours; empties `ink`."""
    ids, wire, claims, claim_colour = seen
    triangle_colour, triangle_island, island_state, hatch, wire_strength, ink_strength = coat
    check_x, check_y, check = checker
    grid_x, grid_y, grid_strength, tile_x, tile_y, tile_used, ground = plane
    period = hatch.shape[0]
    most_claims = claim_colour.shape[0] - 1
    tone_swing, chevron_swing, square_px = check[0], check[1], check[2]
    tile_rows, tile_columns = tile_used.shape
    dark_ink = Tint(f32(22.0), f32(23.0), f32(26.0))
    white = Tint(f32(255.0), f32(255.0), f32(255.0))
    for y in range(row0, row1):
        wave_y = check_y[0, y]
        inside_y = check_y[1, y]
        tile_row = tile_y[y]
        row_known = 0 <= tile_row < tile_rows
        for x in range(ids.shape[1]):
            number = ids[y, x]
            column = tile_x[x]
            inside = row_known and 0 <= column < tile_columns and tile_used[tile_row, column] != 0
            ground_here = ground[0] if inside else ground[1]
            tint = tint_of(ground_here)
            if number >= 0:
                colour = triangle_colour[u32(number)]
                if most_claims >= 0:
                    claimed = u32(min(claims[y, x], most_claims))
                    colour = (colour & u32(0xFF000000)) | claim_colour[claimed]
                tint = tint_of(colour)
                if tone_swing > 0.0:
                    aside = abs(check_x[1, x] - f32(0.5))
                    wave = check_x[0, x] * wave_y
                    tint = scaled(
                        tint,
                        checker_tone(wave, aside, inside_y, tone_swing, chevron_swing, square_px),
                    )
                if not inside:
                    tint = towards(tint, tint_of(ground_here), f32(0.5))
                dark = f32(wire[y, x]) * wire_strength
                if colour >> 24:
                    dark = max(dark, f32(hatch[(x + y) % period]) * f32(0.6 / 255.0))
                tint = towards(tint, dark_ink, dark)
                if island_state[triangle_island[number]] & 1:
                    tint = towards(tint, white, f32(0.3))
            share = f32(ink[y, x]) * ink_strength
            if grid_strength > 0.0:
                share = max(share, f32(max(grid_x[x], grid_y[y])) * grid_strength)
            if share > 0.0:
                ink[y, x] = 0
                tint = towards(tint, dark_ink, share)
            rgba[y, x] = packed_tint(tint, f32(0.5))
