"""Patterns that depend on the view alone, worked out once per column and row."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from evenweave.arrays import ByteArray, FloatArray, IntArray
from evenweave.raster.camera import FlatView

Singles = NDArray[np.float32]

TONE_SWING = 0.13  # the dark squares have 1 - 2 * 0.13 of the light ones' brightness
_SQUARE_NONE_PX, _SQUARE_FULL_PX = 1.5, 4.0
_CHEVRON_NONE_PX, _CHEVRON_FULL_PX = 7.0, 14.0
_TEXEL_NONE_PX, _TEXEL_FULL_PX = 7.0, 16.0
_LARGEST_TILE_SPAN = 512


def pixel_centres(view: FlatView) -> tuple[FloatArray, FloatArray]:
    """Return u (W,) of the columns' and v (H,) of the rows' pixel centres."""
    u = view.u + (np.arange(view.width, dtype=np.float64) + 0.5 - view.width / 2) / view.scale
    v = view.v - (np.arange(view.height, dtype=np.float64) + 0.5 - view.height / 2) / view.scale
    return u, v


def ramp(value: float, none: float, full: float) -> float:
    """Return 0 at `none` and below, 1 at `full` and above, straight between."""
    return min(max((value - none) / (full - none), 0.0), 1.0)


def checker_swing(square_px: float, ratio: float) -> tuple[float, float]:
    """Return how strongly squares and chevrons of this size are drawn: small ones fade."""
    tone = TONE_SWING if square_px > 0 else 0.0
    squares = ramp(square_px, _SQUARE_NONE_PX, _SQUARE_FULL_PX)
    chevrons = ramp(square_px / ratio, _CHEVRON_NONE_PX, _CHEVRON_FULL_PX)
    return tone, squares * chevrons if squares > 0 else 0.0


def checker_wave(
    view: FlatView, checker: tuple[float, float] | None, ratio: float
) -> tuple[Singles, Singles, Singles]:
    """Return the checker along x (2, W) and y (2, H), and (tone, chevron, pixels per square).

    Row 0: +1 or -1 by square, averaged over the pixel and fading as squares become small.
    Row 1: place inside the square, 0 to 1, v up.
    """
    if checker is None:
        return (
            np.zeros((2, view.width), dtype=np.float32),
            np.zeros((2, view.height), dtype=np.float32),
            np.array([0.0, 0.0, 1.0], dtype=np.float32),
        )
    x, y = pixel_centres(view)
    pixels = (view.scale / checker[0], view.scale / checker[1])
    tone, chevron = checker_swing(min(pixels), ratio)
    return (
        _wave(x * checker[0], pixels[0]),
        _wave(y * checker[1], pixels[1]),
        np.array([tone, chevron, min(pixels)], dtype=np.float32),
    )


def _wave(square: FloatArray, square_px: float) -> Singles:
    whole = np.floor(square)
    inside = square - whole
    sign = 1.0 - 2.0 * (whole % 2)
    border_px = np.minimum(inside, 1.0 - inside) * square_px
    fade = ramp(square_px, _SQUARE_NONE_PX, _SQUARE_FULL_PX)
    return np.stack((sign * np.minimum(2.0 * border_px, 1.0) * fade, inside)).astype(np.float32)


def grid_lines(
    view: FlatView, texels: tuple[int, int] | None, ratio: float
) -> tuple[ByteArray, ByteArray, float]:
    """Return the coverage (W,), (H,) of texel borders by column and row, and their strength."""
    if texels is None:
        return np.zeros(view.width, np.uint8), np.zeros(view.height, np.uint8), 0.0
    strength = ramp(view.scale / max(texels) / ratio, _TEXEL_NONE_PX, _TEXEL_FULL_PX)
    x, y = pixel_centres(view)
    return (
        _line_cover(x * texels[0], view.scale / texels[0], ratio),
        _line_cover(y * texels[1], view.scale / texels[1], ratio),
        strength * 0.3 / 255.0,
    )


def _line_cover(texel: FloatArray, texel_px: float, ratio: float) -> ByteArray:
    distance = np.abs(texel - np.round(texel)) * texel_px
    return (np.clip(0.5 + 0.5 * ratio - distance, 0.0, 1.0) * 255.0).astype(np.uint8)


def tile_numbers(
    view: FlatView, tiles: tuple[tuple[int, int], ...]
) -> tuple[IntArray, IntArray, ByteArray]:
    """Return column (W,) and row (H,) numbers into the table (rows, columns) of tiles in use."""
    near = [tile for tile in tiles if max(abs(tile[0]), abs(tile[1])) < _LARGEST_TILE_SPAN]
    columns = [tile[0] for tile in near] or [0]
    rows = [tile[1] for tile in near] or [0]
    used = np.zeros((max(rows) - min(rows) + 1, max(columns) - min(columns) + 1), dtype=np.uint8)
    for column, row in near:
        used[row - min(rows), column - min(columns)] = 1
    x, y = pixel_centres(view)
    limit = 2.0e9
    tile_x = np.clip(np.floor(x) - min(columns), -limit, limit).astype(np.int32)
    tile_y = np.clip(np.floor(y) - min(rows), -limit, limit).astype(np.int32)
    return tile_x, tile_y, used


def hatch(ratio: float) -> ByteArray:
    """Return the coverage along one period of the diagonal stripes that mark flips."""
    period = max(4, round(8 * ratio))
    place = (np.arange(period) + 0.5) / period
    distance = np.abs(place - 0.5) * period
    return (np.clip(period / 6 + 0.5 - distance, 0.0, 1.0) * 255.0).astype(np.uint8)


def checker_sizes(checker: tuple[float, float] | None, ratio: float) -> FloatArray:
    """Return (7,) float64 for `shade_solid`.

    Squares per tile along u and v, tone swing, and the sizes in pixels at which squares are gone
    and full, and chevrons gone and full.
    """
    u, v = checker or (1.0, 1.0)
    swing = TONE_SWING if checker else 0.0
    return np.array([
        u, v, swing, _SQUARE_NONE_PX, _SQUARE_FULL_PX,
        _CHEVRON_NONE_PX * ratio, _CHEVRON_FULL_PX * ratio,
    ])  # fmt: skip
