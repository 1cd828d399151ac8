"""Tiles of the UV plane and their UDIM numbers: the one place that knows how they are counted.

The tile in column u and row v has the number 1001 + u + 10 v (MaterialX 1.38 specification,
"Filename Substitutions"). There are ten columns; rows are counted to ten, so that numbers run from
1001 to 1100, as OpenUSD resolves them (`UsdShadeUdimUtils`).
"""

from __future__ import annotations

import numpy as np

from evenweave.arrays import BoolArray, FloatArray, IntArray

COLUMNS, ROWS = 10, 10
FIRST = 1001


def has_number(tile: IntArray) -> BoolArray:
    """Tell for each tile, (N, 2) columns and rows, whether it has a number, (N,)."""
    return np.asarray(((tile >= 0) & (tile < (COLUMNS, ROWS))).all(axis=1))


def number(column: int, row: int) -> int | None:
    """Return a tile's number, or None where it has none.

    >>> number(0, 0), number(9, 0), number(0, 1), number(9, 9), number(10, 0), number(0, -1)
    (1001, 1010, 1011, 1100, None, None)
    """
    if 0 <= column < COLUMNS and 0 <= row < ROWS:
        return FIRST + column + COLUMNS * row
    return None


def beyond_numbers(tile: IntArray) -> FloatArray:
    """Return how far each tile lies from those with a number, (N, 2) tiles along u and v."""
    far: FloatArray = np.maximum(np.maximum(-tile, tile - (COLUMNS - 1, ROWS - 1)), 0).astype(float)
    return far
