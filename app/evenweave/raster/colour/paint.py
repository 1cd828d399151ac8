"""`Paint`: everything a renderer needs to colour what it has rasterised, as plain arrays."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from evenweave.arrays import ByteArray, FloatArray, IntArray
from evenweave.raster.colour.colours import Colour
from evenweave.raster.overlay.blocks import Blocks
from evenweave.raster.overlay.halos import Halos

Packed = NDArray[np.uint32]  # colours as one number each, red in the lowest byte

HATCHED = 1 << 24  # in `Paint.triangle_colour`
HOVERED = 1  # in `Paint.island_state`


@dataclass(frozen=True, eq=False)
class Outlines:
    """Lines round islands, on the mesh's own points.

    segment : (S, 2) int32 points; island i has rows start[i] to start[i + 1], start : (I + 1,)
    bounds : (I, 2 A) low and high corner of the islands: tiny ones go without an outline
    """

    segment: IntArray
    start: IntArray
    bounds: FloatArray


def no_outlines() -> Outlines:
    """Return outlines of nothing."""
    return Outlines(np.zeros((0, 2), dtype=np.int32), np.zeros(1, dtype=np.int32), np.zeros((0, 6)))


@dataclass(frozen=True, eq=False)
class Lines:
    """Antialiased segments in one colour.

    point : (N, A) float64 in the coordinates of the picture (uv, or metres); A = 2 or 3
    segment : (S, 2) int32 index of points; width_px : in pixels of a plain display
    casing : colour of a wider line beneath, or None; is_on_top : seen through surfaces (3D)
    dash : period and length of a dash in pixels, going on from each segment to the next; or None
    """

    point: FloatArray
    segment: IntArray
    colour: Colour
    width_px: float = 1.2
    strength: float = 1.0
    casing: Colour | None = None
    is_on_top: bool = False
    dash: tuple[float, float] | None = None


@dataclass(frozen=True, eq=False)
class Dots:
    """Marked places: rings of one size on the screen. point : (N, A) float64, as in `Lines`."""

    point: FloatArray
    colour: Colour
    radius_px: float = 7.0
    casing: Colour | None = None


@dataclass(frozen=True, eq=False)
class Paint:
    """How to colour a picture.

    triangle_colour : (T,) uint32 red, green, blue from the lowest byte; plus HATCHED
    triangle_island : (T,) int32; island_state : (I,) uint8, HOVERED or 0
    checker : squares per tile along u and v, or None
    wire : 0 to 1; texel_grid : texels per tile along u and v, or None
    outlines : drawn dark, in outline_strength
    tiles : (K, 2) int32 column and row of the tiles in use
    claim_colour : (N,) uint32 packed colours by how often a pixel is covered (flat pictures only;
    the last stands for more); empty where triangles keep their colours
    blocks, halos : texel blocks of a mip level, and the room islands need; flat pictures only
    pixel_ratio : device pixels per pixel of a plain display; widths follow it
    """

    triangle_colour: Packed
    triangle_island: IntArray
    island_state: ByteArray
    checker: tuple[float, float] | None = None
    wire: float = 0.0
    texel_grid: tuple[int, int] | None = None
    outlines: Outlines = field(default_factory=no_outlines)
    outline_strength: float = 0.85
    tiles: tuple[tuple[int, int], ...] = ((0, 0),)
    lines: tuple[Lines, ...] = ()
    dots: tuple[Dots, ...] = ()
    claim_colour: Packed = field(default_factory=lambda: np.zeros(0, dtype=np.uint32))
    blocks: Blocks | None = None
    halos: Halos | None = None
    pixel_ratio: float = 1.0
