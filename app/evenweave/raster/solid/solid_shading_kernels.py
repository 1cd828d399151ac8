# mypy: allow-untyped-defs
"""The kernel that colours the id picture of an object."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit, types

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
from evenweave.raster.tint_kernels import Tint, packed_tint, scaled, towards

AMBIENT = 0.64  # brightness of a face seen edge-on
BACK = 0.75  # brightness of the back of a face


class Shape(NamedTuple):
    """The object: point (P, 3), triangle (T, 3), uv (N, 2) and triangle_uv (T, 3), -1 if none."""

    point: np.ndarray
    triangle: np.ndarray
    uv: np.ndarray
    triangle_uv: np.ndarray


class Sight(NamedTuple):
    """The viewer: eye (3,); ray (3, 3) at the corner, and its steps right and down; light (3,)."""

    eye: np.ndarray
    ray: np.ndarray
    light: np.ndarray


class SolidCoat(NamedTuple):
    """The paint: colour in three bytes, above it 1 where hatched, and island of each triangle.

    island_state : (I,) 1 hovered; hatch : one period of it; wire, ink : strength of a full one
    check : squares per tile along u and v, swing (0: no checker), size in pixels at which squares
    are gone and full, and chevrons gone and full; ground : packed
    """

    triangle_colour: np.ndarray
    triangle_island: np.ndarray
    island_state: np.ndarray
    hatch: np.ndarray
    wire: float
    ink: float
    check: np.ndarray
    ground: np.uint32


SHAPE = types.NamedTuple((F2, I2, F2, I2), Shape)
SIGHT = types.NamedTuple((F1, F2, F1), Sight)
COAT = types.NamedTuple((U1, I1, B1, B1, f64, f64, F1, u32), SolidCoat)


@njit(cache=True, nogil=True)
def face_tone(point, pa, pb, pc, light, dx, dy, dz):
    """Return the brightness of a face that a ray d meets; its back is darker."""
    x1, y1, z1 = point[pa, 0], point[pa, 1], point[pa, 2]
    x2, y2, z2 = point[pb, 0] - x1, point[pb, 1] - y1, point[pb, 2] - z1
    x3, y3, z3 = point[pc, 0] - x1, point[pc, 1] - y1, point[pc, 2] - z1
    nx, ny, nz = y2 * z3 - z2 * y3, z2 * x3 - x2 * z3, x2 * y3 - y2 * x3
    length = np.sqrt(nx * nx + ny * ny + nz * nz)
    lit = 0.0
    if length > 0.0:
        lit = (nx * light[0] + ny * light[1] + nz * light[2]) / length
    is_back = nx * dx + ny * dy + nz * dz > 0.0
    tone = AMBIENT + (1.0 - AMBIENT) * max(-lit if is_back else lit, 0.0)
    return tone * BACK if is_back else tone


@njit(cache=True, nogil=True)
def write_facet(facet, point, triangle, uv, triangle_uv, eye, check, number):
    """Write a triangle as rays meet it: (3, 5) weight vector and squares along u, v by corner.

    The weights of the corners under a ray d from the eye are d . (b x c), d . (c x a) and
    d . (a x b): right in perspective and for what crosses the near plane.
    """
    for n in range(3):
        p = u32(triangle[number, (n + 1) % 3])
        q = u32(triangle[number, (n + 2) % 3])
        x1, y1, z1 = point[p, 0] - eye[0], point[p, 1] - eye[1], point[p, 2] - eye[2]
        x2, y2, z2 = point[q, 0] - eye[0], point[q, 1] - eye[1], point[q, 2] - eye[2]
        facet[n, 0] = y1 * z2 - z1 * y2
        facet[n, 1] = z1 * x2 - x1 * z2
        facet[n, 2] = x1 * y2 - y1 * x2
        place = u32(triangle_uv[number, n])
        facet[n, 3] = uv[place, 0] * check[0]
        facet[n, 4] = uv[place, 1] * check[1]
    # Whole squares say nothing; taking them off keeps the digits.
    for axis in range(3, 5):
        base = np.floor(facet[0, axis] * 0.5) * 2.0
        for n in range(3):
            facet[n, axis] -= base


@njit(cache=True, nogil=True)
def squares_step(facet, u, v, dx, dy, dz):
    """Return by how many squares u and v change with a step of the ray, before scaling."""
    wa = dx * facet[0, 0] + dy * facet[0, 1] + dz * facet[0, 2]
    wb = dx * facet[1, 0] + dy * facet[1, 1] + dz * facet[1, 2]
    wc = dx * facet[2, 0] + dy * facet[2, 1] + dz * facet[2, 2]
    return (
        wa * (facet[0, 3] - u) + wb * (facet[1, 3] - u) + wc * (facet[2, 3] - u),
        wa * (facet[0, 4] - v) + wb * (facet[1, 4] - v) + wc * (facet[2, 4] - v),
    )


@njit(cache=True, nogil=True)
def square_wave(u, v, u_width, v_width, square_px, check):
    """Return the checker, -1 to 1, at a place counted in squares; u_width : squares per pixel."""
    fade = min(max((square_px - check[3]) / (check[4] - check[3]), 0.0), 1.0)
    if fade <= 0.0:
        return 0.0
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
    return wave


@njit(cache=True, nogil=True)
def checker_tone(facet, ray, check, dx, dy, dz):
    """Return the brightness of the checker where the ray d meets a facet."""
    wa = dx * facet[0, 0] + dy * facet[0, 1] + dz * facet[0, 2]
    wb = dx * facet[1, 0] + dy * facet[1, 1] + dz * facet[1, 2]
    wc = dx * facet[2, 0] + dy * facet[2, 1] + dz * facet[2, 2]
    total = wa + wb + wc
    if total == 0.0:
        return 1.0
    inverse = 1.0 / total
    u = (wa * facet[0, 3] + wb * facet[1, 3] + wc * facet[2, 3]) * inverse
    v = (wa * facet[0, 4] + wb * facet[1, 4] + wc * facet[2, 4]) * inverse
    u_right, v_right = squares_step(facet, u, v, ray[1, 0], ray[1, 1], ray[1, 2])
    u_down, v_down = squares_step(facet, u, v, ray[2, 0], ray[2, 1], ray[2, 2])
    u_width = np.sqrt(u_right * u_right + u_down * u_down) * abs(inverse) + 1e-9
    v_width = np.sqrt(v_right * v_right + v_down * v_down) * abs(inverse) + 1e-9
    square_px = 1.0 / max(u_width, v_width)
    wave = square_wave(u, v, u_width, v_width, square_px, check)
    return 1.0 - check[2] + check[2] * wave


@njit(cache=True, nogil=True)
def full_tint(colour):
    """Return a packed colour's channels, in float64."""
    return Tint(float(colour & 255), float((colour >> 8) & 255), float((colour >> 16) & 255))


@njit([(I2, B2, SHAPE, SIGHT, COAT, i64, i64, OUT_B2, OUT_U2)], cache=True, nogil=True)
def shade_solid(ids, wire, shape, sight, coat, row0, row1, ink, rgba):
    """Write rows row0 to row1 of `rgba` (H, W) packed colours; empties `ink`."""
    point, triangle, uv, triangle_uv = shape
    eye, ray, light = sight
    triangle_colour, triangle_island, island_state, hatch, wire_full, ink_full, check, _ = coat
    period = hatch.shape[0]
    last = -1
    tone = 1.0
    facet = np.empty((3, 5))
    is_checked = False
    ground = full_tint(coat.ground)
    dark_ink = Tint(22.0, 23.0, 26.0)
    white = Tint(255.0, 255.0, 255.0)
    for y in range(row0, row1):
        for x in range(ids.shape[1]):
            number = ids[y, x]
            share = ink[y, x] * ink_full
            tint = ground
            if number >= 0:
                dx = ray[0, 0] + (x + 0.5) * ray[1, 0] + (y + 0.5) * ray[2, 0]
                dy = ray[0, 1] + (x + 0.5) * ray[1, 1] + (y + 0.5) * ray[2, 1]
                dz = ray[0, 2] + (x + 0.5) * ray[1, 2] + (y + 0.5) * ray[2, 2]
                if number != last:
                    last = number
                    pa, pb, pc = triangle[number, 0], triangle[number, 1], triangle[number, 2]
                    tone = face_tone(point, u32(pa), u32(pb), u32(pc), light, dx, dy, dz)
                    is_checked = check[2] > 0.0 and triangle_uv[u32(number), 0] >= 0
                    if is_checked:
                        write_facet(
                            facet, point, triangle, uv, triangle_uv, eye, check, u32(number)
                        )
                brightness = tone
                if is_checked:
                    brightness *= checker_tone(facet, ray, check, dx, dy, dz)
                colour = triangle_colour[u32(number)]
                tint = scaled(full_tint(colour), brightness)
                dark = wire[y, x] * wire_full
                if colour >> 24:
                    dark = max(dark, hatch[(x + y) % period] * (0.6 / 255.0))
                share = max(share, dark)
                if island_state[u32(triangle_island[u32(number)])] & 1:
                    tint = towards(tint, white, 0.3)
            ink[y, x] = 0
            rgba[y, x] = packed_tint(towards(tint, dark_ink, share), 0.5)
