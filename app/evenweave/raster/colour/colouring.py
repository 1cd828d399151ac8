"""Colours of triangles, packed one number each, as `Paint.triangle_colour` wants them."""

from __future__ import annotations

import math

import numpy as np

from evenweave.arrays import ByteArray, FloatArray, IntArray
from evenweave.raster.bands import over_bands
from evenweave.raster.colour.colouring_kernels import colour_values
from evenweave.raster.colour.colours import ASIDE, UNKNOWN, Colour, packed
from evenweave.raster.colour.paint import Packed


def packed_table(table: ByteArray) -> Packed:
    """Return (N,) uint32 of (N, 3) uint8 colours."""
    wide = table.astype(np.uint32)
    return np.asarray(wide @ np.array([1, 1 << 8, 1 << 16], dtype=np.uint32), dtype=np.uint32)


def value_colours(
    value: FloatArray,
    table: ByteArray,
    *,
    span: tuple[float, float],
    brush: tuple[float, float] | None,
    mark: ByteArray,
) -> Packed:
    """Return (T,) colours of values over `span`; those outside `brush` are set aside in grey.

    mark : (T,) uint8, put above the colour (1 hatches)
    """
    low, high = span
    brush_low, brush_high = brush or (-math.inf, math.inf)
    if brush and brush_low <= low:
        brush_low = -math.inf
    if brush and brush_high >= high:
        brush_high = math.inf
    colour = np.empty(len(value), dtype=np.uint32)
    special = np.array([packed(UNKNOWN), packed(ASIDE)], dtype=np.uint32)
    packed_colours = packed_table(table)
    over_bands(
        len(value),
        lambda first, end: colour_values(
            value, low, high, packed_colours, brush_low, brush_high, special, mark, colour,
            first, end,
        ),
    )  # fmt: skip
    return colour


def island_tones(tones: ByteArray, triangle_island: IntArray, mark: ByteArray) -> Packed:
    """Return (T,) colours of the triangles' islands, from (I, 3) tones."""
    return _marked(packed_table(tones)[triangle_island], mark)


def one_tone(tone: Colour, mark: ByteArray) -> Packed:
    """Return (T,) times the same colour, plus marks."""
    return _marked(np.full(len(mark), packed(tone), dtype=np.uint32), mark)


def _marked(colour: Packed, mark: ByteArray) -> Packed:
    np.bitwise_or(colour, np.left_shift(mark, np.uint32(24), dtype=np.uint32), out=colour)
    return colour
