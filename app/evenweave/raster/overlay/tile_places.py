"""`TilePlaces`: for every column and row of a view, which tile it lies in and where in it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from evenweave.arrays import FloatArray, IntArray
from evenweave.raster.camera import FlatView
from evenweave.raster.patterns import pixel_centres

_FAR = 512  # tiles farther out are not looked up


@dataclass(frozen=True, eq=False)
class TilePlaces:
    """Columns and rows of pixels among tiles.

    tile_x, tile_y : (W,), (H,) int32 column and row in `number`, -1 outside of it
    number : (rows, columns) int32 index of the tile there, -1 for none
    inside_x, inside_y : (W,), (H,) float64 place in the tile, 0 to 1, v up
    """

    tile_x: IntArray
    tile_y: IntArray
    number: IntArray
    inside_x: FloatArray
    inside_y: FloatArray


def tile_places(view: FlatView, tiles: tuple[tuple[int, int], ...]) -> TilePlaces:
    """Look up the pixels of a view among tiles, given by column and row."""
    near = [k for k, tile in enumerate(tiles) if max(abs(tile[0]), abs(tile[1])) < _FAR]
    place = np.array([tiles[k] for k in near], dtype=np.int64).reshape(-1, 2)
    low = place.min(axis=0) if near else np.zeros(2, dtype=np.int64)
    size = place.max(axis=0) - low + 1 if near else np.ones(2, dtype=np.int64)
    number = np.full((int(size[1]), int(size[0])), -1, dtype=np.int32)
    for k, (column, row) in zip(near, place - low, strict=True):
        number[row, column] = k
    x, y = pixel_centres(view)
    return TilePlaces(
        _steps(x, int(low[0]), int(size[0])),
        _steps(y, int(low[1]), int(size[1])),
        number,
        x - np.floor(x),
        y - np.floor(y),
    )


def _steps(place: FloatArray, low: int, count: int) -> IntArray:
    step = np.floor(place) - low
    return np.where((step >= 0) & (step < count), step, -1).astype(np.int32)
