"""Lines and rings over a finished picture."""

from __future__ import annotations

import numpy as np

from evenweave.arrays import ByteArray, FloatArray, IntArray
from evenweave.raster.bands import over_bands
from evenweave.raster.colour.colours import Colour
from evenweave.raster.colour.paint import Dots, Lines
from evenweave.raster.ink.dash_kernels import ink_dashes
from evenweave.raster.ink.ink_kernels import ink_segments, spend_ink

_CASING_PX = 1.2
_RING_CORNERS = 24


def draw_lines(
    rgba: ByteArray, ink: ByteArray, lines: Lines, point_px: FloatArray, ratio: float
) -> None:
    """Draw lines whose points lie at `point_px` (N, 2) over a picture (H, W, 4)."""
    if len(lines.segment) == 0:
        return
    half = lines.width_px / 2 * ratio
    if lines.casing is not None:
        stroke(
            rgba, ink, point_px, lines.segment,
            half_width=half + _CASING_PX * ratio, colour=lines.casing, strength=lines.strength,
        )  # fmt: skip
    stroke(
        rgba, ink, point_px, lines.segment,
        half_width=half, colour=lines.colour, strength=lines.strength,
        dash=dash_px(lines, ratio),
    )  # fmt: skip


def dash_px(lines: Lines, ratio: float) -> tuple[float, float] | None:
    """Return period and length of the dashes in device pixels; None where lines have none."""
    return (lines.dash[0] * ratio, lines.dash[1] * ratio) if lines.dash else None


def dash_starts(point_px: FloatArray, segment: IntArray) -> FloatArray:
    """Return (S,) the length in pixels of all segments before each, so that dashes go on."""
    way = point_px[segment[:, 1]] - point_px[segment[:, 0]]
    length = np.nan_to_num(np.hypot(way[:, 0], way[:, 1]), nan=0.0, posinf=0.0)
    return np.asarray(np.cumsum(length) - length)


def draw_dots(
    rgba: ByteArray, ink: ByteArray, dots: Dots, point_px: FloatArray, ratio: float
) -> None:
    """Draw rings round the places at `point_px` (N, 2)."""
    if len(point_px) == 0:
        return
    turn = np.arange(_RING_CORNERS) * (2 * np.pi / _RING_CORNERS)
    circle = np.column_stack((np.cos(turn), np.sin(turn))) * dots.radius_px * ratio
    point, segment = closed_rings(point_px[:, None, :] + circle[None])
    ring = Lines(point, segment, dots.colour, width_px=2.0, casing=dots.casing)
    draw_lines(rgba, ink, ring, point, ratio)


def closed_rings(ring: FloatArray) -> tuple[FloatArray, IntArray]:
    """Return points and segments of R rings of n corners, (R, n, 2) -> (R n, 2), (R n, 2)."""
    count, corners, _ = ring.shape
    index = np.arange(count * corners, dtype=np.int32).reshape(count, corners)
    segment = np.stack((index, np.roll(index, -1, axis=1)), axis=-1).reshape(-1, 2)
    return np.ascontiguousarray(ring.reshape(-1, 2)), np.ascontiguousarray(segment)


def stroke(
    rgba: ByteArray,
    ink: ByteArray,
    point_px: FloatArray,
    segment: IntArray,
    *,
    half_width: float,
    colour: Colour,
    strength: float,
    dash: tuple[float, float] | None = None,
) -> None:
    """Draw segments (S, 2) of points (N, 2) in one colour; `ink` is empty before and after.

    dash : period and length of the dashes in pixels, or None
    """
    start = dash_starts(point_px, segment) if dash else None

    def band(row0: int, row1: int) -> None:
        if dash is None or start is None:
            ink_segments(point_px, segment, half_width, row0, row1, ink)
        else:
            ink_dashes(point_px, segment, start, half_width, *dash, row0, row1, ink)

    over_bands(rgba.shape[0], band)
    spend(rgba, ink, colour=colour, strength=strength)


def spend(rgba: ByteArray, ink: ByteArray, *, colour: Colour, strength: float) -> None:
    """Blend all ink into the picture in one colour; `ink` is empty afterwards."""
    red, green, blue = colour

    def band(row0: int, row1: int) -> None:
        spend_ink(rgba, ink, red, green, blue, strength, row0, row1)

    over_bands(rgba.shape[0], band)
