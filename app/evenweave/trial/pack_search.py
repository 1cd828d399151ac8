"""The packer's search: place everything, then try again a little larger in another order."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from evenweave.arrays import ByteArray
from evenweave.trial.pack_blocks import Block, TurnedBlock
from evenweave.trial.pack_cells import Board, Grid, Place, Poses

GROWTH = 1.5  # times its height that a tile may take on the way to a first packing
FIRST_STEP, LEAST_STEP, MOST_STEP = 0.01, 0.0015, 0.02  # by which the best is to be beaten
TRIES = 25  # in different orders, before a step is halved
LEANS = (0.1, 0.3, 0.3, 1.0)
GIVE_UP = 1 / 32  # of the scale begun with
NEAR = 0.9995  # of the bound: as good as it


@dataclass(frozen=True)
class Placed:
    """A packing: the scale of all blocks, and the place of each."""

    scale: float
    places: tuple[Place, ...]


@dataclass(frozen=True, eq=False)
class Task:
    """What is to be packed.

    turned : per block its copies in all wished turns; rank : per block, lower is placed first
    pinned : per tile the cells that are taken from the start; bound : no scale is larger
    """

    blocks: Sequence[Block]
    turned: Sequence[dict[float, TurnedBlock]]
    grid: Grid
    rank: Sequence[float]
    pinned: Sequence[ByteArray]
    bound: float


class Search:
    """Looks for ever larger packings; the same ones every time, as far as it gets.

    go_on : asked before each block is placed; an attempt is given up where it says no
    """

    def __init__(self, task: Task, start: float, go_on: Callable[[], bool]) -> None:
        self._task, self._go_on = task, go_on
        self._start = start
        self._random = np.random.default_rng(1)
        # Smaller blocks fill what larger ones leave; hulls tell how much that is.
        hull = [_hull_area(block) for block in task.blocks]
        self._order = sorted(range(len(hull)), key=lambda n: (task.rank[n], -hull[n], n))

    def first(self) -> Placed | None:
        """Return a first packing; None where it would become absurdly small or is not wanted."""
        scale = self._start
        while scale > GIVE_UP * self._start:
            board = self._board(poses := self._poses(scale), GROWTH)
            places, _ = self._filled(board, poses, self._order, LEANS[1])
            used = board.height / self._task.grid.room[1]
            if places is not None and used <= 1:
                return Placed(scale, places)
            if not self._go_on():
                return None
            scale *= min(0.995, 0.998 / np.sqrt(used)) if places is not None else 0.85
        return None

    def better(self, best: Placed, passes: int, found: Callable[[Placed, int], None]) -> Placed:
        """Return the best packing after so many passes.

        found : told each better one, and the number of the pass
        """
        step, fails, reached = FIRST_STEP, 0, -1
        base, order = self._order, self._order
        poses = self._poses(self._beyond(best, step))
        for number in range(passes):
            if best.scale >= NEAR * self._task.bound or not self._go_on():
                break
            lean = LEANS[int(self._random.integers(len(LEANS)))]
            scale = self._beyond(best, step)
            places, done = self._filled(self._board(poses, 1.0), poses, order, lean)
            if places is not None:
                best, base, fails, reached = Placed(scale, places), order, 0, -1
                step = min(1.5 * step, MOST_STEP)
                found(best, number)
                poses = self._poses(self._beyond(best, step))
            else:
                fails += 1
                if done >= reached:
                    base, reached = order, done
                if fails >= TRIES:
                    if step <= LEAST_STEP:
                        step = FIRST_STEP
                    step, fails, reached = max(step / 2, LEAST_STEP), 0, -1
                    poses = self._poses(self._beyond(best, step))
            order = self._varied(base, done if places is None else -1)
        return best

    def _beyond(self, best: Placed, step: float) -> float:
        return min(best.scale * (1 + step), self._task.bound)

    def _poses(self, scale: float) -> Poses:
        return Poses(self._task.blocks, self._task.turned, self._task.grid, scale)

    def _board(self, poses: Poses, growth: float) -> Board:
        board = Board(self._task.grid, poses.longest, growth=growth)
        for tile, mask in enumerate(self._task.pinned):
            board.put(mask, 0, Place(tile, 0.0, 0.0, 0.0))
        return board

    def _filled(
        self, board: Board, poses: Poses, order: Sequence[int], lean: float
    ) -> tuple[tuple[Place, ...] | None, int]:
        """Place all blocks; return the places, or None and how many found one."""
        places: dict[int, Place] = {}
        for done, number in enumerate(order):
            place = board.add(poses, number, lean) if self._go_on() else None
            if place is None:
                return None, done
            places[number] = place
        return tuple(places[number] for number in range(len(order))), len(order)

    def _varied(self, order: Sequence[int], failed: int) -> list[int]:
        """Return an order a little different; a block that found no place comes earlier."""
        varied, count = list(order), len(order)
        if 0 <= failed < count:
            varied.insert(int(self._random.integers(failed + 1)), varied.pop(failed))
        for _ in range(1 + int(self._random.poisson(1.0))):
            at = int(self._random.integers(count))
            to = int(np.clip(at + self._random.normal(0.0, 0.15 * count), 0, count - 1))
            varied.insert(to, varied.pop(at))
        return sorted(varied, key=lambda number: self._task.rank[number])


def _hull_area(block: Block) -> float:
    import shapely

    return float(shapely.convex_hull(shapely.MultiPoint(block.line_px.reshape(-1, 2))).area)
