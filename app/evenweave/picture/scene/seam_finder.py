"""`SeamFinder`: which seam lies under a place of the texture, found on a grid of short pieces."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenweave.arrays import FloatArray, IntArray, frozen
from evenweave.layout.layout import Layout
from evenweave.picture.scene.solid_scene import next_corner

FINEST_CELL = 1.0 / 256.0  # in tiles
MOST_CELLS = 33  # across the circle looked at; a larger one says that the view is too far away
_PIECES_PER_SIDE = 4

LongArray = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class SeamFinder:
    """The sides of all seams by cells of a square grid.

    end : (2 S, 2, 2) float64 uv; side k of seam row i is at 2 i + k
    key : (N,) int64 ascending, the cell; side : (N,) int32 that passes through it
    """

    end: FloatArray
    key: LongArray
    side: IntArray
    cell: float

    def nearest(self, u: float, v: float, radius: float) -> tuple[int, int, float] | None:
        """Return row, side (0 or 1) and distance of the nearest seam within `radius`, or None."""
        low_u, high_u = _cell(u - radius, self.cell), _cell(u + radius, self.cell)
        low_v, high_v = _cell(v - radius, self.cell), _cell(v + radius, self.cell)
        if max(high_u - low_u, high_v - low_v) >= MOST_CELLS or len(self.key) == 0:
            return None
        # Cells of one row of the grid have consecutive keys.
        rows = np.arange(low_v, high_v + 1, dtype=np.int64)
        first = np.searchsorted(self.key, _keys(np.int64(low_u), rows), side="left")
        end = np.searchsorted(self.key, _keys(np.int64(high_u), rows), side="right")
        found = [self.side[a:b] for a, b in zip(first, end, strict=True) if b > a]
        if not found:
            return None
        side = np.unique(np.concatenate(found))
        away = _distances(self.end[side], np.array([u, v]))
        best = int(np.argmin(away))
        if not away[best] <= radius:
            return None
        return int(side[best]) // 2, int(side[best]) % 2, float(away[best])


def seam_finder(layout: Layout) -> SeamFinder:
    """Put the sides of all seams on a grid: about 0.1 s for 300,000 seams."""
    corner = layout.edges.seam.reshape(-1)
    after = next_corner(layout)[corner]
    end = np.stack((layout.uv[layout.corner_uv[corner]], layout.uv[layout.corner_uv[after]]), 1)
    way = end[:, 1] - end[:, 0]
    length = np.hypot(way[:, 0], way[:, 1])
    cell = max(FINEST_CELL, float(length.sum()) / (_PIECES_PER_SIDE * len(end) + 1000))
    count = np.maximum(np.ceil(length / cell), 1).astype(np.int64)
    side = np.repeat(np.arange(len(end)), count)
    step = np.arange(len(side)) - np.repeat(np.cumsum(count) - count, count)
    share = way[side] / count[side, None]
    start = end[side, 0] + share * step[:, None]
    first, last = np.floor(start / cell), np.floor((start + share) / cell)
    first, last = first.astype(np.int64), last.astype(np.int64)
    # A piece is no longer than a cell: it touches two cells, or four where it turns a corner.
    differs = first != last
    keys, sides = [_keys(first[:, 0], first[:, 1])], [side]
    for is_met, column, row in (
        (differs[:, 0], last[:, 0], first[:, 1]),
        (differs[:, 1], first[:, 0], last[:, 1]),
        (differs.all(axis=1), last[:, 0], last[:, 1]),
    ):
        keys.append(_keys(column[is_met], row[is_met]))
        sides.append(side[is_met])
    key, owner = np.concatenate(keys), np.concatenate(sides)
    order = np.argsort(key, kind="stable")
    return SeamFinder(frozen(end), frozen(key[order]), frozen(owner[order].astype(np.int32)), cell)


def _cell(place: float, cell: float) -> int:
    return math.floor(place / cell)


def _keys(column: LongArray | np.int64, row: LongArray) -> LongArray:
    """Return one number a cell; at most a million tiles away, so none runs over."""
    return np.asarray(row * np.int64(1 << 31) + column + np.int64(1 << 30))


def _distances(end: FloatArray, place: FloatArray) -> FloatArray:
    """Return (N,) distances of a place (2,) to segments (N, 2, 2)."""
    way, from_start = end[:, 1] - end[:, 0], place - end[:, 0]
    square = (way * way).sum(axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        along = np.where(square > 0, (from_start * way).sum(axis=1) / square, 0.0)
    rest = from_start - way * np.clip(along, 0.0, 1.0)[:, None]
    return np.asarray(np.hypot(rest[:, 0], rest[:, 1]), dtype=np.float64)
