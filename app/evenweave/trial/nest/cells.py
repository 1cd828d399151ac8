"""Placing blocks on grids of cells.

A block may lie where no cell that it touches is touched by another block grown by the padding:
then every two of its points and theirs are farther apart than that, exactly.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from evenweave.arrays import ByteArray, IntArray
from evenweave.trial.nest.blocks import Block, TurnedBlock
from evenweave.trial.nest.kernels import find_place, runs, stamp, take

ROUNDING = 1e-6  # cells; a block this little over a whole number of cells takes no further one


@dataclass(frozen=True)
class Grid:
    """The cells of all tiles.

    room : width and height in cells in which blocks must lie; tiles : how many there are
    cell_px : texels along a cell; padding : cells between blocks
    """

    room: tuple[float, float]
    tiles: int
    cell_px: float
    padding: float


@dataclass(frozen=True)
class Place:
    """Where a block lies: number of the tile, turn, and lowest corner in cells of its room."""

    tile: int
    degrees: float
    x: float
    y: float


@dataclass(frozen=True, eq=False)
class Pose:
    """A block at one turn, in cells.

    run : (R, 3) int32 of the cells it touches; size : true width and height
    key : the same for poses that touch the same cells
    """

    degrees: float
    run: IntArray
    size: tuple[float, float]
    key: bytes


class Poses:
    """All blocks at one scale, in all turns that are wished and differ."""

    def __init__(
        self, blocks: Sequence[Block], turned: Sequence[dict[float, TurnedBlock]], grid: Grid,
        scale: float,
    ) -> None:  # fmt: skip
        self._blocks, self._turned, self._grid = blocks, turned, grid
        self._factor = scale / grid.cell_px
        self._grown: dict[tuple[int, float], ByteArray] = {}
        self._apron = int(np.ceil(grid.padding)) + 1
        self.options = [self._distinct(number) for number in range(len(blocks))]
        self.longest = max(int(one.run[:, 2].max()) for pose in self.options for one in pose)

    def _distinct(self, number: int) -> list[Pose]:
        found: dict[bytes, Pose] = {}
        for degrees, one in self._turned[number].items():
            mask = self._stamp(number, one, radius=0.0, apron=0)
            key = np.array(mask.shape, np.int32).tobytes() + np.packbits(mask).tobytes()
            if key not in found:
                width, height = (one.size_px * self._factor).tolist()
                found[key] = Pose(degrees, runs(mask), (width, height), key)
        return list(found.values())

    def _stamp(self, number: int, block: TurnedBlock, *, radius: float, apron: int) -> ByteArray:
        size = np.maximum(np.ceil(block.size_px * self._factor - ROUNDING), 1).astype(np.int64)
        columns, rows = (size + 2 * apron).tolist()
        mask: ByteArray = stamp(
            block.line_px * self._factor, block.fill_px * self._factor,
            self._blocks[number].fill_weight, radius, (float(apron), float(apron)),
            (rows, columns),
        )  # fmt: skip
        return mask

    def height(self, number: int, degrees: float) -> float:
        """Return the height in cells of a block at a turn."""
        return float(self._turned[number][degrees].size_px[1]) * self._factor

    def grown(self, number: int, degrees: float) -> tuple[ByteArray, int]:
        """Return the cells touched by a block grown by the padding, and the apron.

        The apron is how many cells the stamp reaches beyond the block on every side.
        """
        key = (number, degrees)
        if key not in self._grown:
            self._grown[key] = self._stamp(
                number, self._turned[number][degrees], radius=self._grid.padding, apron=self._apron
            )
        return self._grown[key], self._apron


class Board:
    """The grids of all tiles, with what lies on them already.

    growth : how many times higher than its room a tile may become
    """

    def __init__(self, grid: Grid, longest: int, *, growth: float = 1.0) -> None:
        self._room = (grid.room[0], grid.room[1] * growth)
        columns, rows = (int(np.ceil(side)) + 2 for side in self._room)
        words = (columns + 63) // 64 + 2
        shape = (max(1, longest.bit_length()), rows, words)
        self._levels = [np.zeros(shape, np.uint64) for _ in range(grid.tiles)]
        self._height = [0.0] * grid.tiles
        self._tried: dict[tuple[int, bytes], int] = {}

    @property
    def height(self) -> float:
        """Cells that the blocks on the fullest tile take in height."""
        return max(self._height)

    def add(self, poses: Poses, number: int, lean: float) -> Place | None:
        """Put a block where it makes the tiles least high; None where there is no place left.

        Among such places it takes the one with the least lean * x + y.
        """
        best = np.array([np.inf, np.inf, 0.0, 0.0])
        found: tuple[Place, Pose] | None = None
        for tile, levels in enumerate(self._levels):
            for pose in poses.options[number]:
                # Cells only fill up: rows without a place for these cells will never have one.
                first = self._tried.get((tile, pose.key), 0)
                is_better, self._tried[tile, pose.key] = find_place(
                    levels, pose.run, pose.size, self._room, lean, self._height[tile], first, best
                )
                if is_better:
                    found = Place(tile, pose.degrees, best[2], best[3]), pose
        if found is None:
            return None
        place, pose = found
        self._height[place.tile] = max(self._height[place.tile], place.y + pose.size[1])
        self.put(*poses.grown(number, place.degrees), place)
        return place

    def put(self, mask: ByteArray, apron: int, place: Place) -> None:
        """Take the cells of a stamp that reaches so far round the place."""
        take(self._levels[place.tile], mask, int(place.x) - apron, int(place.y) - apron)
